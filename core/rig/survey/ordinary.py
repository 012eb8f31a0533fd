"""The front filters that the IF survey takes for granted."""

from functools import lru_cache

from core.model.bands import Band
from core.model.stages.stage import Way
from core.rig.plan.front_loss import FrontLoss
from core.stages.band_pass import band_pass
from core.stages.filters import low_pass
from core.stages.ordinary import ordinary_band_pass, ordinary_low_pass
from core.stages.outcome import FilterDesign


@lru_cache(maxsize=64)
def front_loss(band: Band, way: Way) -> FrontLoss:
    """The filters that a signal of `band` passes; in transmit the power amplifier stands between them."""
    dials = ((band.low_hz, band.high_hz),)
    made = (
        low_pass.design(ordinary_low_pass(band), dials),
        band_pass.design(ordinary_band_pass(band), dials),
    )
    chain = tuple(each for each in made if isinstance(each, FilterDesign))
    return FrontLoss((chain,) if way == "receive" else tuple((each,) for each in chain))
