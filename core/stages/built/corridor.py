"""The corridor in which nine of ten filters lie, quickly enough to follow the hand.

A tolerance run (`core.stages.tolerance`) with few trials and nothing measured of them: the same parts
scatter in the same way, and trimmers are set in the same way. The trials are always the same ones, so that
the corridor moves with the design and does not flicker.

Solving every trial at every point that is drawn would take longer than painting it. So a trial is taken to
first order in the logarithms of its values, for which all slopes come of two sweeps
(`core.circuits.slopes`), and what that misses, a few tenths of a decibel and smooth, is found by solving the
trials on a coarser grid and laid between its points. Where a trial moves far, as in the notch of a trap,
first order says nothing, and the trials themselves are solved.
"""

from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, ComplexArray, frozen, group_delay_s, solve
from core.circuits.slopes import log_slopes
from core.model.bands import Dials
from core.record import record
from core.stages.outcome import FilterDesign
from core.stages.tolerance.drawn import draw, peaked, trimming_hz
from core.stages.tolerance.judging import Spreads

#: Filters tried, and those solved at once: their arrays still fit into a processor's cache.
TRIALS, _CHUNK = 64, 16
#: Where the loss lies within so much of its least, every so-manieth point is solved, or more where they would
#: be fewer than so many; elsewhere fewer are.
_NEAR_DB, _EVERY, _LEAST_POINTS, _EVERY_FAR = 30.0, 6, 40, 20
#: Where a trial's loss moves further than this to first order, all are solved, dB.
_FAR_DB = 5.0
#: Products of matrices so small that no library splits them among threads, which a busy window waits for.
_SPLIT = 12
#: Losses beyond this are all one, dB.
_MOST_DB = 1e3
_DB_PER_NEPER = float(20 * np.log10(np.e))
#: Step of a difference over the frequency, as a share of it [-].
_STEP = 1e-7

_Points = NDArray[np.intp]


@record(eq=False)
class Corridor:
    """5th and 95th percentile of the loss [dB] at `f_hz` [Hz]; arrays of shape (F,), read-only."""

    f_hz: Array
    low_db: Array
    high_db: Array


@record(eq=False)
class DelayCorridor:
    """5th and 95th percentile of the group delay [s] at `f_hz` [Hz]; arrays of shape (F,), read-only."""

    f_hz: Array
    low_s: Array
    high_s: Array


def corridor(design: FilterDesign, f_hz: Array, spreads: Spreads, dials: Dials) -> Corridor:
    """What scattered parts make of a filter's loss on a grid (F,) [Hz], ascending or descending; `dials` [Hz]
    are what its trimmers, where it has any, are set for.
    """
    values = _tried(design, spreads, dials)
    nominal = np.minimum(solve(design.network, f_hz).loss_db, _MOST_DB)
    moves, slopes = _moves(design, values), log_slopes(design.network, f_hz, tuple(values))
    first = _DB_PER_NEPER * _product(moves, slopes.real)

    def solved(some: _Points) -> Array:
        with np.errstate(divide="ignore"):
            return np.minimum(-20 * np.log10(np.abs(_each(design, f_hz[some], values))), _MOST_DB)

    return Corridor(frozen(f_hz), *_nine_of_ten(nominal + first, nominal, first, solved))


def delay_corridor(design: FilterDesign, f_hz: Array, spreads: Spreads, dials: Dials) -> DelayCorridor:
    """What scattered parts make of a filter's group delay on a grid (F,) [Hz], ascending or descending."""
    values = _tried(design, spreads, dials)
    moves, step = _moves(design, values), _STEP * f_hz
    below, above = (log_slopes(design.network, f_hz + side, tuple(values)) for side in (-step, step))
    first = _product(moves, (above - below).imag / (4 * np.pi * step))

    def solved(some: _Points) -> Array:
        f = f_hz[some]
        s21 = _each(design, np.concatenate([f - step[some], f + step[some]]), values)
        with np.errstate(divide="ignore", invalid="ignore"):
            turned = np.angle(s21[:, f.size :] / s21[:, : f.size])
        return np.asarray(-turned / (4 * np.pi * step[some]), dtype=float)

    loss = np.minimum(solve(design.network, f_hz).loss_db, _MOST_DB)
    trials = group_delay_s(design.network, f_hz) + first
    lost = _DB_PER_NEPER * _product(moves, below.real)
    return DelayCorridor(frozen(f_hz), *_nine_of_ten(trials, loss, lost, solved))


def _nine_of_ten(
    trials: Array, loss_db: Array, moved_db: Array, solved: Callable[[_Points], Array]
) -> tuple[Array, Array]:
    """The 5th and 95th percentile over trials (T, F) that are known to first order, and at some points are
    `solved`; `moved_db` (T, F) are the trials' losses to first order less that of the design.
    """
    with np.errstate(invalid="ignore"):
        far = ~(np.abs(moved_db).max(axis=0) < _FAR_DB)
    some = _to_solve(loss_db, far)
    found = solved(some)
    kept = ~far[some]
    if kept.any():
        known = some[kept]
        missed = found[:, kept] - trials[:, known]
        places = np.arange(far.size)
        left = np.clip(np.searchsorted(known, places, side="right") - 1, 0, max(known.size - 2, 0))
        right = np.minimum(left + 1, known.size - 1)
        share = np.clip((places - known[left]) / np.maximum(known[right] - known[left], 1), 0, 1)
        with np.errstate(invalid="ignore"):
            trials = trials + missed[:, left] * (1 - share) + missed[:, right] * share
    trials[:, some] = found
    ranked = np.sort(trials, axis=0)
    return _percentile(ranked, 0.05), _percentile(ranked, 0.95)


def _to_solve(loss_db: Array, far: NDArray[np.bool_]) -> _Points:
    """The points at which the trials are solved: all where first order says nothing, and their neighbours."""
    near = np.flatnonzero(loss_db <= loss_db.min() + _NEAR_DB)
    first, last = int(near[0]), int(near[-1])
    every = int(np.clip((last - first) // _LEAST_POINTS, 1, _EVERY))
    beside = far.copy()
    beside[1:] |= far[:-1]
    beside[:-1] |= far[1:]
    asked = [
        np.arange(0, first, _EVERY_FAR),
        np.arange(first, last, every),
        np.arange(last, loss_db.size, _EVERY_FAR),
        np.flatnonzero(beside),
        np.array([loss_db.size - 1]),
    ]
    return np.unique(np.concatenate(asked))


def _percentile(ranked: Array, share: float) -> Array:
    """Of ranked rows, between the nearest two; as `np.percentile`, which takes ten times as long."""
    at = share * (len(ranked) - 1)
    low = int(at)
    return frozen(ranked[low] + (at - low) * (ranked[low + 1] - ranked[low]))


def _product(moves: Array, slopes: NDArray[Any]) -> Array:
    """The trials to first order, shape (T, F), of moves (T, P) along slopes (P, F)."""
    with np.errstate(invalid="ignore"):
        return np.hstack([moves @ some for some in np.array_split(slopes, _SPLIT, axis=1)])


def _moves(design: FilterDesign, values: Mapping[str, Array]) -> Array:
    """The logarithms of the trials' values over those of the design, shape (T, P)."""
    of = {part.ref: part for part in design.network.parts}
    nominal = []
    for name in values:
        ref, _, figure = name.partition(".")
        part = of[ref]
        figures = {
            "": part.value,
            "q": part.q,
            "lm": part.motional_inductance_h,
            "c0": part.holder_capacitance_f,
        }
        nominal.append(figures[figure])
    # Of a value that its scatter takes below nothing first order knows nothing, and it is solved everywhere.
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.log(np.hstack([*values.values()]) / np.array(nominal, dtype=float))


def _each(design: FilterDesign, f_hz: Array, values: Mapping[str, Array]) -> ComplexArray:
    """S21 of every trial [-], shape (T, F)."""
    chunks = (slice(first, first + _CHUNK) for first in range(0, TRIALS, _CHUNK))
    return np.vstack(
        [design.response(f_hz, {ref: each[rows] for ref, each in values.items()}).s21 for rows in chunks]
    )


@lru_cache(maxsize=16)
def _tried(design: FilterDesign, spreads: Spreads, dials: Dials) -> dict[str, Array]:
    """The parts' values of every trial, arrays (T, 1) by reference, trimmers set."""
    values = draw(design.circuit, spreads, TRIALS)
    if design.trimmed and dials:
        values = peaked(design, trimming_hz(dials), values)
    return values
