"""The VFO's schematic as SVG: tank, divider and device, with the values as fitted."""

from functools import lru_cache

import schemdraw
import schemdraw.elements as elm

from app.sheet.schematic import plain_text
from core.model.notation import format_value
from core.stages.oscillator import Operating, operating
from core.stages.tank import TankDesign

#: Between two parts that hang side by side, and how far they hang, in the drawing's units.
_STEP, _HANG = 2.1, 2.0
#: What grounds the drain for the signal; customary at HF.
DECOUPLING = "100 nF"


@lru_cache(maxsize=16)
def tank_svg(design: TankDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0) -> str:
    """SVG text of the VFO; `ink` draws wires, `soft` writes values. Switched parts have a switch.

    A parallel-tuned tank stands left of the coupling capacitor; in a series-tuned one the coil lies
    between tuning and gate.
    """
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    pen = _Pen(drawing, design, soft)
    tank = design.tank
    if tank.tuned == "parallel":
        pen.hang("L1", elm.Inductor2)
    across = [ref[2:] for ref in design.values if ref.startswith("CT") and ref != "CT"]
    for band in across:
        if f"CB{band}" in design.values:
            pen.hang(f"CB{band}", elm.Capacitor, switched=True)
        pen.hang(f"CT{band}", elm.CapacitorTrim, switched=True)
    for ref in ("CP", "CK", "CD"):
        if ref in design.values:
            pen.hang(ref, elm.Capacitor)
    pen.hang("CT", elm.CapacitorTrim)
    pen.branch([ref for ref in design.values if ref.startswith("CB") and ref[2:] not in across])
    if tank.tuned == "parallel":
        pen.along("CC", elm.Capacitor)
    else:
        pen.along("L1", elm.Inductor2)
    pen.device()
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


class _Pen:
    """Draws along a rail from the left; `x` is where the next part stands."""

    def __init__(self, drawing: schemdraw.Drawing, design: TankDesign, soft: str) -> None:
        self.drawing, self.design, self.soft = drawing, design, soft
        self.x = 0.0

    def _label(self, ref: str) -> str:
        value = self.design.values.get(ref)
        unit = "H" if ref.startswith("L") else "F"
        # A reference may hold a band's name. The library escapes < and > itself, neither & nor its own $.
        text = ref.replace("&", "&amp;").replace("$", "&#36;")
        return text if value is None else f"{text}\n{format_value(value, unit, 3)}"

    def _down(self, kind: type, label: str, top: float, bottom: float) -> None:
        part = kind().at((self.x, top)).to((self.x, bottom))
        self.drawing.add(
            part.label(label, loc="bottom", ofst=0.14, halign="left", valign="center", color=self.soft)
        )

    def _rail(self, length: float) -> None:
        self.drawing.add(elm.Line().at((self.x, 0)).to((self.x + length, 0)))
        self.x += length

    def _ground(self, y: float) -> None:
        self.drawing.add(elm.GroundSignal().at((self.x, y)))

    def hang(self, ref: str, kind: type, *, switched: bool = False) -> None:
        """A part from the rail to ground, through a switch where a band switches it in."""
        self.drawing.add(elm.Dot().at((self.x, 0)))
        bottom = -_HANG
        self._down(kind, self._label(ref), 0, bottom)
        if switched:
            self.drawing.add(elm.Switch().at((self.x, bottom)).to((self.x, bottom - 1.2)))
            bottom -= 1.2
        self._ground(bottom)
        self._rail(_STEP)

    def branch(self, shifts: list[str]) -> None:
        """The tuning capacitor with its padder and any band shift in series, one under the other."""
        self.drawing.add(elm.Dot().at((self.x, 0)))
        y = 0.0
        low, high = self.design.tank.variable.span_f
        for ref in (*shifts, *(["CS"] if "CS" in self.design.values else [])):
            self._down(elm.Capacitor, self._label(ref), y, y - 1.6)
            y -= 1.6
        tuning = f"CV\n{format_value(low, 'F', 3)} to {format_value(high, 'F', 3)}"
        self._down(elm.CapacitorVar, tuning, y, y - 1.6)
        self._ground(y - 1.6)
        self._rail(_STEP + 0.9)

    def along(self, ref: str, kind: type) -> None:
        """A part in the rail."""
        part = kind().at((self.x, 0)).to((self.x + _STEP, 0))
        self.drawing.add(part.label(self._label(ref), loc="top", ofst=0.12, color=self.soft))
        self.x += _STEP

    def device(self) -> None:
        """Divider, device and bias: C1 from gate to source, C2 from source to ground, bias parts beside."""
        feedback = self.design.tank.feedback
        made = operating(feedback)
        bias_x = self.x
        self.drawing.add(elm.Dot().at((bias_x, 0)))
        if made.kind == "jfet":
            self._resistor(bias_x, 0, -_HANG, "RG", feedback.gate_ohm)
        else:
            self._resistor(bias_x, 0, -_HANG, "RB2", feedback.base_lower_ohm)
            self._resistor(bias_x, _HANG, 0, "RB1", feedback.base_upper_ohm)
        self._ground(-_HANG)
        self._rail(_STEP)
        self.drawing.add(elm.Dot().at((self.x, 0)))
        self._down(elm.Capacitor, self._label("C1"), 0, -_HANG)
        self._down(elm.Capacitor, self._label("C2"), -_HANG, -2 * _HANG)
        self._ground(-2 * _HANG)
        middle = self.x
        self._rail(2.6)
        if made.kind == "jfet":
            # The library has its two names exchanged: by IEC 60617 an arrow towards the channel is n-channel.
            device = self.drawing.add(elm.JFetP().right().reverse().anchor("gate").at((self.x, 0)))
            high, low = device.drain, device.source
        else:
            device = self.drawing.add(elm.BjtNpn().right().anchor("base").at((self.x, 0)))
            high, low = device.collector, device.emitter
            self.drawing.add(elm.Line().at((bias_x, _HANG)).to((high[0], _HANG)))
        self._supply(high, f"{format_value(feedback.supply_v, 'V', 3)} regulated; {self._device_told(made)}")
        self.drawing.add(elm.Line().at(low).to((low[0], -_HANG)))
        self.drawing.add(elm.Line().at((middle, -_HANG)).to((low[0], -_HANG)))
        self.drawing.add(elm.Dot().at((middle, -_HANG)))
        self.drawing.add(elm.Dot().at((low[0], -_HANG)))
        bottom = -_HANG
        if feedback.choke_h is not None:
            choke = f"LC\n{format_value(feedback.choke_h, 'H', 3)}"
            self.x = low[0]
            self._down(elm.Inductor2, choke, bottom, bottom - _HANG)
            bottom -= _HANG
        name = "RS" if made.kind == "jfet" else "RE"
        self._resistor(low[0], bottom, bottom - _HANG, name, feedback.bias_ohm)
        self._ground(bottom - _HANG)
        self.drawing.add(elm.Line().at((low[0], -_HANG)).to((low[0] + 2.0, -_HANG)))
        load = "" if feedback.load_ohm is None else f", {format_value(feedback.load_ohm, 'Ω', 3)}"
        self.drawing.add(elm.Dot(open=True).label(f"buffer{load}", loc="right", color=self.soft))

    def _device_told(self, made: Operating) -> str:
        return f"{made.name}, {format_value(made.current_a, 'A', 2)}"

    def _resistor(self, x: float, top: float, bottom: float, ref: str, ohm: float) -> None:
        self.x = x
        self._down(elm.ResistorIEC, f"{ref}\n{format_value(ohm, 'Ω', 3)}", top, bottom)

    def _supply(self, high: tuple[float, float], label: str) -> None:
        """The supply at drain or collector, which a capacitor there puts at ground for the signal."""
        top = _HANG
        self.drawing.add(elm.Line().at(high).to((high[0], top)))
        self.drawing.add(elm.Vdd().at((high[0], top)).label(label, color=self.soft))
        self.drawing.add(elm.Dot().at((high[0], top)))
        self.drawing.add(elm.Line().at((high[0], top)).to((high[0] + 1.4, top)))
        self.x = high[0] + 1.4
        self._down(elm.Capacitor, f"CD1\n{DECOUPLING}", top, top - 1.6)
        self._ground(top - 1.6)
