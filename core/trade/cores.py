"""Cores for coils, by the trade's designations, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class Mix:
    """What a core is made of: relative permeability [-], the range of best Q [Hz], temperature coefficient
    [ppm/K], and the Q [-] that the core alone allows in the middle of that range, an estimate.
    """

    mix: str
    family: Literal["iron", "ferrite"]
    permeability: float
    low_hz: float
    high_hz: float
    ppm: float
    best_q: float
    source: str
    status: str


@record(kw_only=True)
class Core:
    """A core: inductance of one turn [H], its tolerance [-], and dimensions [m]: of a toroid outer and inner
    diameter and height; of a binocular core width, diameter of its holes, and length.
    """

    core: str
    mix: str
    shape: Literal["toroid", "binocular"]
    al_h: float
    tolerance: float
    outer_m: float
    inner_m: float
    height_m: float
    source: str
    status: str

    @property
    def of(self) -> Mix:
        """What it is made of."""
        return mixes()[self.mix]

    @property
    def area_m2(self) -> float:
        """Cross-section that the flux passes, m²: of a binocular core the wall beside a hole, taken as wide
        as the hole.
        """
        if self.shape == "binocular":
            return self.height_m * self.inner_m
        return self.height_m * (self.outer_m - self.inner_m) / 2


@lru_cache(maxsize=1)
def mixes() -> Mapping[str, Mix]:
    """Every material, by its word."""
    return MappingProxyType({row["mix"]: Mix(**row) for row in rows("core_mixes")})


@lru_cache(maxsize=1)
def cores() -> Mapping[str, Core]:
    """Every core, by its designation."""
    return MappingProxyType({row["core"]: Core(**row) for row in rows("cores")})
