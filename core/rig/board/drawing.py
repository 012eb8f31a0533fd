"""What is drawn of boards and panels, in metres, for screen, paper and files alike."""

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from math import asin, cos, hypot, pi, sin
from typing import Literal

from core.circuits.circuit import GROUND
from core.rig.board.plan import BoardPlan, Body, Box, Island, Lead, Place, Point, turned

#: What a shape is of; screen and paper have a colour for each.
Ink = Literal[
    "plane",
    "island",
    "body",
    "body_line",
    "lead",
    "ground",
    "wire",
    "words",
    "soft_words",
    "by_hand",
    "clash",
    "long",
    "shield",
    "panel",
    "hole",
    "room",
]
#: Heights of letters [m]: of references, of values and of what else is told.
_REF_M, _VALUE_M, _SMALL_M = 1.7e-3, 1.4e-3, 1.2e-3
#: Letters lower than this cannot be read; words may reach so far beyond a body [m].
_LEAST_M, _OVER_M = 1.15e-3, 0.6e-3
#: A letter is about so wide for its height [-].
LETTER = 0.64
#: From a lead to the middle of its electrode's letter [m].
_BESIDE_M = 0.9e-3
_LEAD_M, _WIRE_M, _HAIR_M = 0.5e-3, 0.4e-3, 0.15e-3


@dataclass(frozen=True, slots=True)
class Area:
    """A closed shape by its corners."""

    points: tuple[Point, ...]
    ink: Ink


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle."""

    middle: Point
    radius_m: float
    ink: Ink


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line of a width [m] through some points."""

    points: tuple[Point, ...]
    ink: Ink
    width_m: float
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """Words around a point, or from it to the right, their letters so high [m]; `upright` ones read from
    below to above.
    """

    at: Point
    text: str
    height_m: float
    ink: Ink = "words"
    _: KW_ONLY
    upright: bool = False
    from_left: bool = False


Shape = Area | Disc | Stroke | Words


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that can be picked up: its key, what it is called, where it lies, and what it covers.

    `states` are words for what is wrong with it, or that it was put by hand.
    """

    key: str
    name: str
    place: Place
    box: Box
    states: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A title, the rectangle that is drawn [m], its shapes from the ground up, and what can be moved; `told`
    is said beside it, and `legend` what is on it, a line each.
    """

    title: str
    box: Box
    shapes: tuple[Shape, ...]
    things: tuple[Thing, ...] = ()
    told: tuple[str, ...] = ()
    legend: tuple[str, ...] = ()


#: Words for states, which a mark of its own shape goes with.
CLASH, LONG, BY_HAND = "clash", "lead too long", "put by hand"


def board_shapes(
    plan: BoardPlan, values: Mapping[str, str], marks: Mapping[str, Sequence[str]]
) -> tuple[Shape, ...]:
    """A stage's board; `values` by the body's key, `marks` the states of things by their keys."""
    found: list[Shape] = [Area(corners(plan.board), "plane")]
    for island in plan.islands:
        found.append(Area(corners(island.box), "island"))
    for wire in plan.wires:
        found.append(Stroke((wire.a, wire.b), "wire", _WIRE_M, dashed=True))
    for body in plan.bodies:
        found += _body(body)
    # Leads over all bodies: they are what is looked for.
    for body in plan.bodies:
        found += _leads(body)
    for body in plan.bodies:
        found += _written(body, values)
    found += _ends(plan)
    for body in plan.bodies:
        found += _marks(body.box, marks.get(body.item.key, ()))
    for island in plan.islands:
        found += _marks(island.box, marks.get(island.key, ()))
    return tuple(found)


def corners(box: Box) -> tuple[Point, ...]:
    """The corners of a rectangle, clockwise from the upper left one."""
    return (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )


def _body(body: Body) -> list[Shape]:
    package, place = body.item.package, body.place
    w, h = package.length_m, package.width_m

    def put(points: Sequence[Point]) -> tuple[Point, ...]:
        return tuple((place.x_m + x, place.y_m + y) for x, y in (turned(p, place.turned) for p in points))

    if package.outline == "round":
        return [Disc((place.x_m, place.y_m), w / 2, "body")]
    if package.outline == "ring":
        turns = [(cos(n * pi / 9), sin(n * pi / 9)) for n in range(18)]
        spokes = (put([(0.26 * w * x, 0.26 * w * y), (0.48 * w * x, 0.48 * w * y)]) for x, y in turns)
        middle = Disc((place.x_m, place.y_m), w / 2, "body")
        return [middle, *(Stroke(each, "body_line", _HAIR_M) for each in spokes)]
    if package.outline == "stadium":
        return [Area(put(_rounded(w, h, h / 2)), "body")]
    if package.outline == "d":
        return [Area(put(_with_flat(w, h)), "body")]
    square = [(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)]
    if package.outline == "tab":
        back = put([(-w / 2, -h / 2), (w / 2, -h / 2)])
        return [Area(put(square), "body"), Stroke(back, "body_line", 1.2e-3)]
    if package.outline in ("toroid", "turns"):
        lean = 0.0 if package.outline == "toroid" else 0.12
        count = 9
        rows = [(-0.5 + (n + 0.5) / count) * w for n in range(count)]
        return [
            Area(put(_rounded(w, h, h / 3)), "body"),
            *(
                Stroke(put([(x - lean * h, -0.42 * h), (x + lean * h, 0.42 * h)]), "body_line", _HAIR_M)
                for x in rows
            ),
        ]
    return [Area(put(square), "body")]


def _rounded(w: float, h: float, radius: float) -> list[Point]:
    """A rectangle with round corners about the origin."""
    found = []
    for n, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        for step in range(7):
            angle = (n + step / 6) * pi / 2
            found.append(
                (x * (w / 2 - radius) + radius * cos(angle), y * (h / 2 - radius) + radius * sin(angle))
            )
    return found


def _with_flat(w: float, h: float) -> list[Point]:
    """A circle cut off below, where a TO-92 is flat; in the middle of its rectangle, as other bodies are."""
    radius, flat = w / 2, h - w / 2
    start, down = -pi - asin(min(flat / radius, 1.0)), radius - h / 2
    angles = (start + n / 24 * -(2 * start + pi) for n in range(25))
    return [(radius * cos(a), radius * sin(a) + down) for a in angles]


def _leads(body: Body) -> list[Shape]:
    found: list[Shape] = []
    for lead in body.leads:
        seen = _seen(body, lead)
        if seen is not None:
            found.append(Stroke((seen, lead.end), "lead", _LEAD_M))
        found.append(
            Disc(lead.end, 0.8e-3, "ground") if lead.node == GROUND else Disc(lead.end, 0.45e-3, "lead")
        )
    return found


def _seen(body: Body, lead: Lead) -> Point | None:
    """Where a lead comes out from below its body, on the way to its end; None where it ends below it. What
    lies below would only cover what is written on the body.
    """
    (x, y), (u, v) = lead.foot, lead.end
    if body.item.package.outline == "round":
        # Where the line meets the circle, the later one of its two points.
        radius = body.item.package.length_m / 2
        dx, dy, fx, fy = u - x, v - y, x - body.place.x_m, y - body.place.y_m
        a, b, c = dx * dx + dy * dy, dx * fx + dy * fy, fx * fx + fy * fy - radius * radius
        share = (-b + max(b * b - a * c, 0.0) ** 0.5) / a if a else 1.0
    else:
        box = body.box
        sides = ((box.left, box.right, x, u), (box.top, box.bottom, y, v))
        share = min(
            (((high if b > a else low) - a) / (b - a) for low, high, a, b in sides if b != a), default=1
        )
    return None if share >= 1 else (x + max(share, 0.0) * (u - x), y + max(share, 0.0) * (v - y))


def _written(body: Body, values: Mapping[str, str]) -> list[Shape]:
    """Reference and value along a body, the value where there is room; letters at a transistor's leads."""
    box = body.box
    w, h = box.size
    upright = h > w * 1.01
    room, across = (h, w) if upright else (w, h)
    x, y = box.middle
    ref = body.item.of or body.item.ref
    value = "trimmer" if body.item.trims else values.get(body.item.key, "")
    lines = [ref, value] if value and across >= 2.2 * _REF_M else [f"{ref} {_short(value)}".strip()]
    found: list[Shape] = []
    for n, text in enumerate(lines):
        off = (n - (len(lines) - 1) / 2) * 1.15 * _REF_M
        at = (x + off, y) if upright else (x, y + off)
        height = min(_REF_M, _VALUE_M if n else _REF_M, (room + _OVER_M) / (LETTER * len(text)))
        if height < _LEAST_M:
            # Only what it is called, where the rest would be too small to read.
            text, height = ref if n == 0 else "", max(height, _LEAST_M)
        if text:
            found.append(Words(at, text, height, "words", upright=upright))
    for name, lead in zip(body.item.electrodes, body.leads, strict=False):
        found.append(Words(_beside(body, lead), name[0].upper(), _SMALL_M, "soft_words"))
    return found


def _short(value: str) -> str:
    """A value without its unit, as it is written in small: `4.7k`, `100n`."""
    number, _, unit = value.partition(" ")
    return value if not unit or not number[:1].isdigit() else number + unit.rstrip("FHΩ").rstrip("Hz")


def _beside(body: Body, lead: Lead) -> Point:
    """The middle of what is seen of a lead, a letter's width beside it, off the body where one side is."""
    (x, y), (u, v) = _seen(body, lead) or lead.foot, lead.end
    share = _BESIDE_M / (hypot(u - x, v - y) or 1.0)
    across, down = share * (v - y), share * (x - u)
    middle = (x + u) / 2, (y + v) / 2
    one, other = (middle[0] + across, middle[1] + down), (middle[0] - across, middle[1] - down)
    return other if body.box.holds(one) and not body.box.holds(other) else one


def _ends(plan: BoardPlan) -> list[Shape]:
    """Where the signal comes in and goes out, and what the supply's islands are."""
    found: list[Shape] = []
    # A mixer's ports are called what they are, as it may be passed either way.
    # The only port of an oscillator is where its signal goes out, that of a supply what it is called.
    single = "out" if not plan.ports or plan.ports[0] not in ("lead", "source") else plan.ports[0]
    names = {1: (single,), 2: ("in", "out")}.get(len(plan.ports), plan.ports)
    for name, node in zip(names, plan.ports, strict=True):
        for island in plan.islands:
            if island.node == node:
                found += _port(island, name)
    for rail in plan.rails:
        for island in plan.islands:
            if island.node == rail:
                at = (island.box.middle[0], island.box.top - 0.9e-3)
                found.append(Words(at, f"+ {rail}", _SMALL_M, "soft_words"))
    return found


def _port(island: Island, name: str) -> list[Shape]:
    """A word beside an island, with an arrow at its outer side where the signal goes one way."""
    x, y = island.box.middle
    word = Words((x, island.box.top - 0.9e-3), name, _VALUE_M, "soft_words")
    if name not in ("in", "out"):
        return [word]
    sign = -1 if name == "in" else 1
    edge = island.box.left if name == "in" else island.box.right
    tail, tip = (edge + sign * 3.5e-3, edge + sign * 0.6e-3)
    if name == "out":
        tail, tip = tip, tail
    head = tip - 1.1e-3
    return [
        Stroke(((tail, y), (tip, y)), "lead", _LEAD_M),
        Area(((tip, y), (head, y - 0.8e-3), (head, y + 0.8e-3)), "lead"),
        word,
    ]


def _marks(box: Box, states: Sequence[str]) -> list[Shape]:
    """A cross over what clashes, a triangle at what has a lead too long, a pin at what was put by hand."""
    x, y = box.middle
    found: list[Shape] = []
    if CLASH in states:
        size = 1.6e-3
        found += [
            Stroke(((x - size, y - size), (x + size, y + size)), "clash", _WIRE_M),
            Stroke(((x - size, y + size), (x + size, y - size)), "clash", _WIRE_M),
            Stroke((*corners(box), (box.left, box.top)), "clash", _LEAD_M),
        ]
    if LONG in states:
        top = (box.right + 0.2e-3, box.top - 1.8e-3)
        found.append(Area((top, (top[0] + 1.1e-3, top[1] + 2e-3), (top[0] - 1.1e-3, top[1] + 2e-3)), "long"))
    if BY_HAND in states:
        found.append(Disc((box.left + 0.5e-3, box.top + 0.5e-3), 0.35e-3, "by_hand"))
    return found
