"""Drawings to scale on a printer or as PDF."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF
from PySide6.QtGui import QPagedPaintDevice, QPageLayout, QPageSize, QPainter, QPdfWriter

from app.boards.painting import on_paper, paint
from core.model.disk import write_whole
from core.model.values.errors import FileError
from core.rig.board.drawing import Drawing
from core.rig.board.sheets import PaperPage, PaperSet, sheets_of
from core.rig.board.svg import svg_of

#: Fine enough for a line of a fifth of a millimetre.
_DOTS_PER_INCH = 1200
_INCH_MM = 25.4


def layout_of(paper: str, *, lying: bool) -> QPageLayout:
    """A page without margins: the drawing keeps its own."""
    sizes = {"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter}
    way = QPageLayout.Orientation.Landscape if lying else QPageLayout.Orientation.Portrait
    return QPageLayout(QPageSize(sizes[paper]), way, QMarginsF())


def written(drawing: Drawing, file: Path, title: str, paper: str, *, mirrored: bool) -> str:
    """Write a drawing at its true size, as SVG or PDF by the file's name; what happened, in a sentence.

    `FileError` when it fails.
    """
    if file.suffix.lower() == ".svg":
        write_whole(file, svg_of(drawing, mirrored=mirrored).encode())
        return f"{file} written, 1 : 1 in millimetres."
    pages = write_pdf(sheets_of(drawing, paper, title, mirrored=mirrored), file, paper)
    return f"{pages} sheet{'' if pages == 1 else 's'} written to {file}, 1 : 1."


def write_pdf(sheets: PaperSet, file: Path, paper: str) -> int:
    """Write the sheets as PDF, whole or not at all; returns their number. `FileError` when it fails."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setTitle(sheets.drawing.title)
    writer.setCreator("Copperclad")
    writer.setResolution(_DOTS_PER_INCH)
    writer.setPageLayout(layout_of(paper, lying=sheets.lying))
    paint_sheets(sheets, writer, writer.resolution(), writer.newPage)
    buffer.close()
    content = bytes(buffer.data().data())
    if not content.startswith(b"%PDF"):
        raise FileError(f"{file.name} could not be made; try again or print instead.")
    write_whole(file, content)
    return len(sheets.pages)


def paint_sheets(
    sheets: PaperSet, device: QPagedPaintDevice, dots_per_inch: float, next_page: Callable[[], object]
) -> None:
    """Paint every sheet on a device of a resolution, whose page has no margins."""
    painter = QPainter(device)
    try:
        for n, page in enumerate(sheets.pages):
            if n:
                next_page()
            paint_page(painter, sheets, page, dots_per_inch / _INCH_MM)
    finally:
        painter.end()


def paint_page(painter: QPainter, sheets: PaperSet, page: PaperPage, dots_per_mm: float) -> None:
    """Paint one sheet on a painter of so many dots a millimetre."""
    inks = on_paper()
    painter.save()
    painter.scale(dots_per_mm, dots_per_mm)
    paint(painter, page.furniture, inks)
    part = page.part
    painter.translate(1e3 * (page.at[0] - part.left), 1e3 * (page.at[1] - part.top))
    width, height = part.size
    # A hair beyond the part, so that the line along the board's edge is whole.
    painter.setClipRect(
        QRectF(*(1e3 * v for v in (part.left, part.top, width, height))).adjusted(-1, -1, 1, 1)
    )
    paint(painter, page.marks, inks)
    if sheets.mirrored:
        # About the middle of the whole drawing, so that the sheets stay where they are.
        painter.translate(2e3 * sheets.drawing.box.middle[0], 0)
        painter.scale(-1, 1)
    paint(painter, sheets.drawing.shapes, inks)
    painter.restore()
