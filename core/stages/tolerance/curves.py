"""Width, ripple and least loss of many curves on one grid of frequencies."""

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.circuits.response import inner_part


def measure(f_hz: Array, loss_db: Array) -> tuple[Array, Array, Array]:
    """−6 dB width [Hz], ripple over the inner 80 % of the −3 dB width [dB] and least loss [dB] of rows of
    losses (T, F).

    Edges are interpolated on the grid `f_hz` (F,). A trial whose pass-band leaves the grid has width and
    ripple NaN, which keep no limit.
    """
    low, high, inside = edges(f_hz, loss_db, 6.0)
    start, end = inner_part(*edges(f_hz, loss_db, 3.0)[:2])
    inner = (f_hz >= start[:, None]) & (f_hz <= end[:, None])
    least = loss_db.min(axis=-1)
    top = np.where(inner, loss_db, -np.inf).max(axis=-1)
    return np.where(inside, high - low, np.nan), np.where(inside, top - least, np.nan), least


def edges(f_hz: Array, loss_db: Array, depth_db: float) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Outer frequencies [Hz] at which each row has lost `depth_db` more than at least, and whether both lie
    on the grid.
    """
    level = loss_db.min(axis=-1) + depth_db
    passed = loss_db <= level[:, None]
    first = passed.argmax(axis=-1)
    last = passed.shape[-1] - 1 - passed[:, ::-1].argmax(axis=-1)
    low = _between(f_hz, loss_db, np.maximum(first - 1, 0), first, level)
    high = _between(f_hz, loss_db, last, np.minimum(last + 1, f_hz.size - 1), level)
    return low, high, (first > 0) & (last < f_hz.size - 1)


def _between(
    f_hz: Array, loss_db: Array, near: NDArray[np.int64], far: NDArray[np.int64], level_db: Array
) -> Array:
    """Frequency between two neighbouring points of each row at which the loss has a level."""
    row = np.arange(loss_db.shape[0])
    a, b = loss_db[row, near], loss_db[row, far]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(a == b, 0.0, (level_db - a) / (b - a))
    return np.asarray(f_hz[near] + np.clip(share, 0, 1) * (f_hz[far] - f_hz[near]))
