"""Schematics of audio stages as SVG, with the values as fitted."""

from functools import lru_cache

import schemdraw.elements as elm

from app.sheet.amplifier_schematic import GROUND_AT, SUPPLY_AT, Pen, Point, paper
from app.sheet.schematic import plain_text
from core.stages.audio.design import AudioDesign
from core.stages.audio.volume import VolumeDesign

#: The supply's line where two parts lie above a chip.
_HIGH_AT = 8.6


@lru_cache(maxsize=16)
def audio_svg(
    design: AudioDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of an audio amplifier; `ink` draws wires, `soft` writes values."""
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    kind = "bipolar" if design.transistor is None else design.transistor.kind
    _LAYOUTS[design.board](Pen(drawing, rows, soft, kind))
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


@lru_cache(maxsize=16)
def volume_svg(
    design: VolumeDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of a volume control."""
    drawing = paper(ink, font_size)
    pen = Pen(drawing, {(row.role, row.which): row for row in design.parts}, soft)
    top: Point = (2.0, 3.0)
    pen.end((0, 3), "in", "left")
    pen.wire((0, 3), top)
    pen.hang("potentiometer", None, top, 0.0)
    drawing.add(elm.Line(arrow="<-").at((2.3, 1.5)).to((4.4, 1.5)))
    pen.end((4.4, 1.5), "out", "right")
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _fed(pen: Pen, left: float, right: float, height: float = SUPPLY_AT) -> None:
    """The filtered supply's line above all, with its resistor and capacitor at the right."""
    fed = (right, height)
    pen.wire((left, height), fed)
    pen.part("feed", None, fed, (right + 2.4, height))
    pen.end((right + 2.4, height), "supply", "right")
    pen.dot(fed)
    pen.hang("feed_bypass", None, fed, height - 2.2)


def _entered(pen: Pen, height: float = SUPPLY_AT) -> Point:
    """The input with what is soldered across it, and its coupling capacitor; gives the node behind it."""
    pen.end((-1.6, 3), "in", "left")
    pen.wire((-1.6, 3), (1.0, 3))
    if pen.has("electret"):
        pen.dot((-0.6, 3))
        pen.part("electret", None, (-0.6, 3), (-0.6, height))
    if pen.has("input_load"):
        pen.dot((0.4, 3))
        pen.hang("input_load", None, (0.4, 3))
    pen.part("coupling", 1, (1.0, 3), (3.0, 3))
    return 3.0, 3.0


def _left(pen: Pen, least: float) -> float:
    return -0.6 if pen.has("electret") else least


def _single(pen: Pen) -> None:
    node = _entered(pen)
    pen.dot(node)
    if pen.has("bias_gate"):
        pen.hang("bias_gate", None, node)
    else:
        pen.hang("bias_lower", None, node)
        pen.part("bias_upper", None, node, (node[0], SUPPLY_AT))
    base: Point = (6.0, 3.0)
    pen.wire(node, base)
    top, low = pen.transistor(1, base)
    pen.part("degeneration", None, low, (low[0], 0.9))
    foot = (low[0], 0.9)
    pen.dot(foot)
    if pen.has("source"):
        pen.hang("source", None, foot)
    else:
        pen.hang("emitter", 1, foot)
    pen.wire(foot, (foot[0] + 1.9, foot[1]))
    pen.hang("bypass", None, (foot[0] + 1.9, foot[1]))
    out = (top[0], 4.6)
    pen.wire(top, out)
    pen.dot(out)
    pen.part("load", None, out, (out[0], SUPPLY_AT))
    far = _cut(pen, out, 2.6)
    pen.part("coupling", 2, far, (far[0] + 2.2, far[1]))
    pen.end((far[0] + 2.2, far[1]), "out", "right")
    _fed(pen, _left(pen, node[0] if not pen.has("bias_gate") else out[0]), out[0] + 6.6)


def _cut(pen: Pen, at: Point, along: float) -> Point:
    """The capacitor that ends the gain, some way along; gives where the wire goes on."""
    far = (at[0] + along, at[1])
    pen.wire(at, far)
    if pen.has("high_cut"):
        pen.dot(far)
        pen.hang("high_cut", None, far, at[1] - 2.2)
    return far


def _pair(pen: Pen) -> None:
    node = _entered(pen)
    base: Point = (5.4, 3.0)
    pen.wire(node, base)
    pen.dot((4.2, 3))
    top, low = pen.transistor(1, base)
    pen.hang("degeneration", None, low)
    out = (top[0], 4.6)
    pen.wire(top, out)
    pen.dot(out)
    pen.part("load", None, out, (out[0], SUPPLY_AT))
    far = _cut(pen, out, 2.0)
    second = (far[0] + 2.0, far[1])
    pen.wire(far, second)
    one, two = pen.transistor(2, second)
    pen.wire(one, (one[0], SUPPLY_AT))
    upper = (two[0], 3.3)
    pen.wire(two, upper)
    pen.dot(upper)
    middle = (upper[0], 1.2)
    pen.part("emitter", 1, upper, middle)
    pen.dot(middle)
    pen.hang("emitter", 2, middle)
    pen.wire(middle, (middle[0] + 1.9, middle[1]))
    pen.hang("bypass", None, (middle[0] + 1.9, middle[1]))
    # From the second transistor's foot back to the first one's base, below both.
    pen.wire((4.2, 3), (4.2, -2.6), (6.0, -2.6))
    pen.part("feedback", None, (6.0, -2.6), (8.2, -2.6))
    pen.wire((8.2, -2.6), (middle[0] - 1.0, -2.6), (middle[0] - 1.0, middle[1]), middle)
    pen.part("coupling", 2, upper, (upper[0] + 2.4, upper[1]))
    pen.end((upper[0] + 2.4, upper[1]), "out", "right")
    _fed(pen, _left(pen, out[0]), one[0] + 2.4)


def _amplifier(pen: Pen, at: Point) -> tuple[Point, Point, Point]:
    """A chip's triangle with its plus input at a point; gives its minus input, output and top."""
    row = pen.row("chip")
    made = pen.drawing.add(elm.Opamp().theta(0).at(at).anchor("in2"))
    beside = (float(made.vs[0]) + 1.1, float(made.vs[1]) - 0.6)
    name = elm.Label().theta(0).at(beside).label(f"{row.ref}\n{row.note}", color=pen.soft)
    pen.drawing.add(name)
    points = (made.in1, made.out, made.vd)
    one, two, three = ((float(each[0]), float(each[1])) for each in points)
    return one, two, three


def _operational(pen: Pen) -> None:
    node = _entered(pen, _HIGH_AT)
    pen.dot(node)
    middle = (3.0, 0.4)
    pen.part("bias_gate", None, node, middle)
    pen.dot(middle)
    pen.hang("bias_bypass", None, middle)
    pen.wire((1.4, 0.4), middle)
    pen.dot((1.4, 0.4))
    pen.hang("bias_lower", None, (1.4, 0.4))
    pen.wire((1.4, 0.4), (-0.8, 0.4))
    pen.part("bias_upper", None, (-0.8, 0.4), (-0.8, -1.4))
    pen.end((-0.8, -1.4), "behind RV", "left")
    minus, out, top = _amplifier(pen, (8.0, 3.0))
    pen.wire(node, (8.0, 3.0))
    pen.wire(top, (top[0], top[1] + 0.4))
    pen.end((top[0], top[1] + 0.4), "behind RV", "right")
    corner = (5.4, minus[1])
    pen.wire(minus, corner)
    pen.dot(corner)
    pen.wire(corner, (5.4, 2.4))
    pen.part("gain_resistor", None, (5.4, 2.4), (5.4, 0.6))
    pen.hang("gain_block", None, (5.4, 0.6))
    pen.wire(corner, (5.4, 5.6))
    pen.part("feedback", None, (5.4, 5.6), (out[0] + 0.6, 5.6))
    pen.wire((out[0] + 0.6, 5.6), (out[0] + 0.6, out[1]), out)
    pen.dot((out[0] + 0.6, out[1]))
    if pen.has("high_cut"):
        pen.dot((5.4, 5.6))
        pen.dot((out[0] + 0.6, 5.6))
        pen.wire((5.4, 5.6), (5.4, 7.0))
        pen.part("high_cut", None, (5.4, 7.0), (out[0] + 0.6, 7.0))
        pen.wire((out[0] + 0.6, 7.0), (out[0] + 0.6, 5.6))
    end = (out[0] + 0.6, out[1])
    pen.part("output_resistor", None, end, (end[0] + 2.2, end[1]))
    pen.part("coupling", 2, (end[0] + 2.2, end[1]), (end[0] + 4.4, end[1]))
    pen.end((end[0] + 4.4, end[1]), "out", "right")
    _fed(pen, _left(pen, top[0]), end[0] + 2.0, _HIGH_AT)


def _output(pen: Pen, at: Point) -> None:
    """What stands at a power stage's output: against oscillation, the capacitor, and the load."""
    near = (at[0] + 2.0, at[1])
    pen.wire(at, near)
    pen.dot(near)
    pen.part("damping_resistor", None, near, (near[0], near[1] - 2.0))
    pen.hang("damping_capacitor", None, (near[0], near[1] - 2.0), near[1] - 4.0)
    far = (near[0] + 2.6, near[1])
    pen.part("coupling", 2, near, far)
    if pen.has("output_resistor"):
        pen.part("output_resistor", None, far, (far[0] + 2.2, far[1]))
        far = (far[0] + 2.2, far[1])
    pen.end(far, "out", "right")


def _chip(pen: Pen) -> None:
    pen.end((0.6, 3), "in", "left")
    pen.part("coupling", 1, (0.6, 3), (3.0, 3))
    pen.wire((3.0, 3), (4.6, 3))
    minus, out, top = _amplifier(pen, (4.6, 3.0))
    pen.wire(minus, (minus[0] - 0.6, minus[1]))
    pen.ground((minus[0] - 0.6, minus[1]))
    pen.wire(top, (top[0], SUPPLY_AT))
    pen.end((top[0], SUPPLY_AT), "supply", "left")
    pen.wire((top[0], SUPPLY_AT), (top[0] + 2.4, SUPPLY_AT))
    pen.hang("feed_bypass", None, (top[0] + 2.4, SUPPLY_AT), SUPPLY_AT - 2.0)
    x, y = top[0] - 0.5, 0.2
    if pen.has("gain_block"):
        pen.end((x - 3.2, y), "gain pin", "left")
        start: Point = (x - 3.2, y)
        if pen.has("gain_resistor"):
            pen.part("gain_resistor", None, start, (x - 1.2, y))
            start = (x - 1.2, y)
        pen.part("gain_block", None, start, (start[0] + 2.0, y))
        pen.end((start[0] + 2.0, y), "gain pin", "right")
    pen.end((x - 3.2, -1.8), "bypass pin", "left")
    pen.wire((x - 3.2, -1.8), (x - 2.2, -1.8))
    pen.hang("bias_bypass", None, (x - 2.2, -1.8), -3.4)
    _output(pen, out)


def _complementary(pen: Pen) -> None:
    pen.end((-2.4, 1), "in", "left")
    pen.part("input_resistor", None, (-2.4, 1), (-0.2, 1))
    pen.part("coupling", 1, (-0.2, 1), (1.8, 1))
    node: Point = (1.8, 1.0)
    pen.dot(node)
    pen.hang("bias_lower", None, node, -1.4)
    base: Point = (4.4, 1.0)
    pen.wire(node, base)
    collector, emitter = pen.transistor(1, base)
    pen.wire(emitter, (emitter[0], GROUND_AT))
    pen.ground((emitter[0], GROUND_AT))
    x = collector[0]
    lower, upper = (x, 2.6), (x, 7.2)
    pen.wire(collector, lower)
    pen.dot(lower)
    # The two transistors that serve as diodes, base tied to collector.
    for which, foot in ((4, 2.6), (5, 4.9)):
        row = pen.row("transistor", which)
        diode = elm.Diode().at((x, foot + 2.3)).to((x, foot))
        pen.drawing.add(diode.label(f"{row.ref} as diode\n{row.note}", loc="bot", color=pen.soft))
    pen.dot(upper)
    lifted = (x, 9.4)
    pen.part("load", 1, upper, lifted)
    pen.dot(lifted)
    pen.part("load", 2, lifted, (x, 11.6))
    second, third = (x + 3.6, 7.2), (x + 3.6, 2.6)
    pen.wire(upper, second)
    one, two = pen.transistor(2, second)
    pen.wire(one, (one[0], 11.6))
    pen.wire(lower, third)
    ends = pen.transistor(3, third, pnp=True)
    bottom, top = min(ends, key=lambda each: each[1]), max(ends, key=lambda each: each[1])
    middle = (two[0], 4.9)
    pen.part("emitter", 1, two, middle)
    pen.part("emitter", 2, middle, top)
    pen.wire(bottom, (bottom[0], GROUND_AT))
    pen.ground((bottom[0], GROUND_AT))
    pen.dot(middle)
    pen.part("bootstrap", None, lifted, (x + 2.4, 9.4))
    pen.wire((x + 2.4, 9.4), (x + 2.4, 4.9), middle)
    # Feedback from the middle to the driver's base, and what ends the gain.
    pen.part("feedback", None, (1.8, 1), (1.8, 3.6))
    pen.end((1.8, 3.6), "to the middle", "top")
    pen.end(middle, "middle", "left")
    if pen.has("high_cut"):
        pen.dot((3.4, 1))
        pen.wire((3.4, 1), (3.4, 2.6))
        pen.part("high_cut", None, (3.4, 2.6), lower)
    pen.wire((x - 1.0, 11.6), (one[0] + 1.8, 11.6))
    pen.end((x - 1.0, 11.6), "supply", "left")
    pen.hang("feed_bypass", None, (one[0] + 1.8, 11.6), 9.4)
    _output(pen, middle)


_LAYOUTS = {
    "single": _single,
    "single_jfet": _single,
    "pair": _pair,
    "operational": _operational,
    "chip": _chip,
    "complementary": _complementary,
}
