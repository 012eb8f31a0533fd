"""Blocks as pieces: what is not cut, with its height at a width, and how it is painted."""

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QByteArray, QLineF, QRectF
from PySide6.QtGui import QColor, QImage, QPainter, QPen
from PySide6.QtSvg import QSvgRenderer

from app.sheet.content.blocks import (
    NEW_LINE,
    Beside,
    Block,
    Contents,
    Grid,
    Heading,
    Line,
    Look,
    Picture,
    Run,
    Words,
)
from app.sheet.flow import fonts
from app.sheet.flow.fonts import CELL, HEADINGS, TEXT, Laid
from core.model.notebook.bench_log import Photograph
from core.record import record

#: Qt lays text out in 64ths of a dot, which a width may miss by as much a letter, points.
_ROUNDING = 0.3
_UNIT = re.compile(
    r"(?<=\d) (?=(?:[GMkmµnp]?(?:Hz|F|H|Ω|V|A|W|m|s)|dB\w*|%|ppm/K|Hz/K)\b)|(?<=\d) (?=\+ )|(?<=\d.\+) "
)
Paint = Callable[[QPainter, float, float], None]
#: Drawings come at the size of a screen; on paper they may be smaller.
_NATURAL = 0.6
#: No drawing is higher than this, points, as long as it can be read: at this share of its natural size [-].
_HIGHEST, _LEAST = 205.0, 0.8
#: A table is folded in two where that takes less than this share of its height [-].
_FOLDED = 0.75
#: Between columns of blocks, and of a table; above a heading of a level, and other blocks; inside a row.
_GUTTER, _GAP, _ABOVE, _BETWEEN, _ROW = 14.0, 7.0, {1: 0.0, 2: 11.0, 3: 6.0}, 3.0, 0.9


@record(eq=False, kw_only=True, slots=False)
class Piece:
    """Something that is not cut, `height` points high, with `above` points of white before it except at the
    top of a page. `glued`: stands on the same page as what follows. `repeated` is painted above it where it
    begins a page: a table's head. `smaller` is the same, where it can be read, with less height.
    """

    height: float
    paint: Paint
    above: float = 0.0
    glued: bool = False
    repeated: "Piece | None" = None
    smaller: "Piece | None" = None
    heading: str = ""
    texts: tuple[Laid | str, ...] = ()


@record(eq=False)
class Pair:
    """Two columns of pieces that begin at one height; the right one is `at` points further right."""

    left: tuple[Piece, ...]
    right: tuple[Piece, ...]
    at: float


Flowing = Piece | Pair


@record
class Maker:
    """What is known of a sheet besides its blocks: how a picture is drawn, a photograph or why there is none,
    and the sheet's contents as a piece.
    """

    svg: Callable[[Any], bytes]
    photograph: Callable[[Photograph], QImage | str]
    contents: Callable[[float], Piece]


def pieces(block: Block, width: float, make: Maker) -> Iterator[Flowing]:
    """The pieces of a block that is `width` points wide."""
    if isinstance(block, Words):
        yield _words(block, width)
    elif isinstance(block, Heading):
        yield _heading(block, width)
    elif isinstance(block, Picture):
        yield _picture(block, width, make)
    elif isinstance(block, Grid):
        yield from _grid(block, width)
    elif isinstance(block, Contents):
        yield make.contents(width)
    else:
        yield from _beside(block, width, make)


def _words(block: Words, width: float) -> Piece:
    size = CELL if block.small else TEXT
    indent = fonts.wide(f"{block.mark} ", size) if block.mark else 0.0
    laid = Laid(block.runs, size, width - indent)

    def paint(painter: QPainter, x: float, y: float) -> None:
        if block.mark:
            fonts.put(painter, block.mark, x, y, size)
        laid.paint(painter, x + indent, y)

    return Piece(height=laid.height, paint=paint, above=_BETWEEN, glued=block.leads, texts=(block.mark, laid))


def _heading(block: Heading, width: float) -> Piece:
    laid = Laid((Run(block.text, "head"),), HEADINGS[block.level], width, copper=block.level == 2)

    def paint(painter: QPainter, x: float, y: float) -> None:
        laid.paint(painter, x, y)
        if block.level == 2:
            painter.setPen(QPen(QColor(fonts.COPPER), 0.7))
            painter.drawLine(QLineF(x, y + laid.height + 1, x + width, y + laid.height + 1))

    return Piece(
        height=laid.height + (2.5 if block.level == 2 else 0.5),
        paint=paint,
        above=_ABOVE[block.level],
        glued=True,
        heading=block.text if block.level == 2 else "",
        texts=(laid,),
    )


def _picture(block: Picture, width: float, make: Maker) -> Piece:
    if isinstance(block.of, Photograph):
        return _photograph(block.of, width, make)
    renderer = QSvgRenderer(QByteArray(make.svg(block.of)))
    size = renderer.defaultSize()
    # What is high is made smaller, but not so that nobody can read it.
    least = _LEAST * _NATURAL
    scale = min(_NATURAL, width / size.width(), max(_HIGHEST / size.height(), least))
    small = _drawing(renderer, least, None) if scale > least else None
    return _drawing(renderer, scale, small)


def _drawing(renderer: QSvgRenderer, scale: float, smaller: Piece | None) -> Piece:
    size = renderer.defaultSize()
    wide, high = scale * size.width(), scale * size.height()

    def paint(painter: QPainter, x: float, y: float) -> None:
        renderer.render(painter, QRectF(x, y, wide, high))

    return Piece(height=high, paint=paint, above=_BETWEEN, smaller=smaller)


def _photograph(of: Photograph, width: float, make: Maker) -> Piece:
    image = make.photograph(of)
    if isinstance(image, str):
        return _words(Words((Run(image),)), width)
    scale = min(width / image.width(), _HIGHEST / image.height())
    wide, high = scale * image.width(), scale * image.height()

    def paint(painter: QPainter, x: float, y: float) -> None:
        painter.drawImage(QRectF(x, y, wide, high), image)

    return Piece(height=high, paint=paint, above=_BETWEEN, glued=True)


def _beside(block: Beside, width: float, make: Maker) -> Iterator[Flowing]:
    left, left_wide = block.left, block.shares[0] * (width - _GUTTER)
    if block.lead is not None:
        alone = _picture(block.lead, width, make)
        for share in block.shares:
            beside = _picture(block.lead, share * (width - _GUTTER), make)
            if beside.height >= block.lead.least * alone.height:
                left, left_wide = (block.lead, *left), share * (width - _GUTTER)
                break
        else:
            yield replace(alone, glued=True)
    if not left:
        for each in block.right:
            yield from pieces(each, width, make)
        return
    columns = tuple(
        tuple(piece for each in blocks for piece in pieces(each, wide, make) if isinstance(piece, Piece))
        for blocks, wide in ((left, left_wide), (block.right, width - _GUTTER - left_wide))
    )
    yield Pair(columns[0], columns[1], left_wide + _GUTTER)


def _grid(block: Grid, width: float) -> list[Piece]:
    rows = _rows(block, width)
    if block.folds and len(block.lines) > 2:
        folded = _rows(block.abreast(2), width)
        if sum(row.height for row in folded) < _FOLDED * sum(row.height for row in rows):
            return folded
    return rows


def _rows(block: Grid, width: float) -> list[Piece]:
    """The rows of a table, its head first."""
    widths = _widths(block, width)
    titles = Line(tuple(column.title for column in block.columns))
    head = _row(block, titles, widths, "soft") if any(titles.cells) else None
    rows = [] if head is None else [replace(head, above=_BETWEEN, glued=True)]
    last = len(block.lines) - 1
    for n, line in enumerate(block.lines):
        row = _row(block, line, widths, "head" if line.head else "plain")
        # Neither the first nor the last row stands alone.
        glued = line.head or (n in (0, last - 1) and n != last)
        above = _BETWEEN if n == 0 and head is None else 0.0
        rows.append(replace(row, glued=glued, repeated=head, above=above))
    return rows


def _whole(text: str) -> str:
    """A cell whose numbers keep their units, and sums their signs, in the same line."""
    return _UNIT.sub("\u00a0", text)


def _level(texts: list[str], rooms: list[float], look: Look) -> list[str]:
    """The texts of a row; of those with as many lines as each other, one below the other, each line begins
    beside the others' however many of them find no room and are broken.
    """
    many = max(text.count(NEW_LINE) for text in texts)
    if not many:
        return texts
    lines = {
        n: [fonts.broken((Run(each, look),), CELL, rooms[n]) for each in text.split(NEW_LINE)]
        for n, text in enumerate(texts)
        if text.count(NEW_LINE) == many
    }
    high = [max(each.count(NEW_LINE) for each in row) for row in zip(*lines.values(), strict=True)]
    return [
        NEW_LINE.join(
            each + NEW_LINE * (most - each.count(NEW_LINE)) for each, most in zip(lines[n], high, strict=True)
        )
        if n in lines
        else text
        for n, text in enumerate(texts)
    ]


def _row(block: Grid, line: Line, widths: list[float], look: Look) -> Piece:
    cells: list[Laid | str] = []
    # Widths are sums of parts, and a sum may miss what it was made of by a rounding.
    rooms = [wide - _GAP + _ROUNDING for wide in widths]
    texts = _level([_whole(text) for text in line.cells], rooms, look)
    for text, column, room in zip(texts, block.columns, rooms, strict=True):
        fits = NEW_LINE not in text and fonts.wide(text, CELL, look == "head") <= room
        cells.append(text if fits else Laid((Run(text, look),), CELL, room, right=column.right))
    high = max((each.height for each in cells if isinstance(each, Laid)), default=fonts.line_height(CELL))
    ruled = look == "soft"

    def paint(painter: QPainter, x: float, y: float) -> None:
        painter.setPen(QPen(QColor(fonts.INK if ruled else fonts.RULE), 0.5 if ruled else 0.3))
        painter.drawLine(QLineF(x, y + high + 2 * _ROW, x + sum(widths), y + high + 2 * _ROW))
        left = x
        for cell, column, wide in zip(cells, block.columns, widths, strict=True):
            if isinstance(cell, Laid):
                cell.paint(painter, left, y + _ROW)
            elif cell:
                moved = wide - _GAP - fonts.wide(cell, CELL, look == "head") if column.right else 0.0
                fonts.put(painter, cell, left + moved, y + _ROW, CELL, look)
            left += wide

    return Piece(height=high + 2 * _ROW, paint=paint, texts=tuple(cells))


def _texts(block: Grid) -> Iterator[list[tuple[str, float, bool]]]:
    """The texts of each column, with their size and whether they are bold."""
    for n, column in enumerate(block.columns):
        yield [
            (column.title, CELL, False),
            *((_whole(line.cells[n]), CELL, line.head) for line in block.lines),
        ]


def _widths(block: Grid, width: float) -> list[float]:
    """Widths of the columns, the space behind each counted: as wide as their texts where there is room, else
    the longer the narrower, but no word is broken that fits.
    """
    natural = [max(fonts.wide(*text) for text in each) + _GAP for each in _texts(block)]
    room = width - sum(natural)
    if room >= 0:
        wide = [n for n, column in enumerate(block.columns) if column.wide] or [*range(len(natural))]
        return [each + (room / len(wide) if n in wide else 0.0) for n, each in enumerate(natural)]
    least = [max(fonts.widest_word(*text) for text in each) + _GAP for each in _texts(block)]
    # What wide columns can give they give first.
    wides = sum(column.wide for column in block.columns)
    can = [
        max(n - max(m, column.least * width / wides), 0.0) if column.wide else 0.0
        for n, m, column in zip(natural, least, block.columns, strict=True)
    ]
    share = min(-room / sum(can), 1.0) if sum(can) > 0 else 0.0
    natural = [n - share * each for n, each in zip(natural, can, strict=True)]
    short = sum(natural) - width
    spare = sum(max(n - m, 0.0) for n, m in zip(natural, least, strict=True))
    if spare >= short:
        return [
            n - max(n - m, 0.0) * max(short, 0.0) / spare if spare else n
            for n, m in zip(natural, least, strict=True)
        ]
    return [m * width / sum(least) for m in least]
