"""Drawings to scale to the printer."""

from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QWidget

from app.boards.paper import layout_of, paint_sheets
from app.state.dialogs import asked
from app.state.documents import slug
from core.rig.board.drawing import Drawing
from core.rig.board.sheets import sheets_of


def print_drawing(
    drawing: Drawing, title: str, paper: str, parent: QWidget | None = None, *, mirrored: bool = False
) -> bool:
    """Ask for a printer and print a drawing at its true size; False when the builder gave up."""
    sheets = sheets_of(drawing, paper, title, mirrored=mirrored)
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    # Print to file proposes this as the file's name.
    printer.setDocName(slug(title))
    printer.setPageLayout(layout_of(paper, lying=sheets.lying))
    printer.setFullPage(True)
    if asked(QPrintDialog(printer, parent)) != QDialog.DialogCode.Accepted:
        return False
    # The dialog may have set another paper.
    chosen = (
        "Letter"
        if printer.pageLayout().pageSize().id() == layout_of("Letter", lying=False).pageSize().id()
        else "A4"
    )
    sheets = sheets_of(drawing, chosen, title, mirrored=mirrored)
    printer.setPageLayout(layout_of(chosen, lying=sheets.lying))
    printer.setFullPage(True)
    paint_sheets(sheets, printer, printer.resolution(), printer.newPage)
    return True
