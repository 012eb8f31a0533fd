"""Schematics of crystal oscillators of parts as SVG, with the values as fitted."""

from functools import lru_cache

import schemdraw.elements as elm

from app.sheet.amplifier_schematic import SUPPLY_AT, Pen, Point, paper
from app.sheet.schematic import plain_text
from core.model.values.notation import format_value
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.crystal_oscillator.soldered import BUFFER, OSCILLATOR, device_of

#: How far apart the rows of coil and trimmer stand, and where the oscillator's base does.
_ROW, _BASE = 4.2, 3.0
#: Where the divider's capacitors meet.
_EMITTER = 1.6


@lru_cache(maxsize=16)
def crystal_oscillator_svg(
    design: CrystalOscillatorDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of a crystal oscillator with its buffer; `ink` draws wires, `soft` writes values."""
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    pen = Pen(drawing, rows, soft, device_of(design.asked).kind)
    base = _crystal(pen, design)
    _buffered(Pen(drawing, rows, soft), _oscillator(pen, base))
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _crystal(pen: Pen, design: CrystalOscillatorDesign) -> float:
    """The crystal with what is switched to it; gives how far right its base stands."""
    whiches = [place.which for place in design.asked.places]
    coils = any(("coil", which) in pen.rows for which in whiches)
    start = 3.4 + (2.6 if coils else 0.0)
    several = len(whiches) > 1
    for n, which in enumerate(whiches):
        y = _BASE - _ROW * n
        foot: Point = (0.6, y)
        _trimmer(pen, which, foot)
        here: Point = (2.8, y)
        pen.wire(foot, here)
        if ("coil", which) in pen.rows:
            far: Point = (here[0] + 2.6, y)
            pen.part("coil", which, here, far)
            if ("damping_resistor", which) in pen.rows:
                low = y - 1.9
                pen.wire(here, (here[0], low))
                pen.wire(far, (far[0], low))
                pen.part("damping_resistor", which, (here[0], low), (far[0], low))
            here = far
        pen.wire(here, (start, y))
        if several:
            pen.end((start, y), "", "right")
            pen.drawing.add(elm.Label().at((start + 0.2, y - 0.9)).label(f"{which} sideband", color=pen.soft))
    series: Point = (start, _BASE)
    if several:
        # A contact that is joined to the first of them.
        pen.drawing.add(elm.Line().at((start + 0.1, _BASE)).to((start + 1.4, _BASE)))
        pen.drawing.add(elm.Dot(open=True).at((start + 1.5, _BASE)))
        series = (start + 1.9, _BASE)
        pen.wire((start + 1.6, _BASE), series)
        by = design.asked.circuit.switched_by
        pen.drawing.add(elm.Label().at((start + 0.8, _BASE + 0.25)).label(by, color=pen.soft))
    row = pen.row("crystal", 1)
    behind: Point = (series[0] + 2.4, _BASE)
    label = f"{row.ref}\n{format_value(row.fitted, 'Hz', 8)}"
    pen.drawing.add(elm.Crystal().at(series).to(behind).label(label, loc="top", color=pen.soft))
    return behind[0]


def _trimmer(pen: Pen, which: str | None, at: Point) -> None:
    """A trimmer from a point to ground, with where it is set."""
    row = pen.row("trimmer", which)
    foot: Point = (at[0], at[1] - 1.7)
    label = f"{row.ref}\n{format_value(row.fitted, 'F', 3)}"
    pen.drawing.add(elm.CapacitorVar().at(at).to(foot).label(label, loc="bot", color=pen.soft))
    pen.ground(foot)


def _oscillator(pen: Pen, base: float) -> Point:
    """The oscillator to the right of its crystal; gives its emitter."""
    node: Point = (base + 0.4, _BASE)
    pen.wire((base, _BASE), node)
    pen.dot(node)
    jfet = pen.has("bias_gate")
    if jfet:
        pen.hang("bias_gate", None, node)
    else:
        pen.hang("bias_lower", OSCILLATOR, node)
        pen.part("bias_upper", OSCILLATOR, node, (node[0], SUPPLY_AT))
    divider: Point = (node[0] + 2.6, _BASE)
    pen.wire(node, divider)
    pen.dot(divider)
    middle: Point = (divider[0], _EMITTER - 0.4)
    pen.part("feedback_upper", None, divider, middle)
    pen.dot(middle)
    pen.hang("feedback_lower", None, middle)
    at: Point = (divider[0] + 2.2, _BASE)
    pen.wire(divider, at)
    top, low = pen.transistor(OSCILLATOR, at)
    emitter: Point = (low[0], middle[1])
    pen.wire(low, emitter)
    pen.wire(middle, emitter)
    pen.dot(emitter)
    if jfet:
        below: Point = (emitter[0], emitter[1] - 1.7)
        pen.part("choke", OSCILLATOR, emitter, below)
        pen.hang("bias_source", None, below, -2.6)
    else:
        pen.hang("bias_emitter", OSCILLATOR, emitter)
    # The filtered supply, with its resistor to the right.
    pen.wire(top, (top[0], SUPPLY_AT))
    pen.wire((top[0] if jfet else node[0], SUPPLY_AT), (top[0] + 1.4, SUPPLY_AT))
    fed: Point = (top[0] + 1.4, SUPPLY_AT)
    pen.dot(fed)
    pen.hang("decoupling", OSCILLATOR, fed, SUPPLY_AT - 2.2)
    pen.part("feed", None, fed, (fed[0] + 2.6, SUPPLY_AT))
    return emitter


def _buffered(pen: Pen, emitter: Point) -> None:
    """The buffer behind an emitter or source, to the output."""
    y = emitter[1]
    here: Point = (emitter[0] + 1.6, y)
    pen.wire(emitter, here)
    far: Point = (here[0] + 2.2, y)
    pen.part("coupling", OSCILLATOR, here, far)
    if pen.has("input_resistor"):
        more: Point = (far[0] + 2.4, y)
        pen.part("input_resistor", None, far, more)
        far = more
    node: Point = (far[0] + 0.6, y)
    pen.wire(far, node)
    pen.dot(node)
    pen.hang("bias_lower", BUFFER, node)
    pen.part("bias_upper", BUFFER, node, (node[0], SUPPLY_AT))
    at: Point = (node[0] + 2.4, y)
    pen.wire(node, at)
    top, low = pen.transistor(BUFFER, at)
    foot: Point = (low[0], y - 2.6)
    pen.part("degeneration", None, low, foot)
    pen.dot(foot)
    pen.hang("bias_emitter", BUFFER, foot, foot[1] - 2.0)
    beside: Point = (foot[0] + 2.2, foot[1])
    pen.wire(foot, beside)
    pen.hang("bypass", None, beside, foot[1] - 2.0)
    out: Point = (top[0], y + 1.8)
    pen.wire(top, out)
    pen.dot(out)
    pen.part("choke", BUFFER, out, (out[0], SUPPLY_AT))
    end: Point = (out[0] + 2.4, out[1])
    pen.part("coupling", BUFFER, out, end)
    pen.end(end, "out", "right")
    supply: Point = (out[0] + 1.8, SUPPLY_AT)
    pen.wire((emitter[0] + 4.0, SUPPLY_AT), supply)
    pen.dot(supply)
    pen.hang("decoupling", BUFFER, supply, SUPPLY_AT - 2.0)
    pen.wire(supply, (supply[0] + 1.4, SUPPLY_AT))
    pen.end((supply[0] + 1.4, SUPPLY_AT), "supply", "right")
