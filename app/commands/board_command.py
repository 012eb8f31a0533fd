"""`board`: a stage's board, the whole board or a panel at its true size, as SVG or PDF."""

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.terminal import say
from core.model.values.errors import DesignError, FileError

if TYPE_CHECKING:
    from core.rig.analysis import Analysis
    from core.rig.board.drawing import Drawing


def add(commands: Any) -> None:
    """Tell the parser of the command."""
    board = commands.add_parser("board", help="draw a stage's board with its islands at its true size")
    board.add_argument("project", type=Path)
    board.add_argument(
        "stage",
        help="key in the file of a stage that has a circuit, e.g. driver; or vfo, carrier, helper, "
        "supply, whole, front, rear",
    )
    board.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.svg|FILE.pdf")
    board.add_argument("--band", default="", help="the band whose filter is meant; the first one otherwise")
    board.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="paper of a PDF")
    board.add_argument("--mirrored", action="store_true", help="as it is seen through the board")
    board.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the file; what is to be said of the board goes to the terminal."""
    from app.commands.start_up import missing_library
    from core.model.files import load
    from core.rig.analysis import Analysis

    if options.output.suffix.lower() not in (".svg", ".pdf"):
        raise DesignError(f"{options.output.name} ends in neither .svg nor .pdf; choose one of them.")
    project = load(options.project)
    drawing = drawing_for(Analysis(project), options.stage, options.band)
    problem = missing_library()
    if problem is not None:
        raise FileError(problem)
    # Paper needs fonts, not a display.
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from PySide6.QtGui import QGuiApplication

    from app.boards.paper import written

    application = QGuiApplication.instance() or QGuiApplication([])
    title = f"{project.name}: {drawing.title}"
    say(written(drawing, options.output, title, options.paper, mirrored=options.mirrored))
    for line in drawing.told:
        say(line)
    del application
    return 0


def drawing_for(analysis: "Analysis", stage: str, band: str) -> "Drawing":
    """What is to be drawn; `DesignError` when there is no such stage or band, or no board of it."""
    from core.rig.board.boards import board_of
    from core.rig.board.panels import panel_drawing
    from core.rig.board.rig_board import whole_board
    from core.rig.board.stage_drawing import drawing_of

    if band:
        analysis.project.band(band)
    if all(each.id != stage for each in analysis.project.stages):
        if stage == "whole":
            return whole_board(analysis)
        if stage in ("front", "rear"):
            return panel_drawing(analysis.project, stage)  # type: ignore[arg-type]
    return drawing_of(board_of(analysis, stage, band))
