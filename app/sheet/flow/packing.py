"""Pieces filled into pages: down the page, cut only between them, headings with what follows.

Each section begins below the last one or on the next page, with its drawings as they are or as small as they
can be read. Of these ways through the whole sheet the one that ends earliest is taken, cuts and small
drawings counted as paper; the best few are kept from section to section, as a gap here may save a cut there.
"""

from collections.abc import Mapping, Sequence
from heapq import nsmallest

from app.sheet.flow.pieces import Flowing, Pair, Piece
from core.record import record

#: What it costs a reader, in pages that must be saved by it: a section that is cut though it fits on a page,
#: one of which little is left over for its last page, and one with smaller drawings; a guess, no source.
_CUT, _LEFT_OVER, _SMALL = 0.08, 0.12, 0.04
#: So much of a page [-] is little; more white than this at its foot counts twice; so many ways are kept.
_LITTLE, _WHITE, _KEPT = 0.07, 0.2, 12


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


@record(eq=False)
class _Chain:
    """Pieces that stand on one page, `high` points with the white above them, and what may follow the last of
    them: two columns of such chains, the right one so many points further right.
    """

    high: float
    pieces: tuple[Piece, ...]
    columns: tuple[tuple[float, list["_Chain"]], ...] = ()


@record(eq=False)
class _Way:
    """A way through the sections so far: where it ends, what it costs a reader [pages], and of the last
    section the chains and where they begin, behind those of the ones `before`.
    """

    at: Place
    toll: float = 0.0
    chains: Sequence[_Chain] = ()
    begins: Place = Place()
    before: "_Way | None" = None


class Filling:
    """Pages of a height that are filled section by section."""

    def __init__(self, height: float) -> None:
        self._height = height
        self._ways = [_Way(Place())]
        self._placed: tuple[Placed, ...] | None = None

    @property
    def placed(self) -> tuple[Placed, ...]:
        """Every piece so far, the best way."""
        if self._placed is None:
            way, sections = self._ways[0], list[_Way]()
            while way.before is not None:
                sections.append(way)
                way = way.before
            placed: list[Placed] = []
            for each in reversed(sections):
                self._filled(each.chains, each.begins, {}, placed)
            self._placed = tuple(placed)
        return self._placed

    @property
    def pages(self) -> int:
        """How many pages there are so far."""
        return max((each.page for each in self.placed), default=0) + 1

    def add(self, section: Sequence[Flowing]) -> None:
        """Put a section below what is there or on the next page, its drawings as they are or smaller."""
        high, flows = _height(section), [(_chains(section), 0.0)]
        small = [_smaller(each) for each in section]
        if small != list(section):
            # Only white that is filled counts, not what smaller drawings leave.
            flows.append((_chains(small), _SMALL + (high - _height(small)) / self._height))
        found: dict[Place, _Way] = {}
        for way in self._ways:
            for begins in (way.at, Place(way.at.page + 1)) if way.at.y > 0 else (way.at,):
                for chains, small_toll in flows:
                    feet: dict[int, float] = {}
                    end = self._filled(chains, begins, feet)
                    toll = way.toll + small_toll + self._cut(feet, high) + self._white(way.at, feet)
                    if end not in found or toll < found[end].toll:
                        found[end] = _Way(end, toll, chains, begins, way)
        self._ways = nsmallest(_KEPT, found.values(), key=self._cost)
        self._placed = None

    def _cost(self, way: _Way) -> float:
        return way.at.page + way.at.y / self._height + way.toll

    def _cut(self, feet: Mapping[int, float], high: float) -> float:
        """What it costs that a section, which is so high uncut [points], lies on several pages [pages], each
        filled down to its foot.
        """
        cuts = len(feet) - 1
        little = cuts > 0 and feet[max(feet)] < _LITTLE * self._height
        return _CUT * (cuts - int(high // self._height)) + _LEFT_OVER * little

    def _white(self, before: Place, feet: Mapping[int, float]) -> float:
        """What it costs that pages are left with much white, from where the section before ended [pages]."""
        full = {before.page: before.y, **feet}
        left = (1 - full[page] / self._height for page in sorted(full)[:-1])
        return sum(max(each - _WHITE, 0.0) for each in left)

    def _filled(
        self,
        chains: Sequence[_Chain],
        at: Place,
        feet: dict[int, float],
        placed: list[Placed] | None = None,
        x: float = 0.0,
    ) -> Place:
        """Where chains end that begin at a place, `x` points to the right. How far they fill which page is
        put into `feet`, and their pieces into `placed`, where they are wanted.
        """
        page, y = at.page, at.y
        for chain in chains:
            if y > 0 and y + chain.high > self._height:
                page, y = page + 1, 0.0
            for piece in chain.pieces:
                if y > 0:
                    y += piece.above
                elif piece.repeated is not None:
                    if placed is not None:
                        placed.append(Placed(page, x, y, piece.repeated))
                    y += piece.repeated.height
                if placed is not None:
                    placed.append(Placed(page, x, y, piece))
                y += piece.height
            feet[page] = max(feet.get(page, 0.0), y)
            if chain.columns:
                ends = [
                    self._filled(each, Place(page, y), feet, placed, right) for right, each in chain.columns
                ]
                page, y = max((each.page, each.y) for each in ends)
        return Place(page, y)


def _smaller(each: Flowing) -> Flowing:
    """The same with its drawings as small as can be read."""
    if isinstance(each, Piece):
        return each.smaller or each
    left, right = (tuple(piece.smaller or piece for piece in column) for column in (each.left, each.right))
    return each if (left, right) == (each.left, each.right) else Pair(left, right, each.at)


def _chains(flow: Sequence[Flowing]) -> list[_Chain]:
    """Pieces that are glued together in a chain each; a pair ends one, with what its columns begin with."""
    chains, glued = list[_Chain](), list[Piece]()
    for each in flow:
        columns: tuple[tuple[float, list[_Chain]], ...] = ()
        if isinstance(each, Pair):
            columns = ((0.0, _chains(each.left)), (each.at, _chains(each.right)))
        else:
            glued.append(each)
        if columns or each is flow[-1] or not (isinstance(each, Piece) and each.glued):
            high = sum(piece.above + piece.height for piece in glued)
            high += max((column[0].high for _, column in columns if column), default=0.0)
            chains.append(_Chain(high, tuple(glued), columns))
            glued = []
    return chains


def _height(flow: Sequence[Flowing]) -> float:
    """Height of all pieces, uncut."""
    return sum(
        max(_height(each.left), _height(each.right)) if isinstance(each, Pair) else each.height + each.above
        for each in flow
    )
