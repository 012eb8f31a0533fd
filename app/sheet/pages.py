"""The build sheet laid out: its sections flowed into pages, with text as text and drawings as vectors."""

from collections.abc import Callable, Collection, Iterator
from datetime import date
from pathlib import Path

from PySide6.QtCore import QLineF, QMarginsF, QRectF, QSizeF
from PySide6.QtGui import QColor, QPagedPaintDevice, QPageLayout, QPageSize, QPainter, QPdfWriter, QPen

from app.sheet.content.blocks import NEW_LINE, Heading
from app.sheet.content.sections import GROUPS, sections
from app.sheet.drawings import picture_svg
from app.sheet.flow import fonts
from app.sheet.flow.packing import Filling, Placed
from app.sheet.flow.pieces import Flowing, Maker, Piece, pieces
from app.state.settings import Paper
from core.model.disk import write_whole
from core.model.project import Project
from core.model.values.errors import FileError
from core.rig.analysis import Analysis
from core.rig.bench.crystal_bench import fit_sweeps
from core.rig.paper.build_sheet import BuildSheet, build_sheet

PAPERS: dict[Paper, QPageSize.PageSizeId] = {
    "A4": QPageSize.PageSizeId.A4,
    "Letter": QPageSize.PageSizeId.Letter,
}
#: Margins of the page, millimetres: left, top, right, bottom; the page number stands in the last.
_MARGINS_MM = (15.0, 12.0, 15.0, 15.0)
_POINT_MM = 25.4 / 72
#: Columns of the contents, and the room between them, points.
_CONTENTS, _GUTTER = 2, 10.0


class SheetDocument:
    """A sheet flowed into pages for one device; `draw_page` paints a page in the device's dots.

    It is made by going through `steps`, each short enough not to hold up a window.
    """

    def __init__(
        self,
        sheet: BuildSheet,
        layout: QPageLayout,
        dots_per_inch: float,
        printed: str,
        chosen: Collection[str] = tuple(GROUPS),
    ) -> None:
        page = layout.pageSize().size(QPageSize.Unit.Point)
        left, top, right, bottom = (mm / _POINT_MM for mm in _MARGINS_MM)
        self._scale = dots_per_inch / 72
        self._body = QRectF(left, top, page.width() - left - right, page.height() - top - bottom)
        self._foot = f"{sheet.name}, revision {sheet.revision}, {printed}"
        self._sections = sections(sheet, printed, chosen)
        self._filling = Filling(self._body.height())
        self._maker = Maker(svg=picture_svg, contents=self._contents)
        self.page_points = QSizeF(page)

    def steps(self) -> Iterator[None]:
        """Make the sheet; it may rest wherever this yields."""
        for section in self._sections:
            flow: list[Flowing] = []
            heading = (Heading(section.title, 2),) if section.title else ()
            for block in (*heading, *section.blocks):
                flow += pieces(block, self._body.width(), self._maker)
                yield
            self._filling.add(flow)

    @property
    def placed(self) -> tuple[Placed, ...]:
        """Every piece with its place."""
        return tuple(self._filling.placed)

    @property
    def text(self) -> str:
        """All its words, each cell and paragraph in a line of its own, with plain spaces."""
        texts = (each for placed in self.placed for each in placed.piece.texts)
        told = "\n".join(each if isinstance(each, str) else each.text for each in texts)
        return told.replace("\u00a0", " ").replace(NEW_LINE, "\n")

    @property
    def body_points(self) -> QSizeF:
        """What of a page is filled."""
        return self._body.size()

    def _contents(self, width: float) -> Piece:
        """The sections with their pages, which are known once all is placed."""
        titles = [section.title for section in self._sections if section.title]
        rows = -(-len(titles) // _CONTENTS)
        high, column = fonts.line_height(fonts.CELL), (width - _GUTTER) / _CONTENTS

        def paint(painter: QPainter, x: float, y: float) -> None:
            pages = {each.piece.heading: each.page + 1 for each in self._filling.placed if each.piece.heading}
            for n, title in enumerate(titles):
                left, top = x + n // rows * (column + _GUTTER), y + n % rows * high
                page = str(pages[title])
                room = column - fonts.wide(page, fonts.CELL)
                shown = title
                while fonts.wide(shown, fonts.CELL) > room - 4 and len(shown) > 1:
                    shown = f"{shown.rstrip('…')[:-1]}…"
                fonts.put(painter, shown, left, top, fonts.CELL)
                fonts.put(painter, page, left + room, top, fonts.CELL)

        return Piece(height=rows * high, paint=paint, above=2.0, texts=tuple(titles))

    @property
    def pages(self) -> int:
        """Number of pages."""
        return self._filling.pages

    def draw_page(self, painter: QPainter, number: int) -> None:
        """Paint page `number` (from 0), its foot included."""
        painter.save()
        painter.scale(self._scale, self._scale)
        left, top = self._body.left(), self._body.top()
        for each in self.placed:
            if each.page == number:
                each.piece.paint(painter, left + each.x, top + each.y)
        self._draw_foot(painter, number)
        painter.restore()

    def _draw_foot(self, painter: QPainter, number: int) -> None:
        left, right, y = self._body.left(), self._body.right(), self._body.bottom() + 10
        painter.setPen(QPen(QColor(fonts.RULE), 0.5))
        painter.drawLine(QLineF(left, y, right, y))
        page = f"page {number + 1} of {self.pages}"
        fonts.put(painter, self._foot, left, y + 2, fonts.CELL, "soft")
        fonts.put(painter, page, right - fonts.wide(page, fonts.CELL), y + 2, fonts.CELL, "soft")


def page_layout(paper: Paper) -> QPageLayout:
    """Upright paper without device margins; the sheet brings its own."""
    size = QPageSize(PAPERS[paper])
    return QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(), QPageLayout.Unit.Point)


def write_pdf(
    project: Project,
    path: Path,
    paper: Paper = "A4",
    between: Callable[[], object] = lambda: None,
    chosen: Collection[str] = tuple(GROUPS),
) -> int:
    """Write the sheet as PDF, whole or not at all; returns the number of pages. `FileError` when it fails.

    `between` is called after each step of the making, `chosen` are the groups of sections that are written.
    """
    from PySide6.QtCore import QBuffer, QIODevice

    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setTitle(project.name)
    writer.setCreator("Copperclad")
    writer.setResolution(300)
    writer.setPageLayout(page_layout(paper))
    document = sheet_document(project, paper, writer.resolution(), between=between, chosen=chosen)
    paint(document, writer, between)
    buffer.close()
    content = bytes(buffer.data().data())
    if not content.startswith(b"%PDF"):
        raise FileError(f"{path.name} could not be made; try again or print instead.")
    write_whole(path, content)
    return document.pages


def sheet_document(
    project: Project,
    paper: Paper,
    dots_per_inch: float,
    printed: str | None = None,
    between: Callable[[], object] = lambda: None,
    chosen: Collection[str] = tuple(GROUPS),
) -> SheetDocument:
    """The sheet of a project, flowed for a device of that resolution; `between` is called after each step,
    of which the crystals' sweeps are the first.
    """
    for _ in fit_sweeps(project.crystal_batch):
        between()
    document = begun_document(build_sheet(Analysis(project)), paper, dots_per_inch, printed, chosen)
    for _ in document.steps():
        between()
    return document


def begun_document(
    sheet: BuildSheet,
    paper: Paper,
    dots_per_inch: float,
    printed: str | None = None,
    chosen: Collection[str] = tuple(GROUPS),
) -> SheetDocument:
    """A sheet whose `steps` are still to be gone through."""
    today = printed or date.today().isoformat()
    return SheetDocument(sheet, page_layout(paper), dots_per_inch, today, chosen)


def paint(
    document: SheetDocument, device: QPagedPaintDevice, between: Callable[[], object] = lambda: None
) -> None:
    """Paint every page of a document on a printer or PDF; `between` is called after each."""
    painter = QPainter(device)
    for number in range(document.pages):
        if number:
            device.newPage()
        document.draw_page(painter, number)
        between()
    painter.end()
