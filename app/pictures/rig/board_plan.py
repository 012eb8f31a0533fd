"""Board plan: the board of what is selected, the whole board, and the panels, as drawings."""

from typing import Literal

from app.state.look import Look
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import SUPPLY, VFO, StageBoard, board_of
from core.rig.board.drawing import Drawing
from core.rig.board.panels import panel_drawing
from core.rig.board.rig_board import whole_board
from core.rig.board.stage_drawing import drawing_of

#: What is looked at: the board of what is selected, all boards together, a panel, or the supply's board.
What = Literal["stage", "whole", "front", "rear", "supply"]


def board_looked_at(analysis: Analysis, look: Look, what: What) -> StageBoard | str:
    """The board of what is selected, or the supply's, or a sentence that says why there is none."""
    if what == "supply":
        stage = SUPPLY
    elif look.selection == ("vfo",):
        stage = VFO
    elif look.stage is not None:
        stage = look.stage
    else:
        return "Select a stage on the signal path, or the VFO, to see its board."
    try:
        return board_of(analysis, stage, look.band)
    except DesignError as error:
        return str(error)


def picture_of(analysis: Analysis, look: Look, what: What) -> Drawing | str:
    """The drawing, or the sentence in its place."""
    if what == "whole":
        return whole_board(analysis)
    if what in ("front", "rear"):
        return panel_drawing(analysis.project, what)
    board = board_looked_at(analysis, look, what)
    return board if isinstance(board, str) else drawing_of(board)
