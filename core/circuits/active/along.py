"""What a signal and the noise become along two-ports in a row, each with the impedances it really sees.

One row vector is carried from the source: what a source [Zs] makes of the chain matrices up to a place. It
tells gain, the impedance behind, and how the next two-port's noise weighs at the source, so that mismatch
counts and nothing is multiplied twice. Derived here from the chain matrices of `two_port.py`.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.active.two_port import TwoPort
from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.units import BOLTZMANN, T0_KELVIN
from core.record import record


@record(eq=False)
class Along:
    """A row of n two-ports between a source and a load, on a grid of F frequencies.

    `gain_db` (n + 1, F): what the source, with one two-port after the other behind it, gives a resistance
    between them, over what it could give at best [dB]; the last is what the real load gets. `excess_db`
    (n, F): each one's own noise, alone, over k T0 of the source [dB], −∞ for none. `output_ohm` (F,) is what
    the load sees, `match` (F,) which share of what is available there it gets [-].
    """

    gain_db: Array
    excess_db: Array
    output_ohm: ComplexArray
    match: Array


def along(
    stages: Sequence[TwoPort], source_ohm: ArrayLike, load_ohm: ArrayLike, between_ohm: ArrayLike, points: int
) -> Along:
    """Two-ports in a row between a source and a load [ohm], numbers or shape (F,), F being `points`.

    `between_ohm` is the resistance in which levels between them are told [ohm], or the impedances that really
    stand there, shape (n + 1, F) of n two-ports.
    """
    source = np.broadcast_to(np.asarray(source_ohm, dtype=complex), (points,))
    load = np.broadcast_to(np.asarray(load_ohm, dtype=complex), (points,))
    one, other = np.ones(points, dtype=complex), source
    scale_db = np.zeros(points)
    rows, scales, noise = [(one, other)], [scale_db], []
    with np.errstate(divide="ignore"):
        for stage in stages:
            (a, b), (c, d) = stage.chain
            (vv, vi), (_, ii) = stage.noise
            # <|v + Zs i|²>, carried to the source.
            own = (one * one.conj()).real * vv.real + (other * other.conj()).real * ii.real
            own = own + 2 * (one * other.conj() * vi).real
            noise.append(10 * np.log10(np.maximum(own, 0.0)) + scale_db)
            one, other = one * a + other * c, one * b + other * d
            # A long row may lose or amplify more than a float's square can hold.
            size = np.abs(one) + np.abs(other)
            one, other, scale_db = one / size, other / size, scale_db + 20 * np.log10(size)
            rows.append((one, other))
            scales.append(scale_db)
        into = np.empty((len(rows), points), dtype=complex)
        into[:] = between_ohm
        into[-1] = load
        volts, amperes = np.array(rows).swapaxes(0, 1)
        reach = np.abs(volts * into + amperes) ** 2
        # What is negative gives power back instead of taking it: how much of it flows is told.
        gain_db = 10 * np.log10(4 * source.real * np.abs(into.real) / reach) - np.array(scales)
        unit_db = 10 * np.log10(4 * BOLTZMANN * T0_KELVIN * source.real)
        excess_db = np.array(noise).reshape(len(noise), points) - unit_db
        output_ohm = other / one
    match = 4 * (other * one.conj()).real * load.real / reach[-1]
    return Along(frozen(gain_db), frozen(excess_db), frozen(output_ohm), frozen(match))
