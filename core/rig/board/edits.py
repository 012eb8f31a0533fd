"""What a builder's hand does to a board: puts things somewhere, or leaves them to be placed again."""

from collections.abc import Collection, Mapping

from core.model.boards.board import Board, Placed
from core.model.project import Project
from core.rig.board.plan import Place

#: Parts are put on a grid of this [m].
GRID_M = 0.5e-3


def put(project: Project, stage: str, bands: tuple[str, ...], places: Mapping[str, Place]) -> Project:
    """The rig with things of a board where they are put, by their keys; `bands` are those that its filter
    serves, empty for a stage that has one board. `DesignError` beyond what a board may be.
    """
    board, at = _board(project, stage, bands)
    held = {each.key: each for each in board.places}
    for key, place in places.items():
        held[key] = Placed.checked(
            key=key, x_m=round(place.x_m, 6), y_m=round(place.y_m, 6), turned=place.turned % 4
        )
    return _with(project, at, board.edited(("places",), tuple(held[key] for key in sorted(held))))


def freed(
    project: Project, stage: str, bands: tuple[str, ...], keys: Collection[str] | None = None
) -> Project:
    """The rig where things of a board are placed automatically again; all of it without `keys`."""
    board, at = _board(project, stage, bands)
    rest = () if keys is None else tuple(each for each in board.places if each.key not in keys)
    if at is None:
        return project
    if not rest:
        return project.edited(("boards",), (*project.boards[:at], *project.boards[at + 1 :]))
    return _with(project, at, board.edited(("places",), rest))


def _board(project: Project, stage: str, bands: tuple[str, ...]) -> tuple[Board, int | None]:
    """What is held of a board, and where in the project; an empty one where nothing is."""
    for n, each in enumerate(project.boards):
        if each.stage == stage and each.band in (bands or ("",)):
            return each, n
    return Board(stage=stage, band=bands[0] if bands else ""), None


def _with(project: Project, at: int | None, board: Board) -> Project:
    boards = project.boards
    changed = (*boards, board) if at is None else (*boards[:at], board, *boards[at + 1 :])
    return project.edited(("boards",), changed)
