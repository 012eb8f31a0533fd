"""What stands on the signal path: islands, levels between them, and marks, as data to be painted."""

from app.state.look import Look
from app.style import words
from core.model.project import Project, Stage
from core.model.stages.stage import Way
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.levels import (
    DELIVERED,
    GAIN,
    HEADROOM_RECEIVE,
    HEADROOM_TRANSMIT,
    LEVEL,
    OUTPUT,
    S9_LEVEL,
)
from core.rig.figures.receive import NOISE_AT_EAR
from core.rig.findings import SEVERITIES, Finding
from core.rig.levels.oscillator_drive import DRIVERS, Step
from core.rig.levels.receive import ReceiveLevels
from core.rig.levels.transmit import TransmitLevels
from core.stages.kinds.table import KINDS


@record
class Tag:
    """An oscillator that hangs on the mixer it drives."""

    path: Path
    text: str
    severity: str | None


@record(kw_only=True)
class Island:
    """One stage or end of the path. `used` is how much of the way to overload is used, 0 to 1."""

    path: Path
    name: str
    figure: str
    headroom: str
    used: float | None
    severity: str | None
    mark: str
    bypassed: bool
    help: str
    tag: Tag | None = None

    @property
    def stage(self) -> str | None:
        """Key of the stage; None for the ends."""
        return str(self.path[1]) if self.path[0] == "stages" else None

    @property
    def spoken(self) -> str:
        """The island in one breath, for a screen reader."""
        parts = [self.name, self.figure, self.headroom, self.mark, "switched out" if self.bypassed else ""]
        return ", ".join(part for part in parts if part)


@record
class Strip:
    """The whole strip; `levels` stand between the islands, and `level_help` tells what they are."""

    title: str
    islands: tuple[Island, ...]
    levels: tuple[str, ...]
    level_help: str
    selection: Path


#: Headroom at which the bar is empty, dB.
FULL_SCALE_DB = 60.0
_TITLES: dict[Way, str] = {
    "receive": "the levels on the strip are those of an S9 signal, headroom is over S9 + {:g} dB",
    "transmit": "the levels on the strip are those of speech peaks",
}
_ENDS = {"station": "Antenna", "speaker": "Speaker", "microphone": "Microphone"}

_Levels = ReceiveLevels | TransmitLevels
#: Severity and sentence of findings.
_Marks = list[tuple[str, str]]


def stages_along(project: Project, way: Way) -> tuple[Stage, ...]:
    """Stages that belong to a direction, in signal order, those switched out included, and what stands behind
    the oscillators, which the signal goes round.
    """
    along = tuple(stage for stage in project.stages if stage.direction in (way, "both", *DRIVERS))
    return along if way == "receive" else along[::-1]


def strip_of(analysis: Analysis, findings: tuple[Finding, ...], look: Look) -> Strip:
    """The strip for the direction, band and dial looked at, with the marks of these findings."""
    ask = analysis.receive if look.way == "receive" else analysis.transmit
    behind = tuple(step for each in analysis.driven.values() for step in each.steps)
    return _strip(analysis.project, ask(look.band, look.dial_hz), behind, findings, look)


def outline_of(project: Project, look: Look) -> Strip:
    """The strip before anything is computed: names, and no figures."""
    return _strip(project, None, (), (), look)


def _strip(
    project: Project,
    levels: _Levels | None,
    behind: tuple[Step, ...],
    findings: tuple[Finding, ...],
    look: Look,
) -> Strip:
    marks = _marks(findings, look.band)
    first, last = ("station", "speaker") if look.way == "receive" else ("microphone", "station")
    islands = [_end(first, levels, marks.get(first, []))]
    texts = [_level(levels, 0)]
    place = 0
    for stage in stages_along(project, look.way):
        driver = KINDS[stage.kind].driver(stage)
        tag = None if driver is None else _tag(driver, marks)
        mine = marks.get(stage.id, [])
        if stage.works_in(look.way):
            islands.append(_island(stage, levels, place, mine, tag))
            place += 1
        elif stage.in_path:
            step = next((each for each in behind if each.stage == stage.id), None)
            islands.append(_behind(stage, step, mine))
        else:
            islands.append(_bypassed(stage, mine, tag))
        texts.append(_level(levels, place))
    islands.append(_end(last, levels, marks.get(last, [])))
    title = f"Signal path, {look.way}: {_TITLES[look.way].format(project.station.strongest_over_s9_db)}"
    help = (S9_LEVEL if look.way == "receive" else LEVEL).tip
    return Strip(title, tuple(islands), tuple(texts), help, look.selection)


def _marks(findings: tuple[Finding, ...], band: str) -> dict[str, _Marks]:
    """The findings that concern this band, by stage."""
    found: dict[str, _Marks] = {}
    for finding in findings:
        if finding.stage and finding.band in ("", band):
            found.setdefault(finding.stage, []).append((finding.severity, finding.text))
    return found


def _island(stage: Stage, levels: _Levels | None, place: int, marks: _Marks, tag: Tag | None) -> Island:
    headroom_db = None if levels is None else levels.headroom_db[place]
    receive = isinstance(levels, ReceiveLevels)
    if (
        isinstance(levels, ReceiveLevels)
        and levels.blocks[place].role == "audio"
        and not levels.controlled(place)
    ):
        headroom_db = None  # Somebody turns it down by hand, though no control stands in the path.
    told = [f"Gain: {GAIN.tip}"]
    if headroom_db is not None:
        told.append(f"Headroom: {(HEADROOM_RECEIVE if receive else HEADROOM_TRANSMIT).tip}")
    return Island(
        path=("stages", stage.id),
        name=stage.name,
        figure="" if levels is None else GAIN.written(levels.blocks[place].gain_db),
        headroom=_headroom(headroom_db),
        # To a thousandth: no bar is so long that less would show.
        used=None if headroom_db is None else round(min(max(1 - headroom_db / FULL_SCALE_DB, 0.0), 1.0), 3),
        severity=_worst([severity for severity, _ in marks]),
        mark=_counted(marks),
        bypassed=False,
        help="\n".join([_help(_what(stage), marks), *told]),
        tag=tag,
    )


def _what(stage: Stage) -> str:
    """The kind of stage, and what its figure is where that may be taken for another."""
    kind = words.kind(stage.kind)
    gain_is = KINDS[stage.kind].gain_is
    return f"{kind}; the figure is {gain_is}" if gain_is else kind


def _behind(stage: Stage, step: Step | None, marks: _Marks) -> Island:
    """A stage between an oscillator and its mixers, with the level that leaves it."""
    oscillator = "VFO" if stage.direction == "vfo" else "Carrier"
    kind = words.kind(stage.kind)
    return Island(
        path=("stages", stage.id),
        name=stage.name,
        figure=f"{oscillator}{'' if step is None else f', {DELIVERED.written(step.output_dbm)}'}",
        headroom="",
        used=None,
        severity=_worst([severity for severity, _ in marks]),
        mark=_counted(marks),
        bypassed=True,
        help=_help(f"{kind} between an oscillator and its mixers; the signal goes round it", marks),
    )


def _bypassed(stage: Stage, marks: _Marks, tag: Tag | None) -> Island:
    return Island(
        path=("stages", stage.id),
        name=stage.name,
        figure="out of path",
        headroom="",
        used=None,
        severity=_worst([severity for severity, _ in marks]),
        mark=_counted(marks),
        bypassed=True,
        help=_help(f"{words.kind(stage.kind)}, switched out; the signal goes round it", marks),
        tag=tag,
    )


def _end(part: str, levels: _Levels | None, marks: _Marks) -> Island:
    if levels is None:
        figure = help = ""
    elif isinstance(levels, ReceiveLevels):
        figure = "S9" if part == "station" else NOISE_AT_EAR.written(levels.speaker_noise_db_spl)
        help = "" if part == "station" else NOISE_AT_EAR.tip
    else:
        watts = part == "station"
        figure = OUTPUT.written(levels.output_w) if watts else _level(levels, 0)
        help = OUTPUT.tip if watts else LEVEL.tip
    return Island(
        path=(part,),
        name=_ENDS[part],
        figure=figure,
        headroom="",
        used=None,
        severity=_worst([severity for severity, _ in marks]),
        mark=_counted(marks),
        bypassed=False,
        help=_help(help or "Antenna and site", marks),
    )


def _tag(oscillator: str, marks: dict[str, _Marks]) -> Tag:
    severity = _worst([severity for severity, _ in marks.get(oscillator, [])])
    return Tag((oscillator,), "VFO" if oscillator == "vfo" else "Carrier osc.", severity)


def _counted(marks: _Marks) -> str:
    severity = _worst([severity for severity, _ in marks])
    if severity is None:
        return ""
    return words.counted(sum(each == severity for each, _ in marks), severity)


def _help(first: str, marks: _Marks) -> str:
    return "\n".join([first, *(f"{words.severity(severity)}: {text}" for severity, text in marks)])


def _level(levels: _Levels | None, place: int) -> str:
    if levels is None:
        return ""
    row = levels.s9_dbm if isinstance(levels, ReceiveLevels) else levels.level_dbm
    # Both ways are written alike; the unit stands at the first only.
    return LEVEL.bare(float(row[place])) if place else LEVEL.written(float(row[place]))


def _headroom(db: float | None) -> str:
    if db is None:
        return ""
    # Both ways are written alike.
    text = HEADROOM_TRANSMIT.written(abs(db))
    return f"{text} too much" if round(db) < 0 else f"headroom {text}"


def _worst(severities: list[str]) -> str | None:
    """The worst of some severities; None of none."""
    return next((severity for severity in SEVERITIES if severity in severities), None)
