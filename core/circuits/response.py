"""Figures read off a network's exact response."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, Network, solve

#: Points of the first look at a curve; each crossing found there is then refined by itself.
_COARSE_POINTS = 801
_REFINED_POINTS = 33
#: Points over which a noise bandwidth is integrated; the skirts are smooth between them.
_NOISE_POINTS = 601


@dataclass(frozen=True, slots=True)
class PassBand:
    """What a curve shows of its pass-band; frequencies in Hz, losses in dB; None: never reached.

    `edges_db` holds, for each depth asked, the lower and upper edge relative to the least loss.
    `ripple_db` is the spread of the loss in the inner 80 % of the −3 dB width, `return_loss_db` the
    worst there.
    """

    least_loss_db: float
    ripple_db: float
    return_loss_db: float
    edges_hz: Mapping[float, tuple[float | None, float | None]]

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
    runs: dict[float, NDArray[np.bool_]] = {}
    for depth in sorted(depths_db):
        passed = loss <= least + depth
        if depth > 10 and runs:
            passed = _together_with(passed, top)
        runs[depth] = passed
    edges = _edges(network, f, runs, least)
    low3, high3 = edges[min(depths_db)]
    low3, high3 = low_hz if low3 is None else low3, high_hz if high3 is None else high3
    middle, half = (low3 + high3) / 2, 0.4 * (high3 - low3)
    inner = solve(network, np.linspace(middle - half, middle + half, 201))
    ripple = float(inner.loss_db.max() - inner.loss_db.min())
    return PassBand(least, ripple, float(inner.return_loss_db.min()), edges)


def served_grid(ranges_hz: Sequence[tuple[float, float]], points: int = 21) -> Array:
    """A grid [Hz] of some points on each of several ranges (low, high) [Hz]."""
    return np.concatenate([np.linspace(low, high, points) for low, high in ranges_hz])


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
    network: Network, f_hz: Array, runs: dict[float, NDArray[np.bool_]], least_db: float
) -> Mapping[float, tuple[float | None, float | None]]:
    """Lower and upper edge of what passes at each depth; all crossings are refined together."""
    asked: list[tuple[float, int, int]] = []
    for depth, passed in runs.items():
        inside = np.flatnonzero(passed)
        if inside.size and inside[0] > 0:
            asked.append((depth, 0, int(inside[0]) - 1))
        if inside.size and inside[-1] < f_hz.size - 1:
            asked.append((depth, 1, int(inside[-1])))
    edges: dict[float, list[float | None]] = {depth: [None, None] for depth in runs}
    left = np.array([place for _, _, place in asked], dtype=int)
    levels = least_db + np.array([depth for depth, _, _ in asked])
    found = crossings(network, f_hz[left], f_hz[left + 1], levels)
    for (depth, side, _), hz in zip(asked, found, strict=True):
        edges[depth][side] = float(hz)
    return MappingProxyType({depth: (low, high) for depth, (low, high) in edges.items()})


def noise_bandwidth_hz(network: Network, low_hz: float, high_hz: float) -> float:
    """Noise bandwidth [Hz] of a network: the integral of |S21|^2 over its largest value.

    Integrated by the trapezium rule between `low_hz` and `high_hz`, which must hold all that passes: white
    noise comes out of the network as out of a rectangle of this width and of the network's least loss.
    """
    f = np.linspace(low_hz, high_hz, _NOISE_POINTS)
    passed = 10 ** (-solve(network, f).loss_db / 10)
    return float(np.trapezoid(passed, f) / passed.max())


def crossing(network: Network, low_hz: float, high_hz: float, level_db: float) -> float:
    """Frequency [Hz] between two neighbours of a grid where the loss equals `level_db`."""
    return float(crossings(network, np.array([low_hz]), np.array([high_hz]), np.array([level_db]))[0])


def crossings(network: Network, low_hz: Array, high_hz: Array, level_db: Array) -> Array:
    """Frequencies [Hz] between neighbours of a grid where the loss equals `level_db`; all of shape (K,)."""
    low, high, rows = low_hz, high_hz, np.arange(low_hz.size)
    for _ in range(2):
        f = np.linspace(low, high, _REFINED_POINTS, axis=-1)
        above = solve(network, f.ravel()).loss_db.reshape(f.shape) > level_db[:, np.newaxis]
        change = above[:, 1:] != above[:, :-1]
        first, any_change = change.argmax(axis=-1), change.any(axis=-1)
        low = np.where(any_change, f[rows, first], low)
        high = np.where(any_change, f[rows, first + 1], high)
    below, beyond = solve(network, np.concatenate([low, high])).loss_db.reshape(2, -1)
    straight = np.isfinite(below) & np.isfinite(beyond) & (below != beyond)
    share = np.full(low.shape, 0.5)
    np.divide(level_db - below, beyond - below, out=share, where=straight)
    return low + np.clip(share, 0, 1) * (high - low)
