"""A board as it is laid out: islands, bodies, bare leads and insulated wires, with what touches what.

Places in metres, x to the right along the signal, y downwards, as a board is looked at from its parts' side.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from math import hypot
from typing import NamedTuple

from core.circuits.circuit import GROUND
from core.rig.board.items import Item

Point = tuple[float, float]
#: What is left free between two islands, between bodies, and between a bare lead and copper that it must not
#: touch [m]; common practice, no source.
GAP_M, BODY_GAP_M, LEAD_GAP_M = 0.8e-3, 0.4e-3, 0.4e-3
#: How far from an island's edge a lead lands [m], and how far from a body a lead to ground does.
RIM_M, GROUND_LEAD_M = 1.2e-3, 2.0e-3
_TINY, _TINY_M = 1e-9, 1e-6


class Box(NamedTuple):
    """A rectangle [m]; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def middle(self) -> Point:
        """Its centre."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    @property
    def size(self) -> Point:
        """Width and height."""
        return self.right - self.left, self.bottom - self.top

    def grown(self, by: float) -> "Box":
        """So much larger to every side; never less than its middle."""
        x, y = self.middle
        w, h = (max(each / 2 + by, 0.0) for each in self.size)
        return Box(x - w, y - h, x + w, y + h)

    def moved(self, dx: float, dy: float) -> "Box":
        """The rectangle somewhere else."""
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def meets(self, other: "Box") -> bool:
        """Whether the two overlap; edges that only touch do not."""
        return (
            self.left < other.right - _TINY
            and other.left < self.right - _TINY
            and self.top < other.bottom - _TINY
            and other.top < self.bottom - _TINY
        )

    def holds(self, point: Point) -> bool:
        """Whether a point lies in it or on its edge."""
        return self.left <= point[0] <= self.right and self.top <= point[1] <= self.bottom

    def nearest(self, point: Point) -> Point:
        """The point of it that is nearest to another."""
        return min(max(point[0], self.left), self.right), min(max(point[1], self.top), self.bottom)

    def cut_by(self, a: Point, b: Point) -> bool:
        """Whether the straight line from `a` to `b` passes through it (Liang and Barsky's clipping)."""
        if max(a[0], b[0]) < self.left or min(a[0], b[0]) > self.right:
            return False
        if max(a[1], b[1]) < self.top or min(a[1], b[1]) > self.bottom:
            return False
        enter, leave = 0.0, 1.0
        for start, step, low, high in (
            (a[0], b[0] - a[0], self.left, self.right),
            (a[1], b[1] - a[1], self.top, self.bottom),
        ):
            if abs(step) < _TINY:
                continue
            near, far = sorted(((low - start) / step, (high - start) / step))
            enter, leave = max(enter, near), min(leave, far)
        return enter <= leave


def box_at(middle: Point, size: Point) -> Box:
    """A rectangle by its centre and its width and height [m]."""
    (x, y), (w, h) = middle, size
    return Box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)


def turned(point: Point, quarters: int) -> Point:
    """A point turned clockwise about the origin by quarter turns."""
    x, y = point
    return ((x, y), (-y, x), (-x, -y), (y, -x))[quarters % 4]


class Place(NamedTuple):
    """Where the middle of something lies [m], and by how many quarter turns it is turned."""

    x_m: float
    y_m: float
    turned: int = 0


@dataclass(frozen=True, slots=True)
class Island:
    """A pad on the ground plane that a node is soldered on; `key` is the first lead that lands there."""

    key: str
    node: str
    box: Box


@dataclass(frozen=True, slots=True)
class Lead:
    """A bare lead from a body to where it lands; `node` is the circuit's, `can` that of a grounded can."""

    node: str
    foot: Point
    end: Point
    can: bool = False

    @property
    def length_m(self) -> float:
        """How long it is along the board."""
        return hypot(self.end[0] - self.foot[0], self.end[1] - self.foot[1])


@dataclass(frozen=True, slots=True)
class Body:
    """A part where it lies, with its leads in the order of its feet."""

    item: Item
    place: Place
    leads: tuple[Lead, ...]

    @property
    def box(self) -> Box:
        """The rectangle that it covers."""
        return body_box(self.item, self.place)

    @property
    def reach(self) -> Box:
        """The rectangle around its leads; of no size for a part without."""
        ends = [end for lead in self.leads for end in (lead.foot, lead.end)] or [self.place[:2]]
        xs, ys = zip(*ends, strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys)).grown(_TINY_M)


@dataclass(frozen=True, slots=True)
class Wire:
    """An insulated wire between two islands of one node."""

    node: str
    a: Point
    b: Point


@dataclass(frozen=True, kw_only=True)
class BoardPlan:
    """A board with all that is on it.

    `board` is its edge [m], `ports` the nodes where the signal comes in and goes out, `rails` those that the
    supply holds, `by_hand` the keys of what the builder has put where it is.
    """

    islands: tuple[Island, ...]
    bodies: tuple[Body, ...]
    wires: tuple[Wire, ...]
    board: Box
    ports: tuple[str, ...]
    rails: tuple[str, ...]
    by_hand: frozenset[str] = frozenset()

    @cached_property
    def crossings(self) -> tuple[tuple[str, str], ...]:
        """Pairs of parts whose bare leads cross: one of them wants a sleeve."""
        found = []
        reaches = [(body, body.reach) for body in self.bodies]
        for (one, here), (other, there) in combinations(reaches, 2):
            if here.meets(there) and any(
                crosses(a.foot, a.end, b.foot, b.end) for a in one.leads for b in other.leads
            ):
                found.append((one.item.ref, other.item.ref))
        return tuple(found)


def body_box(item: Item, place: Place) -> Box:
    """The rectangle that a part covers where it lies."""
    w, h = item.package.length_m, item.package.width_m
    return box_at((place.x_m, place.y_m), (w, h) if place.turned % 2 == 0 else (h, w))


def feet_of(item: Item, place: Place) -> tuple[Point, ...]:
    """Where a part's leads come out of it."""
    found = []
    for foot in item.package.feet:
        x, y = turned(foot, place.turned)
        found.append((place.x_m + x, place.y_m + y))
    return tuple(found)


def landing(foot: Point, island: Box) -> Point:
    """Where a lead from a foot is soldered on an island: the nearest place a little inside its edge."""
    return island.grown(-RIM_M).nearest(foot)


def ground_ends(item: Item, place: Place, foot: Point) -> Iterator[Point]:
    """Where a lead to ground may land: outward from the body first, then beside it."""
    box = body_box(item, place)
    x, y = foot
    ways = (
        (abs(x - box.left), (box.left - GROUND_LEAD_M, y)),
        (abs(x - box.right), (box.right + GROUND_LEAD_M, y)),
        (abs(y - box.top), (x, box.top - GROUND_LEAD_M)),
        (abs(y - box.bottom), (x, box.bottom + GROUND_LEAD_M)),
    )
    for _, end in sorted(ways):
        yield end


def crosses(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two straight lines cross, each between its ends."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    if min(a[0], b[0]) > max(c[0], d[0]) or min(c[0], d[0]) > max(a[0], b[0]):
        return False
    if min(a[1], b[1]) > max(c[1], d[1]) or min(c[1], d[1]) > max(a[1], b[1]):
        return False
    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def wires_between(islands: tuple[Island, ...]) -> tuple[Wire, ...]:
    """What joins the islands of one node: from each to the nearest that is joined already (Prim's tree)."""
    nodes: dict[str, list[Island]] = {}
    for island in islands:
        nodes.setdefault(island.node, []).append(island)
    found = []
    for node, of_node in nodes.items():
        joined, rest = of_node[:1], of_node[1:]
        while rest:
            near, new = min(
                ((a, b) for a in joined for b in rest),
                key=lambda pair: hypot(
                    *(p - q for p, q in zip(pair[0].box.middle, pair[1].box.middle, strict=True))
                ),
            )
            found.append(Wire(node, near.box.middle, new.box.middle))
            joined.append(new)
            rest.remove(new)
    return tuple(found)


def lead_key(item: Item, n: int) -> str:
    """The identity of a part's lead, that islands are kept by in a file."""
    return f"{item.key}.{n + 1}"


def soldered(
    items: tuple[Item, ...],
    islands: tuple[Island, ...],
    places: Mapping[str, Place],
    *,
    ports: tuple[str, ...],
    rails: tuple[str, ...],
    by_hand: frozenset[str] = frozenset(),
) -> BoardPlan:
    """The board with every part at its place: each lead goes to the nearest island of its node, or straight
    out to ground where that is free.
    """
    apart = [island.box.grown(GAP_M) for island in islands]
    near = [(item, body_box(item, places[item.key]).grown(BODY_GAP_M)) for item in items]
    of_node: dict[str, list[Island]] = {}
    for island in islands:
        of_node.setdefault(island.node, []).append(island)
    bodies = []
    for item in items:
        place = places[item.key]
        leads = []
        for node, foot in zip(item.nodes, feet_of(item, place), strict=True):
            if node == GROUND:
                end = _grounded(item, place, foot, apart, near)
            else:
                ends = [landing(foot, island.box) for island in of_node[node]]
                end = min(ends, key=lambda p: hypot(p[0] - foot[0], p[1] - foot[1]))
            leads.append(Lead(node, foot, end))
        if item.package.can:
            foot = _can_foot(item, place)
            leads.append(Lead(GROUND, foot, _grounded(item, place, foot, apart, near), can=True))
        bodies.append(Body(item, place, tuple(leads)))
    return BoardPlan(
        islands=islands,
        bodies=tuple(bodies),
        wires=wires_between(islands),
        board=edge_of(islands, tuple(bodies)),
        ports=ports,
        rails=rails,
        by_hand=by_hand,
    )


def _can_foot(item: Item, place: Place) -> Point:
    """Where a can is soldered: at the middle of its lower long side."""
    x, y = turned((0.0, item.package.width_m / 2), place.turned)
    return place.x_m + x, place.y_m + y


def _grounded(
    item: Item, place: Place, foot: Point, apart: Sequence[Box], near: Sequence[tuple[Item, Box]]
) -> Point:
    """Where a lead to ground lands: the first way out of the body on which no island and no other part lies,
    else the first; `apart` and `near` are what these take with the room around them.
    """
    ends = tuple(ground_ends(item, place, foot))
    for end in ends:
        on_part = any(box.holds(end) for other, box in near if other is not item)
        if not on_part and not any(box.cut_by(foot, end) for box in apart):
            return end
    return ends[0]


#: Copper left around everything on a board [m].
MARGIN_M = 5e-3


def edge_of(islands: tuple[Island, ...], bodies: tuple[Body, ...]) -> Box:
    """The edge of the board: all that is on it and a margin, in whole millimetres."""
    boxes = [each.box for each in islands] + [each.box for each in bodies]
    ends = [lead.end for body in bodies for lead in body.leads]
    left = min([box.left for box in boxes] + [x for x, _ in ends], default=0.0) - MARGIN_M
    top = min([box.top for box in boxes] + [y for _, y in ends], default=0.0) - MARGIN_M
    right = max([box.right for box in boxes] + [x for x, _ in ends], default=0.0) + MARGIN_M
    bottom = max([box.bottom for box in boxes] + [y for _, y in ends], default=0.0) + MARGIN_M
    return Box(*(round(each, 3) for each in (left, top, right, bottom)))
