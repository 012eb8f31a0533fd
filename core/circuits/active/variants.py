"""A circuit whose resistors and capacitors take one set of values after the other, as a search tries them.

What stays the same is set up once: where each part stands in the equations, and what all the others do.
Direct currents are found from those of the values tried last; noise is left out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf, pi
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuits.active.linear import Linear, around
from core.circuits.active.operating import (
    Bias,
    Equations,
    Found,
    OperatingPoint,
    between,
    fed,
    settled,
    slopes_into,
)
from core.circuits.active.two_port import NO_ANSWER, TwoPort
from core.circuits.circuit import Branch, Circuit, Part, without_bias, without_dc_path
from core.circuits.ladder import ComplexArray, frozen
from core.circuits.unsolved import Unsolved

#: The value of a part that is as good as not there.
_ABSENT = {"resistor": inf, "capacitor": 0.0}
_NO_NOISE = frozen(np.zeros((2, 2, 1), dtype=complex))


class Variants:
    """What a circuit does with other values of its `parts`, which are its resistors and lossless capacitors;
    values in their order [ohm, F].
    """

    def __init__(self, circuit: Circuit) -> None:
        varied = [
            (b.part, b.nodes)
            for b in circuit.branches
            if isinstance(b.part, Part) and b.part.kind in _ABSENT and b.part.q is None
        ]
        self.parts = tuple(part for part, _ in varied)
        self._resists = np.array([part.kind == "resistor" for part in self.parts])
        self._nodes = [nodes for _, nodes in varied]
        bare = {part.ref: replace(part, value=_ABSENT[part.kind]) for part in self.parts}
        branches = tuple(Branch(bare.get(b.part.ref, b.part), b.nodes) for b in circuit.branches)
        self._bare = Circuit(branches, circuit.ports, circuit.rails)
        loose = without_dc_path(circuit)
        self._hanging = without_bias(circuit, loose)
        self._equations = Equations(fed(self._bare, frozenset(loose)))
        self._open: NDArray[Any] = self._equations.matrix
        resistors = [nodes for part, nodes in varied if part.kind == "resistor"]
        self._direct = between(len(self._open), self._equations.place, resistors)
        self._signal: _Signal | None = None
        self._last: Found | None = None
        self._known: dict[bytes, Found | Unsolved] = {}

    def at_rest(self, values: Sequence[float]) -> Mapping[str, OperatingPoint] | Unsolved:
        """The transistors at rest, by reference."""
        found = self._settled(np.array(values))
        return found if isinstance(found, Unsolved) else found[1]

    def two_port(self, values: Sequence[float], f_hz: float) -> TwoPort | Unsolved:
        """What the circuit does at a frequency [Hz], without its noise."""
        given = np.array(values)
        found = self._settled(given)
        if isinstance(found, Unsolved):
            return found
        if self._signal is None:
            rest = Bias(MappingProxyType({}), MappingProxyType(found[1]), MappingProxyType({}), 0)
            made = around(self._bare, rest)
            if isinstance(made, Unsolved):
                return made
            self._signal = _Signal(made, self._nodes)
        siemens = np.where(self._resists, 1 / given, 2j * pi * f_hz * given)
        return self._signal.two_port(siemens, found[1], f_hz)

    def _settled(self, values: NDArray[Any]) -> Found | Unsolved:
        if self._hanging is not None:
            return Unsolved(self._hanging)
        siemens = 1 / values[self._resists]
        known = self._known.get(key := siemens.tobytes())
        if known is None:
            self._equations.matrix = self._open + (self._direct @ siemens).reshape(self._open.shape)
            near = None if self._last is None else self._last[:2]
            known = self._known[key] = settled(self._equations, near)
        if not isinstance(known, Unsolved):
            self._last = known
        return known


class _Signal:
    """The admittances at a circuit's nodes; those of the varied parts, which stand between `nodes`, and of
    transistors as far as they are others than in the `frame` come on top of it.
    """

    def __init__(self, frame: Linear, nodes: Sequence[tuple[str, ...]]) -> None:
        self._frame, size = frame, len(frame.nodes)
        self._parts = between(size, {node: n for n, node in enumerate(frame.nodes)}, nodes)
        leads = [(at.output, at.control, at.common) for at in frame.transistors]
        self._transistors = slopes_into(size, leads)
        self._ends = np.zeros((size, 2))
        for n, port in enumerate(frame.ports):
            self._ends[port, n] = 1.0

    def two_port(
        self, siemens: ComplexArray, points: Mapping[str, OperatingPoint], f_hz: float
    ) -> TwoPort | Unsolved:
        """The two-port with these admittances of the parts [S] and transistors at rest, at `f_hz` [Hz]."""
        frame, f = self._frame, np.array([f_hz])
        steeper = self._slopes(points, f_hz) - self._slopes(frame.bias.transistors, f_hz)
        added = (self._parts @ siemens + self._transistors @ steeper).reshape((len(frame.nodes),) * 2)
        with np.errstate(all="ignore"):
            whole = (frame.passive_at(f) + frame.active_at(f))[0] + added
            for port, ohm in zip(frame.ports, frame.port_ohm, strict=True):
                whole[port, port] += 1 / ohm
            try:
                found = np.linalg.solve(whole, self._ends)[list(frame.ports)]
            except np.linalg.LinAlgError:
                return Unsolved(NO_ANSWER)
        if not np.isfinite(found).all():
            return Unsolved(NO_ANSWER)
        (z11, z12), (z21, z22) = found.tolist()
        # Admittances of the circuit with its ports' resistances, and these taken off again.
        over, (one, two) = z11 * z22 - z12 * z21, (1 / ohm for ohm in frame.port_ohm)
        y11, y12, y21, y22 = z22 / over - one, -z12 / over, -z21 / over, z11 / over - two
        chain = np.array([[[-y22], [-1.0]], [[y12 * y21 - y11 * y22], [-y11]]]) / y21
        return TwoPort(frozen(f), frozen(chain), _NO_NOISE)

    def _slopes(self, points: Mapping[str, OperatingPoint], f_hz: float) -> ComplexArray:
        """By how much the transistors' currents rise with their voltages [S], as `slopes_into` has them."""
        w = 2j * pi * f_hz
        found: list[complex] = []
        for at in self._frame.transistors:
            series = points[at.ref].series
            for a, b in ((1, 0), (0, 1)):
                found.append(series.output[a, b])
            for a, b in ((1, 0), (0, 1)):
                found.append(series.control[a, b] + w * series.charge[a, b])
        return np.array(found)
