"""A circuit at rest made linear: real conductances, capacitances and inverse inductances at its nodes.

Kept apart so that the matrix at every frequency is a sum of constants, Y = G + jwC + Γ/(jw), besides the
admittances of crystals. What is passive is kept apart from what transistors add, because its noise is that
of its temperature. Circuits that differ in values only are one circuit with an axis more (`Times`).
"""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from core.circuits.active.operating import Bias, bias
from core.circuits.circuit import (
    ELECTRON,
    GROUND,
    TEMPERATURE_K,
    Bipolar,
    Branch,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Part,
    Transistor,
    Windings,
)
from core.circuits.devices.chips import Chip, elements
from core.circuits.ladder import Array, ComplexArray, impedance
from core.circuits.units import BOLTZMANN
from core.circuits.unsolved import Unsolved
from core.record import record

#: How many times as large parts are in each of T circuits that differ in values only, arrays (T,) by
#: reference; of coupled coils both inductances. What a transistor's `gain` and `threshold` are times is told
#: as `Q1.gain` (current gain, or the current of a field-effect one) and `Q1.threshold`.
Times = Mapping[str, Array]
#: Share of 4 k T gm that the channel of a field-effect transistor makes [-]; long channel, A. van der Ziel,
#: Proc. IRE 50 (1962) 1808, from memory.
_CHANNEL_NOISE = 2 / 3
#: Of one circuit, or of each of several.
_Density = float | Array


@record(kw_only=True, slots=False)
class Placed:
    """A transistor's nodes in the matrix; −1 is ground."""

    ref: str
    control: int
    output: int
    common: int


@record(eq=False, kw_only=True, slots=False)
class Linear:
    """Matrices of shape (nodes, nodes): `passive` and `active` G [S], C [F] and Γ [1/H] each; of T circuits
    together (T, nodes, nodes).

    `crystals` are branches with their nodes; `noise` lists current sources of transistors as node, node and
    density [A²/Hz, one-sided], of T circuits (T,) each; ports by node and resistance [ohm].
    """

    nodes: tuple[str, ...]
    passive: tuple[ComplexArray, ComplexArray, ComplexArray]
    active: tuple[ComplexArray, ComplexArray]
    crystals: tuple[tuple[Part, int, int], ...]
    noise: tuple[tuple[int, int, _Density], ...]
    transistors: tuple[Placed, ...]
    ports: tuple[int, ...]
    port_ohm: tuple[float, ...]
    bias: Bias

    def passive_at(self, f_hz: Array) -> ComplexArray:
        """Admittances of what is passive [S] at `f_hz` [Hz], shape (..., F, nodes, nodes), without the
        ports.
        """
        s = 2j * np.pi * f_hz[:, None, None]
        g, c, gamma = (each[..., None, :, :] for each in self.passive)
        y: ComplexArray = g + s * c + gamma / s
        for part, a, b in self.crystals:
            num, den = impedance(part, s[:, 0, 0], {})
            for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if row >= 0 and column >= 0:
                    y[..., row, column] += sign * den / num
        return y

    def active_at(self, f_hz: Array) -> ComplexArray:
        """What transistors add to that [S] at `f_hz` [Hz], shape (..., F, nodes, nodes)."""
        g, c = (each[..., None, :, :] for each in self.active)
        y: ComplexArray = g + 2j * np.pi * f_hz[:, None, None] * c
        return y


_Value = complex | Array | ComplexArray


class _Sums:
    """The matrices as they are stamped; of several circuits these have their own axis, the last one of this
    `shape`.
    """

    def __init__(self, nodes: tuple[str, ...], shape: tuple[int, ...]) -> None:
        self.place = {node: n for n, node in enumerate(nodes)}
        size = (len(nodes), len(nodes), *shape)
        self.matrices = {name: np.zeros(size, dtype=complex) for name in _NAMES}

    def at(self, node: str) -> int:
        """A node's place; −1 for ground and the rails."""
        return self.place.get(node, -1)

    def add(self, name: str, into: tuple[int, int], across: tuple[int, int], value: _Value) -> None:
        """A current of `value` times the voltage across two nodes, from the first of `into` to the second."""
        matrix = self.matrices[name]
        for row, sign in zip(into, (1, -1), strict=True):
            for column, way in zip(across, (1, -1), strict=True):
                if row >= 0 and column >= 0:
                    matrix[row, column] += sign * way * value

    def between(self, name: str, a: int, b: int, value: _Value) -> None:
        """A part of two leads."""
        self.add(name, (a, b), (a, b), value)


_TIED = "{} is coupled by 1 or more; no winding is: give it a coupling below 1."
_NAMES = ("g", "c", "gamma", "active_g", "active_c")


@lru_cache(maxsize=256)
def linear(circuit: Circuit) -> Linear | Unsolved:
    """The circuit around its bias, or why it has none."""
    at_rest = bias(circuit)
    return at_rest if isinstance(at_rest, Unsolved) else around(circuit, at_rest)


def around(circuit: Circuit, at_rest: Bias, times: Times = MappingProxyType({})) -> Linear | Unsolved:
    """The circuit around a state at rest that is known, or T of them around theirs, with parts that are so
    many `times` as large.
    """
    supplied = {rail.node for rail in circuit.rails} | {GROUND}
    inner = {
        part.ref: f"{part.ref} base"
        for part, _ in circuit.transistors
        if isinstance(part.device, Bipolar) and part.device.base_ohm > 0
    }
    inside = (node for part, nodes in circuit.chips for node in elements(part, nodes).inner)
    nodes = (*(node for node in circuit.nodes if node not in supplied), *inner.values(), *inside)
    shape = np.shape(next(iter(times.values()))) if times else ()
    sums, crystals, placed = _Sums(nodes, shape), [], []
    noise: list[tuple[int, int, _Density]] = []
    for branch in circuit.branches:
        part, (a, b) = branch.part, (sums.at(branch.nodes[0]), sums.at(branch.nodes[1]))
        if isinstance(part, Part):
            if part.kind == "crystal":
                crystals.append((part, a, b))
            else:
                _two_leads(sums, part, a, b, times.get(part.ref, 1.0))
        elif isinstance(part, CoupledCoils):
            problem = _coils(sums, part, branch, times.get(part.ref, 1.0))
            if problem is not None:
                return problem
        elif isinstance(part, Windings):
            if not part.coupling < 1:
                return Unsolved(_TIED.format(part.ref))
            _windings(sums, part, branch.nodes)
        elif isinstance(part, Chip):
            noise += _chip(sums, part, branch.nodes)
        elif isinstance(part, ControlledSource):
            across = (sums.at(branch.nodes[2]), sums.at(branch.nodes[3]))
            sums.add("active_g", (a, b), across, part.siemens)
        elif isinstance(part, Transistor):
            base = sums.at(inner.get(part.ref, branch.nodes[1]))
            place = Placed(ref=part.ref, control=base, output=a, common=sums.at(branch.nodes[2]))
            if part.ref in inner:
                assert isinstance(part.device, Bipolar)
                sums.between("g", b, base, 1 / part.device.base_ohm)
            placed.append(place)
            noise += _transistor(sums, part, place, at_rest)
        else:
            return Unsolved(f"{part.ref} is an ideal transformer; give it windings with a coupling below 1.")
    made = {name: np.moveaxis(each, (0, 1), (-2, -1)) for name, each in sums.matrices.items()}
    return Linear(
        nodes=nodes,
        passive=(made["g"], made["c"], made["gamma"]),
        active=(made["active_g"], made["active_c"]),
        crystals=tuple(crystals),
        noise=tuple(noise),
        transistors=tuple(placed),
        ports=tuple(sums.at(port.node) for port in circuit.ports),
        port_ohm=tuple(port.ohm for port in circuit.ports),
        bias=at_rest,
    )


def _two_leads(sums: _Sums, part: Part, a: int, b: int, times: float | Array) -> None:
    value, lossy = part.value * times, 1 if part.q is None else 1 - 1j / part.q
    if part.kind == "resistor":
        sums.between("g", a, b, 1 / value)
    elif part.kind == "capacitor":
        sums.between("c", a, b, value * lossy)
    else:
        sums.between("gamma", a, b, 1 / (value * lossy))


def _windings(sums: _Sums, windings: Windings, nodes: tuple[str, ...]) -> None:
    """Inverse inductances of windings: the current of each per flux of every one."""
    many = range(len(windings.henry))
    inverse = np.linalg.inv([[windings.mutual_h(a, b) for b in many] for a in many])
    ends = [(sums.at(nodes[2 * n]), sums.at(nodes[2 * n + 1])) for n in many]
    for a in many:
        for b in many:
            sums.add("gamma", ends[a], ends[b], inverse[a, b])


def _coils(sums: _Sums, coils: CoupledCoils, branch: Branch, times: float | Array) -> Unsolved | None:
    if not coils.coupling < 1:
        return Unsolved(_TIED.format(coils.ref))
    lossy = 1 if coils.q is None else 1 - 1j / coils.q
    mutual = coils.coupling * np.sqrt(coils.primary_h * coils.secondary_h)
    spread = times * lossy * (coils.primary_h * coils.secondary_h - mutual**2)
    one, two = ((sums.at(branch.nodes[n]), sums.at(branch.nodes[n + 1])) for n in (0, 2))
    sums.add("gamma", one, one, coils.secondary_h / spread)
    sums.add("gamma", two, two, coils.primary_h / spread)
    sums.add("gamma", one, two, -mutual / spread)
    sums.add("gamma", two, one, -mutual / spread)
    return None


def _chip(sums: _Sums, part: Chip, nodes: tuple[str, ...]) -> list[tuple[int, int, float]]:
    """Stamp a chip; its sources of noise, which are all it has."""
    made = elements(part, nodes)
    for into, across, siemens in made.sources:
        sums.add(
            "active_g",
            (sums.at(into[0]), sums.at(into[1])),
            (sums.at(across[0]), sums.at(across[1])),
            siemens,
        )
    for a, b, farad in made.capacitors:
        sums.between("active_c", sums.at(a), sums.at(b), farad)
    return [(sums.at(a), sums.at(b), density) for a, b, density in made.noise]


def _transistor(sums: _Sums, part: Transistor, at: Placed, rest: Bias) -> list[tuple[int, int, _Density]]:
    """Stamp a transistor; its sources of noise."""
    device, point = part.device, rest.transistors[part.ref]
    into, across = (
        {"output": (at.output, at.common), "control": (at.control, at.common)},
        (
            (at.control, at.common),
            (at.output, at.common),
        ),
    )
    for name, table in (("output", point.series.output), ("control", point.series.control)):
        sums.add("active_g", into[name], across[0], table[1, 0])
        sums.add("active_g", into[name], across[1], table[0, 1])
    charge = point.series.charge
    sums.add("active_c", into["control"], across[0], charge[1, 0])
    sums.add("active_c", into["control"], across[1], charge[0, 1])
    if isinstance(device, Bipolar):
        sums.between("c", at.control, at.common, device.emitter_f)
        sums.between("c", at.control, at.output, device.feedback_f)
        return [
            (at.output, at.common, 2 * ELECTRON * abs(point.output_a)),
            (at.control, at.common, 2 * ELECTRON * abs(point.control_a)),
        ]
    sums.between("c", at.control, at.common, device.gate_source_f)
    sums.between("c", at.control, at.output, device.gate_drain_f)
    sums.between("c", at.output, at.common, device.drain_source_f)
    thermal = 4 * BOLTZMANN * TEMPERATURE_K * _CHANNEL_NOISE
    return [(at.output, at.common, thermal * abs(point.series.output[1, 0]))]
