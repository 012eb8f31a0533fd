"""Parts laid on a board by themselves: short leads, nothing on anything else, coils at right angles.

Islands first (`skeleton`), then parts one by one, each where its leads are shortest among the places that
are free. What finds no place where its leads reach gets islands of its own, joined by insulated wires, so
that there is always a board.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import combinations
from math import hypot

import numpy as np

from core.circuits.circuit import GROUND
from core.circuits.ladder import Array
from core.rig.board.checks import LONGEST_M, LONGEST_RAIL_M
from core.rig.board.items import Item
from core.rig.board.plan import (
    BODY_GAP_M,
    GAP_M,
    LEAD_GAP_M,
    RIM_M,
    BoardPlan,
    Box,
    Island,
    Place,
    Point,
    body_box,
    box_at,
    crosses,
    feet_of,
    ground_ends,
    landing,
    lead_key,
    soldered,
    turned,
)
from core.rig.board.skeleton import SIDE_M, Graph, graph_of, long, skeleton

_Reach = tuple[float, float]
#: How far around its best place a part is tried [m], in which steps.
_REACHES = ((8e-3, 1e-3), (18e-3, 1.5e-3), (40e-3, 3e-3))
#: The same of what is laid once more.
_NEAR, _FAR = (8e-3, 1e-3), (16e-3, 1.5e-3)
#: How much room there is between islands at first, and then where something is left to the builder [-], and
#: how far around what crosses something is laid once more, a round each; by trial, on rings and arrays.
_ATTEMPTS: tuple[tuple[float, tuple[_Reach, ...]], ...] = (
    (1.0, (_NEAR, _FAR)),
    (1.3, (_FAR, _FAR)),
    (1.7, (_FAR, _FAR)),
)
#: Places that are looked at of those where the body lies on nothing.
_TRIED = 300
#: Places that are compared in full, of those that are free.
_COMPARED = 10
#: What a crossing of bare leads costs, and what a millimetre away from the signal's line does, in lead [m].
_CROSSING_M = 8e-3
#: What a lead that is longer than is good costs besides, in lead [m].
_TOO_LONG_M = 6e-3
#: A point where a lead is soldered to ground takes this much [m].
_SOLDER_M = 1.6e-3


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Where everything lies: islands, and a place a part by its key."""

    islands: tuple[Island, ...]
    places: dict[str, Place]


@lru_cache(maxsize=256)
def placed(items: tuple[Item, ...], ports: tuple[str, ...], rails: tuple[str, ...]) -> Layout:
    """A board's automatic layout; with more room between the islands where parts found no place at first, or
    their leads cross.
    """
    graph = graph_of(items, ports, rails)
    found = least = None
    for spread, rounds in _ATTEMPTS:
        bench = _Bench(graph, spread)
        bench.lay(rounds)
        if least is None or bench.faults < least:
            found, least = bench, bench.faults
        if not any(least):
            break
    assert found is not None
    return Layout(islands=tuple(found.islands), places=found.places)


def automatic(items: tuple[Item, ...], ports: tuple[str, ...], rails: tuple[str, ...]) -> BoardPlan:
    """The board of the automatic layout."""
    layout = placed(items, ports, rails)
    return soldered(items, layout.islands, layout.places, ports=ports, rails=rails)


@dataclass
class _Laid:
    """A part that has its place, with all that stands in another one's way."""

    item: Item
    box: Box
    leads: list[tuple[Point, Point]]
    grounds: list[Box]

    @cached_property
    def near(self) -> Box:
        """What no other body may lie on."""
        return self.box.grown(BODY_GAP_M)

    @cached_property
    def inside(self) -> Box:
        """What no lead should cross."""
        return self.box.grown(-BODY_GAP_M)

    @cached_property
    def reach(self) -> Box:
        """Body and leads together."""
        ends = [end for lead in self.leads for end in lead] + [self.box[:2], self.box[2:]]
        xs, ys = zip(*ends, strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))


def _lead_crossings(one: _Laid, other: _Laid) -> int:
    """How often the bare leads of two parts cross."""
    return sum(crosses(a, b, c, d) for a, b in one.leads for c, d in other.leads)


class _Bench:
    """One attempt at a board."""

    def __init__(self, graph: Graph, spread: float) -> None:
        self.graph = graph
        self.frame = skeleton(graph, spread)
        self.islands: list[Island] = []
        self.places: dict[str, Place] = {}
        self.laid: list[_Laid] = []
        self.wired = 0
        self._of_node: dict[str, list[Island]] = {}
        # What a bare lead and what a lead to ground must stay away from.
        self._bare: list[tuple[str, Box]] = []
        self._apart: list[Box] = []
        for island in self.frame.islands:
            self._add(island)

    def _add(self, island: Island) -> None:
        self.islands.append(island)
        self._of_node.setdefault(island.node, []).append(island)
        self._bare.append((island.node, island.box.grown(LEAD_GAP_M)))
        self._apart.append(island.box.grown(GAP_M))

    def lay(self, rounds: Sequence[_Reach]) -> None:
        """Lay every part: those on the signal's way first, then by how many islands they join, and size; then
        what crosses something once more in rounds, so far around in such steps [m].
        """
        spine = self.frame.order

        def order(item: Item) -> tuple[float, ...]:
            first = min((spine[n] for n in self.graph.inner(item) if n in spine), default=len(spine))
            many = len(item.nodes) > 4
            return (not many, not self._on_way(item), -len(set(item.nodes) - {GROUND}), first, -long(item))

        for item in sorted(self.graph.items, key=order):
            self._lay(item)
        for reach, step in rounds:
            self._again(reach, step)

    @property
    def faults(self) -> tuple[int, int, int, int]:
        """What is left to the builder: islands that want wires, pairs of parts whose bare leads cross, leads
        that are too long, and how often bare leads cross leads or bodies, each twice.
        """
        pairs = sum(_lead_crossings(one, other) > 0 for one, other in combinations(self.laid, 2))
        long_ones = sum(
            hypot(b[0] - a[0], b[1] - a[1]) > self._longest(node)
            for laid in self.laid
            for node, (a, b) in zip(laid.item.nodes, laid.leads, strict=False)
        )
        return self.wired, pairs, long_ones, sum(map(self._crossings, self.laid))

    def _longest(self, node: str) -> float:
        """How long a lead to a node may be [m]."""
        return LONGEST_RAIL_M if node in self.graph.rails else LONGEST_M

    def _again(self, reach: float, step: float) -> None:
        """Lay once more what crosses something, now that all else has its place: first what crosses most."""
        crossing = [(self._crossings(laid), laid) for laid in self.laid]
        for much, laid in sorted(crossing, key=lambda each: -each[0]):
            if not much:
                break
            was = self.places.pop(laid.item.key)
            self.laid.remove(laid)
            self._put(laid.item, self._best(laid.item, reach, step, compared=4 * _COMPARED) or was)

    def _lay(self, item: Item) -> None:
        for reach, step in _REACHES:
            best = self._best(item, reach, step)
            if best is not None:
                self._put(item, best)
                return
        self._beyond(item)

    def _best(self, item: Item, reach: float, step: float, *, compared: int = _COMPARED) -> Place | None:
        best, least, seen = None, float("inf"), 0
        for cost, place in self._candidates(item, reach, step):
            if cost >= least or seen >= compared:
                break
            laid = self._free(item, place)
            if laid is None:
                continue
            seen += 1
            whole = cost + _CROSSING_M * self._crossings(laid)
            if whole < least:
                best, least = place, whole
        return best

    def _on_way(self, item: Item) -> bool:
        """Whether a part joins two neighbours of the signal's way."""
        inner = self.graph.inner(item)
        return any(frozenset(pair) in self.frame.pairs for pair in combinations(inner, 2))

    def _candidates(self, item: Item, reach: float, step: float) -> Iterator[tuple[float, Place]]:
        """Places around the best one where the body lies on nothing, with the length of the leads there, the
        shortest first.
        """
        targets = [self._target(item, n) for n in range(len(item.nodes))]
        there = [t for t in targets if t is not None]
        x0 = round(sum(t.box.middle[0] for t in there) / len(there), 4) if there else 0.0
        y0 = round(sum(t.box.middle[1] for t in there) / len(there), 4) if there else 0.0
        if not there:
            y0 = max((box.bottom for box in self._all()), default=0.0) + 5e-3
        count = round(reach / step)
        offsets = step * np.arange(-count, count + 1)
        xs, ys = (each.ravel() for each in np.meshgrid(x0 + offsets, y0 + offsets))
        costs, kept = [], []
        for quarters in self._turns(item):
            free = np.flatnonzero(self._uncovered(item, quarters, xs, ys))
            x, y = xs[free], ys[free]
            total = self._leaning(item, quarters, x - x0, y - y0)
            for node, foot, target in zip(item.nodes, item.package.feet, targets, strict=True):
                if target is None:
                    continue
                fx, fy = turned(foot, quarters)
                box = target.box.grown(-RIM_M)
                dx = x + fx - np.clip(x + fx, box.left, box.right)
                dy = y + fy - np.clip(y + fy, box.top, box.bottom)
                length = np.hypot(dx, dy)
                total = total + length + np.where(length > self._longest(node), _TOO_LONG_M, 0.0)
            costs.append(total)
            kept.append(np.column_stack([x, y, np.full_like(x, quarters)]))
        whole, places = np.concatenate(costs), np.concatenate(kept)
        for at in np.argsort(whole, kind="stable")[:_TRIED]:
            x_m, y_m, quarters = places[at]
            yield float(whole[at]), Place(round(float(x_m), 4), round(float(y_m), 4), int(quarters))

    def _uncovered(self, item: Item, quarters: int, xs: Array, ys: Array) -> Array:
        """Whether the body lies on nothing, at each of many places: what `_free` asks of one, for all."""
        own = set(item.nodes)
        taken = [laid.near for laid in self.laid]
        taken += [ground.grown(BODY_GAP_M) for laid in self.laid for ground in laid.grounds]
        taken += [i.box.grown(-RIM_M if i.node in own else BODY_GAP_M) for i in self.islands]
        w, h = item.package.length_m / 2, item.package.width_m / 2
        w, h = (w, h) if quarters % 2 == 0 else (h, w)
        left, top, right, bottom = np.array(taken).reshape(-1, 4).T[:, :, np.newaxis]
        over = (xs - w < right) & (left < xs + w) & (ys - h < bottom) & (top < ys + h)
        return ~over.any(axis=0)

    def _leaning(self, item: Item, quarters: int, dx: Array, dy: Array) -> Array:
        """What a place costs beyond its leads [m]: away from its line, lying instead of hanging."""
        if len(item.nodes) == 2 and self._on_way(item):
            # On the line of the signal, along it.
            lying = 0.0 if quarters % 2 == 0 or item.coil else 4e-3
            return 1.5 * np.abs(dy) + lying
        away = 0.15 * np.hypot(dx, dy)
        inner = self.graph.inner(item)
        if len(inner) == 1 and not self.graph.rails & set(item.nodes):
            # What goes to ground hangs below rather than above, and from the island straight down.
            lying = 2e-3 if quarters % 2 == 0 and not item.coil else 0.0
            return away + np.where(dy > 0, 0.0, 3e-3) + 0.3 * np.abs(dx) + lying
        return away

    def _turns(self, item: Item) -> tuple[int, ...]:
        """Quarter turns that are tried: a coil lies across the one before it."""
        if item.coil and len(item.nodes) == 2:
            return (1, 3) if item.key in self.frame.across else (0, 2)
        return (0, 1, 2, 3)

    def _target(self, item: Item, lead: int) -> Island | None:
        node = item.nodes[lead]
        if node == GROUND:
            return None
        islands = self._of_node[node]
        if len(islands) == 1:
            return islands[0]
        own = [i for i in islands if i.key == lead_key(item, lead)]
        if own:
            return own[0]
        single = [n for n in self.graph.inner(item) if len(self._of_node[n]) == 1]
        if not single:
            return islands[0]
        x, y = (sum(self.frame.middles[n][k] for n in single) / len(single) for k in (0, 1))
        return min(islands, key=lambda i: hypot(i.box.middle[0] - x, i.box.middle[1] - y))

    def _free(self, item: Item, place: Place, *, surely: bool = False) -> _Laid | None:
        """The part at a place where its body lies on nothing, None where a lead would touch what it must not;
        `surely` below everything, where only leads of its own could.
        """
        box = body_box(item, place)
        leads: list[tuple[Point, Point]] = []
        grounds: list[Box] = []
        for node, foot in zip(item.nodes, feet_of(item, place), strict=True):
            if node == GROUND:
                end = self._ground(item, place, foot)
                if end is None:
                    return None
                grounds.append(box_at(end, (_SOLDER_M, _SOLDER_M)))
            else:
                # The nearest island of the node is where the lead goes, whichever was aimed at.
                ends = [landing(foot, island.box) for island in self._of_node[node]]
                end = min(ends, key=lambda p: hypot(p[0] - foot[0], p[1] - foot[1]))
            if not surely and self._touches(node, foot, end):
                return None
            leads.append((foot, end))
        if item.package.can:
            x, y = turned((0.0, item.package.width_m / 2), place.turned)
            foot = (place.x_m + x, place.y_m + y)
            end = self._ground(item, place, foot)
            if end is None:
                return None
            grounds.append(box_at(end, (_SOLDER_M, _SOLDER_M)))
            leads.append((foot, end))
        return _Laid(item, box, leads, grounds)

    def _ground(self, item: Item, place: Place, foot: Point) -> Point | None:
        """Where a lead to ground lands: on bare copper, and not where another part lies."""
        for end in ground_ends(item, place, foot):
            spot = box_at(end, (_SOLDER_M, _SOLDER_M))
            if any(box.cut_by(foot, end) for box in self._apart):
                continue
            if any(other.near.meets(spot) for other in self.laid):
                continue
            if any(g.meets(spot) for other in self.laid for g in other.grounds):
                continue
            return end
        return None

    def _touches(self, node: str, a: Point, b: Point) -> bool:
        """Whether a bare lead comes too near to an island of another node."""
        return any(box.cut_by(a, b) for other, box in self._bare if other != node)

    def _crossings(self, laid: _Laid) -> int:
        """How many bare leads and bodies a part's leads cross, and leads its body."""
        found = 0
        for other in self.laid:
            if other is laid or not other.reach.meets(laid.reach):
                continue
            found += _lead_crossings(laid, other)
            found += sum(other.inside.cut_by(a, b) for a, b in laid.leads)
            found += sum(laid.inside.cut_by(c, d) for c, d in other.leads)
        return found

    def _put(self, item: Item, place: Place) -> None:
        laid = self._free(item, place)
        assert laid is not None
        self.places[item.key] = place
        self.laid.append(laid)

    def _all(self) -> list[Box]:
        return [each.box for each in self.islands] + [
            box for other in self.laid for box in (other.box, *other.grounds)
        ]

    def _beyond(self, item: Item) -> None:
        """Below everything, with islands of its own to either side, which wires join to those of its nodes.

        They stand as far away as it has leads, in the order of its feet, so that none is in another's way.
        """
        below = max((box.bottom for box in self._all()), default=0.0)
        left = min((box.left for box in self._all()), default=0.0)
        feet = item.package.feet
        away = 4e-3 + 3e-3 * len(feet)
        tall = (SIDE_M + 2 * GAP_M) * len(feet)
        middle = (left + away + SIDE_M + long(item) / 2, below + 4 * GAP_M + (tall + long(item)) / 2)
        place = Place(round(middle[0], 4), round(middle[1], 4), 0)
        box = body_box(item, place)
        inner = [n for n, node in enumerate(item.nodes) if node != GROUND]
        for sign in (-1, 1):
            side = sorted((n for n in inner if (feet[n][0] > 0) == (sign > 0)), key=lambda n: (feet[n][1], n))
            edge = box.right + away if sign > 0 else box.left - away
            for row, n in enumerate(side):
                y = box.middle[1] + (row - (len(side) - 1) / 2) * (SIDE_M + 2 * GAP_M)
                self._add(Island(lead_key(item, n), item.nodes[n], box_at((edge, y), (SIDE_M, SIDE_M))))
                self.wired += 1
        laid = self._free(item, place, surely=True)
        assert laid is not None
        self.places[item.key] = place
        self.laid.append(laid)


def kept(layout: Layout, places: dict[str, Place]) -> Layout:
    """The layout where the builder's own places count, of parts by their key and of islands by the key of a
    lead that lands there.
    """
    islands = tuple(
        replace(each, box=box_at(places[each.key][:2], each.box.size)) if each.key in places else each
        for each in layout.islands
    )
    moved = {key: places.get(key, place) for key, place in layout.places.items()}
    return Layout(islands=islands, places=moved)
