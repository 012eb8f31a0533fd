"""What the builder's hand does to the design, on a stage's board, on the whole board and on a panel."""

from collections.abc import Callable
from functools import partial

from app.pictures.rig.board_plan import What, board_looked_at
from app.state.workbench import Workbench
from core.model.project import Project
from core.rig.board.edits import freed, put
from core.rig.board.panels import as_proposed, mounted, removed
from core.rig.board.plan import Place
from core.rig.board.rig_board import WHOLE

Edit = Callable[[Project], Project]


def placing(bench: Workbench, what: What, key: str, place: Place) -> Edit | None:
    """What puts a thing somewhere; None where nothing is on show."""
    if what in ("front", "rear"):
        return lambda project: mounted(project, what, {key: place})
    board = _board(bench, what)
    return None if board is None else lambda project: put(project, *board, {key: place})


def freeing(bench: Workbench, what: What, key: str | None) -> Edit | None:
    """What leaves a thing, or all, to be placed automatically; it takes a fitting off its panel."""
    if what in ("front", "rear"):
        if key is None:
            return lambda project: as_proposed(project, what)
        return lambda project: removed(project, what, int(key))
    board = _board(bench, what)
    return None if board is None else partial(_freed, board, key)


def _freed(board: tuple[str, tuple[str, ...]], key: str | None, project: Project) -> Project:
    return freed(project, *board, None if key is None else (key,))


def _board(bench: Workbench, what: What) -> tuple[str, tuple[str, ...]] | None:
    """Under which stage and bands the places of the board on show are kept."""
    if what == "whole":
        return WHOLE, ()
    found = board_looked_at(bench.analysis, bench.look, what)
    return None if isinstance(found, str) else (found.stage, found.bands)
