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

    def trifilar(self, which: Which, x: float, note: str, *, port_left: bool) -> tuple[Point, Point, Point]:
        """A trifilar transformer around a height of 0, its port's foot at ground: gives the ends of the
        tapped winding and its tap. Dots are where windings begin.
        """
        single, tapped = (x, x + 1.0) if port_left else (x + 1.0, x)
        row = self.row("transformer", which)
        for at, top, bottom in ((single, 1.2, -1.2), (tapped, 2.0, 0.0), (tapped, 0.0, -2.0)):
            self.drawing.add(elm.Inductor2(loops=2).at((at, top)).to((at, bottom)))
            self.drawing.add(elm.Dot(radius=0.06).at((at + (0.25 if at == x else -0.25), top - 0.15)))
        for side in (-0.07, 0.07):
            self.wire((x + 0.5 + side, 1.9), (x + 0.5 + side, -1.9))
        # Clear of the wire that goes up from the tapped winding.
        self.told((x - 0.2 if port_left else x + 1.2, 2.35), f"{row.ref}\n{note}")
        out = -0.9 if port_left else 0.9
        self.wire((single, 1.2), (single + out, 1.2))
        self.wire((single, -1.2), (single + out, -1.2))
        self.ground((single + out, -1.2))
        self.dot((tapped, 0.0))
        return (tapped, 2.0), (tapped, 0.0), (tapped, -2.0)

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

    def told(self, at: Point, text: str) -> None:
        """Words beside the drawing."""
        self.drawing.add(elm.Label().at(at).label(text, color=self.soft))


def _note(design: MixerDesign, which: int) -> str:
    wound = design.transformers[which].wound
    if wound is None:
        return f"3 × {format_value(design.transformers[which].henry, 'H', 2)}"
    return f"3 × {wound.turns} turns"


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
        up = pen.balance(p2, p1, (middle, 1.5))
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
    _output(pen, tap, -6.4 if pen.has("trimmer") else -5.0, converted)


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


_LAYOUTS = {"ring": _ring, "two_diode": _two_diodes}
