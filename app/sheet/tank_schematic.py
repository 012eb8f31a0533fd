"""Schematics of oscillators as SVG, with the values as fitted: the VFO's tank, divider and device, and a
crystal oscillator with its buffer.
"""

from collections.abc import Iterable
from functools import lru_cache

import schemdraw
import schemdraw.elements as elm

from app.sheet.amplifier_schematic import SUPPLY_AT, Pen, Point, paper
from app.sheet.schematic import as_text, plain_text
from core.circuits.circuit import GROUND, Circuit, Part
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.model.values.parts import UNIT_OF_KIND, Role
from core.rig import tuning
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.crystal_oscillator.soldered import BUFFER, FAMILY, OSCILLATOR
from core.stages.vfo.oscillator import GATE, Operating
from core.stages.vfo.tank import DECOUPLING_F, TANK, TankDesign

#: Between two parts that hang side by side, and how far they hang, in the drawing's units.
_STEP, _HANG = 2.1, 2.0
#: How far apart the rows of coil and trimmer stand, and where the oscillator's base does.
_ROW, _BASE_AT = 4.2, 3.0
#: Where the divider's capacitors meet.
_EMITTER_AT = 1.6

#: Capacitors across the tuning that every band has, in the order in which they are drawn.
_ALWAYS: tuple[Role, ...] = ("parallel", "compensating", "differential", "trimmer")


@lru_cache(maxsize=16)
def tank_svg(design: TankDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0) -> str:
    """SVG text of the VFO; `ink` draws wires, `soft` writes values. Switched parts have a switch.

    A parallel-tuned tank stands left of the coupling capacitor; in a series-tuned one the coil lies
    between tuning and gate. What hangs where is read from the nodes of the circuits of all bands.
    """
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    circuits = [tuning.circuit(design, each.band) for each in design.ranges]
    pen = _Pen(drawing, design, circuits[0], soft)
    across = _united(_between(each, TANK, GROUND) for each in circuits)
    for part in across:
        if part.role == "coil":
            pen.hang(part)
    for part in across:
        if part.which is not None:
            pen.hang(part, switched=True)
    for role in _ALWAYS:
        for part in across:
            if part.role == role and part.which is None:
                pen.hang(part)
    pen.branch(_united(_tuning_branch(each) for each in circuits))
    for part in _between(circuits[0], TANK, GATE):
        pen.along(part)
    pen.device()
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _between(circuit: Circuit, a: str, b: str) -> tuple[Part, ...]:
    """What is soldered between two nodes; stray capacitances are not."""
    return tuple(
        each.part
        for each in circuit.branches
        if isinstance(each.part, Part) and set(each.nodes) == {a, b} and each.part.role != "stray"
    )


def _tuning_branch(circuit: Circuit) -> tuple[Part, ...]:
    """The parts in line from the tuned node down to ground through the tuning capacitor, from the top."""
    (last,) = circuit.of_role("tuning")
    found, at = [last.part], last.nodes[0]
    while at != TANK:
        above = next(each for each in circuit.branches if each.nodes[1] == at)
        found.append(above.part)
        at = above.nodes[0]
    return tuple(part for part in reversed(found) if isinstance(part, Part))


def _united(parts: Iterable[tuple[Part, ...]]) -> tuple[Part, ...]:
    """Parts of several bands' circuits, each once; those that one band alone has stand first."""
    found = {(part.role, part.which): part for some in parts for part in some}
    return tuple(sorted(found.values(), key=lambda part: part.which is None))


_ELEMENTS = {"inductor": elm.Inductor2, "capacitor": elm.Capacitor, "resistor": elm.ResistorIEC}


class _Pen:
    """Draws along a rail from the left; `x` is where the next part stands."""

    def __init__(self, drawing: schemdraw.Drawing, design: TankDesign, circuit: Circuit, soft: str) -> None:
        self.drawing, self.design, self.circuit, self.soft = drawing, design, circuit, soft
        self.x = 0.0

    def _label(self, part: Part) -> str:
        # What was designed is told whole: a differential capacitor is two parts of the circuit.
        value = self.design.fitted.get((part.role, part.which), part.value)
        # A reference may hold a band's name.
        return f"{as_text(part.ref)}\n{format_value(value, UNIT_OF_KIND[part.kind], 3)}"

    def _only(self, role: Role) -> Part | None:
        """The circuit's part of this role."""
        return next((part for part in self.circuit.parts if part.role == role), None)

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

    def hang(self, part: Part, *, switched: bool = False) -> None:
        """A part from the rail to ground, through a switch where a band switches it in."""
        self.drawing.add(elm.Dot().at((self.x, 0)))
        bottom = -_HANG
        kind = elm.CapacitorTrim if part.role == "trimmer" else _ELEMENTS[part.kind]
        self._down(kind, self._label(part), 0, bottom)
        if switched:
            self.drawing.add(elm.Switch().at((self.x, bottom)).to((self.x, bottom - 1.2)))
            bottom -= 1.2
        self._ground(bottom)
        self._rail(_STEP)

    def branch(self, parts: tuple[Part, ...]) -> None:
        """The tuning capacitor with its padder and any band shift in series, one under the other."""
        self.drawing.add(elm.Dot().at((self.x, 0)))
        y = 0.0
        low, high = self.design.tank.variable.span_f
        for part in parts:
            if part.role == "tuning":
                span = f"{part.ref}\n{format_value(low, 'F', 3)} to {format_value(high, 'F', 3)}"
                self._down(elm.CapacitorVar, span, y, y - _HANG)
            else:
                self._down(_ELEMENTS[part.kind], self._label(part), y, y - _HANG)
            y -= _HANG
        self._ground(y)
        self._rail(_STEP + 0.9)

    def along(self, part: Part) -> None:
        """A part in the rail."""
        element = _ELEMENTS[part.kind]().at((self.x, 0)).to((self.x + _STEP, 0))
        self.drawing.add(element.label(self._label(part), loc="top", ofst=0.12, color=self.soft))
        self.x += _STEP

    def device(self) -> None:
        """Divider, device and bias: C1 from gate to source, C2 from source to ground, bias parts beside."""
        feedback = self.design.tank.feedback
        made = tuning.device(self.design)
        bias_x = self.x
        self.drawing.add(elm.Dot().at((bias_x, 0)))
        self._only_down(bias_x, 0, "bias_gate", "bias_lower")
        self._only_down(bias_x, _HANG, "bias_upper")
        self._ground(-_HANG)
        self._rail(_STEP)
        self.drawing.add(elm.Dot().at((self.x, 0)))
        self._only_down(self.x, 0, "feedback_upper")
        self._only_down(self.x, -_HANG, "feedback_lower")
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
        if self._only_down(low[0], bottom, "choke"):
            bottom -= _HANG
        self._only_down(low[0], bottom, "bias_source", "bias_emitter")
        self._ground(bottom - _HANG)
        self.drawing.add(elm.Line().at((low[0], -_HANG)).to((low[0] + 2.0, -_HANG)))
        buffer = self._only("load")
        load = "" if buffer is None else f", {format_value(buffer.value, 'Ω', 3)}"
        self.drawing.add(elm.Dot(open=True).label(f"buffer{load}", loc="right", color=self.soft))

    def _device_told(self, made: Operating) -> str:
        return f"{made.name}, {format_value(made.current_a, 'A', 2)}"

    def _only_down(self, x: float, top: float, *roles: Role) -> bool:
        """The part of one of these roles, hanging from `top`; False where there is none."""
        for branch in self.circuit.of_role(*roles):
            if isinstance(branch.part, Part):
                self.x = x
                self._down(_ELEMENTS[branch.part.kind], self._label(branch.part), top, top - _HANG)
                return True
        return False

    def _supply(self, high: tuple[float, float], label: str) -> None:
        """The supply at drain or collector, which a capacitor there puts at ground for the signal."""
        top = _HANG
        self.drawing.add(elm.Line().at(high).to((high[0], top)))
        self.drawing.add(elm.Vdd().at((high[0], top)).label(label, color=self.soft))
        self.drawing.add(elm.Dot().at((high[0], top)))
        self.drawing.add(elm.Line().at((high[0], top)).to((high[0] + 1.4, top)))
        self.x = high[0] + 1.4
        self._down(
            elm.Capacitor,
            f"{reference('tank', 'decoupling')}\n{format_value(DECOUPLING_F, 'F', 3)}",
            top,
            top - 1.6,
        )
        self._ground(top - 1.6)


@lru_cache(maxsize=16)
def crystal_oscillator_svg(
    design: CrystalOscillatorDesign, ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of a crystal oscillator with its buffer; `ink` draws wires, `soft` writes values."""
    drawing = paper(ink, font_size)
    rows = {(row.role, row.which): row for row in design.parts}
    pen = Pen(drawing, rows, soft, design.kind)
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
        y = _BASE_AT - _ROW * n
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
    series: Point = (start, _BASE_AT)
    if several:
        # A contact that is joined to the first of them.
        pen.drawing.add(elm.Line().at((start + 0.1, _BASE_AT)).to((start + 1.4, _BASE_AT)))
        pen.drawing.add(elm.Dot(open=True).at((start + 1.5, _BASE_AT)))
        series = (start + 1.9, _BASE_AT)
        pen.wire((start + 1.6, _BASE_AT), series)
        relay = design.asked.circuit.switched_by == "relay"
        by = f"{reference(FAMILY, 'relay')}, relay" if relay else "switch"
        pen.drawing.add(elm.Label().at((start + 0.8, _BASE_AT + 0.25)).label(by, color=pen.soft))
    row = pen.row("crystal", 1)
    behind: Point = (series[0] + 2.4, _BASE_AT)
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
    node: Point = (base + 0.4, _BASE_AT)
    pen.wire((base, _BASE_AT), node)
    pen.dot(node)
    jfet = pen.has("bias_gate")
    if jfet:
        pen.hang("bias_gate", None, node)
    else:
        pen.hang("bias_lower", OSCILLATOR, node)
        pen.part("bias_upper", OSCILLATOR, node, (node[0], SUPPLY_AT))
    divider: Point = (node[0] + 2.6, _BASE_AT)
    pen.wire(node, divider)
    pen.dot(divider)
    middle: Point = (divider[0], _EMITTER_AT - 0.4)
    pen.part("feedback_upper", None, divider, middle)
    pen.dot(middle)
    pen.hang("feedback_lower", None, middle)
    at: Point = (divider[0] + 2.2, _BASE_AT)
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
