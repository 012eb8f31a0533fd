"""Where the islands of a board lie: the way of the signal in a row, the rest beside it, the supply above."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf

from core.circuits.circuit import GROUND
from core.rig.board.items import Item
from core.rig.board.plan import BODY_GAP_M, GAP_M, RIM_M, Box, Island, Point, box_at, lead_key

#: Side of an island for up to three leads, and how much wider each further one makes it [m]; squares of 5 mm
#: are common practice, no source.
SIDE_M, WIDER_M = 5e-3, 1.5e-3
_FREE_LEADS = 3
#: Least room between a row of islands and the next, beyond the islands themselves [m].
_ROW_M = 6e-3
#: A part with more leads than this is surrounded by islands.
_MANY = 4
#: A way beside the signal's with so many nodes or more has a row of its own, so far below [m].
_OWN_BLOCK, _BLOCKS_M = 5, 22e-3
#: What is left free around the line of a rail [m].
_LINE_M = 1e-3

Lands = list[tuple[int, int]]


@dataclass(frozen=True, kw_only=True)
class Graph:
    """Which parts meet at which node, ground and rails apart."""

    items: tuple[Item, ...]
    ports: tuple[str, ...]
    rails: frozenset[str]
    lands: dict[str, Lands] = field(default_factory=dict)
    beside: dict[str, list[str]] = field(default_factory=dict)

    def inner(self, item: Item) -> list[str]:
        """The nodes of a part that are neither ground nor a rail, each once."""
        return [n for n in dict.fromkeys(item.nodes) if n != GROUND and n not in self.rails]


def graph_of(items: tuple[Item, ...], ports: tuple[str, ...], rails: Iterable[str]) -> Graph:
    """The nodes with the leads that land on them, and which are joined by a part."""
    graph = Graph(items=items, ports=ports, rails=frozenset(rails))
    for n, item in enumerate(items):
        for lead, node in enumerate(item.nodes):
            if node != GROUND:
                graph.lands.setdefault(node, []).append((n, lead))
        inner = graph.inner(item)
        for node in inner:
            near = graph.beside.setdefault(node, [])
            near += [other for other in inner if other != node and other not in near]
    for port in ports:
        if port not in graph.rails and port != GROUND:
            graph.beside.setdefault(port, [])
            graph.lands.setdefault(port, [])
    return graph


def distances(graph: Graph, start: str) -> dict[str, int]:
    """How many parts lie between a node and every one that can be reached without ground and rails."""
    found, queue = {start: 0}, [start]
    while queue:
        here = queue.pop(0)
        for other in graph.beside[here]:
            if other not in found:
                found[other] = found[here] + 1
                queue.append(other)
    return found


def way_through(graph: Graph, start: str, end: str) -> list[str]:
    """The shortest way of the signal from one node to another that can be reached from it."""
    left = distances(graph, end)
    way = [start]
    while way[-1] != end:
        way.append(next(n for n in graph.beside[way[-1]] if left[n] == left[way[-1]] - 1))
    return way


def spines(graph: Graph) -> list[list[str]]:
    """The way of the signal through each part of the circuit that hangs together; the first port's first."""
    ports = [p for p in graph.ports if p in graph.beside]
    if len(ports) == 1:
        # An oscillator's only port is where its signal goes out.
        near = distances(graph, ports[0])
        first = [max(near, key=lambda n: near[n])]
    else:
        first = ports[:1]
    order = list(dict.fromkeys((*first, *graph.beside)))
    seen: set[str] = set()
    found = []
    for start in order:
        if start in seen:
            continue
        near = distances(graph, start)
        ends = [p for p in graph.ports if p in near and p != start]
        # Without a second port the way leads to what is farthest away.
        end = ends[-1] if ends else max(near, key=lambda n: near[n])
        found.append(way_through(graph, start, end))
        seen |= set(near)
    return found


def island_size(leads: int) -> Point:
    """Width and height of an island on which so many leads land [m]."""
    return SIDE_M + WIDER_M * max(leads - _FREE_LEADS, 0), SIDE_M


def thin(item: Item) -> float:
    """A body's lesser side [m], as it hangs from an island."""
    return min(item.package.length_m, item.package.width_m)


def long(item: Item) -> float:
    """A body's greater side [m]."""
    return max(item.package.length_m, item.package.width_m)


@dataclass(frozen=True, kw_only=True)
class Skeleton:
    """Islands; the place of each node along the signal's way, and which two follow each other on it; where
    the first island of each node is; and the keys of the coils that lie across the way.
    """

    islands: tuple[Island, ...]
    order: dict[str, int]
    pairs: frozenset[frozenset[str]]
    middles: dict[str, Point]
    across: frozenset[str]


def skeleton(graph: Graph, spread: float = 1.0) -> Skeleton:
    """Islands for a circuit; `spread` [-] widens the room between them.

    What goes round a part of the signal's way by a way of its own, as the other half of a bilateral
    amplifier does, lies below the rest, with islands of its own where the two meet.
    """
    islands: list[Island] = []
    order: dict[str, int] = {}
    pairs: set[frozenset[str]] = set()
    middles: dict[str, Point] = {}
    across: frozenset[str] = frozenset()
    for block in blocks(graph):
        one = _one_block(block, spread)
        down = 0.0
        if islands:
            top = min(each.box.top for each in one.islands)
            down = round(max(each.box.bottom for each in islands) - top + _BLOCKS_M, 4)
        islands += [Island(i.key, i.node, i.box.moved(0.0, down)) for i in one.islands]
        middles = {node: (x, y + down) for node, (x, y) in one.middles.items()} | middles
        order = {node: n + len(order) for node, n in one.order.items()} | order
        pairs |= one.pairs
        across |= one.across
    return Skeleton(
        islands=tuple(islands), order=order, pairs=frozenset(pairs), middles=middles, across=across
    )


def blocks(graph: Graph) -> list[Graph]:
    """The circuit in parts that are laid below one another: the signal's way with what is beside it, and
    every way of some length that leaves it at one node and comes back at another, and meets it nowhere else.
    """
    way = [node for row in spines(graph) for node in row]
    apart: list[tuple[set[str], tuple[str, str]]] = []
    seen = set(way)
    for start in graph.beside:
        if start in seen:
            continue
        together, queue = {start}, [start]
        meets: set[str] = set()
        while queue:
            for other in graph.beside[queue.pop()]:
                if other in way:
                    meets.add(other)
                elif other not in together:
                    together.add(other)
                    queue.append(other)
        seen |= together
        ends = sorted(meets, key=way.index)
        if len(together) >= _OWN_BLOCK and len(ends) == 2 and not _at_one_part(graph, ends, together):
            apart.append((together, (ends[0], ends[1])))
    if not apart:
        return [graph]
    rest = graph.items
    found = []
    for together, both in apart:
        own = tuple(item for item in rest if set(graph.inner(item)) & together)
        rest = tuple(item for item in rest if item not in own)
        found.append(graph_of(own, both, graph.rails))
    return [graph_of(rest, graph.ports, graph.rails), *found]


def _at_one_part(graph: Graph, ends: list[str], together: set[str]) -> bool:
    """Whether a way begins and ends at one part, as what hangs on a transformer of three windings does: then
    it goes round nothing.
    """
    inner = (set(graph.inner(item)) for item in graph.items)
    return any(nodes >= set(ends) and nodes & together for nodes in inner)


def _one_block(graph: Graph, spread: float) -> Skeleton:
    rows = spines(graph)
    along: list[str] = [node for row in rows for node in row]
    x = _along(graph, rows, spread)
    middles: dict[str, Point] = {node: (at, 0.0) for node, at in x.items()}
    _beside(graph, along, middles, spread)
    islands = [_island(graph, node, at) for node, at in middles.items()]
    islands += _rail_islands(graph, middles, islands, spread)
    return Skeleton(
        islands=tuple(islands),
        order={node: n for n, node in enumerate(along)},
        pairs=frozenset(frozenset(pair) for row in rows for pair in pairwise(row)),
        middles=middles,
        across=_across(graph, along),
    )


def _island(graph: Graph, node: str, at: Point) -> Island:
    lands = graph.lands[node]
    name = lead_key(graph.items[lands[0][0]], lands[0][1]) if lands else node
    return Island(name, node, box_at(at, island_size(len(lands))))


def _hanging(graph: Graph, node: str) -> tuple[list[Item], list[Item]]:
    """The parts that hang from a node alone: to ground, and to a rail."""
    down: list[Item] = []
    up: list[Item] = []
    for n in dict.fromkeys(n for n, _ in graph.lands[node]):
        item = graph.items[n]
        if graph.inner(item) == [node]:
            (up if graph.rails & set(item.nodes) else down).append(item)
    return down, up


def _hung_width(graph: Graph, node: str) -> float:
    """How wide the parts are that hang from a node [m]: those to ground on both sides of the signal's way,
    unless others go up to a rail.
    """
    down, up = ([thin(item) + 2 * BODY_GAP_M for item in hung] or [0.0] for hung in _hanging(graph, node))
    return max(sum(up), max(down), sum(down) / (1 if sum(up) else 2))


def _along(graph: Graph, rows: Sequence[list[str]], spread: float) -> dict[str, float]:
    """Where the islands of the signal's way lie from left to right [m]: as far apart as the parts between
    them and those that hang from them need.
    """
    found: dict[str, float] = {}
    across = _across(graph, [node for row in rows for node in row])
    at, before, reach = 0.0, None, 0.0
    for row in rows:
        for node in row:
            width = island_size(len(graph.lands[node]))[0]
            # What hangs from the first and the last one may spread outwards.
            half = width / 2 if node in (row[0], row[-1]) else max(width, _hung_width(graph, node)) / 2
            if before is None:
                at = 0.0
            elif node is row[0]:
                at += reach + half + 2 * GAP_M
            else:
                between = [item for item in graph.items if {before, node} <= set(graph.inner(item))]
                old = island_size(len(graph.lands[before]))[0] / 2
                room = max((_room(item, item.key in across) for item in between), default=GAP_M)
                at += max(old + width / 2 + spread * room, reach + half + GAP_M)
            found[node] = round(at, 4)
            before, reach = node, half
    return found


def _room(item: Item, across: bool = False) -> float:
    """What a part takes between two islands, on whose rims it may lie [m]."""
    length = item.package.width_m if across else item.package.length_m
    if len(item.nodes) > _MANY:
        # All round it islands want room.
        length += 1.6 * SIDE_M
    return max(length - 2 * RIM_M + 2 * BODY_GAP_M, 2e-3)


def _beside(graph: Graph, along: Sequence[str], middles: dict[str, Point], spread: float) -> None:
    """Put the islands that are not on the signal's way in rows above and below it."""
    rest = [node for node in graph.beside if node not in middles]
    depth: dict[str, int] = {}
    side: dict[str, int] = {}
    reached, level = list(along), 0
    while rest:
        ring = [n for n in rest if any(o in reached for o in graph.beside[n])] or rest
        level += 1
        inner = {node: [o for o in graph.beside[node] if o in depth] for node in ring}
        for node in ring:
            side[node] = side[inner[node][0]] if inner[node] else _side(graph, node, along)
        depth |= dict.fromkeys(ring, level)
        reached += ring
        rest = [n for n in rest if n not in ring]
    tall = {s: spread * _row_height(graph, [n for n in side if side[n] == s]) for s in (-1, 1)}
    for sign in (-1, 1):
        for step in range(1, max((depth[n] for n in depth if side[n] == sign), default=0) + 1):
            row = [n for n in depth if side[n] == sign and depth[n] == step]
            y = sign * step * tall[sign]
            wanted = {n: _mean_x(graph, n, middles) for n in row}
            for node, x in spaced(wanted, {n: _room_beside(graph, n) for n in row}).items():
                middles[node] = (x, round(y, 4))


def _room_beside(graph: Graph, node: str) -> float:
    """How wide an island beside the way is with what hangs from it [m]."""
    width = island_size(len(graph.lands[node]))[0]
    hung = sum(thin(item) + 2 * BODY_GAP_M for each in _hanging(graph, node) for item in each)
    return max(width, hung) + 4e-3


def _side(graph: Graph, node: str, along: Sequence[str]) -> int:
    """Above the signal's way (−1) what leads to a rail or back to it, below (1) what leads to ground."""
    seen, queue = {node}, [node]
    to_ground = to_rail = False
    while queue:
        here = queue.pop()
        for n, _ in graph.lands[here]:
            nodes = graph.items[n].nodes
            multi = len(nodes) > 2
            to_ground = to_ground or (GROUND in nodes and not multi)
            to_rail = to_rail or (bool(graph.rails & set(nodes)))
        for other in graph.beside[here]:
            if other not in seen and other not in along:
                seen.add(other)
                queue.append(other)
    return 1 if to_ground and not to_rail else -1


def _row_height(graph: Graph, nodes: Sequence[str]) -> float:
    """From one row of islands to the next, as the parts between rows need [m]."""
    between = [
        graph.items[n]
        for node in nodes
        for n, _ in graph.lands[node]
        if len(graph.items[n].nodes) == 2 and len(graph.inner(graph.items[n])) == 2
    ]
    need = max((_room(item) for item in between), default=_ROW_M)
    return SIDE_M + min(max(need, _ROW_M), 14e-3)


def _mean_x(graph: Graph, node: str, middles: dict[str, Point]) -> float:
    near = [middles[o][0] for o in graph.beside[node] if o in middles]
    return sum(near) / len(near) if near else 0.0


def spaced(wanted: dict[str, float], rooms: dict[str, float]) -> dict[str, float]:
    """Places in a row [m] near those wanted, each with its own room; in the order of what is wanted."""
    order = sorted(wanted, key=lambda n: wanted[n])
    found: dict[str, float] = {}
    edge = -inf
    for node in order:
        at = max(wanted[node], edge + rooms[node] / 2)
        found[node] = at
        edge = at + rooms[node] / 2
    # What was pushed to the right goes back by half of that, all together.
    shift = sum(found[n] - wanted[n] for n in order) / len(order) if order else 0.0
    return {node: round(at - shift, 4) for node, at in found.items()}


def _across(graph: Graph, along: Sequence[str]) -> frozenset[str]:
    """Every other coil along the signal: those at right angles to the ones before and behind them."""
    places = {node: n for n, node in enumerate(along)}
    coils = [item for item in graph.items if item.coil and len(item.nodes) == 2]
    last = len(along)
    coils.sort(key=lambda item: min((places.get(n, last) for n in graph.inner(item)), default=last))
    return frozenset(item.key for item in coils[::2])


def _rail_islands(
    graph: Graph, middles: dict[str, Point], islands: Sequence[Island], spread: float
) -> list[Island]:
    """A line of islands for each rail above the signal, one over every place where it is wanted; as low as
    the parts below it and the other islands let it.
    """
    found: list[Island] = []
    ups = [item for item in graph.items if graph.rails & set(item.nodes)]
    need = max((_room(item) for item in ups if len(item.nodes) == 2), default=0.0)
    y = -SIDE_M - spread * max(_ROW_M, min(need, 14e-3))
    for rail in (node for node in graph.lands if node in graph.rails):
        line = _rail_line(graph, rail, middles)
        while any(touches((*islands, *found), each.moved(0.0, y).grown(_LINE_M)) for _, each in line):
            y -= 1e-3
        found += [Island(name, rail, each.moved(0.0, round(y, 4))) for name, each in line]
    return found


def _rail_line(graph: Graph, rail: str, middles: dict[str, Point]) -> list[tuple[str, Box]]:
    """The islands of a rail at height 0 by their names, each above what it feeds."""
    places = []
    for n, lead in graph.lands[rail]:
        inner = [middles[o][0] for o in graph.inner(graph.items[n]) if o in middles]
        places.append((sum(inner) / len(inner) if inner else 0.0, n, lead))
    groups: list[list[tuple[float, int, int]]] = []
    for place in sorted(places):
        if groups and place[0] - groups[-1][0][0] < SIDE_M + GAP_M:
            groups[-1].append(place)
        else:
            groups.append([place])
    sizes = {str(g): island_size(len(group)) for g, group in enumerate(groups)}
    wanted = {str(g): sum(x for x, _, _ in group) / len(group) for g, group in enumerate(groups)}
    at = spaced(wanted, {g: size[0] + 2 * GAP_M for g, size in sizes.items()})
    return [
        (lead_key(graph.items[group[0][1]], group[0][2]), box_at((at[str(g)], 0.0), sizes[str(g)]))
        for g, group in enumerate(groups)
    ]


def touches(islands: Sequence[Island], box: Box, node: str | None = None) -> bool:
    """Whether a rectangle comes too near to an island, that of `node` apart."""
    near = box.grown(GAP_M)
    return any(each.box.meets(near) for each in islands if each.node != node)
