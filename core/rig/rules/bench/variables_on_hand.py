"""Rules on variable capacitors on hand: trimmers and a tuning capacitor that do for those asked for."""

from collections.abc import Iterator
from math import inf

from core.model.notebook.junk_box import VariableOnHand
from core.model.project import Project
from core.model.values.base import Path
from core.model.values.notation import format_value
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding, rule
from core.rig.rows import OSCILLATORS
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign, as_good
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign

#: A tuning capacitor on hand as near to the one asked as this is it [-]. A trimmer's range may be so many
#: times narrower or wider, as it has tolerances to make up for and is to be set finely [-]; the VFO may drift
#: by so many times as much [-]. Choices.
_SAME, _WIDTH, _DRIFTS = 0.1, 2.0, 1.2


@record(kw_only=True)
class Asked:
    """A variable capacitor that is asked for: of which oscillator, what it is called, by which fields of a
    model, from and to [F], and how many; whether it is the one that tunes.
    """

    stage: str
    name: str
    path: Path
    fields: tuple[str, str]
    range_f: tuple[float, float]
    pieces: int
    tunes: bool = False


@rule
def variable_on_hand(analysis: Analysis) -> Iterator[Finding | None]:
    """A trimmer or tuning capacitor on hand with which an oscillator goes where it should, where the one that
    is asked for is not there.
    """
    box = analysis.project.junk_box
    mine = [each for each in box.parts if isinstance(each, VariableOnHand) and each.count]
    if not box.first or not mine:
        return
    for asked in _asked(analysis):
        enough = [each for each in mine if each.count >= asked.pieces and _is_alike(each, asked)]
        if any(_is(each, asked) for each in enough):
            continue
        edits = []
        for each in sorted(enough, key=lambda each: each.high_f):
            edit = _edit(asked, each)
            changed = edit.tried_on(analysis.project)
            if changed is not None and _goes(analysis, Analysis(changed), asked.stage):
                edits.append(edit)
            yield None
        if edits:
            yield Finding(
                severity="note",
                rule="variable_on_hand",
                stage=asked.stage,
                path=(*asked.path, asked.fields[1]),
                words=f"{asked.name} is asked for from {format_value(asked.range_f[0], 'F', 3)} to "
                f"{format_value(asked.range_f[1], 'F', 3)}, of which none is on hand; another does as well.",
                remedy=f"{edits[0].label}.",
                edits=tuple(edits[:2]),
                source="the oscillator solved with it: it reaches what is wanted",
            )


def _asked(analysis: Analysis) -> Iterator[Asked]:
    """The variable capacitors of the rig's oscillators."""
    project = analysis.project
    ends = ("trimmer_low_f", "trimmer_high_f")
    for key, path in (("carrier", ("carrier",)), ("helper", ("read_out", "helper"))):
        row = analysis.oscillator(key)
        if row is not None and isinstance(row.design, CrystalOscillatorDesign):
            pieces = len(row.design.places)
            yield _of(project, key, f"The trimmer of the {OSCILLATORS[key].lower()}", path, ends, pieces)
    if isinstance(analysis.tank, TankDesign):
        plain = ("low_f", "high_f")
        yield _of(project, "vfo", "The VFO's trimmer", ("vfo", "tank", "trimmer"), plain, 1)
        yield _of(project, "vfo", "The VFO's tuning capacitor", ("vfo", "tank", "variable"), plain, 1)


def _of(project: Project, stage: str, name: str, path: Path, fields: tuple[str, str], pieces: int) -> Asked:
    low_f, high_f = (float(project.at((*path, field))) for field in fields)
    return Asked(
        stage=stage,
        name=name,
        path=path,
        fields=fields,
        range_f=(low_f, high_f),
        pieces=pieces,
        tunes=path[-1] == "variable",
    )


def _is(mine: VariableOnHand, asked: Asked) -> bool:
    """Whether one on hand is what is asked for: a trimmer with all of its range, a tuning capacitor about as
    large.
    """
    low_f, high_f = asked.range_f
    if asked.tunes:
        return abs(mine.high_f / high_f - 1) <= _SAME
    return mine.low_f <= low_f and mine.high_f >= high_f


def _is_alike(mine: VariableOnHand, asked: Asked) -> bool:
    wide = (mine.high_f - mine.low_f) / (asked.range_f[1] - asked.range_f[0])
    return asked.tunes or 1 / _WIDTH <= wide <= _WIDTH


def _edit(asked: Asked, mine: VariableOnHand) -> Edit:
    low, high = (
        ((*asked.path, field), farad)
        for field, farad in zip(asked.fields, (mine.low_f, mine.high_f), strict=True)
    )
    span = f"{format_value(mine.low_f, 'F', 3)} to {format_value(mine.high_f, 'F', 3)}"
    # The end that leaves the range in order first.
    changes = (high, low) if mine.high_f > asked.range_f[0] else (low, high)
    return Edit(f"Take one of {span} for {asked.name[0].lower()}{asked.name[1:]}", changes)


def _goes(before: Analysis, after: Analysis, stage: str) -> bool:
    """Whether an oscillator reaches all that is wanted of it, starts, and drifts hardly more than before."""
    if stage != "vfo":
        now, was = (each.oscillator(stage) for each in (after, before))
        if now is None or was is None or isinstance(now.design, Unsolved):
            return False
        return as_good(now.design, was.design) and all(each.reaches for each in now.design.pullings)
    drifts = []
    for each in (after, before):
        figures = [each.vfo_on(band.name) for band in each.project.bands]
        known = [found for found in figures if not isinstance(found, Unsolved)]
        drifts.append(max((d.worst_hz_per_k for found in known for d in found.drift), default=inf))
        if each is after and (len(known) < len(figures) or min(min(found.start) for found in known) < 1):
            return False
    tank = after.tank
    return isinstance(tank, TankDesign) and not tank.limits and drifts[0] <= _DRIFTS * drifts[1]
