"""Crystals in stock at ordinary suppliers."""

from functools import lru_cache

from core.record import record
from core.trade.tables import rows


@record
class StockCrystal:
    """A stocked frequency [Hz] with what it was made for, and where the row comes from."""

    frequency_hz: float
    note: str
    source: str
    status: str


@lru_cache(maxsize=1)
def stock() -> tuple[StockCrystal, ...]:
    """Every stocked crystal, by frequency."""
    made = (
        StockCrystal(round(row["mhz"] * 1e6, 3), row.get("note", ""), row["source"], row["status"])
        for row in rows("crystals")
    )
    return tuple(sorted(made, key=lambda each: each.frequency_hz))
