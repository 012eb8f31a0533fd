"""The build sheet laid out: its sections flowed into pages, with text as text and drawings as vectors."""

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import cast

from PySide6.QtCore import QLineF, QMarginsF, QRectF, QSizeF
from PySide6.QtGui import (
    QColor,
    QImage,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QPen,
)

from app.photographs.pictures import image_of
from app.sheet.content.blocks import NEW_LINE, Heading, led
from app.sheet.content.groups import ALL
from app.sheet.content.sections import sections
from app.sheet.drawings import picture_svg
from app.sheet.flow import fonts
from app.sheet.flow.packing import Filling, Placed
from app.sheet.flow.pieces import Flowing, Maker, Piece, pieces
from app.state.settings import Paper
from core.model.disk import write_whole
from core.model.notebook.bench_log import Photograph
from core.model.project import Project
from core.model.values.errors import FileError
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bench.crystal_bench import fit_sweeps
from core.rig.paper.build_sheet import sheet_in_steps
from core.rig.paper.sheet_model import BuildSheet
from core.stages.steps import Steps

PAPERS: dict[Paper, QPageSize.PageSizeId] = {
    "A4": QPageSize.PageSizeId.A4,
    "Letter": QPageSize.PageSizeId.Letter,
}
#: Margins of the page, millimetres: left, top, right, bottom; the page number stands in the last.
_MARGINS_MM = (15.0, 12.0, 15.0, 15.0)
_POINT_MM = 25.4 / 72
#: Columns of the contents, and the room between them, points.
_CONTENTS, _GUTTER = 2, 10.0


def shortened(title: str, room: float) -> str:
    """A title that fits into so much room [points]; of a long one the bands at its end stay, by which
    sections of one stage differ.
    """
    name, comma, bands = title.rpartition(", ")
    name, end = (name, comma + bands) if fonts.wide(bands, fonts.CELL) < 2 / 3 * room else (title, "")
    if fonts.wide(title, fonts.CELL) <= room:
        return title
    while name and fonts.wide(f"{name}…{end}", fonts.CELL) > room:
        name = name[:-1].rstrip()
    return f"{name}…{end}"


@record
class Wanted:
    """What is wanted of a sheet: which groups of sections, and the file that photographs lie beside."""

    groups: tuple[str, ...] = ALL
    file: Path | None = None


#: All of a sheet, but photographs, which are beside no file.
WHOLE = Wanted()


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
        of: Wanted = WHOLE,
    ) -> None:
        page = layout.pageSize().size(QPageSize.Unit.Point)
        left, top, right, bottom = (mm / _POINT_MM for mm in _MARGINS_MM)
        self._scale = dots_per_inch / 72
        self._body = QRectF(left, top, page.width() - left - right, page.height() - top - bottom)
        self._foot = f"{sheet.name}, revision {sheet.revision}, {printed}"
        self._sections = sections(sheet, printed, of.groups)
        self._filling = Filling(self._body.height())
        self._file = of.file
        self._maker = Maker(svg=picture_svg, photograph=self._photograph, contents=self._contents)
        self.page_points = QSizeF(page)

    def steps(self) -> Iterator[None]:
        """Make the sheet; it may rest wherever this yields."""
        for section in self._sections:
            flow: list[Flowing] = []
            heading = (Heading(section.title, 2),) if section.title else ()
            for block in led((*heading, *section.blocks)):
                flow += pieces(block, self._body.width(), self._maker)
                yield
            self._filling.add(flow)

    @property
    def placed(self) -> tuple[Placed, ...]:
        """Every piece with its place."""
        return self._filling.placed

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

    def _photograph(self, of: Photograph) -> QImage | str:
        """A photograph, or the sentence why there is none."""
        try:
            return image_of(of, self._file)
        except FileError as error:
            return str(error)

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
                fonts.put(painter, shortened(title, room - 4), left, top, fonts.CELL)
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
    of: Wanted = WHOLE,
) -> int:
    """Write the sheet as PDF, whole or not at all; returns the number of pages. `FileError` when it fails.

    `between` is called after each step of the making, `of` tells what is wanted.
    """
    from PySide6.QtCore import QBuffer, QIODevice

    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setTitle(project.name)
    writer.setCreator("Copperclad")
    writer.setResolution(300)
    writer.setPageLayout(page_layout(paper))
    document = sheet_document(project, paper, writer.resolution(), between=between, of=of)
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
    of: Wanted = WHOLE,
) -> SheetDocument:
    """The sheet of a project, flowed for a device of that resolution; `between` is called after each step,
    of which the crystals' sweeps are the first.
    """
    steps = _made(project, paper, dots_per_inch, printed, of)
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return cast(SheetDocument, end.value)
        between()


def _made(
    project: Project, paper: Paper, dots_per_inch: float, printed: str | None, of: Wanted
) -> Steps[SheetDocument]:
    for _ in fit_sweeps(project.crystal_batch):
        yield
    sheet = yield from sheet_in_steps(Analysis(project))
    document = begun_document(sheet, paper, dots_per_inch, printed, of)
    yield from document.steps()
    return document


def begun_document(
    sheet: BuildSheet,
    paper: Paper,
    dots_per_inch: float,
    printed: str | None = None,
    of: Wanted = WHOLE,
) -> SheetDocument:
    """A sheet whose `steps` are still to be gone through."""
    today = printed or date.today().isoformat()
    return SheetDocument(sheet, page_layout(paper), dots_per_inch, today, of)


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
