"""A stage by its block's figures and the levels at it, with its circuit where it has one."""

from app.pictures.told import Told, in_rows, line, said
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import by_key
from core.rig.figures.levels import BLOCK, BLOCK_RECEIVE, BLOCK_TRANSMIT, DELIVERED, block_on
from core.rig.figures.mixers import BEHIND
from core.rig.levels.oscillator_drive import DRIVERS, Step
from core.stages.outcome import Design, Unsolved

(_IN_HAND,) = by_key(BEHIND, "in_hand_db")


@record
class BlockPicture:
    """Title and table of a stage's figures, and its circuit if it has one that can be made."""

    title: str
    table: Told
    design: Design | None


def picture_of(analysis: Analysis, look: Look) -> BlockPicture | Unsolved:
    """The figures of the selected stage in the direction looked at, or why there are none."""
    stage = analysis.project.stage(str(look.stage))
    blocks = analysis.blocks(look.band, look.way, look.dial_hz)
    place = next((n for n, block in enumerate(blocks) if block.stage == stage.id), None)
    if place is None and stage.in_path and stage.direction in DRIVERS:
        along = analysis.driven[stage.direction].steps
        step = next((each for each in along if each.stage == stage.id), None)
        behind = "VFO" if stage.direction == "vfo" else "carrier oscillator"
        gives = "" if step is None else f", where it gives {DELIVERED.written(step.output_dbm)}{_room(step)}"
        return Unsolved(f"{stage.name} stands behind the {behind}{gives}; no signal passes it.")
    if place is None:
        return Unsolved(f"{stage.name} is switched out of the path; switch it in to see its levels.")
    title = f"{stage.name} on {words.band(look.band)}, {words.way(look.way).lower()}"
    made = analysis.design(stage.id, look.band)
    of = block_on(analysis, place, look.band, look.way, look.dial_hz)
    if blocks[place].role == "audio" and of.receive is not None and not of.receive.controlled(place):
        title += "; headroom with the volume fully up"
    table = (*BLOCK, *(BLOCK_RECEIVE if look.way == "receive" else BLOCK_TRANSMIT))
    return BlockPicture(
        title,
        in_rows(("figure", "value"), (line(figure, of) for figure in table)),
        None if isinstance(made, Unsolved) else made,
    )


def levels_of(analysis: Analysis, look: Look) -> tuple[str, Told]:
    """Title and table of the levels at the selected stage; in place of them why there are none."""
    found = picture_of(analysis, look)
    if isinstance(found, Unsolved):
        title = f"{analysis.project.stage(str(look.stage)).name}: levels"
        return title, in_rows(("figure", "value"), [said("levels", found.reason)])
    return found.title, found.table


def _room(step: Step) -> str:
    """How far a stage behind an oscillator is from its compression."""
    return "" if step.p1db_dbm is None else f" with {_IN_HAND.written(-step.over_db)} in hand"
