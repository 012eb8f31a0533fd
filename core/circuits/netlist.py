"""A circuit as a netlist in the common SPICE syntax, in full digits, that ngspice runs as it is.

A quality factor that is constant with frequency is a resistor whose value follows `hertz`, which simulators
of the Berkeley family know in expressions; so nothing in the list is approximate. The operating point is
left out where there is no transistor: a circuit of capacitors and crystals has none.
"""

import re
from collections.abc import Mapping
from itertools import combinations
from math import isfinite, pi, sqrt

from core.circuits.circuit import (
    GROUND,
    Bipolar,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Diode,
    Hardware,
    Part,
    Transformer,
    Transistor,
    Windings,
    without_dc_path,
)
from core.circuits.devices.chips import Chip, elements
from core.circuits.devices.hardware import Joined
from core.record import record

#: From a node that only capacitors end at to ground [ohm], for a simulator that looks for an operating point;
#: no signal sees it, as a femtofarad has 160 megohm at 1 MHz.
_DIRECT_OHM = 1e12
#: What a closed contact or a wire counts as, as simulators want no resistance of nothing [ohm].
_WIRE_OHM = 1e-5
#: From a node of direct currents that an open contact leaves alone to ground [ohm].
_OPEN_OHM = 1e6
_FORBIDDEN = re.compile(r"[^A-Za-z0-9_]")


class _Names:
    """Names that a simulator takes: letters, digits and _ alone, none twice whatever the case."""

    def __init__(self, taken: tuple[str, ...] = ()) -> None:
        self._taken = {name.lower() for name in taken}

    def free(self, wanted: str) -> str:
        """`wanted` without what a simulator does not take, with a number where it is taken."""
        plain = _FORBIDDEN.sub("_", wanted)
        name, n = plain, 1
        while name.lower() in self._taken:
            n += 1
            name = f"{plain}_{n}"
        self._taken.add(name.lower())
        return name


@record(kw_only=True)
class Oscillates:
    """A run over time [s] of a circuit that oscillates about a frequency [Hz], its crystal set going with a
    current [A], since it would take many milliseconds to begin by itself.
    """

    f_hz: float
    start_a: float
    for_s: float


class Listed:
    """A circuit's elements as lines, and what its nodes are called there."""

    def __init__(self, circuit: Circuit, oscillates: Oscillates | None = None) -> None:
        #: Over time a Q that is constant with frequency is what it is at one.
        self._at = None if oscillates is None else oscillates.f_hz
        self._start_a = 0.0 if oscillates is None else oscillates.start_a
        self.lines: list[str] = []
        self._names, nodes = _Names(), _Names((GROUND,))
        self.nodes = {GROUND: GROUND} | {node: nodes.free(node) for node in circuit.nodes}
        self._inner = nodes

    def inner(self, ref: str) -> str:
        """A node of its own inside a component."""
        return self._inner.free(f"n_{ref}")

    def add(self, letter: str, ref: str, *words: str | float) -> str:
        """One element; its name begins with the letter of its kind. Gives the name."""
        name = self._names.free(f"{letter}_{ref}")
        told = (word if isinstance(word, str) else repr(float(word)) for word in words)
        self.lines.append(" ".join((name, *told)))
        return name

    @property
    def _w(self) -> str:
        """The angular frequency in an expression."""
        return f"{2 * pi!r}*{'hertz' if self._at is None else repr(self._at)}"

    def _value(self, expression: str) -> str:
        """A resistance that is an expression."""
        return f"r='{expression}'" if self._at is None else f"{{{expression}}}"

    def part(self, part: Part, a: str, b: str) -> None:
        """A part of two leads with its loss."""
        ref, w = part.ref, self._w
        if part.kind == "resistor":
            self.add("R", ref, a, b, part.value)
        elif part.kind == "inductor":
            self.coil(ref, a, b, part.value, part.q)
        elif part.kind == "capacitor":
            siemens = f"({w}*{float(part.value)!r})"
            if part.q is None or self._at is None:
                self.add("C", ref, a, b, part.value)
                if part.q is not None:
                    self.add("R", f"{ref}_q", a, b, self._value(f"{float(part.q)!r}/{siemens}"))
            else:
                # Over time a resistance across it would pass direct current and move a bias.
                end = self.inner(ref)
                self.add("C", ref, a, end, part.value)
                self.add("R", f"{ref}_q", end, b, self._value(f"1/({float(part.q)!r}*{siemens})"))
        else:
            # One branch to us; a simulator wants it in pieces.
            ws, lm = 2 * pi * part.value, part.motional_inductance_h
            one, two = self.inner(ref), self.inner(ref)
            self.add("L", f"{ref}_m", a, one, lm, *([f"IC={self._start_a!r}"] if self._start_a else []))
            self.add("C", f"{ref}_m", one, two if part.q is not None else b, 1 / (ws * ws * lm))
            if part.q is not None:
                self.add("R", f"{ref}_m", two, b, ws * lm / part.q)
            if part.holder_capacitance_f:
                self.add("C", f"{ref}_0", a, b, part.holder_capacitance_f)

    def coil(self, ref: str, a: str, b: str, henry: float, q: float | None) -> str:
        """A coil with its loss in series; gives its name."""
        end = b if q is None else self.inner(ref)
        name = self.add("L", ref, a, end, henry)
        if q is not None:
            self.add("R", f"{ref}_q", end, b, self._value(f"{self._w}*{float(henry)!r}/{float(q)!r}"))
        return name

    def transformer(self, ref: str, ratio: float, nodes: tuple[str, ...]) -> None:
        """An ideal one: a voltage source in the second winding, a current source across the first."""
        a, b, c, d = nodes
        sensed = self.inner(ref)
        meter = self.add("V", ref, c, sensed, "0")
        self.add("E", ref, sensed, d, a, b, 1 / ratio)
        self.add("F", ref, a, b, meter, -1 / ratio)

    def coils(self, coils: CoupledCoils, nodes: tuple[str, ...]) -> None:
        """Two coils and their coupling."""
        a, b, c, d = nodes
        names = [part.ref for part in coils.coils] or [f"{coils.ref}_1", f"{coils.ref}_2"]
        one = self.coil(names[0], a, b, coils.primary_h, coils.q)
        two = self.coil(names[1], c, d, coils.secondary_h, coils.q)
        if coils.coupling:
            self.add("K", coils.ref, one, two, coils.coupling)

    def windings(self, windings: Windings, nodes: tuple[str, ...]) -> None:
        """Windings and the coupling of every two of them."""
        names = [
            self.coil(f"{windings.ref}_{n + 1}", nodes[2 * n], nodes[2 * n + 1], henry, None)
            for n, henry in enumerate(windings.henry)
        ]
        for one, two in combinations(names, 2):
            self.add("K", windings.ref, one, two, windings.coupling)

    def chip(self, part: Chip, nodes: tuple[str, ...]) -> None:
        """A chip as the sources that it is to the solver, and what it draws from its supply."""
        made = elements(part, nodes)
        self.nodes |= {node: self._inner.free(node) for node in made.inner}
        for into, across, siemens in made.sources:
            ends = (self.nodes[node] for node in (*into, *across))
            if into == across:
                self.add("R", f"{part.ref}_r", self.nodes[into[0]], self.nodes[into[1]], 1 / siemens)
            else:
                self.add("G", f"{part.ref}_g", *ends, siemens)
        for a, b, farad in made.capacitors:
            self.add("C", f"{part.ref}_c", self.nodes[a], self.nodes[b], farad)
        self.add("I", f"{part.ref}_supply", self.nodes[nodes[-1]], GROUND, f"DC {part.device.supply_a!r}")

    def hardware(self, part: Hardware, nodes: tuple[str, ...]) -> None:
        """What joins its leads, a diode, or a regulator as it holds its voltage."""
        device, ref = part.device, part.ref
        if isinstance(device, Joined):
            for a, b, ohm in device.through:
                self.add("R", ref, nodes[a], nodes[b], max(ohm, _WIRE_OHM))
        elif isinstance(device, Diode):
            model = self._names.free(f"model_{ref}")
            self.add("D", ref, *nodes, model)
            figures = (
                f"IS={device.saturation_a!r} N={float(device.ideality)!r} RS={float(device.series_ohm)!r}"
            )
            self.lines.append(f".model {model} D({figures})")
        else:
            given, out = nodes[:2]
            left = f"v({given})-{float(device.drop_out_v)!r}"
            name = self.add("B", ref, out, GROUND, f"v=max(min({float(device.volt)!r}, {left}), 0)")
            own = f"{float(device.own_a)!r}"
            # What leaves its output enters at its input, with what it takes itself.
            self.add("B", f"{ref}_in", given, GROUND, f"i={own}-i({name})")

    def transistor(self, part: Transistor, nodes: tuple[str, ...]) -> None:
        """A transistor with a model of its own."""
        device, model = part.device, self._names.free(f"model_{part.ref}")
        out, control, common = nodes
        if isinstance(device, Bipolar):
            self.add("Q", part.ref, out, control, common, model)
            kind, figures = (
                "NPN" if device.sign > 0 else "PNP",
                {
                    "IS": device.saturation_a,
                    "BF": device.current_gain,
                    "BR": device.reverse_gain,
                    "VAF": device.early_v,
                    "RB": device.base_ohm,
                    "TF": device.transit_s,
                    "CJE": device.emitter_f,
                    "MJE": 0.0,
                    "CJC": device.feedback_f,
                    "MJC": 0.0,
                },
            )
        elif device.threshold_v < 0:
            self.add("J", part.ref, out, control, common, model)
            kind, figures = (
                "NJF" if device.sign > 0 else "PJF",
                {
                    "VTO": device.threshold_v,
                    "BETA": device.slope_a_v2,
                    "LAMBDA": device.channel_per_v,
                },
            )
        else:
            self.add("M", part.ref, out, control, common, common, model, "W=1u L=1u")
            kind, figures = (
                "NMOS" if device.sign > 0 else "PMOS",
                {
                    "LEVEL": 1.0,
                    "VTO": device.sign * device.threshold_v,
                    "KP": 2 * device.slope_a_v2,
                    "LAMBDA": device.channel_per_v,
                },
            )
        told = " ".join(f"{name}={value!r}" for name, value in figures.items())
        self.lines.append(f".model {model} {kind}({told})")
        if not isinstance(device, Bipolar):
            self.add("C", f"{part.ref}_gs", control, common, device.gate_source_f)
            self.add("C", f"{part.ref}_gd", control, out, device.gate_drain_f)
            self.add("C", f"{part.ref}_ds", out, common, device.drain_source_f)


def netlist(
    circuit: Circuit,
    title: str,
    range_hz: tuple[float, float],
    *,
    points: int = 401,
    drive: str | None = None,
    remarks: tuple[str, ...] = (),
    oscillates: Oscillates | None = None,
) -> str:
    """The circuit as text, with an AC analysis over `range_hz` [Hz] of `points` points.

    Of two ports the first drives, with an EMF of 1 V behind its resistance; a circuit without ports is driven
    by 1 A into the node `drive`. One that `oscillates` by itself is run over time instead. `remarks` are
    printed as comments.
    """
    of = listed(circuit, oscillates)
    for rail in circuit.rails:
        of.add("V", f"rail_{rail.node}", of.nodes[rail.node], GROUND, f"DC {rail.volt!r}")
    told = list(remarks)
    loose = without_dc_path(circuit) if circuit.transistors else ()
    for node in loose:
        of.add("R", f"dc_{node}", of.nodes[node], GROUND, _DIRECT_OHM)
    if loose:
        told.append("R_dc: no direct current reaches these nodes, and the operating point wants one.")
    if oscillates is not None:
        return _over_time(of, circuit, title, told, oscillates)
    if drive is None:
        source, load = circuit.ports
        behind, out = of.inner("source"), of.nodes[load.node]
        of.add("V", "source", behind, GROUND, "DC 0 AC 1")
        of.add("R", "source", behind, of.nodes[source.node], source.ohm)
        of.add("R", "load", out, GROUND, load.ohm)
        told.append(f"S21 is {2 * sqrt(source.ohm / load.ohm)!r} times the voltage of node {out}.")
    else:
        out = of.nodes[drive]
        of.add("I", "drive", GROUND, out, "DC 0 AC 1")
    told.append("Losses follow the frequency as a constant Q does (hertz in the values of resistors).")
    low, high = range_hz
    return "\n".join(
        [
            f"* {' '.join(title.split())}",
            *(f"* {' '.join(each.split())}" for each in told),
            *of.lines,
            # An operating point only where transistors have one.
            *([] if circuit.transistors else [".options noopac"]),
            f".ac lin {points} {float(low)!r} {float(high)!r}",
            f".print ac vm({out}) vp({out})",
            ".end",
            "",
        ]
    )


def listed(circuit: Circuit, oscillates: Oscillates | None = None) -> Listed:
    """Every component of a circuit."""
    of = Listed(circuit, oscillates)
    for branch in circuit.branches:
        nodes = tuple(of.nodes[node] for node in branch.nodes)
        if isinstance(branch.part, Transformer):
            of.transformer(branch.part.ref, branch.part.ratio, nodes)
        elif isinstance(branch.part, CoupledCoils):
            of.coils(branch.part, nodes)
        elif isinstance(branch.part, Transistor):
            of.transistor(branch.part, nodes)
        elif isinstance(branch.part, Chip):
            of.chip(branch.part, branch.nodes)
        elif isinstance(branch.part, ControlledSource):
            of.add("G", branch.part.ref, *nodes, branch.part.siemens)
        elif isinstance(branch.part, Windings):
            of.windings(branch.part, nodes)
        elif isinstance(branch.part, Hardware):
            of.hardware(branch.part, nodes)
        else:
            of.part(branch.part, nodes[0], nodes[1])
    return of


def direct_netlist(
    circuit: Circuit,
    title: str,
    source_v: float,
    lines_v: Mapping[str, float],
    *,
    remarks: tuple[str, ...] = (),
) -> str:
    """A circuit of direct currents alone, a supply's, as text with its operating point.

    The first port is the source of `source_v` [V] behind its resistance, the others are loads; `lines_v` are
    nodes that are driven from outside [V]. Rails are what the circuit makes them.
    """
    of = listed(circuit)
    source, *loads = circuit.ports
    behind = of.inner("source")
    of.add("V", "source", behind, GROUND, f"DC {float(source_v)!r}")
    of.add("R", "source", behind, of.nodes[source.node], max(source.ohm, _WIRE_OHM))
    for load in loads:
        if isfinite(load.ohm):
            of.add("R", "load", of.nodes[load.node], GROUND, load.ohm)
    for node, volt in lines_v.items():
        if node in of.nodes:
            of.add("V", f"line_{node}", of.nodes[node], GROUND, f"DC {float(volt)!r}")
    taking = tuple(port for port in circuit.ports if isfinite(port.ohm))
    for node in without_dc_path(Circuit(circuit.branches, taking)):
        of.add("R", f"dc_{node}", of.nodes[node], GROUND, _OPEN_OHM)
    return "\n".join(
        [
            f"* {' '.join(title.split())}",
            *(f"* {' '.join(each.split())}" for each in remarks),
            *of.lines,
            ".op",
            ".end",
            "",
        ]
    )


#: Points in a turn, and turns whose mean period is printed.
_A_TURN, _COUNTED = 200, 1000


def _over_time(of: Listed, circuit: Circuit, title: str, told: list[str], run: Oscillates) -> str:
    """The text with an analysis over time from the direct currents on, which counts turns at its end."""
    (load,) = circuit.ports
    out = of.nodes[load.node]
    of.add("R", "load", out, GROUND, load.ohm)
    told += [
        "Losses are those of the frequency that is expected.",
        "Trapezoidal steps make every turn last longer by (w h)^2/12, which the frequency measured has back.",
    ]
    begin = run.for_s - (_COUNTED + 20) / run.f_hz
    return "\n".join(
        [
            f"* {' '.join(title.split())}",
            *(f"* {' '.join(each.split())}" for each in told),
            *of.lines,
            ".options method=trap reltol=1e-5 abstol=1e-13 vntol=1e-9",
            f".tran {1 / (_A_TURN * run.f_hz)!r} {run.for_s!r} {begin!r} {1 / (_A_TURN * run.f_hz)!r} uic",
            f".meas tran turns trig v({out}) val=0 rise=1 targ v({out}) val=0 rise={_COUNTED + 1}",
            f".meas tran frequency param='{_COUNTED}/turns*(1+{(2 * pi / _A_TURN) ** 2 / 12!r})'",
            f".meas tran swing pp v({out})",
            ".end",
            "",
        ]
    )
