"""What a signal and the noise become along two-ports in a row, each with the impedances it really sees.

One row vector is carried from the source: what a source [Zs] makes of the chain matrices up to a place. It
tells gain, the impedance behind, and how the next two-port's noise weighs at the source, so that mismatch
counts and nothing is multiplied twice. Derived here from the chain matrices of `two_port.py`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.active.two_port import TwoPort
from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.units import BOLTZMANN, T0_KELVIN


@dataclass(frozen=True, slots=True, eq=False)
class Along:
    """A row of n two-ports between a source and a load, on a grid of F frequencies.

    `gain` (n + 1, F): power that the source, one two-port after the other behind it, would give a resistance
    of `between_ohm`, over what the source could give at best [-]; the last is what the real load gets.
    `excess` (n, F): each one's own noise, alone, over k T0 of the source [-]. `output_ohm` (F,) is what the
    load sees, `match` (F,) which share of what is available there it gets [-].
    """

    gain: Array
    excess: Array
    output_ohm: ComplexArray
    match: Array


def along(
    stages: Sequence[TwoPort],
    source_ohm: ArrayLike,
    load_ohm: ArrayLike,
    *,
    between_ohm: float,
    points: int,
) -> Along:
    """Two-ports in a row between a source and a load [ohm], numbers or shape (F,), F being `points`."""
    source = np.broadcast_to(np.asarray(source_ohm, dtype=complex), (points,))
    load = np.broadcast_to(np.asarray(load_ohm, dtype=complex), (points,))
    one, other = np.ones(points, dtype=complex), source
    volts, amperes, noise = [one], [other], []
    for stage in stages:
        (a, b), (c, d) = stage.chain
        (vv, vi), (_, ii) = stage.noise
        # <|v + Zs i|²> carried to the source.
        noise.append(
            (one * one.conj()).real * vv.real
            + (other * other.conj()).real * ii.real
            + 2 * (one * other.conj() * vi).real
        )
        one, other = one * a + other * c, one * b + other * d
        volts.append(one)
        amperes.append(other)
    into = np.full((len(volts), points), between_ohm, dtype=complex)
    into[-1] = load
    reach = np.abs(np.array(volts) * into + np.array(amperes)) ** 2
    gain = 4 * source.real * into.real / reach
    match = 4 * (other * one.conj()).real * load.real / reach[-1]
    excess = np.array(noise).reshape(len(noise), points) / (4 * BOLTZMANN * T0_KELVIN * source.real)
    return Along(frozen(gain), frozen(excess), frozen(other / one), frozen(match))
