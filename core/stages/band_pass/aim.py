"""What a band-pass is fitted to with its coils' losses: width and centre as asked, and the best match."""

from collections.abc import Mapping, Sequence

import numpy as np

from core.circuits.fit import Fit, least_squares, moved
from core.circuits.ladder import Array, Network, solve
from core.circuits.response import served_grid
from core.record import record

#: What the edges' decibels weigh against a reflection of one: they are met, and what is left is matched.
_EDGES = 10.0
_DEPTH_DB, _POINTS, _ROUNDS = 3.0103, 13, 40


@record
class Aim:
    """Centre and −3 dB width [Hz], and the ranges (low, high) [Hz] where the match counts."""

    centre_hz: float
    width_hz: float
    matched_hz: tuple[tuple[float, float], ...]

    def fitted(self, network: Network, start: Mapping[str, float], tied: Sequence[tuple[str, ...]]) -> Fit:
        """Values in `start` moved, those `tied` together, so that a network with its losses comes near."""
        across = self.centre_hz + np.linspace(-0.45, 0.45, _POINTS) * self.width_hz
        edges = self.centre_hz + np.array([-0.5, 0.5]) * self.width_hz
        matched = served_grid(self.matched_hz, 9)
        f = np.concatenate([edges, across, matched])

        def misses(moves: Array) -> Array:
            found = solve(network, f, values=moved(start, tied, moves))
            loss = np.minimum(found.loss_db, 300.0)
            below = loss[:, :2] - loss[:, 2:].min(axis=1, keepdims=True) - _DEPTH_DB
            reflected = np.abs(found.s11[:, -matched.size :]) / np.sqrt(matched.size)
            return np.hstack([_EDGES * below, reflected])

        best = least_squares(misses, len(tied), _ROUNDS, settled=1e-4)[np.newaxis]
        values = {ref: float(value[0, 0]) for ref, value in moved(start, tied, best).items()}
        return Fit({**start, **values}, float(np.abs(misses(best)).max()))

    def off(self, network: Network) -> float:
        """How far width and centre are off together, a share of the width [-]; 1 where it has no edges."""
        f = self.centre_hz + np.linspace(-1.5, 1.5, 1201) * self.width_hz
        loss = solve(network, f).loss_db
        over = loss - loss.min() - _DEPTH_DB
        inside = np.flatnonzero(over <= 0)
        if inside[0] == 0 or inside[-1] == f.size - 1:
            return 1.0
        ends = [
            float(np.interp(0.0, [over[b], over[a]], [f[b], f[a]]))
            for a, b in ((inside[0] - 1, inside[0]), (inside[-1] + 1, inside[-1]))
        ]
        width, centre = ends[1] - ends[0], sum(ends) / 2
        return (abs(width - self.width_hz) + abs(centre - self.centre_hz)) / self.width_hz

    def reflected(self, network: Network) -> float:
        """Mean share of the power that comes back where the match counts [-]."""
        return float(np.mean(np.abs(solve(network, served_grid(self.matched_hz, 41)).s11) ** 2))
