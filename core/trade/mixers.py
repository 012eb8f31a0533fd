"""Typical figures of the mixer types, and how far their unwanted products lie down."""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.record import record
from core.trade.tables import rows

#: dB by which one port's balance puts down the products that ideal balance would cancel; from memory.
BALANCE_DB = 25.0
#: What each further multiple of the oscillator loses beyond 1/m under a sine drive, dB; from memory.
SOFT_SWITCHING_DB = 1.5
#: dB that each order of the signal above the first costs at TABLE_BACKOFF_DB; from memory.
SIGNAL_ORDER_DB = 22.0
#: How far below 1 dB compression the signal is for which the table of products holds, dB.
TABLE_BACKOFF_DB = 10.0

Array = NDArray[np.float64]


@record(kw_only=True)
class Mixing:
    """What is told of any mixer: conversion gain and noise figure [dB], input intercept and compression
    [dBm], drive wanted [dBm], oscillator at the signal port below the drive [dB].
    """

    gain_db: float
    noise_figure_db: float
    iip3_dbm: float
    p1db_in_dbm: float
    drive_dbm: float
    oscillator_leak_db: float


@record(kw_only=True)
class MixerTypeRow(Mixing):
    """Typical figures of one type, and which port balances it."""

    type: str
    name: str
    balanced_m: bool
    balanced_n: bool
    source: str
    status: str

    @property
    def passive(self) -> bool:
        """Whether the type converts by switches alone and so alike in both directions."""
        return self.type != "transistor_array"


@lru_cache(maxsize=8)
def typical(type: str) -> MixerTypeRow:
    """The row of a mixer type; `ValueError` for a type that the table does not know."""
    for row in rows("mixers"):
        if row["type"] == type:
            return MixerTypeRow(**row)
    raise ValueError(f"There is no mixer type {type} in the table of mixers.")


def suppression_db(row: MixerTypeRow, m: ArrayLike, n: ArrayLike, backoff_db: float) -> Array:
    """How far the products m x oscillator ± n x signal lie below the wanted (1, 1) product, dB.

    `m` >= 0 and `n` >= 1 [-] broadcast against each other; `backoff_db` is how far the signal stays under
    the mixer's 1 dB compression. An estimate: a switched mixer's oscillator harmonics fall as 1/m and a
    little faster; even m are put down by the balance of the oscillator port, even n by that of the signal
    port (m = 0, feed-through, is even); each order of the signal above the first costs SIGNAL_ORDER_DB, and
    a decibel more for each decibel that the signal lies lower than the table's back-off. At compression
    the power law ends, so that a signal beyond it counts as one at it.
    """
    m, n = np.broadcast_arrays(np.asarray(m, dtype=float), np.asarray(n, dtype=float))
    times = np.maximum(m, 1.0)
    loss = 20 * np.log10(times) + SOFT_SWITCHING_DB * (times - 1)
    loss = loss + np.where((m % 2 == 0) & row.balanced_m, BALANCE_DB, 0.0)
    loss = loss + np.where((n % 2 == 0) & row.balanced_n, BALANCE_DB, 0.0)
    a_order_db = SIGNAL_ORDER_DB + max(backoff_db, 0.0) - TABLE_BACKOFF_DB
    return np.asarray(loss + a_order_db * (n - 1))
