"""Amateur HF bands. National licences always prevail."""

from functools import lru_cache
from typing import Literal

from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class Allocation:
    """A band's phone segment and its edges in ITU Regions 1 to 3, all (low, high) in Hz."""

    band: str
    phone_hz: tuple[float, float]
    sideband: Literal["lower", "upper"]
    regions_hz: tuple[tuple[float, float], ...]
    note: str
    source: str
    status: str

    @property
    def widest_hz(self) -> tuple[float, float]:
        """The lowest and highest edge in any region, Hz."""
        return min(low for low, _ in self.regions_hz), max(high for _, high in self.regions_hz)


@lru_cache(maxsize=1)
def allocations() -> tuple[Allocation, ...]:
    """Every band, by frequency."""
    return tuple(
        Allocation(
            band=row["band"],
            phone_hz=_hertz(row["phone_mhz"]),
            sideband=row["sideband"],
            regions_hz=tuple(_hertz(row[f"region_{region}_mhz"]) for region in (1, 2, 3)),
            note=row.get("note", ""),
            source=row["source"],
            status=row["status"],
        )
        for row in rows("bands")
    )


def allocation(band: str) -> Allocation | None:
    """The band of this name, None when there is none."""
    return next((each for each in allocations() if each.band == band), None)


def allocation_at(low_hz: float, high_hz: float) -> Allocation | None:
    """The band that holds the range [Hz] in at least one region, None when none does."""
    for each in allocations():
        if any(low <= low_hz and high_hz <= high for low, high in each.regions_hz):
            return each
    return None


def usual_sideband(frequency_hz: float) -> Literal["lower", "upper"]:
    """The sideband that is customary at `frequency_hz` [Hz]: lower below 10 MHz but for 60 m, upper above."""
    band = allocation_at(frequency_hz, frequency_hz)
    if band is not None:
        return band.sideband
    return "lower" if frequency_hz < 10e6 else "upper"


@lru_cache(maxsize=1)
def broadcast_bands() -> tuple[tuple[float, float], ...]:
    """Short-wave broadcast bands as (low, high) in Hz."""
    return tuple((row["low_mhz"] * 1e6, row["high_mhz"] * 1e6) for row in rows("broadcast_bands"))


def in_broadcast_band(frequency_hz: float) -> bool:
    """Whether strong broadcast stations may stand at `frequency_hz` [Hz]."""
    return any(low <= frequency_hz <= high for low, high in broadcast_bands())


def _hertz(edges: list[float]) -> tuple[float, float]:
    return round(edges[0] * 1e6, 3), round(edges[1] * 1e6, 3)
