"""Schematics of power amplifiers as SVG, with the values as fitted."""

from functools import lru_cache

from app.sheet.amplifier_schematic import Pen, Point, paper
from app.sheet.schematic import plain_text
from core.model.values.parts import Role
from core.stages.power_amplifier.design import PowerDesign

#: The halves of a push-pull stage stand one below the other.
_HALF_HEIGHT, _SUPPLY, _GROUND = 14.0, 7.0, -1.4
#: Where the gate's wire begins and the gate is.
_GATE, _TRANSISTOR = 5.0, 8.0


@lru_cache(maxsize=16)
def power_svg(
    design: PowerDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of a power amplifier; `ink` draws wires, `soft` writes values. Ends of one name are joined."""
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    halves = design.stage.sides
    for n in range(halves):
        pen = Pen(drawing, rows, soft, design.transistor.kind, rise=-_HALF_HEIGHT * n)
        _half(pen, design, n + 1)
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _half(pen: Pen, design: PowerDesign, which: int) -> None:
    pair = design.stage.sides == 2
    _input(pen, which, pair)
    pen.part("coupling", which, (3.0, 3.0), (_GATE, 3.0))
    gate: Point = (_GATE, 3.0)
    pen.dot(gate)
    pen.wire(gate, (_TRANSISTOR, 3.0))
    if which == 1:
        _bias(pen, design)
    if ("swamping_block", which) in pen.rows:
        pen.part("swamping", which, gate, (_GATE, 1.2))
        pen.part("swamping_block", which, (_GATE, 1.2), (_GATE, _GROUND))
        pen.ground((_GATE, _GROUND))
        pen.part("bias_choke", which, (6.6, 3.0), (6.6, 1.2))
        pen.dot((6.6, 3.0))
        pen.end((6.6, 1.2), "bias", "left")
    else:
        pen.part("swamping", which, gate, (_GATE, 1.2))
        pen.end((_GATE, 1.2), "bias", "left")
    drain, source = pen.transistor(which, (_TRANSISTOR, 3.0))
    _source(pen, which, source)
    top: Point = (drain[0], 5.0)
    pen.wire(drain, top)
    pen.dot(top)
    if ("feedback", which) in pen.rows:
        pen.wire(gate, (_GATE, 5.0))
        pen.part("feedback", which, (_GATE, 5.0), (_GATE + 1.6, 5.0))
        pen.part("feedback_block", which, (_GATE + 1.6, 5.0), (_GATE + 3.2, 5.0))
        pen.wire((_GATE + 3.2, 5.0), top)
    pen.part("choke", which, top, (top[0], _SUPPLY))
    pen.end((top[0], _SUPPLY), "supply", "left")
    if which == 1:
        pen.wire((top[0], _SUPPLY), (top[0] + 4.0, _SUPPLY))
        pen.part("decoupling", None, (top[0] + 4.0, _SUPPLY), (top[0] + 4.0, _SUPPLY - 1.5))
        pen.ground((top[0] + 4.0, _SUPPLY - 1.5))
    if design.stage.topology == "parallel":
        _second(pen, top)
        top = (top[0] + 4.4, 5.0)
    _output(pen, which, top, pair)


def _input(pen: Pen, which: int, pair: bool) -> None:
    if pair and which == 2:
        pen.wire((2.2, 3.0), (3.0, 3.0))
        pen.end((2.2, 3.0), "b", "left")
        return
    pen.end((0.0, 3.0), "in", "left")
    if ("input_transformer", None) not in pen.rows:
        pen.wire((0.0, 3.0), (3.0, 3.0))
        return
    foot = 1.2
    hot = _transformer(pen, "input_transformer", (1.0, 3.0), (1.0, foot))
    pen.wire((0.0, 3.0), (1.0, 3.0))
    pen.ground((1.0, foot))
    pen.wire(hot, (3.0, 3.0))
    cold: Point = (hot[0], foot)
    if pair:
        pen.end(cold, "b", "right")
    else:
        pen.ground(cold)


def _transformer(pen: Pen, role: Role, top: Point, foot: Point) -> Point:
    """Two windings side by side, the first between two points; gives the second one's upper end."""
    row = pen.row(role)
    x = top[0] + 1.0
    pen.coil(top, foot, f"{row.ref}\n{row.type}")
    pen.coil((x, foot[1]), (x, top[1]), "")
    return (x, top[1])


def _source(pen: Pen, which: int, source: Point) -> None:
    if ("degeneration", which) in pen.rows:
        pen.hang("degeneration", which, source, 0.4)
    else:
        pen.ground(source)


def _second(pen: Pen, top: Point) -> None:
    """The second transistor of a parallel pair, its gate and drain joined to the first one's."""
    x = _TRANSISTOR + 4.4
    pen.wire((7.2, 3.0), (7.2, 4.1), (x - 0.6, 4.1), (x - 0.6, 3.0), (x, 3.0))
    drain, source = pen.transistor(2, (x, 3.0))
    pen.wire(drain, (drain[0], 5.0), top)
    _source(pen, 2, source)


def _bias(pen: Pen, design: PowerDesign) -> None:
    """The divider from the regulator, below the input."""
    y, rows = -3.4, pen.rows
    pen.end((-1.0, y), "regulator", "left")
    pen.part("bias_upper", None, (-1.0, y), (1.0, y))
    x = 1.0
    if ("bias_trimmer", None) in rows:
        pen.part("bias_trimmer", None, (1.0, y), (3.0, y))
        x = 3.0
    pen.wire((x, y), (x + 4.6, y))
    pen.end((x + 4.6, y), "bias", "right")
    pen.dot((x + 0.6, y))
    low: Point = (x + 0.6, y - 2.0)
    if design.trackers:
        pen.part("bias_lower", None, (x + 0.6, y), low)
        names = ", ".join(row.ref for row in design.parts if row.role == "tracker")
        pen.diode(low, (low[0], low[1] - 1.2), f"{names}\nas diodes\non the sink")
        pen.ground((low[0], low[1] - 1.2))
    else:
        pen.hang("bias_lower", None, (x + 0.6, y), low[1])
    if ("thermistor", None) in rows:
        pen.dot((x + 2.2, y))
        pen.hang("thermistor", None, (x + 2.2, y), low[1])
    pen.dot((x + 3.8, y))
    pen.hang("bypass", None, (x + 3.8, y), low[1])


def _output(pen: Pen, which: int, top: Point, pair: bool) -> None:
    if pair and which == 2:
        pen.wire(top, (top[0] + 2.0, 5.0))
        pen.end((top[0] + 2.0, 5.0), "c", "right")
        return
    pen.part("coupling", 3 if pair else 2, (top[0], 5.0), (top[0] + 2.6, 5.0))
    at: Point = (top[0] + 2.6, 5.0)
    if ("output_transformer", None) in pen.rows:
        foot = 3.2
        hot = _transformer(pen, "output_transformer", (at[0] + 0.6, 5.0), (at[0] + 0.6, foot))
        pen.wire(at, (at[0] + 0.6, 5.0))
        if pair:
            pen.end((at[0] + 0.6, foot), "c", "left")
        else:
            pen.ground((at[0] + 0.6, foot))
        pen.ground((hot[0], foot))
        pen.wire(hot, (hot[0] + 1.4, 5.0))
        pen.end((hot[0] + 1.4, 5.0), "out", "right")
        return
    pen.dot(at)
    if ("match_capacitor", 1) in pen.rows:
        pen.hang("match_capacitor", 1, at, 3.0)
    pen.part("match_coil", None, at, (at[0] + 2.6, 5.0))
    end: Point = (at[0] + 2.6, 5.0)
    if ("match_capacitor", 2) in pen.rows:
        pen.dot(end)
        pen.hang("match_capacitor", 2, end, 3.0)
    pen.wire(end, (end[0] + 1.6, 5.0))
    pen.end((end[0] + 1.6, 5.0), "out", "right")
