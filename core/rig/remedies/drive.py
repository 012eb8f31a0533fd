"""Edits of what stands between an oscillator and its mixers, for `remedy.py` to try: the drive itself is
changed, by what is there before anything is added.
"""

from collections.abc import Iterator
from math import ceil, floor

from core.model.project import Project, Stage
from core.model.values.base import Path
from core.model.values.notation import format_value, significant
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.levels.oscillator_drive import Drive, amplified, behind
from core.rig.remedies import added, gain
from core.stages.kinds.kind import Driver
from core.stages.kinds.table import kind_of

#: A gain is asked in half decibels; an amplifier loses some of what is added by its own compression.
_STEP_DB, _BEYOND_DB = 0.5, (0.0, 0.5, 1.0, 2.0, 3.0)
#: A transistor's current is raised by so many times [-].
_MORE_CURRENT = (1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
#: Supply or current are lowered to these shares [-].
_LESS = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3)
#: A type for more current and less heat in small stages; common practice, no source.
_STRONGER = "2n5109"
_SPOKEN = {"vfo": "VFO", "carrier": "carrier"}


def driven(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More drive for the mixer of the finding, or less."""
    drive = next((each for each in analysis.drives if each.stage == finding.stage), None)
    if drive is None:
        return
    if drive.missing_db > 0:
        yield from _more(analysis.project, drive)
    else:
        yield from _less(analysis.project, drive.oscillator, -drive.missing_db)


def within_class_a(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """For an amplifier behind an oscillator that is asked too much: less gain or a pad ahead where the mixers
    have enough, more current and a stronger transistor where they have not.
    """
    project, stage = analysis.project, analysis.project.stage(finding.stage)
    over_db = finding.over_db
    for beyond in _BEYOND_DB:
        yield from _gain(stage, -_up(over_db + beyond))
    short = any(
        each.oscillator == stage.direction and each.missing_db > 0 and not each.suits
        for each in analysis.drives
    )
    place = project.stages.index(stage)
    of, before = _SPOKEN[stage.direction], f"before {stage.name}"
    pads = [
        added.pad(project, place, stage.direction, ceil(over_db + beyond), before, of=of)
        for beyond in _BEYOND_DB
    ]
    currents = list(_currents(stage, ()))
    yield from currents + pads if short else pads + currents
    if "p1db_dbm" in type(stage).model_fields:
        most_dbm = float(ceil(float(stage.at(("p1db_dbm",))) + over_db))
        words = f"Take an amplifier for {stage.name} that gives {most_dbm:g} dBm"
        yield Edit(words, ((("stages", stage.id, "p1db_dbm"), most_dbm),))


def within_ratings(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less supply where a transistor sees too many volts, less current where it carries too much, or one that
    bears more.
    """
    stage = analysis.project.stage(finding.stage)
    field, unit = ("supply_v", "V") if finding.unit == "V" else ("current_a", "A")
    for share in _LESS:
        value = significant(stage.at((field,)) * share, 2)
        words = f"Give {stage.name} {format_value(value, unit, 2)}"
        yield Edit(words, ((("stages", stage.id, field), value),))
    yield Edit(f"Make {stage.name} of a 2N5109", ((("stages", stage.id, "device"), _STRONGER),))


def _more(project: Project, drive: Drive) -> Iterator[Edit]:
    stages = behind(project, drive.oscillator)
    for stage in stages[::-1]:
        if "loss_db" in type(stage).model_fields:
            yield from _less_loss(stage, drive.missing_db)
    for beyond in _BEYOND_DB:
        for stage in stages[::-1]:
            yield from _gain(stage, _up(drive.missing_db + beyond))
    for stage in stages[::-1]:
        yield from _currents(stage, ())
        # What compresses gives no more for gain alone.
        for beyond in _BEYOND_DB[::2]:
            for more in _gain(stage, _up(drive.missing_db + beyond)):
                yield from _currents(stage, more.changes, f"{more.label}, with ")
    more_of = amplified(project, drive.oscillator)
    name = _SPOKEN[drive.oscillator]
    if more_of.stages != project.stages:
        yield Edit(f"Put an amplifier behind the {name}", ((("stages",), more_of.stages),))
    elif more_of != project:
        yield Edit(f"Amplify the {name}", (((drive.oscillator,), more_of.at((drive.oscillator,))),))


def _less(project: Project, driver: Driver, over_db: float) -> Iterator[Edit]:
    stages = behind(project, driver)
    for stage in stages[::-1]:
        yield from _gain(stage, -_up(over_db))
    for stage in stages[::-1]:
        if "loss_db" in type(stage).model_fields:
            loss_db = float(ceil(float(stage.at(("loss_db",))) + over_db))
            yield Edit(f"Give {stage.name} {loss_db:g} dB", ((("stages", stage.id, "loss_db"), loss_db),))
    of = _SPOKEN[driver]
    for beyond in _BEYOND_DB:
        loss_db = ceil(over_db + beyond)
        yield added.pad(project, len(project.stages), driver, loss_db, f"behind the {of}", of=of)


def _up(by_db: float) -> float:
    return ceil(by_db / _STEP_DB) * _STEP_DB


def _gain(stage: Stage, by_db: float) -> Iterator[Edit]:
    """The stage with so much more gain, where that is a builder's choice and stays one."""
    name = kind_of(stage).gains.get("receive")
    if name is not None and name not in stage.idle_fields and float(stage.at((name,))) + by_db >= 0:
        yield gain.changed(stage, "receive", by_db)


def _less_loss(stage: Stage, by_db: float) -> Iterator[Edit]:
    loss_db = float(floor(float(stage.at(("loss_db",))) - by_db))
    if loss_db > 0:
        yield Edit(f"Give {stage.name} {loss_db:g} dB", ((("stages", stage.id, "loss_db"), loss_db),))
    yield Edit(f"Leave {stage.name} out", ((("stages", stage.id, "in_path"), False),))


def _currents(
    stage: Stage, changes: tuple[tuple[Path, object], ...], before: str = "Give it "
) -> Iterator[Edit]:
    """More current through the stage, then also with a stronger transistor."""
    if "current_a" not in type(stage).model_fields:
        return
    path: Path = ("stages", stage.id, "current_a")
    start = before if changes else f"Give {stage.name} "
    for times in _MORE_CURRENT:
        current_a = significant(stage.at(("current_a",)) * times, 2)
        more = (*changes, (path, current_a))
        yield Edit(f"{start}{format_value(current_a, 'A', 2)}", more)
        if times >= 2.0:
            other = (("stages", stage.id, "device"), _STRONGER)
            yield Edit(f"{start}{format_value(current_a, 'A', 2)} and a 2N5109", (*more, other))
