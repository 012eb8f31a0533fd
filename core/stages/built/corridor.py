"""The corridor in which nine of ten filters lie, quickly enough to follow the hand.

A tolerance run (`core.stages.tolerance`) with few trials and nothing measured of them: the same parts
scatter in the same way, and trimmers are set in the same way. The trials are always the same ones, so that
the corridor moves with the design and does not flicker.
"""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, frozen
from core.record import record
from core.stages.outcome import FilterDesign
from core.stages.tolerance import Spreads, draw, peaked, trimming_hz

#: Filters tried, and those solved at once: their arrays still fit into a processor's cache.
TRIALS, _CHUNK = 64, 16

Dials = tuple[tuple[float, float], ...]


@record(eq=False)
class Corridor:
    """5th and 95th percentile of the loss [dB] at `f_hz` [Hz]; arrays of shape (F,), read-only."""

    f_hz: Array
    low_db: Array
    high_db: Array


def corridor(design: FilterDesign, f_hz: Array, spreads: Spreads, dials: Dials) -> Corridor:
    """What scattered parts make of a filter's loss on a grid (F,) [Hz]; `dials` [Hz] are what its trimmers,
    where it has any, are set for.
    """
    values = _tried(design, spreads, dials)
    loss = np.empty((TRIALS, f_hz.size))
    for first in range(0, TRIALS, _CHUNK):
        rows = slice(first, first + _CHUNK)
        loss[rows] = design.response(f_hz, {ref: each[rows] for ref, each in values.items()}).loss_db
    low, high = np.percentile(np.minimum(loss, 1e3), [5, 95], axis=0)
    return Corridor(frozen(f_hz), frozen(low), frozen(high))


@lru_cache(maxsize=16)
def _tried(design: FilterDesign, spreads: Spreads, dials: Dials) -> dict[str, Array]:
    """The parts' values of every trial, arrays (T, 1) by reference, trimmers set."""
    values = draw(design.circuit, spreads, TRIALS)
    if design.trimmed and dials:
        values = peaked(design, trimming_hz(dials), values)
    return values
