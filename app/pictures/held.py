"""What of the held design can be compared with the present one."""

from collections.abc import Callable
from typing import TypeVar

from app.state.look import Look
from core.model.project import Stage
from core.rig.analysis import Analysis
from core.stages.outcome import FilterDesign, Unsolved

Facts = TypeVar("Facts")


def held_on_band(held: Analysis | None, look: Look) -> Analysis | None:
    """The held design where it has the band looked at; None when there is none."""
    if held is None or all(band.name != look.band for band in held.project.bands):
        return None
    return held


def held_facts(
    held: Analysis | None, look: Look, facts: Callable[[Analysis, Stage], Facts | Unsolved]
) -> Facts | None:
    """What is computed of the held design's stage of the key looked at; None when there is none."""
    stages = () if held is None else held.project.stages
    stage = next((each for each in stages if each.id == look.stage), None)
    found = None if held is None or stage is None else facts(held, stage)
    return None if isinstance(found, Unsolved) else found


def held_design(held: Analysis | None, stage_id: str, look: Look) -> FilterDesign | None:
    """The held design's filter of a stage on the band looked at; None when there is none."""
    if held is None or all(stage.id != stage_id for stage in held.project.stages):
        return None
    design = held.filter_design(stage_id, look.band)
    return None if isinstance(design, Unsolved) else design


def reason_of(*results: object) -> str:
    """Why there is nothing to show: the first reason among the results, empty when all exist."""
    return next((each.reason for each in results if isinstance(each, Unsolved)), "")
