"""Typical figures of the mixer types, and how far their unwanted products lie down."""

from dataclasses import dataclass
from functools import lru_cache
from math import log10

from core.trade.tables import rows

#: dB by which one port's balance puts down the products that ideal balance would cancel; from memory.
BALANCE_DB = 25.0
#: What each further multiple of the oscillator loses beyond 1/m under a sine drive, dB; from memory.
SOFT_SWITCHING_DB = 1.5
#: dB that each order of the signal above the first costs, 10 dB below compression; from memory.
SIGNAL_ORDER_DB = 22.0


@dataclass(frozen=True, slots=True)
class MixerTypeRow:
    """Typical figures of one type: gain and noise figure in dB, levels in dBm, leak in dB below the drive."""

    type: str
    name: str
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float
    p1db_in_dbm: float
    drive_dbm: float
    oscillator_leak_db: float
    balanced_m: bool
    balanced_n: bool
    source: str
    status: str


@lru_cache(maxsize=8)
def typical(type: str) -> MixerTypeRow:
    """The row of a mixer type; `ValueError` for a type that the table does not know."""
    for row in rows("mixers"):
        if row["type"] == type:
            return MixerTypeRow(**row)
    raise ValueError(f"There is no mixer type {type} in the table of mixers.")


def suppression_db(row: MixerTypeRow, m: int, n: int) -> float:
    """How far the product m x oscillator ± n x signal lies below the wanted (1, 1) product, dB.

    An estimate. A switched mixer's oscillator harmonics fall as 1/m and a little faster; even m are put
    down by the balance of the oscillator port, even n by that of the signal port; each further order of
    the signal costs SIGNAL_ORDER_DB at signals 10 dB below compression. m = 0 or n = 0 is feed-through:
    the leak figure for n = 0, the balance alone for m = 0.
    """
    if n == 0:
        return row.oscillator_leak_db + 20 * log10(max(m, 1))
    loss = 20 * log10(m) + SOFT_SWITCHING_DB * (m - 1) if m > 1 else 0.0
    if m % 2 == 0 and row.balanced_m:
        loss += BALANCE_DB
    if n % 2 == 0 and row.balanced_n:
        loss += BALANCE_DB
    return loss + SIGNAL_ORDER_DB * (n - 1)
