"""Bounded fit of a network's part values to a wanted loss or match, on the exact response."""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, ComplexArray, Network, solve
from core.record import record

_STEP = 1e-4
#: No value moves by more than this factor in one step, nor by more than its cube altogether.
_LARGEST_MOVE = 1.5


#: Misses of rows of moves, shape (rows, variables) -> (rows, points).
Misses = Callable[[Array], Array]


@record
class Fit:
    """Fitted values by part reference (SI), and the worst weighted miss in dB at the points asked."""

    values: Mapping[str, float]
    worst_db: float


def moved(start: Mapping[str, float], tied: Sequence[tuple[str, ...]], moves: Array) -> dict[str, Array]:
    """Values by reference for rows of moves, shape (rows, groups); a move is the logarithm of a factor.

    `tied` groups references that keep their ratio. Each value has shape (rows, 1), as `solve` wants it.
    """
    return {ref: start[ref] * np.exp(moves[:, [n]]) for n, group in enumerate(tied) for ref in group}


def slopes(misses: Misses, at: Array) -> tuple[Array, Array]:
    """The misses at one row of moves, shape (points,), and their slopes along each move (points, count)."""
    table = misses(at + np.vstack([np.zeros(at.size), _STEP * np.eye(at.size)]))
    return table[0], (table[1:] - table[0]).T / _STEP


def least_squares(
    misses: Misses, count: int, rounds: int = 12, largest: float = _LARGEST_MOVE, settled: float = 1e-3
) -> Array:
    """The `count` moves with the least sum of squared misses, from zero; shape (count,).

    Damped Gauss-Newton after Levenberg and Marquardt. Each round solves all finite differences in one
    broadcast call. No move grows by more than the logarithm of `largest` in a round, nor by more than three
    times that altogether; the best point seen is returned, never a worse one than the start. A round that
    gains less than the share `settled` of the sum is the last.
    """
    best = np.zeros(count)
    damping, reach = 1e-3, np.log(largest)
    miss, jacobian = slopes(misses, best)
    cost = float(miss @ miss)
    for _ in range(rounds):
        normal, slope = jacobian.T @ jacobian, jacobian.T @ miss
        scale = np.diag(np.maximum(np.diag(normal), 1e-12))
        # Several dampings tried at once: one broadcast solve costs little more than one response.
        dampings = damping * np.array([0.01, 0.1, 1.0, 10.0, 1000.0])
        trials = np.array([best - np.linalg.solve(normal + d * scale, slope) for d in dampings])
        trials = np.clip(best + np.clip(trials - best, -reach, reach), -3 * reach, 3 * reach)
        # What gives no number is no better place.
        costs = np.nan_to_num(np.sum(misses(trials) ** 2, axis=-1), nan=np.inf)
        pick = int(np.argmin(costs))
        if not costs[pick] < cost * (1 - min(settled, 1e-6)):
            break
        last = costs[pick] > cost * (1 - settled)
        best, cost, damping = trials[pick], float(costs[pick]), float(np.clip(dampings[pick], 1e-9, 1e6))
        if last:
            break
        miss, jacobian = slopes(misses, best)
    return best


def fit_losses(
    network: Network,
    start: Mapping[str, float],
    tied: Sequence[tuple[str, ...]],
    f_hz: ArrayLike,
    wanted_db: ArrayLike,
    weights: ArrayLike = 1.0,
    rounds: int = 12,
) -> Fit:
    """Move the values in `start` so that the loss at `f_hz` [Hz] comes near `wanted_db` [dB].

    Both have shape (F,).

    `tied` groups references that keep their ratio (symmetric halves of a filter). Variables are
    logarithms, so values stay positive.
    """
    f, wanted = np.asarray(f_hz, dtype=float), np.asarray(wanted_db, dtype=float)
    weight = np.broadcast_to(np.asarray(weights, dtype=float), f.shape)

    def misses(moves: Array) -> Array:
        loss = np.minimum(solve(network, f, values=moved(start, tied, moves)).loss_db, 300.0)
        return weight * (loss - wanted)

    best = least_squares(misses, len(tied), rounds)[np.newaxis]
    values = {ref: float(value[0, 0]) for ref, value in moved(start, tied, best).items()}
    return Fit(MappingProxyType(values), float(np.abs(misses(best)).max()))


#: What a coil pays for leaving its start, as a reflection a whole e-fold away [-].
_STAY = 0.005


def fit_match(
    network: Network,
    start: Mapping[str, float],
    f_hz: ArrayLike,
    wanted_s11: ComplexArray,
    opposed: Mapping[str, str] | None = None,
) -> dict[str, float]:
    """Move the values in `start` so that S11 at `f_hz`, shape (F,) [Hz], comes near `wanted_s11` (F,).

    What stands behind a reference in `opposed` moves the other way, so that their product stays: coil and
    capacitor of a trap. On a narrow band many sets of values match alike; a small price on leaving the start
    settles that.
    """
    f, against = np.asarray(f_hz, dtype=float), dict(opposed or {})
    tied = tuple((ref,) for ref in start if ref not in against.values())
    count = len(tied)

    def at(moves: Array) -> dict[str, Array]:
        values = moved(start, tied, moves)
        return values | {other: start[other] * start[ref] / values[ref] for ref, other in against.items()}

    def misses(moves: Array) -> Array:
        off = solve(network, f, values=at(moves)).s11 - wanted_s11
        return np.hstack([off.real, off.imag, _STAY * np.sqrt(f.size) * moves])

    best = least_squares(misses, count, 25)[np.newaxis]
    return {ref: float(value[0, 0]) for ref, value in at(best).items()}
