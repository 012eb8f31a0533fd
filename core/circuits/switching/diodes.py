"""Mixers of diodes: conversion, noise and third order from the diodes' own law and the oscillator's voltage.

Between ports of resistances that are the same at every frequency such a mixer has no memory, so that it is
solved at each phase of the oscillator by itself, and every sideband is in the answer: the conversion matrix
of infinitely many (S. A. Maas, Microwave Mixers, 2nd ed. 1993, from memory, for few). A small signal is
followed to third order there (as nonlinear currents are), a large one by Newton's method. Capacitances,
stored charge and flicker noise of the diodes are left out, which at HF costs a few tenths of a decibel.
"""

from functools import lru_cache

import numpy as np

from core.circuits.bias import omega
from core.circuits.circuit import ELECTRON, TEMPERATURE_K, Diode
from core.circuits.ladder import Array, frozen
from core.circuits.units import BOLTZMANN, T0_KELVIN
from core.record import record

#: Phases of half a period of the oscillator for small signals; of oscillator and signal for a large one.
_PHASES, _LARGE = 96, (14, 10)
#: How much closer together phases are where the oscillator's voltage passes through zero: exponent of a sinh;
#: a large signal widens the passage.
_GATHERED, _LESS_GATHERED = 5.0, 2.0
#: Newton's steps for a large signal, and when it stands still [V].
_MOST_STEPS, _STILL_V = 60, 1e-7


def current_a(diode: Diode, volt: Array, further_ohm: float = 0.0) -> Array:
    """Current of a diode [A] with a voltage [V] across it and a further resistance [ohm] in series.

    Lambert's W by its logarithm, Wright's omega, which overflows at no voltage.
    """
    ohm = diode.series_ohm + further_ohm
    found: Array = diode.slope_v / ohm * _omega(diode, volt, ohm) - diode.saturation_a
    return found


def sloping(diode: Diode, volt: Array) -> tuple[Array, Array, Array]:
    """Current [A] and its slope [A/V] at a voltage [V], any shape, and the omega that both follow from."""
    ohm = diode.series_ohm
    y = _omega(diode, volt, ohm)
    return diode.slope_v / ohm * y - diode.saturation_a, y / (1 + y) / ohm, y


def _bending(diode: Diode, y: Array) -> tuple[Array, Array]:
    """Coefficients of u² and u³ [A/V², A/V³] of the current where that omega is `y`."""
    ohm, a, over = diode.series_ohm, diode.slope_v, 1 / (1 + y)
    second = y * over * over * over
    third = (1 - 2 * y) * second * over * over
    return second / (2 * ohm * a), third / (6 * ohm * a**2)


def _omega(diode: Diode, volt: Array, ohm: float) -> Array:
    start = np.log(diode.saturation_a * ohm / diode.slope_v)
    return omega(start + (volt + diode.saturation_a * ohm) / diode.slope_v)


@record(kw_only=True)
class Board:
    """How diodes are connected: the voltage across each is its row of `across` times the ports' voltages.

    Ports are oscillator, signal (at the transformer's winding) and converted signal (at its centre tap), in
    this order, each with a resistance to ground; transformers are ideal. Of a current i in a diode the ports
    take the same row times i. `uneven` is, winding by winding, what such rows grow by for each unit by which
    its two halves differ; the first is the one that the oscillator's current passes.
    """

    across: tuple[tuple[float, float, float], ...]
    uneven: tuple[tuple[tuple[float, float, float], ...], ...]


#: Four diodes in a ring, oscillator and signal at its diagonals, their transformers' centre taps to ground
#: and to the third port: each half period two diodes tie one end of the signal's winding to ground.
RING = Board(
    across=((1, -1, -1), (1, 1, 1), (-1, 1, -1), (-1, -1, 1)),
    uneven=(
        ((0.5, 0, 0), (-0.5, 0, 0), (0.5, 0, 0), (-0.5, 0, 0)),
        ((0, -0.5, 0), (0, 0.5, 0), (0, -0.5, 0), (0, 0.5, 0)),
    ),
)
#: Two diodes from the ends of the signal's winding to the oscillator, opposite ways round: each half period
#: one conducts. The oscillator's fundamental cancels in the winding; its current passes all three ports.
TWO_DIODES = Board(across=((1, -1, -1), (-1, -1, 1)), uneven=(((0, -0.5, 0), (0, 0.5, 0)),))


@record(eq=False, kw_only=True)
class Conversion:
    """What a mixer does with small signals, arrays of shape (D,), one figure a drive.

    Transducer gain of the signal to the converted one [-], the same both ways, as diodes do not tell them
    apart; noise factor with terminations at 290 K on every sideband [-]; input intercept of third order per
    tone, available power [W]; impedances of both ports to the signal [ohm]; the diodes' largest current [A].
    What of the oscillator's fundamental stands at the winding's port [V, peak]: for a volt by which each
    diode's forward voltage strays, all of them apart (root of the squares' sum), and for a unit by which the
    halves of the winding differ; the rest of it cancels there.
    """

    gain: Array
    noise_factor: Array
    intercept_w: Array
    input_ohm: Array
    output_ohm: Array
    largest_a: Array
    carrier_per_volt: Array
    carrier_uneven_v: Array


@lru_cache(maxsize=4)
def phases(count: int, gathered: float) -> tuple[Array, Array]:
    """Phases from 0 to pi and their weights, which add up to one (Gauss-Legendre on a stretched line)."""
    t, w = np.polynomial.legendre.leggauss(count)
    full = np.sinh(gathered)
    phase = np.pi / 2 * (1 + np.sinh(gathered * t) / full)
    return frozen(phase), frozen(w / 2 * gathered * np.cosh(gathered * t) / full)


def conversion(board: Board, diode: Diode, drive_v: Array, ohm: tuple[float, float, float]) -> Conversion:
    """Small signals in a mixer driven by EMFs of `drive_v` [V, peak], shape (D,), behind `ohm[0]` [ohm].

    `ohm` are the resistances at oscillator, signal and converted signal, at every frequency.
    """
    rows, load = np.array(board.across, dtype=float), np.array(ohm)
    phase, weight = phases(_PHASES, _GATHERED)
    wave = np.cos(phase)
    emf = drive_v[:, None] * wave
    at_rest = driven(rows, diode, emf, load)
    volts = at_rest @ rows.T
    currents, first, y = sloping(diode, volts)
    second, third = _bending(diode, y)
    inverted = inverse(jacobian(rows, first, load))
    # Per volt of the signal's EMF, order by order.
    one = inverted[..., 1] / load[1]
    across = one @ rows.T
    two = -times(inverted, (second * across * across) @ rows)
    mixed = across * (2 * second * (two @ rows.T) + third * across * across)
    three = -times(inverted, mixed @ rows)

    def mean(of: Array) -> Array:
        return of @ weight

    wanted = mean(one[..., 2] * wave)
    unwanted = mean(three[..., 2] * wave)
    to_output = inverted[..., 2, :]
    noise = mean((_noise(diode, currents, first) * (to_output @ rows.T) ** 2).sum(axis=-1))
    thermal = 4 * BOLTZMANN * T0_KELVIN
    for port in (0, 1):
        noise = noise + mean(to_output[..., port] ** 2) * thermal / load[port]
    signal = (wanted * load[1]) ** 2 * thermal / load[1]
    # A small change e of the voltage across each diode moves the ports by J⁻¹ Aᵀ g e; other rows take their
    # own share of the currents besides.
    to_winding = inverted[..., 1, :]
    strays = (to_winding @ rows.T) * first
    more = np.array(board.uneven[0], dtype=float)
    shift = currents @ more + (first * (at_rest @ more.T)) @ rows
    uneven = -(to_winding * shift).sum(axis=-1)
    own = [mean(inverted[..., port, port]) for port in (1, 2)]
    return Conversion(
        gain=4 * wanted**2 * load[1] / load[2],
        noise_factor=noise / signal,
        intercept_w=4 / 3 * np.abs(wanted / unwanted) / (8 * load[1]),
        input_ohm=own[0] * load[1] / (load[1] - own[0]),
        output_ohm=own[1] * load[2] / (load[2] - own[1]),
        largest_a=currents.max(axis=(-1, -2)),
        carrier_per_volt=2 * np.sqrt((mean((strays * wave[:, None]).swapaxes(-1, -2)) ** 2).sum(axis=-1)),
        carrier_uneven_v=2 * np.abs(mean(uneven * wave)),
    )


def jacobian(rows: Array, slopes: Array, load: Array) -> Array:
    """Conductances at the ports [S], shape (..., 3, 3), of diodes with these slopes [A/V], shape (..., K)."""
    each = (rows[:, :, None] * rows[:, None, :]).reshape(len(rows), -1)
    found: Array = np.diag(1 / load) + (slopes @ each).reshape(*slopes.shape[:-1], 3, 3)
    return found


def inverse(matrix: Array) -> Array:
    """Inverse of symmetric matrices, shape (..., 3, 3), by their cofactors: many times as fast for thousands
    of them as the general way, and as exact, since no port here is shorted by more than a diode's ohms.
    """
    a, b, c = np.moveaxis(matrix[..., 0, :], -1, 0)
    (d, e), f = np.moveaxis(matrix[..., 1, 1:], -1, 0), matrix[..., 2, 2]
    ab, ac, bc = c * e - b * f, b * e - c * d, b * c - a * e
    cofactors = [d * f - e * e, ab, ac, ab, a * f - c * c, bc, ac, bc, a * d - b * b]
    whole = a * cofactors[0] + b * ab + c * ac
    found: Array = (np.stack(cofactors, axis=-1) / whole[..., None]).reshape(matrix.shape)
    return found


def times(matrix: Array, vector: Array) -> Array:
    """Matrices times vectors, shapes (..., 3, 3) and (..., 3)."""
    found: Array = (matrix @ vector[..., None])[..., 0]
    return found


def driven(rows: Array, diode: Diode, emf: Array, load: Array) -> Array:
    """The ports' voltages [V] without a signal, shape (..., 3), for an EMF [V] of the oscillator.

    The diodes that conduct carry one current through the ports' resistances; the others their saturation
    current at most, whose drop there is left out (under 0.1 mV).
    """
    forward = rows[:, 0] > 0
    line_ohm = float((rows[forward] @ np.diag(load) @ rows[forward].T)[0].sum())
    current = current_a(diode, np.abs(emf), line_ohm)
    conducting = forward == (emf > 0)[..., None]
    currents = np.where(conducting, current[..., None], 0.0)
    driven = np.zeros((*emf.shape, 3))
    driven[..., 0] = emf / load[0]
    found: Array = (driven - currents @ rows) * load
    return found


def _noise(diode: Diode, current: Array, slope: Array) -> Array:
    """Noise current across each diode's leads [A²/Hz] at a current [A] and its slope [A/V]: shot noise of
    both of its currents, and the thermal noise of its series resistance.
    """
    r = diode.series_ohm
    # Of the junction alone; far in conduction the resistance is all there is.
    junction = slope / np.maximum(1 - r * slope, 1e-12)
    shot = 2 * ELECTRON * (np.maximum(current, 0.0) + 2 * diode.saturation_a)
    thermal = 4 * BOLTZMANN * TEMPERATURE_K * r * junction**2
    found: Array = (shot + thermal) / (1 + r * junction) ** 2
    return found


def settled(rows: Array, diode: Diode, load: Array, given_a: Array, volts: Array) -> Array:
    """The ports' voltages [V] with currents [A] fed into them, shape (..., 3), by Newton's method from a
    guess of the same shape; NaN where they do not settle.
    """
    found, given = volts.reshape(-1, 3).copy(), given_a.reshape(-1, 3)
    # Most stand still after three steps; few take many, where the oscillator passes through zero.
    moving = np.arange(len(found))
    for _ in range(_MOST_STEPS):
        at = found[moving]
        current, slope, _ = sloping(diode, at @ rows.T)
        missed = at / load + current @ rows - given[moving]
        step = times(inverse(jacobian(rows, slope, load)), missed)
        found[moving] = at - step
        moving = moving[~(np.abs(step).max(axis=-1) < _STILL_V)]
        if not moving.size:
            return found.reshape(volts.shape)
    return np.full_like(volts, np.nan)


class _Large:
    """A mixer at one drive, for signals of any size."""

    def __init__(self, board: Board, diode: Diode, drive_v: float, ohm: tuple[float, float, float]) -> None:
        self.rows, self.diode, self.load = np.array(board.across, dtype=float), diode, np.array(ohm)
        phase, weight = phases(_LARGE[0], _LESS_GATHERED)
        turn = (np.arange(_LARGE[1]) + 0.5) * np.pi / _LARGE[1]
        # Half a period of the oscillator later the converted signal has turned its sign: a quarter tells all.
        quarter = phase < np.pi / 2
        self.wave = np.repeat(np.cos(phase[quarter]), turn.size)
        self.tone = np.tile(np.cos(turn), int(quarter.sum()))
        self.weight = np.repeat(2 * weight[quarter], turn.size) / turn.size
        self.driven_a = drive_v * self.wave / self.load[0]
        self.volts = np.zeros((self.wave.size, 3))

    def transfer(self, emf_v: float) -> float:
        """Converted signal per volt of a signal's EMF of `emf_v` [V, peak]; from the last one solved on."""
        given = np.zeros_like(self.volts)
        given[:, 0], given[:, 1] = self.driven_a, emf_v * self.tone / self.load[1]
        self.volts = settled(self.rows, self.diode, self.load, given, self.volts)
        return float(2 * (self.weight * self.volts[:, 2] * self.wave * self.tone).sum() / emf_v)


def compression_w(board: Board, diode: Diode, drive_v: float, ohm: tuple[float, float, float]) -> float:
    """Available power of a signal [W] at which its conversion gain has fallen by 1 dB; 1 W at the most.

    `drive_v` [V, peak] is the oscillator's EMF, `ohm` as for `conversion`. A single tone of no whole ratio to
    the oscillator, in steps of 6 dB and then by regula falsi to some 0.05 dB; NaN where the solution does not
    settle.
    """
    large, ohm_in = _Large(board, diode, drive_v, ohm), ohm[1]

    def lost_db(watt: float) -> float:
        return -20 * float(np.log10(abs(large.transfer(float(np.sqrt(8 * ohm_in * watt))) / small)))

    small = large.transfer(1e-3)
    low, high = 3e-5, 1.2e-4
    before, after = lost_db(low), lost_db(high)
    while after < 1:
        if high > 1:
            return 1.0
        low, before, high = high, after, 4 * high
        after = lost_db(high)
    for _ in range(3):
        share = (1 - before) / (after - before)
        middle = low * (high / low) ** share
        at = lost_db(middle)
        if abs(at - 1) < 0.02:
            return middle
        if at < 1:
            low, before = middle, at
        else:
            high, after = middle, at
    return float(low * (high / low) ** ((1 - before) / (after - before)))
