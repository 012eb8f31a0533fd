"""All boards of a rig on one plane, along the signal, with shields and the line of the supply."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from core.circuits.ladder import Array
from core.model.stages.stage import Way
from core.rig.analysis import Analysis
from core.rig.board.boards import SUPPLY, StageBoard, boards, held
from core.rig.board.drawing import (
    BY_HAND,
    CLASH,
    Area,
    Disc,
    Drawing,
    Shape,
    Stroke,
    Thing,
    Words,
    corners,
)
from core.rig.board.plan import Box, Island, Place, Point
from core.rig.board.stage_drawing import drawing_of

#: What its places are kept under; no stage can have this key.
WHOLE = "whole board"
#: Neighbours whose levels differ by more than this are shielded from each other, dB (common practice, no
#: source).
SHIELD_DB = 40.0
#: How wide the plane is at least, and what is left between boards and between rows [m].
_WIDE_M, _BETWEEN_M, _ROWS_M = 0.26, 6e-3, 14e-3
#: By how much it is made wider at a time, where it would be too high [-].
_WIDER = 1.1
#: What is drawn for a stage whose parts are not known [m].
_BLOCK = (30e-3, 22e-3)
_RAIL_M = 4e-3


@dataclass(frozen=True, slots=True)
class Shield:
    """A sheet of metal between two stages: their names, and what is between the input of the one and the
    output of the other [dB].
    """

    first: str
    second: str
    names: tuple[str, str]
    level_db: float

    @property
    def sentence(self) -> str:
        """Why it is there."""
        return (
            f"A shield between {self.names[0]} and {self.names[1]}: {self.level_db:.0f} dB between the input "
            "of the one and the output of the other."
        )


@dataclass(frozen=True, kw_only=True)
class _Piece:
    """A board, or a box for a stage without parts, before it has its place: its edge about its own origin,
    which is where the signal's line begins.
    """

    key: str
    stage: str
    name: str
    edge: Box
    board: StageBoard | None

    def ends(self) -> tuple[Point, Point]:
        """Where the signal comes in and goes out."""
        x0, x1 = self.edge.left, self.edge.right
        if self.board is None:
            return (x0, 0.0), (x1, 0.0)
        at = {island.node: island.box.middle for island in self.board.plan.islands}
        found = [at[port] for port in self.board.ports if port in at]
        return (found[0], found[-1]) if found else ((x0, 0.0), (x1, 0.0))


def shields(analysis: Analysis) -> tuple[Shield, ...]:
    """Where a shield belongs: between neighbours of a path whose levels, from the input of the first to the
    output of the second, differ by more than 40 dB on any band, in receive or transmit.
    """
    found: dict[tuple[str, str], Shield] = {}
    for way, levels_dbm in _levels(analysis):
        path = analysis.project.path(way)
        for n in range(len(path) - 1):
            between = float(abs(levels_dbm[n + 2] - levels_dbm[n]))
            pair = (path[n], path[n + 1])
            first, second = pair if way == "receive" else pair[::-1]
            known = found.get((first.id, second.id))
            if between > SHIELD_DB and (known is None or known.level_db < between):
                names = (first.name, second.name)
                found[first.id, second.id] = Shield(first.id, second.id, names, between)
    order = [stage.id for stage in analysis.project.stages]
    return tuple(sorted(found.values(), key=lambda each: order.index(each.first)))


def _levels(analysis: Analysis) -> Iterator[tuple[Way, Array]]:
    """Levels along both paths on every band [dBm]: of an S9 signal, and of speech peaks."""
    for band in analysis.project.bands:
        if analysis.project.path("receive"):
            yield "receive", analysis.receive(band.name).s9_dbm
        if analysis.project.path("transmit"):
            yield "transmit", analysis.transmit(band.name).level_dbm


def whole_board(analysis: Analysis) -> Drawing:
    """Every board of the rig in rows along the signal from the antenna on, oscillators last; a wire from each
    stage to the next, shields, and a line of the supply above every row.
    """
    pieces = _pieces(analysis)
    hand = {each.key: Place(each.x_m, each.y_m) for each in held(analysis.project, WHOLE, ()).places}
    places, rails = _laid(pieces)
    places = {key: hand.get(key, place) for key, place in places.items()}
    edges = {p.key: p.edge.moved(places[p.key].x_m, places[p.key].y_m) for p in pieces}
    lying = _lying_on_others(edges)
    links = _links(analysis, pieces)
    metal = shields(analysis)
    shapes: list[Shape] = []
    for piece in pieces:
        shapes += _moved(_piece_shapes(piece), places[piece.key])
    lowest = {
        line: max(edges[p.key].bottom for p in pieces if places[p.key].y_m == line)
        for line in {place.y_m for place in places.values()}
    }
    wires = [_wire(pieces[a], pieces[b], places, lowest) for a, b in links]
    supply = _supply(pieces, places, rails)
    shapes += [*supply, *wires]
    shapes += [shape for each in metal for shape in _shield(each, pieces, edges)]
    for key in lying:
        shapes += _crossed(edges[key])
    box = _around([*edges.values(), *(_of_stroke(s) for s in (*wires, *supply) if isinstance(s, Stroke))])
    things = tuple(
        Thing(
            piece.key,
            piece.name,
            places[piece.key],
            edges[piece.key],
            (*((CLASH,) if piece.key in lying else ()), *((BY_HAND,) if piece.key in hand else ())),
        )
        for piece in pieces
    )
    width, height = box.size
    feeds = sum(isinstance(s, Stroke) and s.dashed for s in supply)
    told = (
        f"{1e3 * width:.0f} × {1e3 * height:.0f} mm: {len(pieces)} boards, {len(wires)} wires for signals, "
        f"{feeds} to the supply.",
        *(f"{_name_of(pieces, key)} lies on another board; move one of them." for key in lying),
        *(each.sentence for each in metal),
    )
    return Drawing(
        title="Whole board",
        box=box,
        shapes=(Area(corners(box), "panel"), *shapes),
        things=things,
        told=told,
        legend=tuple(_in_words(piece) for piece in pieces),
    )


def _in_words(piece: _Piece) -> str:
    width, height = piece.edge.size
    return f"{piece.name}, {1e3 * width:.0f} × {1e3 * height:.0f} mm"


def _name_of(pieces: tuple[_Piece, ...], key: str) -> str:
    return next(each.name for each in pieces if each.key == key)


def _pieces(analysis: Analysis) -> tuple[_Piece, ...]:
    """The boards in the order of the path, and boxes for the stages and oscillators without parts."""
    made: dict[str, list[StageBoard]] = {}
    for board in boards(analysis):
        made.setdefault(board.stage, []).append(board)
    found: list[_Piece] = []
    names = [(stage.id, stage.name) for stage in analysis.project.stages]
    names += [("vfo", "VFO"), ("carrier", "Carrier oscillator")]
    others = (("helper", "Helper oscillator"), (SUPPLY, "Supply"))
    names += [(key, name) for key, name in others if key in made]
    for stage, name in names:
        for board in made.pop(stage, ()):
            key = " ".join((stage, *board.bands[:1]))
            found.append(_Piece(key=key, stage=stage, name=board.title, edge=board.plan.board, board=board))
        if not found or found[-1].stage != stage:
            width, height = _BLOCK
            edge = Box(0.0, -height / 2, width, height / 2)
            found.append(_Piece(key=stage, stage=stage, name=name, edge=edge, board=None))
    return tuple(found)


_Rows = tuple[dict[str, Place], list[tuple[float, float, float]]]


def _laid(pieces: tuple[_Piece, ...]) -> _Rows:
    """The rows, so wide that the plane is no higher than wide: a case of such a shape can be had."""
    wide = max([_WIDE_M, *(piece.edge.size[0] for piece in pieces)])
    while (found := _rows(pieces, wide))[2] > wide:
        wide *= _WIDER
    return found[:2]


def _rows(
    pieces: tuple[_Piece, ...], wide: float
) -> tuple[dict[str, Place], list[tuple[float, float, float]], float]:
    """Where each board's origin lies, row by row, all of a row with their signal on one line; of every row
    the height and the ends of its line of the supply [m]; and the height of all [m].
    """
    rows: list[list[_Piece]] = [[]]
    used = 0.0
    for piece in pieces:
        width = piece.edge.size[0] + _BETWEEN_M
        if rows[-1] and used + width > wide + _BETWEEN_M:
            rows.append([])
            used = 0.0
        rows[-1].append(piece)
        used += width
    places: dict[str, Place] = {}
    rails = []
    y = 0.0
    for row in rows:
        above = max(-piece.edge.top for piece in row)
        below = max(piece.edge.bottom for piece in row)
        rails.append((round(y, 4), 0.0, wide))
        line = y + _RAIL_M + _BETWEEN_M + above
        x = 0.0
        for piece in row:
            places[piece.key] = Place(round(x - piece.edge.left, 4), round(line, 4))
            x += piece.edge.size[0] + _BETWEEN_M
        y = line + below + _ROWS_M
    return places, rails, y


def _piece_shapes(piece: _Piece) -> tuple[Shape, ...]:
    """A board with its name, or a box."""
    edge = piece.edge
    name = Words((edge.middle[0], edge.bottom - 1.8e-3), piece.name, 2.4e-3)
    if piece.board is None:
        told = Words((edge.middle[0], edge.middle[1] + 2.5e-3), "parts not known", 1.8e-3, "soft_words")
        at = Words((edge.middle[0], edge.middle[1] - 1.5e-3), piece.name, 2.4e-3)
        return (Area(corners(edge), "plane"), at, told)
    return (*drawing_of(piece.board).shapes, name)


def _moved(shapes: tuple[Shape, ...], by: Place) -> list[Shape]:
    """Shapes somewhere else."""
    dx, dy = by.x_m, by.y_m
    found: list[Shape] = []
    for shape in shapes:
        if isinstance(shape, Disc):
            found.append(replace(shape, middle=(shape.middle[0] + dx, shape.middle[1] + dy)))
        elif isinstance(shape, Words):
            found.append(replace(shape, at=(shape.at[0] + dx, shape.at[1] + dy)))
        else:
            found.append(replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points)))
    return found


def _links(analysis: Analysis, pieces: tuple[_Piece, ...]) -> list[tuple[int, int]]:
    """Which boards a signal goes between, from the one nearer to the antenna; each pair of stages once, of
    filters that are switched in the first one.
    """
    first: dict[str, int] = {}
    for n, piece in enumerate(pieces):
        first.setdefault(piece.stage, n)
    found: dict[tuple[int, int], None] = {}
    ways: tuple[Way, ...] = ("receive", "transmit")
    for way in ways:
        path = [stage.id for stage in analysis.project.path(way)]
        path = path if way == "receive" else path[::-1]
        for a, b in pairwise(path):
            found[first[a], first[b]] = None
    return list(found)


def _wire(a: _Piece, b: _Piece, places: dict[str, Place], lowest: dict[float, float]) -> Stroke:
    """A wire from the end of one board to the beginning of the next: straight where these are neighbours,
    else below all boards of its row; `lowest` is where each row ends, by the height of its line [m].
    """
    (x0, y0), (x1, y1) = a.ends()[1], b.ends()[0]
    start = (x0 + places[a.key].x_m, y0 + places[a.key].y_m)
    end = (x1 + places[b.key].x_m, y1 + places[b.key].y_m)
    if abs(start[1] - end[1]) < 1e-3 and 0 < end[0] - start[0] < 30e-3:
        return Stroke((start, end), "wire", 0.5e-3)
    right = a.edge.right + places[a.key].x_m + _BETWEEN_M / 2
    left = b.edge.left + places[b.key].x_m - _BETWEEN_M / 2
    low = lowest[places[a.key].y_m] + _ROWS_M / 3
    points = (start, (right, start[1]), (right, low), (left, low), (left, end[1]), end)
    return Stroke(points, "wire", 0.5e-3)


def _supply(
    pieces: tuple[_Piece, ...], places: dict[str, Place], rails: list[tuple[float, float, float]]
) -> list[Shape]:
    """A line of copper above every row, and a wire from it to each board that wants the supply."""
    found: list[Shape] = []
    wanted: dict[int, list[Point]] = {}
    for piece in pieces:
        for island in _first_rails(piece):
            x, y = island.box.middle
            at = (x + places[piece.key].x_m, y + places[piece.key].y_m)
            above = [n for n, rail in enumerate(rails) if rail[0] < at[1]]
            wanted.setdefault(above[-1] if above else 0, []).append(at)
    for n, points in sorted(wanted.items()):
        y, left, right = rails[n]
        line = Box(left, y, right, y + _RAIL_M)
        found.append(Area(corners(line), "island"))
        found.append(Words((left + 14e-3, y + _RAIL_M / 2), "+ supply", 2.2e-3))
        found += [Stroke(((x, y + _RAIL_M / 2), (x, at)), "wire", 0.4e-3, dashed=True) for x, at in points]
    if len(wanted) > 1:
        ys = [rails[n][0] for n in sorted(wanted)]
        x = rails[0][1] - 4e-3
        found.append(Stroke(((x, ys[0] + _RAIL_M / 2), (x, ys[-1] + _RAIL_M / 2)), "wire", 0.6e-3))
        found += [Stroke(((x, y + _RAIL_M / 2), (0.0, y + _RAIL_M / 2)), "wire", 0.6e-3) for y in ys]
    return found


def _first_rails(piece: _Piece) -> list[Island]:
    """The first island of each rail of a board."""
    if piece.board is None:
        return []
    islands = piece.board.plan.islands
    firsts = ([i for i in islands if i.node == rail][:1] for rail in piece.board.rails)
    return [island for found in firsts for island in found]


def _shield(shield: Shield, pieces: tuple[_Piece, ...], edges: dict[str, Box]) -> list[Shape]:
    """A thick line between two boards; below the first one where they do not lie side by side."""
    one = [edges[p.key] for p in pieces if p.stage == shield.first][-1:]
    other = [edges[p.key] for p in pieces if p.stage == shield.second][:1]
    if not one or not other:
        return []
    a, b = one[0], other[0]
    if b.left >= a.right and a.top < b.bottom and b.top < a.bottom:
        x = (a.right + b.left) / 2
        points = ((x, min(a.top, b.top)), (x, max(a.bottom, b.bottom)))
    else:
        y = a.bottom + 2e-3
        points = ((a.left, y), (a.right, y))
    return [Stroke(points, "shield", 1.4e-3)]


def _lying_on_others(edges: dict[str, Box]) -> list[str]:
    """Boards that lie on another one."""
    return [key for key, box in edges.items() if any(o != key and box.meets(edges[o]) for o in edges)]


def _crossed(box: Box) -> list[Shape]:
    x, y = box.middle
    size = 5e-3
    return [
        Stroke(((x - size, y - size), (x + size, y + size)), "clash", 1e-3),
        Stroke(((x - size, y + size), (x + size, y - size)), "clash", 1e-3),
    ]


def _of_stroke(stroke: Stroke) -> Box:
    xs, ys = zip(*stroke.points, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _around(boxes: list[Box]) -> Box:
    left, top = min(b.left for b in boxes), min(b.top for b in boxes)
    right, bottom = max(b.right for b in boxes), max(b.bottom for b in boxes)
    return Box(*(round(each, 3) for each in Box(left, top, right, bottom).grown(5e-3)))
