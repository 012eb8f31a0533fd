"""Schematics of amplifiers as SVG, with the values as fitted."""

from collections.abc import Mapping
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import schemdraw
import schemdraw.elements as elm

from app.sheet.schematic import plain_text
from core.model.stages.stage import Way
from core.model.values.notation import format_value
from core.model.values.parts import UNIT_OF_KIND, Role, Which
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import PairDesign
from core.stages.outcome import PartRow

Point = tuple[float, float]
_WAYS: tuple[Way, Way] = ("receive", "transmit")
SUPPLY_AT, GROUND_AT = 7.0, -1.4
#: The halves of a pair stand one below the other; what their common ends are called.
_HALF_HEIGHT, _TERMINALS = 10.4, ("antenna side", "audio side")


@lru_cache(maxsize=16)
def amplifier_svg(
    design: AmplifierDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of an amplifier; `ink` draws wires, `soft` writes values."""
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    _LAYOUTS[design.topology](Pen(drawing, rows, soft, design.transistor.kind))
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


@lru_cache(maxsize=16)
def pair_svg(design: PairDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0) -> str:
    """SVG text of a bilateral pair, one half below the other; ends of one name are the same terminal."""
    drawing = paper(ink, font_size)
    for n, way in enumerate(_WAYS):
        ends = _TERMINALS if way == "receive" else _TERMINALS[::-1]
        named = Names(ends, f"supply, {way}", "ab"[n])
        _three(Pen(drawing, design.rows(way), soft, named=named, rise=-_HALF_HEIGHT * n))
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def paper(ink: str, font_size: float) -> schemdraw.Drawing:
    """An empty drawing."""
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    return drawing


class Names(NamedTuple):
    """What the ends, the supply, and a point that wires of several places lead to are called."""

    ends: tuple[str, str] = ("in", "out")
    supply: str = "supply"
    point: str = "a"


#: An amplifier by itself.
_ALONE = Names()


class Pen:
    """Draws parts between points, found by what they are for; all of it `rise` higher than it says.

    `kind` is that of the transistors.
    """

    def __init__(
        self,
        drawing: schemdraw.Drawing,
        rows: Mapping[tuple[str, Which], PartRow],
        soft: str,
        kind: str = "bipolar",
        named: Names = _ALONE,
        rise: float = 0.0,
    ) -> None:
        self.drawing, self.soft, self.named = drawing, soft, named
        self.rows, self._rise, self._kind = rows, rise, kind

    def _up(self, at: Point) -> Point:
        return at[0], at[1] + self._rise

    def row(self, role: Role, which: Which = None) -> PartRow:
        """The part of a role."""
        return self.rows[role, which]

    def has(self, role: Role) -> bool:
        """Whether there is a part of a role that needs no number."""
        return (role, None) in self.rows

    def part(self, role: Role, which: Which, a: Point, b: Point) -> None:
        """A part of two leads between two points, its reference and value beside it."""
        row = self.row(role, which)
        symbol = {"resistor": elm.Resistor, "capacitor": elm.Capacitor, "inductor": elm.Inductor2}[row.kind]
        value = format_value(row.fitted, UNIT_OF_KIND[row.kind], 3)
        side = "right" if a[0] == b[0] else "top"
        element = symbol().at(self._up(a)).to(self._up(b))
        self.drawing.add(
            element.label(f"{row.ref}\n{value}", loc="bot" if side == "right" else "top", color=self.soft)
        )

    def wire(self, *points: Point) -> None:
        """A line through points."""
        for a, b in pairwise(points):
            self.drawing.add(elm.Line().at(self._up(a)).to(self._up(b)))

    def dot(self, at: Point) -> None:
        """A joint."""
        self.drawing.add(elm.Dot().at(self._up(at)))

    def ground(self, at: Point) -> None:
        """The ground sign."""
        self.drawing.add(elm.GroundSignal().at(self._up(at)))

    def end(self, at: Point, text: str, loc: str) -> None:
        """Where the signal comes in or goes out, or the supply."""
        self.drawing.add(elm.Dot(open=True).at(self._up(at)).label(text, loc=loc))

    def transistor(self, which: int, at: Point, pnp: bool = False) -> tuple[Point, Point]:
        """A transistor with base or gate at a point; gives collector or drain, and emitter or source. A `pnp`
        one stands on its head.
        """
        row = self.row("transistor", which)
        field_effect = self._kind != "bipolar"
        symbol = {"bipolar": elm.BjtNpn, "jfet": elm.JFetN, "mosfet": elm.NFet}[self._kind]
        symbol = elm.BjtPnp if pnp else symbol
        made = symbol().theta(0).at(self._up(at)).anchor("gate" if field_effect else "base")
        # Their symbols have the gate at the right.
        made = made.reverse() if field_effect else made
        made = self.drawing.add(made.label(f"{row.ref}\n{row.type}", loc="right", color=self.soft))
        one, two = (made.drain, made.source) if field_effect else (made.collector, made.emitter)
        return self._down(one), self._down(two)

    def _down(self, at: Point) -> Point:
        return float(at[0]), float(at[1]) - self._rise

    def hang(self, role: Role, which: Which, top: Point, foot: float = GROUND_AT) -> None:
        """A part from a point straight down to ground."""
        self.part(role, which, top, (top[0], foot))
        self.ground((top[0], foot))

    def coil(self, a: Point, b: Point, text: str) -> None:
        """A winding between two points, with a text beside its first end."""
        made = elm.Inductor2().at(self._up(a)).to(self._up(b))
        self.drawing.add(made.label(text, loc="top", color=self.soft) if text else made)

    def diode(self, a: Point, b: Point, text: str) -> None:
        """A diode between two points, which stands for several, with a text beside it."""
        made = elm.Diode().at(self._up(a)).to(self._up(b))
        self.drawing.add(made.label(text, loc="bot", color=self.soft))

    def output(self, top: Point, bottom: Point) -> Point:
        """The output transformer, its first winding between two points; gives the second one's hot end."""
        row = self.row("output_transformer")
        x = top[0] + 1.0
        first = elm.Inductor2().at(top).to(bottom)
        self.drawing.add(first.label(f"{row.ref}\n{row.fitted:.0f} to 1", loc="top", color=self.soft))
        self.drawing.add(elm.Inductor2().at((x, bottom[1])).to((x, top[1])))
        self.wire((x, top[1]), (x + 0.9, top[1]))
        self.ground((x + 0.9, top[1]))
        return (x, bottom[1])

    def supply(self, *xs: float) -> None:
        """The supply's line above all, with taps."""
        left, right = min(xs), max(xs)
        self.wire((left, SUPPLY_AT), (right, SUPPLY_AT))
        self.end((left, SUPPLY_AT), self.named.supply, "left")


def _first(pen: Pen) -> tuple[Point, Point, Point]:
    """Input, divider and first transistor; gives its collector, the base's node and where feedback starts."""
    base: Point = (7.2, 3.0)
    pen.end((0, 3), pen.named.ends[0], "left")
    pen.part("coupling", 1, (0, 3), (2, 3))
    pen.dot((2, 3))
    pen.hang("bias_lower", None, (2, 3))
    pen.wire((2, 3), base)
    pen.dot((4, 3))
    pen.wire((4, 3), (4, 5))
    collector, emitter = pen.transistor(1, base)
    pen.part("degeneration", None, emitter, (emitter[0], 0.9))
    low = (emitter[0], 0.9)
    pen.dot(low)
    if pen.has("source"):
        pen.hang("source", None, low)
    else:
        pen.hang("emitter", 1, low)
    pen.wire(low, (low[0] + 1.9, low[1]))
    pen.hang("bypass", None, (low[0] + 1.9, low[1]))
    return collector, (2, 3), (4, 5)


def _feedback(pen: Pen) -> None:
    collector, base, start = _first(pen)
    pen.part("bias_upper", None, base, (base[0], SUPPLY_AT))
    top = (collector[0], 5.0)
    pen.wire(collector, top)
    pen.dot(top)
    pen.part("feedback", None, start, (start[0] + 1.5, 5.0))
    pen.part("feedback_block", None, (start[0] + 1.5, 5.0), (start[0] + 3.0, 5.0))
    pen.wire((start[0] + 3.0, 5.0), top)
    if pen.has("choke"):
        pen.part("choke", None, top, (top[0], SUPPLY_AT))
        out = (top[0], 5.0)
        pen.part("coupling", 2, out, (out[0] + 2.6, 5.0))
        pen.end((out[0] + 2.6, 5.0), "out", "right")
    else:
        hot = pen.output((top[0], SUPPLY_AT), top)
        pen.part("coupling", 2, hot, (hot[0] + 2.6, hot[1]))
        pen.end((hot[0] + 2.6, hot[1]), "out", "right")
    pen.supply(base[0], top[0])


def _three(pen: Pen) -> None:
    collector, base, start = _first(pen)
    pen.part("bias_upper", None, base, (base[0], 5.0))
    pen.end((base[0], 5.0), pen.named.point, "top")
    pen.part("feedback", None, start, (start[0], 6.2))
    pen.part("feedback_block", None, (start[0], 6.2), (start[0] - 1.2, 6.2))
    pen.end((start[0] - 1.2, 6.2), pen.named.point, "left")
    top = (collector[0], 5.0)
    pen.wire(collector, top)
    pen.dot(top)
    pen.part("collector", None, top, (top[0], SUPPLY_AT))
    second, third = (top[0] + 2.6, 5.0), (top[0] + 6.4, 5.0)
    pen.wire(top, second, (second[0], 5.9), (third[0] - 0.6, 5.9), (third[0] - 0.6, 5.0), third)
    xs = [top[0]]
    for which, at in ((2, second), (3, third)):
        one, two = pen.transistor(which, at)
        pen.wire(one, (one[0], SUPPLY_AT))
        xs.append(one[0])
        low = (two[0], 3.2)
        pen.wire(two, low)
        pen.dot(low)
        pen.hang("emitter", which, low)
        if which == 2:
            pen.wire(low, (low[0] + 0.9, low[1]))
            pen.end((low[0] + 0.9, low[1]), pen.named.point, "right")
        else:
            pen.part("output_resistor", None, low, (low[0] + 2.0, low[1]))
            pen.part("coupling", 2, (low[0] + 2.0, low[1]), (low[0] + 4.0, low[1]))
            pen.end((low[0] + 4.0, low[1]), pen.named.ends[1], "right")
    pen.supply(*xs)


def _common_gate(pen: Pen) -> None:
    pen.end((0, 2), "in", "left")
    pen.part("coupling", 1, (0, 2), (2, 2))
    pen.dot((2, 2))
    pen.part("choke", None, (2, 2), (2, 0.4))
    pen.dot((2, 0.4))
    pen.hang("source", None, (2, 0.4))
    pen.wire((2, 0.4), (3.8, 0.4))
    pen.hang("bypass", None, (3.8, 0.4))
    drain, source = pen.transistor(1, (5.6, 3.0))
    pen.wire((2, 2), (source[0], 2), source)
    pen.wire((5.6, 3.0), (5.0, 3.0))
    pen.ground((5.0, 3.0))
    top = (drain[0], 5.0)
    pen.wire(drain, top)
    hot = pen.output((top[0], SUPPLY_AT), top)
    pen.part("coupling", 2, hot, (hot[0] + 2.6, hot[1]))
    pen.end((hot[0] + 2.6, hot[1]), "out", "right")
    pen.supply(top[0] - 2.0, top[0])


def _follower(pen: Pen) -> None:
    field_effect = pen.has("bias_gate")
    pen.end((0, 3), "in", "left")
    pen.part("coupling", 1, (0, 3), (2, 3))
    pen.dot((2, 3))
    pen.hang("bias_gate" if field_effect else "bias_lower", None, (2, 3))
    pen.wire((2, 3), (4.4, 3.0))
    one, two = pen.transistor(1, (4.4, 3.0))
    pen.wire(one, (one[0], SUPPLY_AT))
    low = (two[0], 1.6)
    pen.wire(two, low)
    pen.dot(low)
    pen.hang("source" if field_effect else "emitter", None if field_effect else 1, low)
    pen.part("coupling", 2, low, (low[0] + 2.4, low[1]))
    pen.end((low[0] + 2.4, low[1]), "out", "right")
    if not field_effect:
        pen.part("bias_upper", None, (2, 3), (2, SUPPLY_AT))
    pen.supply(one[0] - 2.0 if field_effect else 2.0, one[0])


_LAYOUTS = {
    "feedback": _feedback,
    "feedback_transformer": _feedback,
    "three_transistors": _three,
    "common_source": _feedback,
    "common_gate": _common_gate,
    "emitter_follower": _follower,
    "source_follower": _follower,
}
