"""Every line m x oscillator ± n x signal that leaves a mixer, for a signal of any size.

Of diodes the circuit without memory of `diodes.py` is solved on a grid of both phases by Newton's method and
its output taken apart by cosines. What balance cancels comes back by what devices and windings differ: the
circuit's answer to a small difference of each, as strong as the difference. A second harmonic of the drive
moves every other passage through zero like such a difference, and mostly counts more. Of a transistor array
every line is a product of two series, of the oscillator's switching and of the pair that takes the signal.
Stray capacitances are left out.
"""

from functools import lru_cache

import numpy as np

from core.circuits.circuit import THERMAL_V, Diode
from core.circuits.ladder import Array, frozen
from core.circuits.switching.diodes import Board, driven, inverse, jacobian, phases, settled, sloping
from core.circuits.switching.tail_pair import TailPair, shares_at
from core.record import record

#: Highest multiple of oscillator and of signal.
HIGHEST = 11
#: Phases of the oscillator over half a period, how much closer together they lie where it passes through
#: zero, and phases of the signal: lines down to −90 dB are within 0.1 dB of those of twice as many.
_PHASES, _GATHERED, _OF_SIGNAL = 48, 2.0, 16
#: Oscillator's phases of an array, whose switching is smooth in them.
_OF_ARRAY = 128


@record(eq=False, kw_only=True)
class Lines:
    """Peak amplitudes of the lines m x oscillator ± n x signal at the output, each of shape (S, HIGHEST + 1,
    HIGHEST + 1): S sizes of the signal, then m and n [V; of an array A].

    With everything alike they are `whole`; `per_volt` is what they grow by for a volt by which every device
    strays by itself, `uneven` for a unit by which the halves of every winding differ (roots of the squares'
    sums), `second` for a second harmonic as strong as the drive's fundamental, in the phase that counts most.
    """

    whole: Array
    per_volt: Array
    uneven: Array
    second: Array


@lru_cache(maxsize=4)
def _series(count: int) -> Array:
    """1, 2, 2, 2 ...: what a mean with a cosine becomes its amplitude by."""
    return frozen(np.r_[1.0, np.full(count, 2.0)])


@lru_cache(maxsize=1)
def _halves() -> Array:
    """A line on each side shares what both multiples have; shape (HIGHEST + 1, HIGHEST + 1)."""
    halves = np.full((HIGHEST + 1, HIGHEST + 1), 0.5)
    halves[0], halves[:, 0] = 1.0, 1.0
    return frozen(halves)


@lru_cache(maxsize=1)
def _taken_apart() -> tuple[Array, Array, Array, Array]:
    """Phases of oscillator and signal, and what takes the amplitudes out of a function of each."""
    of_drive, weight = phases(_PHASES, _GATHERED)
    of_signal = (np.arange(_OF_SIGNAL) + 0.5) * np.pi / _OF_SIGNAL
    numbers = np.arange(HIGHEST + 1)[:, None]
    times = _series(HIGHEST)[:, None]
    by_drive = times * np.cos(numbers * of_drive) * weight
    by_signal = times * np.cos(numbers * of_signal) / _OF_SIGNAL
    return of_drive, frozen(of_signal), frozen(by_drive), frozen(by_signal)


def lines_of_diodes(
    board: Board,
    diode: Diode,
    drive_v: float,
    signal_v: Array,
    ohm: tuple[float, float, float],
    backwards: bool = False,
) -> Lines:
    """Lines at the third port for signals at the second of EMFs `signal_v` [V, peak], shape (S,), with an
    EMF of the oscillator of `drive_v` [V, peak], behind `ohm` as for `conversion`; `backwards` from the third
    port to the second. NaN where the circuit does not settle.
    """
    rows, load = np.array(board.across, dtype=float), np.array(ohm)
    enters, leaves = (2, 1) if backwards else (1, 2)
    of_drive, of_signal, by_drive, by_signal = _taken_apart()
    if not np.any(signal_v):
        # The oscillator's own lines are the same at every phase of no signal.
        of_signal, by_signal = of_signal[:1], np.eye(HIGHEST + 1, 1)
    emf = np.broadcast_to(
        (drive_v * np.cos(of_drive))[:, None], (len(signal_v), of_drive.size, of_signal.size)
    )
    given = np.zeros((*emf.shape, 3))
    given[..., 0] = emf / load[0]
    given[..., enters] = signal_v[:, None, None] * np.cos(of_signal) / load[enters]
    volts = settled(rows, diode, load, given, driven(rows, diode, emf, load))
    across = volts @ rows.T
    current, slope, _ = sloping(diode, across)
    out = inverse(jacobian(rows, slope, load))[..., leaves, :]

    def lines(of: Array) -> Array:
        return np.asarray(by_drive @ of @ by_signal.T * _halves())

    # A small change e of the voltage across a diode moves the output by J⁻¹ aᵀ g e; other rows take their own
    # share of the currents besides.
    strays = np.moveaxis((out @ rows.T) * slope, -1, 0)
    shifts = []
    for winding in board.uneven:
        more = np.array(winding, dtype=float)
        shifts.append((out * (current @ more + (slope * (volts @ more.T)) @ rows)).sum(axis=-1))
    second = out[..., 0] * (drive_v * np.cos(2 * of_drive) / load[0])[:, None]
    return Lines(
        whole=lines(volts[..., leaves]),
        per_volt=np.sqrt((lines(strays) ** 2).sum(axis=0)),
        uneven=np.sqrt((lines(np.array(shifts)) ** 2).sum(axis=0)),
        second=np.abs(lines(second)),
    )


def lines_of_array(pair: TailPair, drive_v: float, signal_v: Array) -> Lines:
    """Lines of the collectors' current [A, peak] for `drive_v` between the switching bases and signals of
    `signal_v`, shape (S,), between those of the lower pair [V, peak].

    The switching pairs' offsets give even multiples of the oscillator, the lower pair's even ones of the
    signal and the oscillator alone; an array has no windings.
    """
    _, of_signal, _, by_signal = _taken_apart()
    numbers = np.arange(HIGHEST + 1)[:, None]
    of_drive = (np.arange(_OF_ARRAY) + 0.5) * np.pi / _OF_ARRAY
    by_drive = _series(HIGHEST)[:, None] * np.cos(numbers * of_drive) / _OF_ARRAY
    switched = np.tanh(drive_v * np.cos(of_drive) / (2 * THERMAL_V))
    share, slope = shares_at(pair, signal_v[:, None] * np.cos(of_signal))
    flat = np.ones_like(of_signal)

    def lines(drive: Array, signal: Array) -> Array:
        of_all = (by_drive @ drive)[:, None] * (signal @ by_signal.T)[..., None, :]
        return np.asarray(pair.tail_a * of_all * _halves())

    # Each half of the tail current is switched by a pair of its own; a volt there counts by its slope.
    bend = (1 - switched**2) / (2 * THERMAL_V)
    halves = [lines(bend, (1 + sign * share) / 2 * flat) for sign in (1, -1)]
    of_pair = lines(switched, slope)
    return Lines(
        whole=lines(switched, share),
        per_volt=np.sqrt(halves[0] ** 2 + halves[1] ** 2 + of_pair**2),
        uneven=np.zeros_like(of_pair),
        second=np.abs(lines(bend * drive_v * np.cos(2 * of_drive), share)),
    )
