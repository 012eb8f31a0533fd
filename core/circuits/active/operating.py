"""Direct currents of a circuit with transistors: Newton's method on its nodes.

Modified nodal analysis with coils as wires and capacitors as gaps. Junctions step logarithmically (L. W.
Nagel, SPICE2, ERL-M520, 1975, from memory), gates by a bounded step; where that does not settle, conductances
across the junctions are taken away decade by decade, and then the supply is raised step by step. Such
conductances never reach the signal's equations.
"""

from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from math import isfinite, log, sqrt
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuits.active.taylor import Taylor, first_order, taylor
from core.circuits.circuit import (
    GROUND,
    THERMAL_V,
    Bipolar,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Part,
    Transformer,
    Transistor,
    Windings,
    without_bias,
    without_dc_path,
)
from core.circuits.devices.chips import elements
from core.circuits.ladder import Array
from core.circuits.unsolved import Unsolved
from core.record import record

_MOST_STEPS = 100
#: A node stands when it moves by less than this, V, and this share of itself [-].
STILL_V, STILL = 1e-9, 1e-9
#: Conductances across junctions, taken away one after the other, S.
_HELPS_S = (*(10.0**-n for n in range(2, 13)), 0.0)
_SUPPLY_STEPS = 20


@record(kw_only=True)
class OperatingPoint:
    """A transistor at rest, or T of them as arrays.

    `output_a` collector or drain current, `control_a` base current [A]; `control_v` Vbe or Vgs behind the
    base resistance, `output_v` Vce or Vds [V]; `series` the device's equations around this point.
    """

    output_a: float
    control_a: float
    control_v: float
    output_v: float
    series: Taylor

    @property
    def watt(self) -> float:
        """What heats the transistor, W."""
        return self.output_a * self.output_v + self.control_a * self.control_v


@record
class Bias:
    """Direct voltages of every node [V], each transistor at rest by its reference, and what is drawn from
    every rail [A]; of T circuits together arrays (T,) in the place of numbers (`many.py`).
    """

    volts: Mapping[str, float]
    transistors: Mapping[str, OperatingPoint]
    rails_a: Mapping[str, float]
    steps: int


class Equations:
    """G x = i with x the nodes' voltages and the currents of coils and rails, without the transistors."""

    def __init__(self, circuit: Circuit) -> None:
        self.nodes = [*circuit.nodes]
        self.nodes += [rail.node for rail in circuit.rails if rail.node not in self.nodes]
        self.inner = {
            part.ref: f"{part.ref} base"
            for part, _ in circuit.transistors
            if isinstance(part.device, Bipolar) and part.device.base_ohm > 0
        }
        self.nodes += self.inner.values()
        self.nodes += [node for part, nodes in circuit.chips for node in elements(part, nodes).inner]
        self.place = {node: n for n, node in enumerate(self.nodes)}
        wires = [pair for branch in circuit.branches for pair in _wires(branch.part, branch.nodes)]
        size = len(self.nodes) + len(wires) + len(circuit.rails)
        self.matrix, self.driven = np.zeros((size, size)), np.zeros(size)
        for branch in circuit.branches:
            part = branch.part
            if isinstance(part, Part) and part.kind == "resistor":
                self._conductance(branch.nodes[0], branch.nodes[1], 1 / part.value)
            elif isinstance(part, ControlledSource):
                self._controlled(branch.nodes, part.siemens)
            elif isinstance(part, Transistor) and part.ref in self.inner:
                assert isinstance(part.device, Bipolar)
                self._conductance(branch.nodes[1], self.inner[part.ref], 1 / part.device.base_ohm)
        for port in circuit.ports:
            self._conductance(port.node, GROUND, 1 / port.ohm)
        for chip, nodes in circuit.chips:
            made = elements(chip, nodes)
            for into, across, siemens in (*made.sources, *made.at_rest):
                self._controlled((*into, *across), siemens)
            self.driven[self.place[nodes[-1]]] -= chip.device.supply_a
        row = len(self.nodes)
        for a, b in wires:
            self._held(row, a, b, 0.0)
            row += 1
        for rail in circuit.rails:
            self._held(row, rail.node, GROUND, rail.volt)
            row += 1
        self.devices: list[tuple[Transistor, tuple[int, int, int]]] = []
        for part, nodes in circuit.transistors:
            leads = (nodes[0], self.inner.get(part.ref, nodes[1]), nodes[2])
            out, control, common = (self.place.get(node, -1) for node in leads)
            self.devices.append((part, (out, control, common)))

    @cached_property
    def stamps(self) -> tuple[NDArray[Any], NDArray[Any]]:
        """How the slopes of the transistors' currents come into the matrix, and what is left of the currents
        into the right side, shape (size, 2 a transistor).
        """
        leads = [leads for _, leads in self.devices]
        rests = np.zeros((len(self.driven), 2 * len(leads)))
        for n, (out, control, common) in enumerate(leads):
            for current, node in ((2 * n, out), (2 * n + 1, control)):
                for row, sign in ((node, -1.0), (common, 1.0)):
                    if row >= 0:
                        rests[row, current] += sign
        return slopes_into(len(self.driven), leads), rests

    def around(self, tried: Sequence[tuple[float, float]], share: float) -> tuple[NDArray[Any], NDArray[Any]]:
        """Matrix and right side with every transistor's currents linear around its control and output voltage
        [V], of a share of the supply; OverflowError where a junction is far beyond what it bears.
        """
        slopes, rests = self.stamps
        by, left = list[float](), list[float]()
        for (part, _), (u, w) in zip(self.devices, tried, strict=True):
            output, control, *steep = first_order(part.device, u, w)
            by += steep
            left += (output - steep[0] * u - steep[1] * w, control - steep[2] * u - steep[3] * w)
        matrix = self.matrix + (slopes @ by).reshape(self.matrix.shape)
        return matrix, self.driven * share + rests @ left

    def _conductance(self, a: str, b: str, siemens: float) -> None:
        self._controlled((a, b, a, b), siemens)

    def _controlled(self, nodes: tuple[str, ...], siemens: float) -> None:
        for row, sign in ((nodes[0], 1), (nodes[1], -1)):
            for column, way in ((nodes[2], 1), (nodes[3], -1)):
                if row != GROUND and column != GROUND:
                    self.matrix[self.place[row], self.place[column]] += sign * way * siemens

    def _held(self, row: int, a: str, b: str, volt: float) -> None:
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node != GROUND:
                self.matrix[row, self.place[node]] += sign
                self.matrix[self.place[node], row] += sign
        self.driven[row] = volt


def slopes_into(size: int, leads: Sequence[tuple[int, int, int]]) -> NDArray[Any]:
    """How the slopes of transistors' two currents by their two voltages, of the output current by control and
    output voltage and then of the control current, come into a matrix, shape (size², 4 a transistor).

    `leads` are places of output, control and common electrode, −1 for ground.
    """
    found = np.zeros((size, size, 4 * len(leads)))
    for n, (out, control, common) in enumerate(leads):
        for current, node in enumerate((out, control)):
            for row, sign in ((node, 1.0), (common, -1.0)):
                for voltage, column in enumerate((control, out)):
                    slope = 4 * n + 2 * current + voltage
                    if row >= 0 and column >= 0:
                        found[row, column, slope] += sign
                    if row >= 0 and common >= 0:
                        found[row, common, slope] -= sign
    return found.reshape(size**2, -1)


def between(size: int, place: Mapping[str, int], nodes: Sequence[tuple[str, ...]]) -> NDArray[Any]:
    """How admittances between pairs of nodes come into a matrix, shape (size², pairs); ground, the rails and
    nodes that have no place are not in it.
    """
    found = np.zeros((size, size, len(nodes)))
    for n, ends in enumerate(nodes):
        a, b = (place.get(node, -1) for node in ends)
        for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            if row >= 0 and column >= 0:
                found[row, column, n] += sign
    return found.reshape(size**2, -1)


def _wires(part: object, nodes: tuple[str, ...]) -> list[tuple[str, str]]:
    if isinstance(part, Part) and part.kind == "inductor":
        return [(nodes[0], nodes[1])]
    if isinstance(part, Transformer | CoupledCoils | Windings):
        return list(zip(nodes[::2], nodes[1::2], strict=True))
    return []


@lru_cache(maxsize=256)
def bias(circuit: Circuit) -> Bias | Unsolved:
    """Every direct voltage and current of a circuit, or why there is no such state."""
    return _bias(circuit, None)


def bias_near(circuit: Circuit, near: Bias) -> Bias | Unsolved:
    """The same of a circuit with the transistors of one that is at rest in `near`, and other values: from
    there Newton's method takes two or three steps.
    """
    return _bias(circuit, near)


def _bias(circuit: Circuit, near: Bias | None) -> Bias | Unsolved:
    for hardware, _ in circuit.hardware:
        return Unsolved(f"{hardware.ref} is none of what direct currents are solved for here.")
    loose = without_dc_path(circuit)
    hanging = without_bias(circuit, loose)
    if hanging is not None:
        return Unsolved(hanging)
    equations = Equations(fed(circuit, frozenset(loose)))
    found = settled(equations, None if near is None else (_start(equations, near), near.transistors))
    if isinstance(found, Unsolved):
        return found
    x, points, steps = found
    volts = {node: float(x[n]) for node, n in equations.place.items() if node not in equations.inner.values()}
    drawn = zip(circuit.rails, -x[len(x) - len(circuit.rails) :], strict=True)
    rails = {rail.node: float(ampere) for rail, ampere in drawn}
    return Bias(MappingProxyType(volts), MappingProxyType(points), MappingProxyType(rails), steps)


def point_at(series: Taylor, u: float, w: float) -> OperatingPoint:
    """A transistor at rest at a control and an output voltage [V], of its series there."""
    return OperatingPoint(
        output_a=float(series.output[0, 0]),
        control_a=float(series.control[0, 0]),
        control_v=u,
        output_v=w,
        series=series,
    )


def fed(circuit: Circuit, loose: frozenset[str]) -> Circuit:
    """The circuit without nodes that direct current does not reach; only capacitors end there."""
    kept = tuple(b for b in circuit.branches if not loose & set(b.nodes))
    return Circuit(kept, tuple(p for p in circuit.ports if p.node not in loose), circuit.rails)


#: What solves the equations, the transistors there, and after how many steps.
Found = tuple[NDArray[Any], dict[str, OperatingPoint], int]


def settled(
    equations: Equations, near: tuple[NDArray[Any], Mapping[str, OperatingPoint]] | None
) -> Found | Unsolved:
    """What solves equations, from a solution of others of the same transistors on, or why nothing does."""
    found = None
    if near is not None:
        (x, points), state = near, _Controls(equations)
        at = (points[part.ref] for part, _ in equations.devices)
        state.tried = [(point.control_v, point.output_v) for point in at]
        found = _newton(equations, x, state, 0.0, 1.0)
    return (
        found
        or _settled(equations)
        or Unsolved(
            "The direct currents do not settle: no state of these transistors fits these resistors; change "
            "the resistor changed last."
        )
    )


def _settled(equations: Equations) -> Found | None:
    size = len(equations.driven)
    start = np.zeros(size)
    state = _Controls(equations)
    found = _newton(equations, start, state, 0.0, 1.0)
    if found is not None:
        return found
    state, x = _Controls(equations), start
    for siemens in _HELPS_S:
        found = _newton(equations, x, state, siemens, 1.0)
        if found is None:
            break
        x = found[0]
    if found is not None:
        return found
    state, x = _Controls(equations), start
    for share in np.linspace(1 / _SUPPLY_STEPS, 1.0, _SUPPLY_STEPS):
        found = _newton(equations, x, state, 0.0, float(share))
        if found is None:
            return None
        x = found[0]
    return found


def _start(equations: Equations, near: Bias) -> NDArray[Any]:
    """The nodes' voltages in another state at rest [V]."""
    x = np.zeros(len(equations.driven))
    for node, place in equations.place.items():
        x[place] = near.volts.get(node, 0.0)
    return x


class _Controls:
    """Control and output voltage of each transistor as last tried, which bound the next step."""

    def __init__(self, equations: Equations) -> None:
        self.tried: list[tuple[float, float]] = []
        for part, _ in equations.devices:
            device = part.device
            if isinstance(device, Bipolar):
                self.tried.append((device.sign * 0.6, device.sign * 1.0))
            else:
                self.tried.append((device.sign * (device.threshold_v + 0.5), device.sign * 1.0))


def _newton(
    equations: Equations, x: NDArray[Any], state: _Controls, help_s: float, share: float
) -> Found | None:
    count = len(equations.nodes)
    for step in range(1, _MOST_STEPS + 1):
        try:
            matrix, driven = equations.around(state.tried, share)
        except OverflowError:
            return None
        if help_s:
            for _, (out, control, common) in equations.devices:
                for a, b in ((control, common), (control, out)):
                    _pair(matrix, a, b, help_s)
        try:
            new = np.linalg.solve(matrix, driven)
        except np.linalg.LinAlgError:
            return None
        if not isfinite(new.sum()):
            return None
        bounded = _bounded(equations, state, new.tolist())
        still = np.abs(new - x)[:count] <= STILL_V + STILL * np.abs(new[:count])
        x = new
        if not bounded and still.all():
            points = {
                part.ref: point_at(taylor(part.device, u, w), u, w)
                for (part, _), (u, w) in zip(equations.devices, state.tried, strict=True)
            }
            return x, points, step
    return None


def _pair(matrix: Array, a: int, b: int, siemens: float) -> None:
    for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
        if row >= 0 and column >= 0:
            matrix[row, column] += sign * siemens


def _bounded(equations: Equations, state: _Controls, x: list[float]) -> bool:
    """Move the voltages at which the devices are taken next; True where a step was cut."""
    cut = False
    # Ground is the place −1.
    x = [*x, 0.0]
    for n, (part, (out, control, common)) in enumerate(equations.devices):
        u, w = x[control] - x[common], x[out] - x[common]
        old_u, old_w = state.tried[n]
        sign, device = part.device.sign, part.device
        if isinstance(device, Bipolar):
            high = THERMAL_V * log(THERMAL_V / (sqrt(2) * device.saturation_a))
            new_u = sign * _junction(sign * u, sign * old_u, high)
            new_c = sign * _junction(sign * (u - w), sign * (old_u - old_w), high)
            new_w = new_u - new_c
        else:
            most = 0.5 * (1 + abs(device.threshold_v))
            new_u = old_u + min(max(u - old_u, -most), most)
            new_w = w
        cut = cut or abs(new_u - u) > STILL_V or abs(new_w - w) > STILL_V
        state.tried[n] = (new_u, new_w)
    return cut


def _junction(new: float, old: float, high: float) -> float:
    """A junction's next voltage: beyond `high` it rises by the logarithm only."""
    if new <= high or abs(new - old) <= 2 * THERMAL_V:
        return new
    if old > 0:
        argument = 1 + (new - old) / THERMAL_V
        return old + THERMAL_V * log(argument) if argument > 0 else high
    limited = THERMAL_V * log(new / THERMAL_V)
    return limited if isfinite(limited) else high
