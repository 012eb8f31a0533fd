"""Edits of gain and of the order of stages, the least first, for `remedy.py` to try."""

from collections.abc import Iterator, Sequence
from math import ceil, log10

from core.model.project import Stage
from core.model.stages.gain_control import GainControl
from core.model.stages.stage import Way
from core.model.values.base import Path
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.levels.transmit import less_drive_db
from core.rig.remedies import added
from core.stages.kinds.table import kind_of

#: Gain is set in steps of so much, dB.
_STEP_DB = 0.5
#: How many steps beyond what a sum of decibels says are tried: stages compress, and round their values.
_BEYOND = 8
#: How much louder a microphone may be than compression lets one see, dB.
_HIDDEN_DB = (6.0, 9.0, 12.0, 15.0, 20.0)
#: Range of an ordinary volume potentiometer, dB.
_LEAST_RANGE_DB = 60
#: An RF stage as it is customary, dB.
_RF_STAGES_DB = (10.0, 12.0, 15.0)


def more_power(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More gain in the stage that has most room for it, then in others."""
    project = analysis.project
    levels = [analysis.transmit(band.name) for band in project.bands]
    lacking = max(10 * log10(project.station.power_w / each.output_w) for each in levels)
    room: dict[str, float] = {}
    for each in levels:
        for block, headroom in zip(each.blocks, each.headroom_db, strict=True):
            if headroom is not None:
                room[block.stage] = min(headroom, room.get(block.stage, headroom))
    stages = sorted(_adjustable(analysis, "transmit"), key=lambda stage: -room.get(stage.id, -99.0))
    yield from _by_steps(stages, "transmit", lacking, +1)


def less_drive(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain ahead of the stage that is driven too far, in the nearest one first."""
    over = max(
        -headroom
        for band in analysis.project.bands
        for levels in (analysis.transmit(band.name),)
        for block, headroom in zip(levels.blocks, levels.headroom_db, strict=True)
        if block.stage == finding.stage and headroom is not None
    )
    ahead = _ahead(analysis, "transmit", finding.stage)
    # Of the first stage nothing stands ahead; one in audio is turned down itself.
    own = [s for s in _adjustable(analysis, "transmit") if s.id == finding.stage and not ahead]
    yield from _by_steps([*ahead, *own], "transmit", over, -1)
    # What compresses ahead of it hides how much too loud the microphone is.
    for more_db in _HIDDEN_DB:
        for stage in ahead[-1:]:
            if float(stage.at((str(kind_of(stage).gains["transmit"]),))) - over - more_db >= 0:
                less = changed(stage, "transmit", -over - more_db)
                yield less
                if kind_of(stage).voltage_audio(stage) is not None:
                    # So little gain not every circuit has.
                    built = (("stages", stage.id, "topology"), "operational")
                    amplifier = f"{less.label}, with an operational amplifier"
                    yield Edit(amplifier, (*less.changes, built))


def less_of_it(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain in the stage itself."""
    stage = analysis.project.stage(finding.stage)
    way: Way = "receive" if stage.works_in("receive") else "transmit"
    yield from _by_steps([stage], way, finding.over_db, -1)


def cleaner_tones(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain behind the microphone, then further on, until two tones' products lie low enough."""
    less = [
        less_drive_db(analysis.transmit(band.name), finding.limit)
        for band in analysis.project.bands
        if finding.limit is not None
    ]
    stages = _adjustable(analysis, "transmit")
    yield from _by_steps(stages, "transmit", max((each for each in less if each), default=0), -1)


def softer(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More range for the control ahead of an audio stage that is asked too much; a control where there is
    none; less gain in that stage, then ahead of it.
    """
    project = analysis.project
    at_fault = project.stage(finding.stage)
    over = ceil(finding.over_db)
    if kind_of(at_fault).control(at_fault) is not None:
        range_db = float(ceil(at_fault.at(("range_db",))) + over)
        path = ("stages", at_fault.id, "range_db")
        yield Edit(f"Give {at_fault.name} {range_db:g} dB of range", ((path, range_db),))
    else:
        control = GainControl(
            id="volume",
            name="Volume control",
            direction="receive",
            range_db=float(max(over, _LEAST_RANGE_DB)),
        )
        place = project.stages.index(at_fault)
        words = f"Put a volume control of {control.range_db:g} dB before {at_fault.name}"
        yield Edit(words, added.put(project, place, control))
    own = [stage for stage in _adjustable(analysis, "receive") if stage.id == finding.stage]
    ahead = _ahead(analysis, "receive", finding.stage)
    yield from _by_steps([*own, *ahead], "receive", finding.over_db, -1)


def less_ahead(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain ahead of the stage that a strong signal compresses, in the nearest one first."""
    stages = _ahead(analysis, "receive", finding.stage)
    yield from _by_steps(stages, "receive", finding.over_db, -1)
    for stage in stages:
        yield Edit(f"Switch {stage.name} out", ((("stages", stage.id, "in_path"), False),))
    project = analysis.project
    place = next((n for n, stage in enumerate(project.stages) if kind_of(stage).driver(stage) == "vfo"), 0)
    for more in range(_BEYOND + 1):
        loss_db = ceil(finding.over_db) + more
        yield added.pad(project, place, "receive", loss_db, "before the mixer")


def fewer_products(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain ahead of the stage in which strong stations mix, then a pad at the antenna: a decibel less
    raises the intercept by one, and their product falls by two.
    """
    by_db = finding.over_db / 2
    yield from _by_steps(_ahead(analysis, "receive", finding.stage), "receive", by_db, -1)
    project = analysis.project
    for more in range(_BEYOND + 1):
        yield added.pad(project, 0, "receive", ceil(by_db) + more, "at the antenna")


def less_noise(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """An RF stage: one that the rig has and goes round, or a new one before the mixer; where that is too
    much for what follows, with less gain in the first stage behind it.
    """
    project = analysis.project
    path = list(project.stages)
    mixer = next((n for n, stage in enumerate(path) if kind_of(stage).driver(stage) == "vfo"), len(path))
    behind = next(iter(_adjustable(analysis, "receive")), None)
    for stage in path[:mixer]:
        if stage.direction == "receive" and not stage.in_path:
            yield from _with_less(
                f"Switch {stage.name} in", ((("stages", stage.id, "in_path"), True),), behind
            )
    for gain_db in _RF_STAGES_DB:
        yield from _with_less(*added.rf_stage(project, mixer, gain_db), behind)


def louder(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More gain where it costs no overload: in the last stages first."""
    yield from _by_steps(_adjustable(analysis, "receive")[::-1], "receive", finding.over_db, +1)


def less_round(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less gain in a stage of the loop, the last first."""
    loops = [each for each in analysis.loops() if each.subject == finding.subject]
    names = {name for each in loops for name in each.stages}
    for way in {each.way for each in loops}:
        stages = [stage for stage in _adjustable(analysis, way) if stage.name in names][::-1]
        yield from _by_steps(stages, way, finding.over_db, -1)


def filtered_image(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The noisy stage ahead of the band-pass, which then takes its noise on the image away."""
    path = list(analysis.project.stages)
    noisy = analysis.project.stage(finding.stage)
    rest = [stage for stage in path if stage.id != noisy.id]
    filters = [n for n, stage in enumerate(rest) if kind_of(stage).role == "band_pass"]
    if filters:
        moved = (*rest[: filters[0]], noisy, *rest[filters[0] :])
        yield Edit(f"Put {noisy.name} before {rest[filters[0]].name}", ((("stages",), moved),))


def _adjustable(analysis: Analysis, way: Way) -> list[Stage]:
    """The stages of a path, in the order of its signal, whose gain is a builder's choice."""
    return [stage for stage in analysis.project.path(way) if kind_of(stage).gains.get(way) is not None]


def _ahead(analysis: Analysis, way: Way, of: str) -> list[Stage]:
    """The adjustable stages that the signal passes before one, the nearest first."""
    passed = [stage.id for stage in analysis.project.path(way)]
    before = passed[: passed.index(of)] if of in passed else []
    return [stage for stage in _adjustable(analysis, way) if stage.id in before][::-1]


def _by_steps(stages: Sequence[Stage], way: Way, by_db: float, sign: int) -> Iterator[Edit]:
    """Each stage by what is missing, then each by a step more, and so on; an amplifier that would only lose
    is none.
    """
    least = ceil(max(by_db, 0.0) / _STEP_DB)
    for beyond in range(_BEYOND + 1):
        for stage in stages:
            change_db = sign * (least + beyond) * _STEP_DB
            if float(stage.at((str(kind_of(stage).gains[way]),))) + change_db >= 0:
                yield changed(stage, way, change_db)


def changed(stage: Stage, way: Way, by_db: float) -> Edit:
    """The gain of a stage in a direction by so much more [dB], on whole steps."""
    path: Path = ("stages", stage.id, str(kind_of(stage).gains[way]))
    gain_db = round((float(stage.at(path[2:])) + by_db) / _STEP_DB) * _STEP_DB
    return Edit(f"Set the gain of {stage.name} to {gain_db:g} dB", ((path, gain_db),))


def _with_less(label: str, changes: tuple[tuple[Path, object], ...], behind: Stage | None) -> Iterator[Edit]:
    yield Edit(label, changes)
    if behind is not None:
        for less_db in (3.0, 6.0, 10.0):
            less = changed(behind, "receive", -less_db)
            yield Edit(f"{label}, and {less.label[:1].lower()}{less.label[1:]}", (*changes, *less.changes))
