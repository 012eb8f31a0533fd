"""Losses of the filters that stand between antenna and mixer.

Filters that stand next to each other are one circuit: what one of them reflects meets the other, so their
losses do not add.
"""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, Network, joined, solve
from core.record import record
from core.stages.loss import MOST_LOSS_DB
from core.stages.outcome import FilterDesign

#: Filters in a row, and rows of them with amplifiers, attenuators or mixers between.
Chain = tuple[FilterDesign, ...]


@lru_cache(maxsize=64)
def _circuit(chain: Chain) -> Network:
    return joined([design.network for design in chain])


@record(slots=False)
class FrontLoss:
    """Loss of chains of filters as a function that can be a key of a cache.

    What stands between two chains is taken to part them, as amplifiers and attenuators do.
    """

    chains: tuple[Chain, ...]

    def __call__(self, f_hz: Array) -> Array:
        """Loss at `f_hz` [Hz], any shape, in dB."""
        total = np.zeros_like(f_hz)
        for chain in self.chains:
            total = total + np.minimum(solve(_circuit(chain), f_hz).loss_db, MOST_LOSS_DB)
        return total
