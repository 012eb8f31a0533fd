"""Schematics of mixers of parts as SVG, with the values as fitted."""

from functools import lru_cache

import schemdraw.elements as elm

from app.sheet.amplifier_schematic import Pen, Point, paper
from app.sheet.schematic import plain_text
from core.model.values.notation import format_value
from core.model.values.parts import Which
from core.stages.mixers.design import MixerDesign

#: Ports of a mixer by what drives it: at the winding, at the winding's tap, the oscillator's.
_PORTS = {"vfo": ("RF", "IF", "VFO"), "carrier": ("IF", "audio", "carrier")}


@lru_cache(maxsize=16)
def mixer_design_svg(
    design: MixerDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of a mixer of parts; `ink` draws wires, `soft` writes values."""
    drawing = paper(ink, font_size)
    pen = _Pen(drawing, {(row.role, row.which): row for row in design.parts}, soft)
    _LAYOUTS[design.type](pen, _PORTS[design.oscillator], design)
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


class _Pen(Pen):
    """Draws what only mixers have."""

    def trifilar(
        self, which: Which, x: float, note: str, *, port_left: bool, y: float = 0.0
    ) -> tuple[Point, Point, Point]:
        """A transformer around a height, its port's foot at ground: gives the ends of the tapped winding and
        its tap. Dots are where windings begin.
        """
        single, tapped = (x, x + 1.0) if port_left else (x + 1.0, x)
        row = self.row("transformer", which)
        for at, top, bottom in ((single, 1.2, -1.2), (tapped, 2.0, 0.0), (tapped, 0.0, -2.0)):
            self.drawing.add(elm.Inductor2(loops=2).at((at, y + top)).to((at, y + bottom)))
            self.drawing.add(elm.Dot(radius=0.06).at((at + (0.25 if at == x else -0.25), y + top - 0.15)))
        for side in (-0.07, 0.07):
            self.wire((x + 0.5 + side, y + 1.9), (x + 0.5 + side, y - 1.9))
        # Clear of the wire that goes up from the tapped winding.
        self.told((x - 0.2 if port_left else x + 1.2, y + 2.35), f"{row.ref}\n{note}")
        out = -0.9 if port_left else 0.9
        self.wire((single, y + 1.2), (single + out, y + 1.2))
        self.wire((single, y - 1.2), (single + out, y - 1.2))
        self.ground((single + out, y - 1.2))
        self.dot((tapped, y))
        return (tapped, y + 2.0), (tapped, y), (tapped, y - 2.0)

    def rectifier(self, which: int, anode: Point, cathode: Point) -> None:
        """A diode between two points."""
        made = elm.Diode().at(anode).to(cathode)
        self.drawing.add(made.label(self.row("diode", which).ref, loc="top", color=self.soft))

    def balance(self, a: Point, b: Point, words_at: Point) -> Point:
        """The balance's potentiometer between two points; gives its wiper."""
        row = self.row("potentiometer")
        made = self.drawing.add(elm.Potentiometer().at(a).to(b))
        self.told(words_at, f"{row.ref}\n{format_value(row.fitted, 'Ω', 3)}")
        return float(made.tap[0]), float(made.tap[1])

    def trim(self, top: Point, foot: float) -> None:
        """The balance's trimmer from a point straight down to ground."""
        row, bottom = self.row("trimmer"), (top[0], foot)
        low, high = row.trimmer_f or (row.fitted, row.fitted)
        of = format_value(row.fitted, "F", 3) if row.as_built else f"{1e12 * low:g} to {1e12 * high:g} pF"
        made = elm.CapacitorTrim().at(top).to(bottom)
        self.drawing.add(made.label(f"{row.ref}\n{of}", loc="bot", color=self.soft))
        self.ground(bottom)

    def bare(self, which: int, at: Point) -> tuple[Point, Point]:
        """A transistor with its base at a point and its reference alone; gives collector and emitter."""
        made = elm.BjtNpn().theta(0).at(at).anchor("base")
        ref = self.row("transistor", which).ref
        made = self.drawing.add(made.label(ref, loc="right", color=self.soft))
        ends = made.collector, made.emitter
        one, two = ((float(each[0]), float(each[1])) for each in ends)
        return one, two

    def told(self, at: Point, text: str) -> None:
        """Words beside the drawing."""
        self.drawing.add(elm.Label().at(at).label(text, color=self.soft))


def _note(design: MixerDesign, which: int) -> str:
    made = design.transformers[which]
    return made.turns if made.wound is None else f"{made.turns} turns"


def _diodes(pen: _Pen, count: int) -> str:
    first, last = pen.row("diode", 1), pen.row("diode", count)
    return f"{first.ref} to {last.ref}: {first.type}"


def _ring(pen: _Pen, ports: tuple[str, str, str], design: MixerDesign) -> None:
    signal, converted, oscillator = ports
    top, tap, bottom = pen.trifilar(1, 0.0, _note(design, 1), port_left=True)
    pen.end((-0.9, 1.2), signal, "left")
    right_top, right_tap, right_bottom = pen.trifilar(2, 11.4, _note(design, 2), port_left=False)
    pen.end((13.3, 1.2), oscillator, "right")
    pen.wire(right_tap, (right_tap[0] - 0.6, 0.0))
    pen.ground((right_tap[0] - 0.6, 0.0))
    trimmed = pen.has("potentiometer")
    half = 1.1 if trimmed else 0.0
    s, r, middle = (4.8, 0.0), (9.6, 0.0), 7.2
    p1, p2, q3, q4 = (
        (middle + half, 2.4),
        (middle - half, 2.4),
        (middle - half, -2.4),
        (middle + half, -2.4),
    )
    for n, (anode, cathode) in enumerate(((r, p1), (p2, s), (s, q3), (q4, r)), 1):
        pen.rectifier(n, anode, cathode)
    for at in dict.fromkeys((s, r, p1, p2, q3, q4)):
        pen.dot(at)
    up, down = (middle, 2.4), (middle, -2.4)
    if trimmed:
        up = pen.balance(p2, p1, (middle, 1.2))
        pen.part("balance_resistor", 1, q3, (middle, -2.4))
        pen.part("balance_resistor", 2, (middle, -2.4), q4)
        pen.dot(down)
    pen.wire(top, (top[0], 3.7), (up[0], 3.7), up)
    pen.wire(bottom, (bottom[0], -3.4), (middle, -3.4), down)
    pen.wire(r, (10.4, 0.0), (10.4, 2.0), right_top)
    pen.wire(s, (4.2, 0.0), (4.2, -4.0), (10.4, -4.0), (10.4, -2.0), right_bottom)
    if pen.has("trimmer"):
        _capacitance(pen, (2.6, 3.7), (2.6, -3.4))
    pen.told((13.4, 3.4), _diodes(pen, 4))
    _output(pen, tap, -6.6 if pen.has("trimmer") else -5.6, converted)


def _two_diodes(pen: _Pen, ports: tuple[str, str, str], design: MixerDesign) -> None:
    signal, converted, oscillator = ports
    top, tap, bottom = pen.trifilar(1, 0.0, _note(design, 1), port_left=True)
    pen.end((-0.9, 1.2), signal, "left")
    one, two, joint = (7.0, 2.0), (7.0, -2.0), (7.0, 0.0)
    start = 4.4 if pen.has("trimmer") else 2.6
    pen.wire(top, (start, 2.0))
    pen.wire(bottom, (start, -2.0))
    pen.rectifier(1, one, (start, 2.0))
    pen.rectifier(2, (start, -2.0), two)
    if pen.has("potentiometer"):
        joint = pen.balance(one, two, (8.2, 0.4))
    else:
        pen.wire(one, two)
        pen.dot(joint)
    pen.wire(joint, (9.0, joint[1]))
    pen.end((9.0, joint[1]), oscillator, "right")
    if pen.has("trimmer"):
        pen.dot((2.8, 2.0))
        pen.dot((2.8, -2.0))
        pen.trim((2.8, 2.0), 0.2)
        pen.hang("balance_capacitor", None, (2.8, -2.0), -3.8)
    pen.told((8.6, 2.8), _diodes(pen, 2))
    _output(pen, tap, -5.4 if pen.has("trimmer") else -3.6, converted)


def _capacitance(pen: _Pen, upper: Point, lower: Point) -> None:
    """Trimmer and fixed capacitor from the winding's ends to ground."""
    pen.dot(upper)
    pen.dot(lower)
    pen.trim(upper, 1.7)
    pen.hang("balance_capacitor", None, lower, -5.4)


def _output(pen: _Pen, tap: Point, low: float, converted: str) -> None:
    """From the tap down to the converted signal's port, by way of what stands before audio."""
    x = tap[0] + 0.5
    if not pen.has("choke"):
        pen.wire(tap, (x, 0.0), (x, low), (-0.9, low))
        pen.end((-0.9, low), converted, "left")
        return
    at, behind = (x + 0.9, low), (x + 4.4, low)
    pen.wire(tap, (x, 0.0), (x, low), at)
    pen.dot(at)
    pen.part("termination", None, at, (at[0], low - 1.9))
    pen.hang("termination_block", None, (at[0], low - 1.9), low - 3.6)
    pen.part("choke", None, (at[0] + 0.8, low), behind)
    pen.wire(at, (at[0] + 0.8, low))
    pen.dot(behind)
    pen.hang("bypass", None, behind, low - 2.2)
    pen.part("coupling", None, behind, (behind[0] + 2.6, low))
    pen.end((behind[0] + 2.6, low), converted, "right")


#: Ports of a mixer of transistors by what drives it and whether it sends: in, out, the oscillator's.
_ONE_WAY = {
    ("vfo", False): ("in", "out", "VFO"),
    ("carrier", False): ("IF", "audio", "carrier"),
    ("carrier", True): ("audio", "IF", "carrier"),
}
_LOWER, _UPPER = (4.0, 9.6), 3.2


def _array(pen: _Pen, ports: tuple[str, str, str], design: MixerDesign) -> None:
    """Wires that would cross are cut: ends of one letter are the same node."""
    modulates = design.oscillator == "carrier" and 1 not in design.transformers
    into, out, oscillator = _ONE_WAY[design.oscillator, modulates]
    _input(pen, design, into)
    feet, heads = [], []
    for n, x in enumerate(_LOWER, 1):
        head, foot = pen.bare(n, (x, 0.0))
        feet.append(foot)
        heads.append(head)
    pen.end((_LOWER[1] - 0.4, 0.0), "c", "left")
    pen.wire((_LOWER[1] - 0.4, 0.0), (_LOWER[1], 0.0))
    _tail(pen, feet)
    lines = (5.6, 6.4)
    for pair, head in enumerate(heads):
        pen.wire(head, (head[0], _UPPER - 1.3))
        pen.dot((head[0], _UPPER - 1.3))
        for n, offset in enumerate((-1.3, 1.3)):
            which = 3 + 2 * pair + n
            at = (head[0] + offset - 0.75, _UPPER)
            top, low = pen.bare(which, at)
            pen.wire(low, (low[0], _UPPER - 1.3), (head[0], _UPPER - 1.3))
            pen.end((at[0] - 0.15, at[1]), "a" if n == pair else "b", "left")
            pen.wire((at[0] - 0.15, at[1]), at)
            line = lines[n]
            pen.wire(top, (top[0], line))
            pen.dot((top[0], line))
    left = heads[0][0] - 1.3
    for line, start in zip(lines, (left, heads[0][0] + 1.3), strict=True):
        pen.wire((start, line), (13.0, line))
    _taken(pen, design, lines, out)
    _bias(pen, 21.4, oscillator)
    first, last = pen.row("transistor", 1), pen.row("transistor", 6)
    pen.told((left + 1.0, 7.4), f"{first.ref} to {last.ref}: {first.type}")


def _input(pen: _Pen, design: MixerDesign, into: str) -> None:
    """What brings the signal between the lower bases."""
    if 1 in design.transformers:
        top, tap, bottom = pen.trifilar(1, -2.4, _note(design, 1), port_left=True)
        pen.end((-3.3, 1.2), into, "left")
        pen.wire(top, (0.6, top[1]), (0.6, 0.9))
        pen.part("input_load", 1, (0.6, 0.9), (0.6, -0.9))
        pen.wire((0.6, -0.9), (0.6, bottom[1]), bottom)
        pen.wire((0.6, top[1]), (2.2, top[1]), (2.2, 0.0), (_LOWER[0], 0.0))
        pen.dot((0.6, top[1]))
        pen.wire(tap, (-0.9, 0.0))
        pen.end((-0.9, 0.0), "v", "right")
        pen.wire((0.6, bottom[1]), (1.1, bottom[1]))
        pen.dot((0.6, bottom[1]))
        pen.end((1.1, bottom[1]), "c", "right")
        return
    pen.end((-1.4, 0.0), into, "left")
    pen.part("coupling", 2, (-1.4, 0.0), (1.0, 0.0))
    pen.wire((1.0, 0.0), (_LOWER[0], 0.0))
    pen.dot((1.0, 0.0))
    pen.part("input_load", 1, (1.0, 0.0), (1.0, 2.4))
    pen.end((1.0, 2.4), "v", "left")
    pen.end((-1.4, -2.2), "c", "left")
    pen.wire((-1.4, -2.2), (1.6, -2.2))
    pen.dot((-0.6, -2.2))
    pen.hang("bypass", 3, (-0.6, -2.2), -4.4)
    pen.part("input_load", 2, (1.6, -2.2), (1.6, -4.4))
    pen.end((1.6, -4.4), "v", "right")


def _tail(pen: _Pen, feet: list[Point]) -> None:
    """From the lower emitters to the tail's resistor."""
    low, middle = -2.6, ((feet[0][0] + feet[1][0]) / 2, -2.6)
    for n, foot in enumerate(feet, 1):
        if ("degeneration", n) in pen.rows:
            pen.part("degeneration", n, foot, (foot[0], low))
        else:
            pen.wire(foot, (foot[0], low))
    start = middle
    if pen.has("potentiometer"):
        start = pen.balance((feet[1][0], low), (feet[0][0], low), (middle[0], low + 0.5))
    else:
        pen.wire((feet[0][0], low), (feet[1][0], low))
        pen.dot(middle)
    pen.wire(start, (middle[0], low - 0.8))
    pen.hang("emitter", None, (middle[0], low - 0.8), low - 2.8)


def _taken(pen: _Pen, design: MixerDesign, lines: tuple[float, float], out: str) -> None:
    """What takes the converted signal from between the upper collectors."""
    lower, upper = lines
    if 2 in design.transformers:
        middle = (lower + upper) / 2
        top, tap, bottom = pen.trifilar(2, 17.4, _note(design, 2), port_left=False, y=middle)
        pen.wire((13.0, upper), (13.0, top[1]), top)
        pen.wire((13.0, lower), (13.0, bottom[1]), bottom)
        pen.wire((14.2, top[1]), (14.2, middle + 0.9))
        pen.part("load", None, (14.2, middle + 0.9), (14.2, middle - 0.9))
        pen.wire((14.2, middle - 0.9), (14.2, bottom[1]))
        pen.dot((14.2, top[1]))
        pen.dot((14.2, bottom[1]))
        pen.wire(tap, (16.8, middle))
        pen.end((16.8, middle), "supply", "top")
        pen.end((19.3, middle + 1.2), out, "right")
        return
    pen.part("collector", 2, (11.2, upper), (11.2, upper + 2.2))
    pen.dot((11.2, upper))
    pen.part("collector", 1, (13.0, lower), (13.0, upper + 2.2))
    pen.dot((13.0, lower))
    pen.wire((11.2, upper + 2.2), (13.0, upper + 2.2))
    pen.end((13.0, upper + 2.2), "supply", "right")
    pen.wire((13.0, lower), (15.8, lower))
    pen.wire((13.0, upper), (14.6, upper))
    pen.wire((14.6, upper), (14.6, lower + 0.8 + 1.4))
    pen.dot((15.8, lower))
    pen.wire((15.8, lower), (15.8, lower + 0.8 + 1.4))
    pen.part("high_cut", None, (14.6, upper + 1.4), (15.8, upper + 1.4))
    pen.part("coupling", 2, (15.8, lower), (18.0, lower))
    pen.end((18.0, lower), out, "right")


def _bias(pen: _Pen, x: float, oscillator: str) -> None:
    """The divider that feeds all bases, and the oscillator's port."""
    upper, lower, ground = (x, 3.4), (x, 0.0), -3.0
    pen.part("bias_upper", None, (x, 5.8), upper)
    pen.end((x, 5.8), "supply", "right")
    pen.part("bias_middle", None, upper, lower)
    pen.hang("bias_lower", None, lower, ground)
    for n, at in enumerate((upper, lower), 1):
        pen.dot(at)
        pen.wire(at, (x + 2.0, at[1]))
        pen.hang("bypass", n, (x + 2.0, at[1]), at[1] - 2.2)
    pen.end((x + 2.0, lower[1]), "v", "right")
    pen.end((x + 2.0, upper[1]), "b", "right")
    pen.part("oscillator_load", None, upper, (x - 2.8, upper[1]))
    pen.dot((x - 2.8, upper[1]))
    pen.end((x - 2.8, upper[1]), "a", "top")
    pen.part("coupling", 1, (x - 2.8, upper[1]), (x - 2.8, upper[1] - 2.4))
    pen.end((x - 2.8, upper[1] - 2.4), oscillator, "left")


_LAYOUTS = {"ring": _ring, "two_diode": _two_diodes, "transistor_array": _array}
