"""Resonance of one coil in any network of capacitors, and what each capacitor has to do with it.

With a single coil the network's capacitors are, at its ends, one capacitance: the inverse of what the
inverse capacitance matrix says between the two nodes. The node voltages of that solution are the mode's
shape, and the share of the electric energy that a capacitor holds in it is exactly how much of a change of
its own the frequency sees: df/f = -1/2 (dL/L + sum share_i dC_i/C_i).

Source: nodal analysis; the shares are first-order perturbation of the eigenvalue (Rayleigh's quotient).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from core.circuits.circuit import GROUND, Circuit, Part, PartKind
from core.circuits.ladder import Array, frozen
from core.record import record


@record
class Capacitor:
    """A capacitor [F] between two nodes, 0 being ground; `farad` is a number or an array of any shape."""

    ref: str
    a: int
    b: int
    farad: Array | float


@record(slots=False)
class Mode:
    """The lossless resonance.

    `f_hz` has the capacitors' common shape (...); `capacitance_f` is that across the coil, same shape;
    `volts` has shape (..., nodes), ground first, per volt across the coil; `shares` are dimensionless, by
    reference, and add up to 1. `nodes` are their names where a circuit had some.
    """

    f_hz: Array
    capacitance_f: Array
    volts: Array
    shares: Mapping[str, Array]
    nodes: tuple[str, ...] = ()

    def at(self, node: str) -> Array:
        """Voltage of a circuit's node, shape (...), per volt across the coil [V/V]."""
        return np.asarray(self.volts[..., self.nodes.index(node)])


def _reactive(circuit: Circuit, kind: PartKind) -> Iterator[tuple[Part, tuple[str, ...]]]:
    return ((b.part, b.nodes) for b in circuit.branches if isinstance(b.part, Part) and b.part.kind == kind)


def _numbered(circuit: Circuit) -> dict[str, int]:
    """The nodes that capacitors touch, from 1 in the circuit's order, ground being 0."""
    touched = {node for _, nodes in _reactive(circuit, "capacitor") for node in nodes}
    return {GROUND: 0} | {
        node: n for n, node in enumerate((n for n in circuit.nodes if n in touched), start=1)
    }


def capacitors_of(circuit: Circuit, values: Mapping[str, Array | float]) -> tuple[Capacitor, ...]:
    """A circuit's capacitors between numbered nodes; `values` [F] replaces some by reference."""
    place = _numbered(circuit)
    return tuple(
        Capacitor(part.ref, place[a], place[b], values.get(part.ref, part.value))
        for part, (a, b) in _reactive(circuit, "capacitor")
    )


def resonance(circuit: Circuit, role: str, values: Mapping[str, Array | float]) -> Mode:
    """Resonance of the coil of this `role` with all capacitors of its circuit; all else is left out.

    `values` [F] replaces some capacitors by reference, arrays broadcasting against each other.
    """
    ((coil, ends),) = ((p, nodes) for p, nodes in _reactive(circuit, "inductor") if p.role == role)
    place = _numbered(circuit)
    found = mode(capacitors_of(circuit, values), coil.value, (place[ends[0]], place[ends[1]]))
    return replace(found, nodes=tuple(place))


def mode(capacitors: Sequence[Capacitor], coil_h: float, coil: tuple[int, int]) -> Mode:
    """Resonance of a coil of `coil_h` [H] between two nodes of a network of capacitors.

    Every node must be joined to ground by capacitors. Capacitances broadcast against each other.
    """
    nodes = 1 + max(max(c.a, c.b) for c in capacitors)
    shape = np.broadcast_shapes(*(np.shape(c.farad) for c in capacitors))
    matrix = np.zeros((*shape, nodes, nodes))
    for c in capacitors:
        for row, column, sign in ((c.a, c.a, 1), (c.b, c.b, 1), (c.a, c.b, -1), (c.b, c.a, -1)):
            matrix[..., row, column] += sign * np.asarray(c.farad)
    ends = np.zeros(nodes)
    ends[coil[0]] += 1
    ends[coil[1]] -= 1
    # Scaled to one picofarad, so that the solver sees numbers near 1.
    inner = np.linalg.solve(
        matrix[..., 1:, 1:] * 1e12, np.broadcast_to(ends[1:, None], (*shape, nodes - 1, 1))
    )
    volts = np.zeros((*shape, nodes))
    volts[..., 1:] = inner[..., 0]
    across = volts @ ends
    volts = volts / across[..., None]
    capacitance = 1e-12 / across
    f = 1 / (2 * np.pi * np.sqrt(coil_h * capacitance))
    shares = {
        c.ref: frozen(np.asarray(c.farad) * (volts[..., c.a] - volts[..., c.b]) ** 2 / capacitance)
        for c in capacitors
    }
    return Mode(frozen(f), frozen(capacitance), frozen(volts), MappingProxyType(shares))


def in_series(*farads: Array | float) -> Array | float:
    """Capacitance [F] of capacitors in series, each a number or an array."""
    return 1 / sum(1 / each for each in farads)
