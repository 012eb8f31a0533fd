"""Where everything that oscillates, is heard, or is rejected lies on each band."""

from functools import lru_cache
from typing import TypeVar

import numpy as np

from core.circuits.ladder import Array
from core.model.bands import Band, Scheme, Sideband
from core.record import record

#: A frequency, or an array of them of any shape.
Hertz = TypeVar("Hertz", float, Array)


@record(kw_only=True)
class BandPlan:
    """Frequencies of one band, Hz. The VFO's range is ordered; below zero it cannot be had.

    `sideband_inverted`: whether mixing turns the sideband over, which it does only when the IF signal is
    subtracted from a higher VFO. The image is the other input that the mixer brings to the IF.
    """

    band: str
    scheme: Scheme
    sideband: Sideband
    dial_low_hz: float
    dial_high_hz: float
    vfo_low_hz: float
    vfo_high_hz: float
    image_low_hz: float
    image_high_hz: float
    carrier_hz: float
    sideband_inverted: bool

    def vfo_at(self, dial_hz: float) -> float:
        """VFO frequency [Hz] that tunes `dial_hz` [Hz]."""
        return vfo_for(self.scheme, self.carrier_hz, dial_hz)

    @property
    def vfo_rises(self) -> int:
        """+1 when the VFO rises with the dial, −1 when it falls."""
        return vfo_slope(self.scheme)


def vfo_slope(scheme: Scheme) -> int:
    """+1 when the VFO rises with the dial, −1 when it falls."""
    return -1 if scheme == "if_minus_vfo" else 1


def vfo_for(scheme: Scheme, carrier_hz: Hertz, dial_hz: float) -> Hertz:
    """VFO frequency [Hz] for a dial frequency; dial = carrier + VFO, carrier − VFO, or VFO − carrier."""
    if scheme == "sum":
        return dial_hz - carrier_hz
    return carrier_hz - dial_hz if scheme == "if_minus_vfo" else dial_hz + carrier_hz


def dial_for(scheme: Scheme, carrier_hz: float, vfo_hz: Hertz) -> Hertz:
    """Dial frequency [Hz] that a VFO frequency [Hz] tunes, a number or an array."""
    if scheme == "sum":
        return carrier_hz + vfo_hz
    return carrier_hz - vfo_hz if scheme == "if_minus_vfo" else vfo_hz - carrier_hz


def image_for(scheme: Scheme, carrier_hz: float, vfo_hz: float) -> float:
    """The other input [Hz] that the same VFO brings to the IF: VFO ± IF, whichever is not the dial."""
    if scheme == "sum":
        # The mixer takes sum and difference alike: f + VFO = IF, or VFO − f = IF with the higher VFO.
        return abs(carrier_hz - vfo_hz)
    return carrier_hz + vfo_hz


def turned_over(scheme: Scheme) -> bool:
    """Whether a scheme turns the sideband over."""
    return scheme == "vfo_minus_if"


def sideband_at_if(band: Band) -> Sideband:
    """The sideband that the signal has at the IF."""
    if not turned_over(band.scheme):
        return band.sideband
    return "lower" if band.sideband == "upper" else "upper"


@lru_cache(maxsize=256)
def band_plan(band: Band, carrier_hz: float) -> BandPlan:
    """The plan of one band with its carrier at `carrier_hz` [Hz]."""
    vfo = sorted(vfo_for(band.scheme, carrier_hz, dial) for dial in (band.low_hz, band.high_hz))
    image = sorted(image_for(band.scheme, carrier_hz, each) for each in vfo)
    return BandPlan(
        band=band.name,
        scheme=band.scheme,
        sideband=band.sideband,
        dial_low_hz=band.low_hz,
        dial_high_hz=band.high_hz,
        vfo_low_hz=vfo[0],
        vfo_high_hz=vfo[1],
        image_low_hz=image[0],
        image_high_hz=image[1],
        carrier_hz=carrier_hz,
        sideband_inverted=turned_over(band.scheme),
    )


def lower(pairs: Array) -> Array:
    """The lower of each pair, shape (..., 2): several times as quick as numpy's least along a short axis."""
    return np.minimum(pairs[..., 0], pairs[..., 1])


def higher(pairs: Array) -> Array:
    """The higher of each pair, shape (..., 2)."""
    return np.maximum(pairs[..., 0], pairs[..., 1])
