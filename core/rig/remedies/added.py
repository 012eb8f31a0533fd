"""Edits that put a stage into a rig: a pad, or an RF stage before the mixer."""

from core.model.project import Project, Stage
from core.model.stages.amplifiers import Amplifier, Attenuator
from core.model.stages.stage import Direction
from core.model.values.base import Path
from core.model.values.notation import significant
from core.rig.findings import Edit
from core.rig.start.amplifiers import AT_RF, built

_Changes = tuple[tuple[Path, object], ...]


def put(project: Project, place: int, stage: Stage) -> _Changes:
    """A stage at a place of the list, whose key is free."""
    fresh = stage.edited(("id",), project.free_key(stage.id))
    return ((("stages",), (*project.stages[:place], fresh, *project.stages[place:])),)


def pad(
    project: Project, place: int, direction: Direction, loss_db: float, where: str, *, of: str = ""
) -> Edit:
    """A pad of a loss [dB] at a place of the list, `where` in words; `of` an oscillator, as it is called."""
    key, name = (f"{direction}_pad", f"Pad of the {of}") if of else ("pad", "Pad")
    made = Attenuator(id=key, name=name, direction=direction, loss_db=float(loss_db))
    return Edit(f"Put a pad of {loss_db:g} dB {where}", put(project, place, made))


def rf_stage(project: Project, place: int, gain_db: float) -> tuple[str, _Changes]:
    """An RF stage of a gain [dB] at a place before the mixer, in words and as what changes."""
    at_hz = significant(max(band.high_hz for band in project.bands), 3)
    block = Amplifier(id="rf_stage", name="RF stage", direction="receive", gain_db=gain_db)
    changes = put(project, place, built(block, at_hz, AT_RF))
    return f"Put an RF stage of {gain_db:.0f} dB before the mixer", changes
