"""Figures read off a network's exact response."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, Network, solve

#: Points of the first look at a curve; each crossing found there is then refined by itself.
_COARSE_POINTS = 801
_REFINED_POINTS = 33


@dataclass(frozen=True, slots=True)
class PassBand:
    """What a curve shows of its pass-band; frequencies in Hz, losses in dB; None: never reached.

    `edges_db` holds, for each depth asked, the lower and upper edge relative to the least loss.
    `ripple_db` is the spread of the loss between the −3 dB points' inner 80 %.
    """

    least_loss_db: float
    ripple_db: float
    edges_hz: dict[float, tuple[float | None, float | None]]

    def bandwidth_hz(self, depth_db: float) -> float | None:
        """Distance between the edges at a depth in dB, Hz; None when an edge was not found."""
        low, high = self.edges_hz[depth_db]
        return None if low is None or high is None else high - low


def pass_band(
    network: Network, low_hz: float, high_hz: float, depths_db: tuple[float, ...] = (3.0, 6.0, 60.0)
) -> PassBand:
    """Find a band-pass's edges at `depths_db` below its least loss between `low_hz` and `high_hz`.

    Down to 10 dB the outermost crossings count, so that a dip inside the pass-band does not end it; a
    deeper edge is the first one met going outwards from there, so that stop-band flare does not move it.
    Each crossing is refined twice on a grid of its own, to about a millionth of the span.
    """
    f = np.linspace(low_hz, high_hz, _COARSE_POINTS)
    loss = solve(network, f).loss_db
    top = int(np.argmin(loss))
    fine = np.linspace(f[max(top - 1, 0)], f[min(top + 1, f.size - 1)], _REFINED_POINTS)
    least = float(min(loss[top], solve(network, fine).loss_db.min()))
    edges: dict[float, tuple[float | None, float | None]] = {}
    for depth in sorted(depths_db):
        passed = loss <= least + depth
        if depth > 10 and edges:
            passed = _together_with(passed, top)
        edges[depth] = _edges(network, f, passed, least + depth)
    low3, high3 = edges[min(depths_db)]
    low3, high3 = low_hz if low3 is None else low3, high_hz if high3 is None else high3
    middle, half = (low3 + high3) / 2, 0.4 * (high3 - low3)
    inner = solve(network, np.linspace(middle - half, middle + half, 201)).loss_db
    return PassBand(least, float(inner.max() - inner.min()), edges)


def _together_with(passed: NDArray[np.bool_], top: int) -> NDArray[np.bool_]:
    """Only the run of passed points that holds the point `top`."""
    stopped = np.flatnonzero(~passed)
    position = int(np.searchsorted(stopped, top))
    low = stopped[position - 1] + 1 if position > 0 else 0
    high = stopped[position] if position < stopped.size else passed.size
    run = np.zeros_like(passed)
    run[low:high] = True
    return run


def _edges(
    network: Network, f_hz: Array, passed: NDArray[np.bool_], level_db: float
) -> tuple[float | None, float | None]:
    inside = np.flatnonzero(passed)
    if inside.size == 0:
        return None, None
    first, last = int(inside[0]), int(inside[-1])
    low = None if first == 0 else crossing(network, f_hz[first - 1], f_hz[first], level_db)
    high = None if last == f_hz.size - 1 else crossing(network, f_hz[last], f_hz[last + 1], level_db)
    return low, high


def crossing(network: Network, low_hz: float, high_hz: float, level_db: float) -> float:
    """Frequency [Hz] between two neighbours of a grid where the loss equals `level_db`."""
    for _ in range(2):
        f = np.linspace(low_hz, high_hz, _REFINED_POINTS)
        above = solve(network, f).loss_db > level_db
        change = np.flatnonzero(above[1:] != above[:-1])
        if change.size == 0:
            break
        low_hz, high_hz = float(f[change[0]]), float(f[change[0] + 1])
    f = np.array([low_hz, high_hz])
    loss = solve(network, f).loss_db
    if loss[0] == loss[1] or not np.all(np.isfinite(loss)):
        return float(f.mean())
    return float(np.clip(np.interp(0.0, *_ascending(loss - level_db, f)), low_hz, high_hz))


def _ascending(x: Array, y: Array) -> tuple[Array, Array]:
    return (x, y) if x[0] <= x[1] else (x[::-1], y[::-1])
