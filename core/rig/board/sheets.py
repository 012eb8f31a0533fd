"""A drawing on paper at its true size: in tiles where it is larger, each with a line to check it by."""

from dataclasses import dataclass
from math import ceil
from textwrap import wrap

from core.rig.board.drawing import LETTER, Drawing, Shape, Stroke, Words
from core.rig.board.plan import Box, Point

#: Width and height of paper, upright [m] (ISO 216; the American letter).
PAPERS_M = {"A4": (0.210, 0.297), "Letter": (0.2159, 0.2794)}
#: Left free all round, above for the title and below for the check line [m]; printers leave up to 6 mm.
_EDGE_M, _HEAD_M, _FOOT_M = 8e-3, 10e-3, 12e-3
#: By how much tiles overlap, and the arms of the marks by which they are laid on each other [m].
OVERLAP_M, _ARM_M = 10e-3, 3e-3
#: The line by which the scale is checked [m].
CHECK_M = 0.1
_LINE_M, _LETTERS_M, _SMALL_M = 0.1e-3, 3e-3, 2.2e-3


@dataclass(frozen=True, kw_only=True)
class PaperPage:
    """One sheet of paper of a size [m]: the part of the drawing that is on it, and where its upper left
    corner lies on the paper [m]. `marks` are drawn with the drawing, `furniture` on the paper itself.
    """

    size_m: Point
    part: Box
    at: Point
    marks: tuple[Shape, ...]
    furniture: tuple[Shape, ...]


@dataclass(frozen=True, kw_only=True)
class PaperSet:
    """All sheets of a drawing; `mirrored`: the drawing as it is seen from the other side of the board."""

    drawing: Drawing
    pages: tuple[PaperPage, ...]
    mirrored: bool

    @property
    def lying(self) -> bool:
        """Whether the paper lies on its side."""
        width, height = self.pages[0].size_m
        return width > height


def sheets_of(drawing: Drawing, paper: str, title: str, *, mirrored: bool = False) -> PaperSet:
    """The drawing on as few sheets as hold it, upright or lying; `title` stands above each.

    Every sheet has a line of 100 mm. Tiles overlap by a centimetre, with crosses that come to lie on each
    other.
    """
    upright = PAPERS_M[paper]
    sizes = (upright, upright[::-1])
    size = min(sizes, key=lambda each: (_count(drawing.box, each), each is not upright))
    across, down = _tiles(drawing.box, size)
    room_x, room_y = _room(size)
    pages = []
    for row in range(down):
        for column in range(across):
            left = drawing.box.left + column * (room_x - OVERLAP_M)
            top = drawing.box.top + row * (room_y - OVERLAP_M)
            part = Box(
                left, top, min(left + room_x, drawing.box.right), min(top + room_y, drawing.box.bottom)
            )
            number = row * across + column + 1
            told = title
            if across * down > 1:
                told += f", sheet {number} of {across * down}: row {row + 1}, column {column + 1}"
            if mirrored:
                told += ", mirrored"
            pages.append(
                PaperPage(
                    size_m=size,
                    part=part,
                    at=(_EDGE_M, _EDGE_M + _HEAD_M),
                    marks=_marks(drawing.box, size, (across, down)),
                    furniture=(
                        *_head(told),
                        *check_line(size),
                        *(_legend(drawing, size) if across * down == 1 else ()),
                    ),
                )
            )
    return PaperSet(drawing=drawing, pages=tuple(pages), mirrored=mirrored)


def _room(size: Point) -> Point:
    """What a sheet holds of a drawing, width and height [m]."""
    return size[0] - 2 * _EDGE_M, size[1] - 2 * _EDGE_M - _HEAD_M - _FOOT_M


def _tiles(box: Box, size: Point) -> tuple[int, int]:
    """How many sheets side by side and below one another."""
    found = []
    for wanted, room in zip(box.size, _room(size), strict=True):
        found.append(1 if wanted <= room else ceil((wanted - OVERLAP_M) / (room - OVERLAP_M)))
    return found[0], found[1]


def _count(box: Box, size: Point) -> int:
    across, down = _tiles(box, size)
    return across * down


def _head(told: str) -> tuple[Shape, ...]:
    return (Words((_EDGE_M, _EDGE_M + _LETTERS_M), told, _LETTERS_M, from_left=True),)


def _legend(drawing: Drawing, size: Point) -> tuple[Shape, ...]:
    """What is said of a drawing and what is on it, below it, in two columns where one is too short for it; as
    much as there is room for.
    """
    top = _EDGE_M + _HEAD_M + drawing.box.size[1] + 6e-3
    bottom = size[1] - _EDGE_M - _FOOT_M
    step = 1.6 * _SMALL_M
    lines = max(int((bottom - top) / step), 0)
    width = size[0] - 2 * _EDGE_M
    rows = _broken(drawing, width)
    if len(rows) > lines:
        width /= 2
        rows = _broken(drawing, width)
    return tuple(
        Words((_EDGE_M + column * width, top + n * step), text, _SMALL_M, "soft_words", from_left=True)
        for column, texts in enumerate((rows[:lines], rows[lines : 2 * lines]))
        for n, text in enumerate(texts)
        if text
    )


def _broken(drawing: Drawing, width: float) -> list[str]:
    """What is said of a drawing and what is on it, in lines no longer than a width [m]."""
    letters = int(width / (LETTER * _SMALL_M))
    told = [wrap(each, letters, subsequent_indent="   ") for each in (*drawing.told, "", *drawing.legend)]
    return [line for each in told for line in each or [""]]


def check_line(size: Point) -> tuple[Shape, ...]:
    """The line of 100 mm at the foot of a sheet, with what to do with it."""
    left, y = _EDGE_M, size[1] - _EDGE_M - 4e-3
    right = left + CHECK_M
    ends = [Stroke(((x, y - 2e-3), (x, y + 2e-3)), "lead", _LINE_M) for x in (left, right)]
    told = "100 mm: measure this line; print at 100 %, not fitted to the page"
    return (
        Stroke(((left, y), (right, y)), "lead", _LINE_M),
        *ends,
        Words((left, y + 3.4e-3), told, _SMALL_M, "soft_words", from_left=True),
    )


def _marks(box: Box, size: Point, tiles: tuple[int, int]) -> tuple[Shape, ...]:
    """Crosses in the middle of every overlap, and the frame of the drawing's sheets."""
    room_x, room_y = _room(size)
    across, down = tiles
    found: list[Shape] = []
    for column in range(1, across):
        x = box.left + column * (room_x - OVERLAP_M) + OVERLAP_M / 2
        for row in range(down):
            top = box.top + row * (room_y - OVERLAP_M)
            bottom = min(top + room_y, box.bottom)
            found += _cross((x, top + (bottom - top) * 0.1)) + _cross((x, bottom - (bottom - top) * 0.1))
    for row in range(1, down):
        y = box.top + row * (room_y - OVERLAP_M) + OVERLAP_M / 2
        for column in range(across):
            left = box.left + column * (room_x - OVERLAP_M)
            right = min(left + room_x, box.right)
            found += _cross((left + (right - left) * 0.1, y)) + _cross((right - (right - left) * 0.1, y))
    return tuple(found)


def _cross(at: Point) -> list[Shape]:
    x, y = at
    return [
        Stroke(((x - _ARM_M, y), (x + _ARM_M, y)), "room", _LINE_M),
        Stroke(((x, y - _ARM_M), (x, y + _ARM_M)), "room", _LINE_M),
    ]
