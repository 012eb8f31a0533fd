"""Sketches of mixers of which the type alone is known, as SVG: how diodes, transformers or transistors are
joined, and where the ports are.
"""

from functools import lru_cache
from itertools import pairwise

import schemdraw
import schemdraw.elements as elm

from app.sheet.sketches.svg_text import plain_text
from core.model.stages.mixers import Mixer

Point = tuple[float, float]
#: Ports of a mixer by its place: what comes in at the winding, and what leaves at its centre tap.
_PORTS = {"vfo": ("RF", "IF", "VFO"), "carrier": ("IF", "audio", "carrier")}


def mixer_svg(mixer: Mixer, ink: str, soft: str, font_size: float = 11.0) -> str:
    """SVG text of a mixer; `ink` draws wires, `soft` writes references."""
    return _drawn(mixer.type, mixer.oscillator, ink, soft, font_size)


@lru_cache(maxsize=16)
def _drawn(kind: str, oscillator: str, ink: str, soft: str, size: float) -> str:
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    pen = _Pen(drawing, soft)
    if kind == "transistor_array":
        _array(pen, _PORTS[oscillator])
    elif kind == "ring":
        _ring(pen, _PORTS[oscillator])
    else:
        _two_diodes(pen, _PORTS[oscillator])
    return plain_text(drawing.get_imagedata("svg").decode(), size)


class _Pen:
    def __init__(self, drawing: schemdraw.Drawing, soft: str) -> None:
        self.drawing, self.soft = drawing, soft

    def wire(self, *points: Point) -> None:
        for a, b in pairwise(points):
            self.drawing.add(elm.Line().at(a).to(b))

    def dot(self, at: Point) -> None:
        self.drawing.add(elm.Dot().at(at))

    def ground(self, at: Point) -> None:
        self.drawing.add(elm.GroundSignal().at(at))

    def port(self, at: Point, name: str, loc: str) -> None:
        self.drawing.add(elm.Dot(open=True).at(at).label(name, loc=loc))

    def part(self, element: elm.Element2Term, a: Point, b: Point, label: str = "", loc: str = "top") -> None:
        made = element.at(a).to(b)
        self.drawing.add(made.label(label, loc=loc, color=self.soft) if label else made)

    def transformer(self, x: float, ref: str, *, port_left: bool) -> tuple[Point, Point, Point]:
        """A trifilar transformer around a height of 0: gives the ends and the tap of the tapped winding."""
        single, tapped = (x, x + 1.0) if port_left else (x + 1.0, x)
        self.part(elm.Inductor2(loops=3), (single, 1.2), (single, -1.2))
        self.part(elm.Inductor2(loops=2), (tapped, 2.0), (tapped, 0))
        self.part(elm.Inductor2(loops=2), (tapped, 0), (tapped, -2.0))
        for side in (-0.07, 0.07):
            self.wire((x + 0.5 + side, 1.9), (x + 0.5 + side, -1.9))
        self.drawing.add(elm.Label().at((x + 0.5, 2.35)).label(ref, color=self.soft))
        out = -0.9 if port_left else 0.9
        self.wire((single, 1.2), (single + out, 1.2))
        self.wire((single, -1.2), (single + out, -1.2))
        self.ground((single + out, -1.2))
        self.dot((tapped, 0))
        return (tapped, 2.0), (tapped, 0.0), (tapped, -2.0)


def _ring(pen: _Pen, ports: tuple[str, str, str]) -> None:
    signal, converted, oscillator = ports
    top, tap, bottom = pen.transformer(0.0, "T1", port_left=True)
    pen.port((-0.9, 1.2), signal, "left")
    right_top, right_tap, right_bottom = pen.transformer(8.2, "T2", port_left=False)
    pen.port((10.1, 1.2), oscillator, "right")
    up, right, down, left = (5.0, 2.0), (6.8, 0.0), (5.0, -2.0), (3.2, 0.0)
    for n, (a, b) in enumerate(((up, right), (right, down), (down, left), (left, up)), 1):
        pen.part(elm.Diode(), a, b, f"D{n}")
    for corner in (up, right, down, left):
        pen.dot(corner)
    pen.wire(top, up)
    pen.wire(bottom, down)
    pen.wire(right, (7.4, 0.0), (7.4, 2.0), right_top)
    pen.wire(left, (2.6, 0.0), (2.6, -3.1), (7.4, -3.1), (7.4, -2.0), right_bottom)
    # The converted signal leaves at the signal winding's tap, the oscillator's is grounded.
    pen.wire(tap, (1.8, 0.0), (1.8, -3.1), (-0.9, -3.1))
    pen.port((-0.9, -3.1), converted, "left")
    pen.wire(right_tap, (right_tap[0] - 0.5, 0.0))
    pen.ground((right_tap[0] - 0.5, 0.0))


def _two_diodes(pen: _Pen, ports: tuple[str, str, str]) -> None:
    signal, converted, oscillator = ports
    top, tap, bottom = pen.transformer(0.0, "T1", port_left=True)
    pen.port((-0.9, 1.2), signal, "left")
    joint = (4.6, 0.0)
    pen.wire(top, (2.2, 2.0))
    pen.wire(bottom, (2.2, -2.0))
    pen.part(elm.Diode(), (2.2, 2.0), (4.2, 2.0), "D1")
    pen.part(elm.Diode(), (4.2, -2.0), (2.2, -2.0), "D2")
    pen.wire((4.2, 2.0), (4.6, 2.0), (4.6, -2.0), (4.2, -2.0))
    pen.dot(joint)
    pen.wire(joint, (5.2, 0.0))
    pen.wire((5.2, 0.0), (6.4, 0.0))
    pen.port((6.4, 0.0), oscillator, "right")
    pen.wire(tap, (1.8, 0.0), (1.8, -3.0), (-0.9, -3.0))
    pen.port((-0.9, -3.0), converted, "left")


def _array(pen: _Pen, ports: tuple[str, str, str]) -> None:
    signal, converted, oscillator = ports
    for n, x in enumerate((0.0, 4.6)):
        low = pen.drawing.add(elm.BjtNpn().theta(0).at((x, 0)).anchor("base").label(f"Q{n + 1}", "right"))
        foot = (float(low.emitter[0]), float(low.emitter[1]))
        pen.part(elm.ResistorIEC(), foot, (foot[0], foot[1] - 1.5))
        head = (float(low.collector[0]), float(low.collector[1]))
        for m, offset in enumerate((-1.2, 1.2)):
            up = pen.drawing.add(
                elm.BjtNpn()
                .theta(0)
                .at((head[0] + offset - 0.75, 2.6))
                .anchor("base")
                .label(f"Q{3 + 2 * n + m}", "right")
            )
            base = (float(up.base[0]), float(up.base[1]))
            name = oscillator if (n, m) in ((0, 0), (1, 1)) else f"{oscillator} −"
            pen.port((base[0] - 0.1, base[1]), name, "left")
            pen.wire(
                (float(up.emitter[0]), float(up.emitter[1])), (float(up.emitter[0]), 1.4), (head[0], 1.4)
            )
            pen.wire(
                (float(up.collector[0]), float(up.collector[1])),
                (float(up.collector[0]), 4.0 if m == n else 4.7),
            )
        pen.wire(head, (head[0], 1.4))
        pen.dot((head[0], 1.4))
    feet = [(0.75, -2.2), (5.35, -2.2)]
    pen.drawing.add(elm.Label().at((3.0, -3.2)).label("tail", color=pen.soft))
    pen.wire(feet[0], feet[1])
    pen.port((-0.1, 0.0), signal, "left")
    pen.port((4.5, 0.0), f"{signal} −", "left")
    pen.drawing.add(elm.Label().at((3.0, 5.4)).label(f"{converted} between the collectors"))
