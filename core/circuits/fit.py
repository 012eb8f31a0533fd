"""Bounded fit of a network's part values to wanted losses: damped Gauss-Newton on the exact response."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, Network, solve

_STEP = 1e-4
#: No value moves by more than this factor in one step, nor by more than its cube altogether.
_LARGEST_MOVE = 1.5


@dataclass(frozen=True, slots=True)
class Fit:
    """Fitted values by part reference (SI), and the worst weighted miss in dB at the points asked."""

    values: dict[str, float]
    worst_db: float


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
    logarithms, so values stay positive. Each round solves all finite differences in one broadcast call.
    Levenberg and Marquardt's damping; the best point seen is returned, never a worse one.
    """
    f, wanted = np.asarray(f_hz, dtype=float), np.asarray(wanted_db, dtype=float)
    weight = np.broadcast_to(np.asarray(weights, dtype=float), f.shape)

    def misses(moves: Array) -> Array:
        """Weighted misses for rows of moves, shape (rows, variables) -> (rows, F)."""
        values = {
            ref: start[ref] * np.exp(moves[:, [column]]) for column, group in enumerate(tied) for ref in group
        }
        loss = np.minimum(solve(network, f, values=values).loss_db, 300.0)
        return weight * (loss - wanted)

    count = len(tied)
    best = np.zeros(count)
    steps = np.vstack([np.zeros(count), _STEP * np.eye(count)])
    damping = 1e-3
    table = misses(best + steps)
    cost = float(table[0] @ table[0])
    for _ in range(rounds):
        jacobian = (table[1:] - table[0]).T / _STEP
        normal, slope = jacobian.T @ jacobian, jacobian.T @ table[0]
        scale = np.diag(np.maximum(np.diag(normal), 1e-12))
        # Several dampings tried at once: one broadcast solve costs little more than one response.
        dampings = damping * np.array([0.01, 0.1, 1.0, 10.0, 1000.0])
        trials = np.array([best - np.linalg.solve(normal + d * scale, slope) for d in dampings])
        trials = best + np.clip(trials - best, -np.log(_LARGEST_MOVE), np.log(_LARGEST_MOVE))
        trials = np.clip(trials, -3 * np.log(_LARGEST_MOVE), 3 * np.log(_LARGEST_MOVE))
        costs = np.sum(misses(trials) ** 2, axis=-1)
        pick = int(np.argmin(costs))
        if not costs[pick] < cost * (1 - 1e-6):
            break
        settled = costs[pick] > cost * (1 - 1e-3)
        best, cost, damping = trials[pick], float(costs[pick]), float(np.clip(dampings[pick], 1e-9, 1e6))
        if settled:
            break
        table = misses(best + steps)
    values = {
        ref: float(start[ref] * np.exp(best[column])) for column, group in enumerate(tied) for ref in group
    }
    return Fit(values, float(np.abs(misses(best[None, :])).max()))
