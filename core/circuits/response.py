"""Figures read off a network's exact response."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, Network, power_passed, solve
from core.record import record

#: Points of the first look at a curve: where the pass-band is expected, and beyond it on each side.
_INNER_POINTS, _OUTER_POINTS = 301, 81
#: Between two neighbours of a grid each crossing and each top is looked at again.
_REFINED_POINTS = 33
#: Newton's steps to the root of a cubic that is nearly straight; three do for the last digit of a float.
_ROOT_STEPS = 4
#: Points over which a noise bandwidth is integrated; the skirts are smooth between them.
_NOISE_POINTS = 601
_TOP_POINTS = 17
#: Tops this far below the least loss of the first look are no part of a pass-band, dB.
_LOWEST_TOP_DB = 20.0
#: What of a −3 dB width is left out at either end where ripple and reflection are judged, a share [-].
LEFT_OUT = 0.1
#: How far out an edge is looked for that does not lie in the span given: an octave each way.
_FARTHEST, _FAR_POINTS = 2.0, 301


_Hz = TypeVar("_Hz", float, Array)


def inner_part(low_hz: _Hz, high_hz: _Hz) -> tuple[_Hz, _Hz]:
    """Both ends [Hz] of the inner 80 % of a −3 dB width between two edges [Hz], one or arrays of one shape.

    Ripple and return loss are over this part wherever they are told, as every filter rolls off beyond.
    """
    edge_hz = LEFT_OUT * (high_hz - low_hz)
    return low_hz + edge_hz, high_hz - edge_hz


@record
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
    network: Network,
    low_hz: float,
    high_hz: float,
    depths_db: tuple[float, ...] = (3.0, 6.0, 60.0),
    *,
    inner_hz: tuple[float, float] | None = None,
) -> PassBand:
    """Find a band-pass's edges at `depths_db` below its least loss between `low_hz` and `high_hz`.

    `inner_hz` is where the pass-band is expected, looked at more closely; every top of the response is then
    looked at by itself, so that the narrow ones at the corners of a ladder of many poles are not missed.
    An edge that does not lie in the span is looked for up to an octave out.

    Down to 10 dB the outermost crossings count, so that a dip inside the pass-band does not end it; a
    deeper edge is the first one met going outwards from there, so that stop-band flare does not move it.
    Each crossing is refined on a grid of its own, to about a millionth of the span.
    """
    f = _first_grid(low_hz, high_hz, inner_hz)
    f, loss = _with_tops(network, f, solve(network, f).loss_db)
    found = _pass_band_on(network, f, loss, depths_db)
    if all(None not in edges for edges in found.edges_hz.values()):
        return found
    out = np.geomspace(1, _FARTHEST, _FAR_POINTS)[1:]
    below, above = low_hz / out[::-1], high_hz * out
    far = solve(network, np.concatenate([below, above])).loss_db
    loss = np.concatenate([far[: below.size], loss, far[below.size :]])
    return _pass_band_on(network, np.concatenate([below, f, above]), loss, depths_db, among=f)


def _first_grid(low_hz: float, high_hz: float, inner_hz: tuple[float, float] | None) -> Array:
    if inner_hz is None:
        return np.linspace(low_hz, high_hz, _INNER_POINTS + 2 * _OUTER_POINTS)
    low, high = max(inner_hz[0], low_hz), min(inner_hz[1], high_hz)
    below = np.linspace(low_hz, low, _OUTER_POINTS, endpoint=False)
    above = np.linspace(high_hz, high, _OUTER_POINTS, endpoint=False)[::-1]
    return np.concatenate([below, np.linspace(low, high, _INNER_POINTS), above])


def _with_tops(network: Network, f_hz: Array, loss_db: Array) -> tuple[Array, Array]:
    """The grid and its losses with points of their own around every top of the response."""
    inside = loss_db[1:-1]
    tops = 1 + np.flatnonzero(
        (inside <= loss_db[:-2]) & (inside <= loss_db[2:]) & (inside < loss_db.min() + _LOWEST_TOP_DB)
    )
    if tops.size == 0:
        return f_hz, loss_db
    around = np.linspace(f_hz[tops - 1], f_hz[tops + 1], _TOP_POINTS, axis=-1)[:, 1:-1].ravel()
    f = np.concatenate([f_hz, around])
    order = np.argsort(f, kind="stable")
    return f[order], np.concatenate([loss_db, solve(network, around).loss_db])[order]


def _pass_band_on(
    network: Network, f: Array, loss: Array, depths_db: tuple[float, ...], among: Array | None = None
) -> PassBand:
    """The figures on a grid with its losses; the least loss is that on the part `among` of the grid."""
    near = np.ones(f.shape, dtype=bool) if among is None else (f >= among[0]) & (f <= among[-1])
    top = int(np.argmin(np.where(near, loss, np.inf)))
    least = float(loss[top])
    runs: dict[float, NDArray[np.bool_]] = {}
    for depth in sorted(depths_db):
        passed = loss <= least + depth
        if depth > 10 and runs:
            runs[depth] = _together_with(passed, top)
        else:
            # What begins on the part may go on beyond it; another pass-band out there is another matter.
            first, last = np.flatnonzero(passed & near)[[0, -1]]
            runs[depth] = (passed & near) | _together_with(passed, first) | _together_with(passed, last)
    edges = _edges(network, f, runs, least)
    low3, high3 = edges[min(depths_db)]
    low3, high3 = f[0] if low3 is None else low3, f[-1] if high3 is None else high3
    inner = solve(network, np.linspace(*inner_part(float(low3), float(high3)), 201))
    ripple = float(inner.loss_db.max() - inner.loss_db.min())
    return PassBand(least, ripple, float(inner.return_loss_db.min()), edges)


def served_grid(ranges_hz: Sequence[tuple[float, float]], points: int = 21) -> Array:
    """A grid [Hz] of some points on each of several ranges (low, high) [Hz]; empty for none."""
    low, high = np.reshape(ranges_hz, (-1, 2)).T
    return np.linspace(low, high, points, axis=-1).ravel()


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


def noise_bandwidth_hz(
    network: Network,
    low_hz: float,
    high_hz: float,
    *,
    at_hz: float | None = None,
    ends_ohm: tuple[complex, complex] | None = None,
) -> float:
    """Noise bandwidth [Hz] of a network: the integral of its power gain over the largest, or over that at
    `at_hz` [Hz].

    Integrated by the trapezium rule between `low_hz` and `high_hz`, which must hold all that passes: white
    noise comes out of the network as out of a rectangle of this width and of that gain. It stands between its
    own resistances, or between `ends_ohm`, source and load.
    """
    f = np.linspace(low_hz, high_hz, _NOISE_POINTS)
    source, load = ends_ohm or (network.source_ohm, network.load_ohm)
    power = power_passed(network, f if at_hz is None else np.append(f, at_hz), source, load)
    with np.errstate(invalid="ignore", divide="ignore"):
        return float(np.trapezoid(power[: f.size], f) / (power.max() if at_hz is None else power[-1]))


def crossing(network: Network, low_hz: float, high_hz: float, level_db: float) -> float:
    """Frequency [Hz] between two neighbours of a grid where the loss equals `level_db`."""
    return float(crossings(network, np.array([low_hz]), np.array([high_hz]), np.array([level_db]))[0])


def crossings(network: Network, low_hz: Array, high_hz: Array, level_db: Array) -> Array:
    """Frequencies [Hz] between neighbours of a grid where the loss equals `level_db`; all of shape (K,).

    Between the points of a finer grid the loss is the cubic through the four nearest: to some billionths of
    a decibel on a ladder's edges. Where the level lies beyond both neighbours, the nearer one is the answer.
    """
    f, rows = np.linspace(low_hz, high_hz, _REFINED_POINTS, axis=-1), np.arange(low_hz.size)
    over = solve(network, f.ravel()).loss_db.reshape(f.shape) - level_db[:, np.newaxis]
    change = (over[:, 1:] > 0) != (over[:, :-1] > 0)
    first = change.argmax(axis=-1)
    start = np.clip(first - 1, 0, _REFINED_POINTS - 4)
    y0, y1, y2, y3 = (over[rows, start + n] for n in range(4))
    with np.errstate(invalid="ignore", divide="ignore"):
        # Newton's form on equal steps; its root lies between the points `first` and the next.
        one, two, three = y1 - y0, (y2 - 2 * y1 + y0) / 2, (y3 - 3 * y2 + 3 * y1 - y0) / 6
        least = (first - start).astype(float)
        here, there = over[rows, first], over[rows, first + 1]
        u = least + here / (here - there)
        for _ in range(_ROOT_STEPS):
            value = y0 + u * (one + (u - 1) * (two + (u - 2) * three))
            slope = one + (2 * u - 1) * two + (3 * u * (u - 2) + 2) * three
            u = np.clip(u - value / slope, least, least + 1)
    # At a pole the loss is infinite, and no cubic goes through it.
    u = np.where(np.isfinite(u), u, least + 0.5)
    nearer = np.where(np.abs(over[:, 0]) <= np.abs(over[:, -1]), f[:, 0], f[:, -1])
    return np.where(change.any(axis=-1), f[rows, start] + u * (f[:, 1] - f[:, 0]), nearer)
