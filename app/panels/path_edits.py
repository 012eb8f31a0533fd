"""Edits of the signal path as it is shown: one direction, in signal order, with gaps between its stages.

Gap 0 is before the first stage of the direction looked at; stages of the other direction keep their places.
"""

from typing import TYPE_CHECKING

from app.pictures.rig.strip import stages_along
from core.model.project import Project, Stage
from core.model.stages.stage import Way

if TYPE_CHECKING:
    from app.state.workbench import Workbench


def position_of_gap(project: Project, way: Way, gap: int) -> int:
    """The position in the project's stages of a gap between the shown ones."""
    shown = [stage.id for stage in stages_along(project, way)]
    keys = [stage.id for stage in project.stages]
    receive = way == "receive"
    if gap > 0:
        return keys.index(shown[gap - 1]) + receive
    return keys.index(shown[0]) + (not receive) if shown else len(keys)


def insert_stage(bench: "Workbench", position: int, stage: Stage) -> str | None:
    """Put a stage at `position` of the project's stages and select it; returns why it cannot be, or None."""
    key = bench.current.free_key(stage.id)
    reason = bench.change(lambda p: p.stage_inserted(position, stage), label=f"new {stage.name}")
    if reason is None:
        bench.select(("stages", key))
    return reason


def insert_kind(bench: "Workbench", kind: str, gap: int) -> str | None:
    """Insert a stage of a kind at a gap, in the direction looked at."""
    from core.rig.start.new_rig import default_stage

    project = bench.current
    stage = default_stage(kind, project.bands, project.if_hz)
    if stage.direction != "both":
        stage = stage.edited(("direction",), bench.way)
    return insert_stage(bench, position_of_gap(project, bench.way, gap), stage)


def gap_behind(bench: "Workbench", id: str | None) -> int:
    """The gap behind a stage that is shown; without one the last."""
    shown = _shown(bench)
    return shown.index(id) + 1 if id in shown else len(shown)


def remove_stage(bench: "Workbench", id: str) -> str | None:
    """Take a stage out of the design and select its neighbour."""
    shown = _shown(bench)
    place = shown.index(id) if id in shown else -1
    selected = bench.selection[:2] == ("stages", id)
    reason = bench.change(lambda p: p.stage_removed(id), label=f"removing {_name(bench, id)}")
    if reason is None and selected:
        shown = _shown(bench)
        bench.select(("stages", shown[min(place, len(shown) - 1)]) if shown and place >= 0 else ())
    return reason


def duplicate_stage(bench: "Workbench", id: str) -> str | None:
    """Put a copy of a stage behind it and select the copy."""
    key = bench.current.free_key(id)
    reason = bench.change(lambda p: p.stage_duplicated(id), label=f"copying {_name(bench, id)}")
    if reason is None:
        bench.select(("stages", key))
    return reason


def switch_stage(bench: "Workbench", id: str) -> str | None:
    """Take a stage out of the signal path or put it back; it keeps its settings."""
    return bench.edit(("stages", id, "in_path"), not bench.current.stage(id).in_path)


def move_stage(bench: "Workbench", id: str, gap: int) -> str | None:
    """Move a stage to a gap between the shown ones."""
    shown = _shown(bench)
    here = shown.index(id)
    if gap in (here, here + 1):
        return None
    before, after = shown[:gap], shown[gap:]
    neighbour, behind = (before[-1], True) if before else (after[0], False)
    if bench.way == "transmit":
        behind = not behind
    others = [stage.id for stage in bench.current.stages if stage.id != id]
    position = others.index(neighbour) + behind
    return bench.change(lambda p: p.stage_moved(id, position), label=f"moving {_name(bench, id)}")


def shift_stage(bench: "Workbench", id: str, step: int) -> str | None:
    """Move a stage by one place, forth or back, where there is one."""
    shown = _shown(bench)
    gap = gap_behind(bench, id) + (1 if step > 0 else -2)
    return move_stage(bench, id, gap) if id in shown and 0 <= gap <= len(shown) else None


def _shown(bench: "Workbench") -> list[str]:
    return [stage.id for stage in stages_along(bench.current, bench.way)]


def _name(bench: "Workbench", id: str) -> str:
    return next((stage.name for stage in bench.current.stages if stage.id == id), id)
