"""What a section of the sheet is made of: frozen values that the layout reads."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, Literal

from core.record import record
from core.rig.wound.ends import WindingEnds
from core.stages.crystals.crystal_choice import Placed

Look = Literal["plain", "soft", "strong", "head"]
#: Between lines of one cell.
NEW_LINE = "\u2028"
#: Where a builder writes a reading.
BLANK = "________"


@record
class Run:
    """Words of one look."""

    text: str
    look: Look = "plain"


@record
class Words:
    """A paragraph; `mark` stands before it, and the lines below the first begin where the words do. One that
    is `small` has the letters of tables, one that `leads` stands on the page of what follows it.
    """

    runs: tuple[Run, ...]
    mark: str = ""
    small: bool = False
    leads: bool = False

    @property
    def text(self) -> str:
        """Its words without their looks."""
        return "".join(run.text for run in self.runs)


@record
class Column:
    """A column of a table; numbers stand at the right. A `wide` one takes what room is left, and `least` is
    the share of the table's width that it keeps, with others that are wide.
    """

    title: str
    right: bool = False
    wide: bool = False
    least: float = 0.22


@record
class Line:
    """A row of a table, a text a column; one that is a `head` stands in bold above the rows it is for."""

    cells: tuple[str, ...]
    head: bool = False


@record
class Grid:
    """A table; one that `folds` has its lines two abreast where there is room."""

    columns: tuple[Column, ...]
    lines: tuple[Line, ...]
    folds: bool = False

    def abreast(self, count: int) -> "Grid":
        """The same with so many of its lines in each, from left to right."""
        lines = [each.cells for each in self.lines]
        lines += [("",) * len(self.columns)] * (-len(lines) % count)
        rows = (lines[n : n + count] for n in range(0, len(lines), count))
        joined = (Line(tuple(cell for cells in row for cell in cells)) for row in rows)
        return Grid(self.columns * count, tuple(joined))


@record
class Heading:
    """What stands above the blocks that follow it: at level 1 the rig's name, at 2 a section's, at 3 one
    inside it.
    """

    text: str
    level: Literal[1, 2, 3] = 3


@record
class Labelled:
    """A circuit to be drawn, and which measured crystal stands where."""

    circuit: Any
    placement: tuple[Placed, ...] = ()


@record
class Pieced:
    """One row of a piece of a circuit's drawing, which is too high to be printed as a whole: its parts from
    one place to another, counted from 0 on.
    """

    circuit: Any
    piece: str
    begins: int
    ends: int


@record
class WindingsDrawn:
    """Windings that share a core, to be drawn with their dots."""

    windings: tuple[WindingEnds, ...]


@record
class DiagramBox:
    """A stage of a block diagram: its name, its kind in a word, what drives it where it is a mixer, and the
    level behind it on each band, as written.
    """

    name: str
    short: str
    driven: str
    levels: tuple[str, ...]


@record
class Diagram:
    """One direction of the rig as blocks, from its start on."""

    bands: tuple[str, ...]
    start: str
    start_levels: tuple[str, ...]
    boxes: tuple[DiagramBox, ...]


@record
class Picture:
    """Something drawn: `of` is a value for which a drawing is registered; `least` is the smallest share of
    its natural size [-] at which it can be read beside something else.
    """

    of: Any
    least: float = 0.75


@record
class Contents:
    """The headings of the sheet with their pages."""


@record
class Beside:
    """Blocks in two columns, the left one taking the first of these `shares` of the width [-] that lets the
    `lead` picture be read on top of it; where none does, that stands above both.
    """

    left: tuple["Block", ...]
    right: tuple["Block", ...]
    lead: Picture | None = None
    shares: tuple[float, ...] = (0.47, 0.56, 0.64)


Block = Words | Grid | Heading | Picture | Contents | Beside


@record
class Section:
    """A part of the sheet that stays together where it can: `group` is what it is chosen by."""

    group: str
    title: str
    blocks: tuple[Block, ...]


def words(
    text: str, look: Look = "plain", mark: str = "", *, small: bool = False, leads: bool = False
) -> Words:
    """A paragraph of one look."""
    return Words((Run(text, look),), mark, small, leads)


def grid(titles: tuple[str, ...], lines: tuple[tuple[str, ...], ...], left: int = 1, wide: int = -1) -> Grid:
    """A table whose first `left` columns hold words and whose others hold numbers; column `wide` takes what
    room is left.
    """
    columns = tuple(Column(title, n >= left and n != wide, n == wide) for n, title in enumerate(titles))
    return Grid(columns, tuple(map(Line, lines)))


def stacked(texts: Iterable[str]) -> str:
    """Lines below each other in one cell."""
    return NEW_LINE.join(texts)


def led(blocks: Sequence[Block]) -> Iterator[Block]:
    """The same blocks, words right below a heading leading to what follows them: a heading with nothing but a
    remark below it does not stand at the foot of a page.
    """
    headed = False
    for n, block in enumerate(blocks):
        follows = blocks[n + 1] if n + 1 < len(blocks) else None
        if headed and isinstance(block, Words) and isinstance(follows, Grid | Picture | Beside):
            block = replace(block, leads=True)
        headed = isinstance(block, Heading)
        yield block
