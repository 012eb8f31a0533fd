"""Resonance of one coil in any network of capacitors, and what each capacitor has to do with it.

With a single coil the network's capacitors are, at its ends, one capacitance: the inverse of what the
inverse capacitance matrix says between the two nodes. The node voltages of that solution are the mode's
shape, and the share of the electric energy that a capacitor holds in it is exactly how much of a change of
its own the frequency sees: df/f = -1/2 (dL/L + sum share_i dC_i/C_i).

Source: nodal analysis; the shares are first-order perturbation of the eigenvalue (Rayleigh's quotient).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from core.circuits.ladder import Array, frozen


@dataclass(frozen=True, slots=True)
class Capacitor:
    """A capacitor [F] between two nodes, 0 being ground; `farad` is a number or an array of any shape."""

    ref: str
    a: int
    b: int
    farad: Array | float


@dataclass(frozen=True)
class Mode:
    """The lossless resonance.

    `f_hz` has the capacitors' common shape (...); `capacitance_f` is that across the coil, same shape;
    `volts` has shape (..., nodes), ground first, per volt across the coil; `shares` are dimensionless, by
    reference, and add up to 1.
    """

    f_hz: Array
    capacitance_f: Array
    volts: Array
    shares: Mapping[str, Array]


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
