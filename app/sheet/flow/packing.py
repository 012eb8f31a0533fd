"""Pieces filled into pages: down the page, cut only between them, headings with what follows."""

from collections.abc import Iterator, Sequence

from app.sheet.flow.pieces import Flowing, Pair, Piece
from core.record import record

#: A section that fits on a page is not cut for less than this share of one.
_WORTH_CUTTING = 0.25


@record(eq=False)
class Placed:
    """A piece on a page, its upper left corner in points from that of the page's body."""

    page: int
    x: float
    y: float
    piece: Piece


@record
class Place:
    """A page and how far it is filled, points."""

    page: int = 0
    y: float = 0.0


class Filling:
    """Pages of a height that are filled section by section."""

    def __init__(self, height: float) -> None:
        self._height = height
        self._at = Place()
        self.placed: list[Placed] = []

    @property
    def pages(self) -> int:
        """How many pages there are so far."""
        return max((each.page for each in self.placed), default=0) + 1

    def add(self, section: Sequence[Flowing]) -> None:
        """Put a section below what is there, on the next page where it would be cut for little."""
        whole = _height(section)
        rest = self._height - self._at.y
        if rest < whole <= self._height and rest <= _WORTH_CUTTING * self._height:
            self._turn()
        for chain in _chains(section):
            self._add(chain)

    def _turn(self) -> None:
        if self._at.y > 0:
            self._at = Place(self._at.page + 1)

    def _add(self, chain: Sequence[Flowing]) -> None:
        """A row of pieces that stand on one page, the last of them perhaps a pair that begins there."""
        if self._at.y + _needed(chain, top=self._at.y == 0) > self._height:
            self._turn()
        for each in chain:
            if isinstance(each, Piece):
                self._at = self._put(each, 0.0, self._at)
            else:
                ends = [self._column(each.left, 0.0), self._column(each.right, each.at)]
                self._at = max(ends, key=lambda place: (place.page, place.y))

    def _column(self, column: Sequence[Piece], x: float) -> Place:
        at = self._at
        for chain in _chains(column):
            if at.y > 0 and at.y + _needed(chain, top=False) > self._height:
                at = Place(at.page + 1)
            for each in chain:
                assert isinstance(each, Piece)
                at = self._put(each, x, at)
        return at

    def _put(self, piece: Piece, x: float, at: Place) -> Place:
        y = at.y + (piece.above if at.y > 0 else 0.0)
        if at.y == 0 and piece.repeated is not None:
            self.placed.append(Placed(at.page, x, y, piece.repeated))
            y += piece.repeated.height
        self.placed.append(Placed(at.page, x, y, piece))
        return Place(at.page, y + piece.height)


def _chains(flow: Sequence[Flowing]) -> Iterator[list[Flowing]]:
    """Pieces that are glued together, in a row each."""
    chain: list[Flowing] = []
    for each in flow:
        chain.append(each)
        if isinstance(each, Pair) or not each.glued:
            yield chain
            chain = []
    if chain:
        yield chain


def _needed(chain: Sequence[Flowing], *, top: bool) -> float:
    """Height that a chain takes on the page where it begins; of a pair what its columns begin with."""
    high = 0.0
    for n, each in enumerate(chain):
        if isinstance(each, Pair):
            firsts = (next(iter(_chains(column)), []) for column in (each.left, each.right))
            high += max((_needed(first, top=False) for first in firsts), default=0.0)
        else:
            high += each.height + (0.0 if top and n == 0 else each.above)
    return high


def _height(flow: Sequence[Flowing]) -> float:
    """Height of all pieces, uncut."""
    return sum(
        max(_height(each.left), _height(each.right)) if isinstance(each, Pair) else each.height + each.above
        for each in flow
    )
