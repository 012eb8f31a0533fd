"""Losses of the filters that stand in a row between antenna and mixer."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, solve
from core.stages.outcome import FilterDesign


@lru_cache(maxsize=256)
def loss_at(design: FilterDesign, f_hz: float) -> float:
    """Loss of one filter at a frequency `f_hz` [Hz], dB."""
    return float(solve(design.network, np.array([f_hz])).loss_db[0])


def losses(designs: tuple[FilterDesign, ...], f_hz: Array) -> Array:
    """Loss of several filters together on a grid `f_hz` [Hz] of any shape, dB."""
    total = np.zeros_like(f_hz)
    for design in designs:
        total = total + solve(design.network, f_hz).loss_db
    return total


@dataclass(frozen=True)
class FrontLoss:
    """Loss of some filters as a function that can be a key of a cache."""

    designs: tuple[FilterDesign, ...]

    def __call__(self, f_hz: Array) -> Array:
        return losses(self.designs, f_hz)
