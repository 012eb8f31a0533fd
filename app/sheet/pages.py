"""The build sheet laid out: HTML from a template, flowed into pages, with drawings kept as vectors."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import jinja2
from PySide6.QtCore import QByteArray, QMarginsF, QRect, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QAbstractTextDocumentLayout,
    QColor,
    QFont,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QPyTextObject,
    QTextBlock,
    QTextCharFormat,
    QTextCursor,
    QTextDocument,
    QTextFormat,
)
from PySide6.QtSvg import QSvgRenderer

from app.sheet.curve import curve_svg
from app.sheet.drawings import drawn
from app.sheet.noise_bar import noise_svg
from app.state.settings import Paper
from app.style import words
from core.model.disk import write_whole
from core.model.project import Project
from core.model.values.errors import FileError
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.bench.crystal_bench import fit_sweeps
from core.rig.figures.crystals import PLACED
from core.rig.figures.figure import keyed
from core.rig.figures.filters import STRESS
from core.rig.figures.levels import BLOCK, BLOCK_TRANSMIT
from core.rig.figures.parts import had, part_value
from core.rig.figures.plan import CARRIER, PLAN
from core.rig.figures.receive import DYNAMIC_RANGE, OWN_NOISE, S_METER, Noisy
from core.rig.paper.build_sheet import BuildSheet, Curve, build_sheet
from core.stages.crystals.crystal_choice import Placed
from core.stages.outcome import Drawable

PAPERS: dict[Paper, QPageSize.PageSizeId] = {
    "A4": QPageSize.PageSizeId.A4,
    "Letter": QPageSize.PageSizeId.Letter,
}
#: Margins of the page, millimetres: left, top, right, bottom; the page number stands in the last.
_MARGINS_MM = (15.0, 13.0, 15.0, 16.0)
_POINT_MM = 25.4 / 72
_INK, _SOFT, _COPPER = "#1d1a17", "#6a6055", "#8a4f1c"
_DRAWING = QTextFormat.ObjectTypes.UserObject + 1
#: Drawings come at the size of a screen; on paper they may be smaller.
_DRAWING_SCALE = 0.6
_NUMBER = QTextFormat.Property.UserProperty + 1


class _Drawings:
    """Drawings of a sheet as SVG, numbered as the template asks for them."""

    def __init__(self) -> None:
        self.svgs: list[bytes] = []

    def schematic(self, circuit: Drawable, placement: tuple[Placed, ...] = ()) -> int:
        """Number of a circuit's schematic, with the measured crystals that stand in it."""
        return self._add(drawn(circuit, _INK, _SOFT, {each.ref: each.label for each in placement}))

    def curve(self, curve: Curve) -> int:
        """Number of a response plot."""
        return self._add(curve_svg(curve))

    def noise(self, parts: Sequence[Noisy]) -> int:
        """Number of a bar of the receiver's own noise."""
        return self._add(noise_svg(parts))

    def _add(self, svg: str) -> int:
        self.svgs.append(svg.encode())
        return len(self.svgs) - 1


class _DrawingObject(QPyTextObject):
    """Draws an SVG where the text has a drawing, as vectors."""

    def __init__(self, drawings: _Drawings, widest: float, parent: QTextDocument) -> None:
        super().__init__(parent)
        self._renderers = [QSvgRenderer(QByteArray(svg)) for svg in drawings.svgs]
        self._widest = widest

    def intrinsicSize(self, doc: QTextDocument, place: int, format: QTextFormat) -> QSizeF:
        size = QSizeF(self._renderers[int(format.property(_NUMBER))].defaultSize()) * _DRAWING_SCALE
        return size * min(1.0, self._widest / size.width())

    def drawObject(
        self,
        painter: QPainter,
        rect: QRectF | QRect,
        doc: QTextDocument,
        place: int,
        format: QTextFormat,
    ) -> None:
        self._renderers[int(format.property(_NUMBER))].render(painter, QRectF(rect))


class SheetDocument:
    """A sheet flowed into pages for one device; `draw_page` paints a page in the device's dots.

    It is made by going through `steps`, each short enough not to hold up a window.
    """

    def __init__(self, sheet: BuildSheet, layout: QPageLayout, dots_per_inch: float, printed: str) -> None:
        dots_per_point = dots_per_inch / 72
        page = layout.pageSize().size(QPageSize.Unit.Point)
        left, top, right, bottom = (mm / _POINT_MM for mm in _MARGINS_MM)
        self._scale = dots_per_point
        self._body = QRectF(left, top, page.width() - left - right, page.height() - top - bottom)
        self._name = sheet.name
        self._sheet, self._printed = sheet, printed
        self.page_points = QSizeF(page)
        self.document = QTextDocument()

    def steps(self) -> Iterator[None]:
        """Make the sheet; it may rest wherever this yields."""
        drawings = _Drawings()
        for section in self._sheet.filters:
            if section.drawing is not None:
                drawings.schematic(section.drawing, section.placement)
                yield
        if self._sheet.vfo is not None and self._sheet.vfo.design is not None:
            drawings.schematic(self._sheet.vfo.design)
            yield
        # Drawn once, and kept by those who drew them, until the template numbers them in its own order.
        drawings = _Drawings()
        html = _template().render(sheet=self._sheet, printed=self._printed, drawings=drawings)
        yield
        font = QFont("sans-serif")
        # The layout works in points: one document pixel is one point, whatever the device.
        font.setPixelSize(9)
        self.document.setDefaultFont(font)
        self.document.setDocumentMargin(0)
        self.document.setHtml(html)
        yield
        self._handler = _DrawingObject(drawings, self._body.width(), self.document)
        self.document.documentLayout().registerHandler(int(_DRAWING), self._handler)
        _place_drawings(self.document)
        # Unbroken first: a drawing that moved to the next page would count its gap as the section's height.
        self.document.setTextWidth(self._body.width())
        heights = _section_heights(self.document)
        yield
        self.document.setPageSize(self._body.size())
        yield from _keep_sections_whole(self.document, self._body.height(), heights)

    @property
    def pages(self) -> int:
        """Number of pages."""
        return self.document.pageCount()

    def draw_page(self, painter: QPainter, number: int) -> None:
        """Paint page `number` (from 0), its foot included."""
        painter.save()
        painter.scale(self._scale, self._scale)
        painter.save()
        painter.translate(self._body.left(), self._body.top() - number * self._body.height())
        clip = QRectF(0, number * self._body.height(), self._body.width(), self._body.height())
        painter.setClipRect(clip)
        context = QAbstractTextDocumentLayout.PaintContext()
        context.clip = clip  # type: ignore[assignment]
        context.palette.setColor(context.palette.ColorRole.Text, QColor(_INK))  # type: ignore[attr-defined]
        self.document.documentLayout().draw(painter, context)
        painter.restore()
        font = QFont("sans-serif")
        font.setPixelSize(8)
        painter.setFont(font)
        painter.setPen(QColor(_SOFT))
        foot = QRectF(self._body.left(), self._body.bottom() + 12, self._body.width(), 14)
        painter.drawText(foot, Qt.AlignmentFlag.AlignLeft, self._name)
        painter.drawText(foot, Qt.AlignmentFlag.AlignRight, f"page {number + 1} of {self.pages}")
        painter.restore()


def _place_drawings(document: QTextDocument) -> None:
    """Turn the images `drawing:N` of the text into drawing objects."""
    found: list[tuple[int, int]] = []
    block = document.begin()
    while block.isValid():
        iterator = block.begin()
        while not iterator.atEnd():
            fragment = iterator.fragment()
            name = fragment.charFormat().toImageFormat().name()
            if name.startswith("drawing:"):
                found.append((fragment.position(), int(name.removeprefix("drawing:"))))
            iterator += 1
        block = block.next()
    for position, number in reversed(found):
        cursor = QTextCursor(document)
        cursor.setPosition(position)
        cursor.setPosition(position + 1, QTextCursor.MoveMode.KeepAnchor)
        shape = QTextCharFormat()
        shape.setObjectType(int(_DRAWING))
        shape.setProperty(_NUMBER, number)
        cursor.insertText("\ufffc", shape)


def _heads(document: QTextDocument) -> list[QTextBlock]:
    """The headings of the sections, and the document's end."""
    heads = []
    block = document.begin()
    while block.isValid():
        if block.blockFormat().headingLevel() == 2:
            heads.append(block)
        block = block.next()
    return [*heads, document.lastBlock()]


def _section_heights(document: QTextDocument) -> list[float]:
    """Height of each section as laid out now."""
    tops = [document.documentLayout().blockBoundingRect(head).top() for head in _heads(document)]
    return [end - top for top, end in pairwise(tops)]


def _keep_sections_whole(document: QTextDocument, page_height: float, heights: list[float]) -> Iterator[None]:
    """Begin a section on a new page when it would be cut and its unbroken height fits on one, or when its
    heading would stand on another page than its drawing; a step each.
    """
    layout = document.documentLayout()
    for head, height in zip(_heads(document), heights, strict=False):
        top, first = layout.blockBoundingRect(head).top() % page_height, layout.blockBoundingRect(head.next())
        cut = top + height > page_height and height < page_height
        # A drawing is never cut: it goes to the next page and leaves the heading behind.
        drawn = "\ufffc" in head.next().text()
        alone = drawn and first.bottom() // page_height > first.top() // page_height
        if (cut or alone) and top > 0.1 * page_height:
            cursor = QTextCursor(head)
            shape = head.blockFormat()
            shape.setPageBreakPolicy(QTextFormat.PageBreakFlag.PageBreak_AlwaysBefore)
            cursor.setBlockFormat(shape)
            # A changed break alone leaves later blocks unplaced; lay the whole text out again.
            document.markContentsDirty(0, document.characterCount())
            layout.documentSize()
            yield


def page_layout(paper: Paper) -> QPageLayout:
    """Upright paper without device margins; the sheet brings its own."""
    size = QPageSize(PAPERS[paper])
    return QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(), QPageLayout.Unit.Point)


def write_pdf(
    project: Project, path: Path, paper: Paper = "A4", between: Callable[[], object] = lambda: None
) -> int:
    """Write the sheet as PDF, whole or not at all; returns the number of pages. `FileError` when it fails.

    `between` is called after each step of the making.
    """
    from PySide6.QtCore import QBuffer, QIODevice

    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setTitle(project.name)
    writer.setCreator("Copperclad")
    writer.setResolution(300)
    writer.setPageLayout(page_layout(paper))
    document = sheet_document(project, paper, writer.resolution(), between=between)
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
) -> SheetDocument:
    """The sheet of a project, flowed for a device of that resolution; `between` is called after each step,
    of which the crystals' sweeps are the first.
    """
    for _ in fit_sweeps(project.crystal_batch):
        between()
    document = begun_document(build_sheet(Analysis(project)), paper, dots_per_inch, printed)
    for _ in document.steps():
        between()
    return document


def begun_document(
    sheet: BuildSheet, paper: Paper, dots_per_inch: float, printed: str | None = None
) -> SheetDocument:
    """A sheet whose `steps` are still to be gone through."""
    return SheetDocument(sheet, page_layout(paper), dots_per_inch, printed or date.today().isoformat())


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


#: What stands of each stage of a path.
_BLOCK = keyed((*BLOCK, *BLOCK_TRANSMIT))


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
    )
    filters: dict[str, Callable[..., str]] = {
        "scheme": words.choice,
        "band": words.band,
        "bare": lambda value, key: "" if value is None else _BLOCK[key].bare(value),
        "part": part_value,
        "value": lambda value, unit: format_value(value, unit, 3),
        # Below a head that has the unit; a range stays in one line.
        "in_mhz": lambda text: text.removesuffix(" MHz").replace(" ", "\u00a0"),
        "unbroken": lambda text: text.replace(" ", "\u00a0"),
        "minus": lambda text: text.replace(" -", " −"),
    }
    environment.filters.update(filters)
    environment.filters["wound"] = had
    environment.globals.update(
        plan_figures=keyed(PLAN),
        carrier_figures=keyed(CARRIER),
        placed_figures=keyed(PLACED),
        stress_figures=STRESS[1:],
        noise_figures=keyed(OWN_NOISE),
        range_figures=DYNAMIC_RANGE[1:],
        station_figures=S_METER[1:],
    )
    return environment.get_template("sheet.html.jinja")
