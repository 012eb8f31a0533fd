"""Board plan: the board of what is selected, the whole board, and the panels, as drawings."""

from typing import Literal

from app.state.look import Look
from core.model.values.errors import DesignError
from core.record import record
from core.rig.analysis import Analysis
from core.rig.board.boards import HELPER, SUPPLY, StageBoard, board_of
from core.rig.board.drawing import Drawing
from core.rig.board.edits import offered, role_of
from core.rig.board.panels import panel_drawing
from core.rig.board.rig_board import whole_board
from core.rig.board.stage_drawing import drawing_of

#: What is looked at: the board of what is selected, all boards together, a panel, or the board of the supply
#: or of the helper oscillator, which nobody selects.
What = Literal["stage", "whole", "front", "rear", "supply", "helper"]
#: Of these the boards of one circuit.
BOARDS: frozenset[What] = frozenset({"stage", "supply", "helper"})


def board_looked_at(analysis: Analysis, look: Look, what: What) -> StageBoard | str:
    """The board of what is selected, of supply or helper, or a sentence that says why there is none."""
    if what in ("supply", "helper"):
        stage = SUPPLY if what == "supply" else HELPER
    elif look.selection in (("vfo",), ("carrier",)):
        stage = look.selection[0]
    elif look.stage is not None:
        stage = look.stage
    else:
        return "Select a stage on the signal path, the VFO or the carrier oscillator to see its board."
    try:
        return board_of(analysis, stage, look.band)
    except DesignError as error:
        return str(error)


@record(kw_only=True)
class PackageChoices:
    """What a part of a board can come in: its board and key, words and names of the packages, the usual one
    first under an empty word, the word of the present one, and the keys of all parts like it.
    """

    stage: str
    bands: tuple[str, ...]
    key: str
    ref: str
    offered: tuple[tuple[str, str], ...]
    present: str
    alike: tuple[str, ...]


def packages_of(analysis: Analysis, look: Look, what: What, key: str | None) -> PackageChoices | None:
    """The packages of a part of the board that is looked at; None where there is nothing to choose."""
    board = board_looked_at(analysis, look, what) if key and what in BOARDS else None
    if board is None or isinstance(board, str) or key is None:
        return None
    usual = board.usually(key)
    others = () if usual is None else offered(usual, analysis.project.packages)
    if usual is None or not others:
        return None
    now = next(item for item in board.items if item.key == key).package
    alike = tuple(
        item.key
        for item in board.usual
        if item.package.package == usual.package.package and role_of(item) == role_of(usual)
    )
    return PackageChoices(
        stage=board.stage,
        bands=board.bands,
        key=key,
        ref=usual.ref,
        offered=(("", f"{usual.package.name} (usual)"), *((each.package, each.name) for each in others)),
        present="" if now == usual.package else now.package,
        alike=alike,
    )


def picture_of(analysis: Analysis, look: Look, what: What) -> Drawing | str:
    """The drawing, or the sentence in its place."""
    if what == "whole":
        return whole_board(analysis)
    if what in ("front", "rear"):
        return panel_drawing(analysis.project, what)
    board = board_looked_at(analysis, look, what)
    return board if isinstance(board, str) else drawing_of(board)
