"""The bands of the rig: what the dial covers, on which sideband, by which mixing scheme."""

from typing import Literal, Self

from pydantic import model_validator

from core.model.values.base import Model
from core.model.values.quantities import BandName, RadioHertz, spelled, stated

#: How carrier and VFO make the dial frequency: carrier + VFO, carrier - VFO, VFO - carrier.
Scheme = Literal["sum", "if_minus_vfo", "vfo_minus_if"]
Sideband = Literal["lower", "upper"]
#: Ranges of the dial (low, high) [Hz], one a band.
Dials = tuple[tuple[float, float], ...]
SCHEMES: tuple[Scheme, ...] = ("sum", "if_minus_vfo", "vfo_minus_if")
#: What each makes of IF and VFO, as it is told on screen, on paper and in a terminal.
SCHEME_WORDS: dict[str, str] = {"sum": "IF + VFO", "if_minus_vfo": "IF − VFO", "vfo_minus_if": "VFO − IF"}


class Band(Model):
    """One band of the rig; the dial frequency is the suppressed carrier's."""

    name: BandName = stated("20m", "Band", "The band's name, as on the band switch.")
    low_hz: RadioHertz = stated(
        14.1e6, "Dial from", "Lowest frequency the dial shows on this band.", "the lower phone edge"
    )
    high_hz: RadioHertz = stated(
        14.35e6, "Dial to", "Highest frequency the dial shows on this band.", "the upper band edge"
    )
    sideband: Sideband = stated(
        "upper", "Sideband", "The sideband on the air.", "lower below 10 MHz, upper above and on 5 MHz"
    )
    scheme: Scheme = stated(
        "if_minus_vfo", "Mixing scheme", "How IF and VFO make the dial frequency on this band."
    )
    vfo_shift: Literal["none", "parallel", "series"] = stated(
        "none",
        "VFO shifted by",
        "A capacitor that is switched into the VFO's tank on this band: across the tuning (lower), or in "
        "series with the tuning capacitor (higher).",
    )

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low_hz < self.high_hz:
            raise ValueError(f"band {spelled(self.name)} ends below its start; give a higher upper edge")
        return self

    @property
    def centre_hz(self) -> float:
        """Middle of the dial range, Hz."""
        return (self.low_hz + self.high_hz) / 2
