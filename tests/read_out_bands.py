"""Bands whose read-out is worked by hand, and helpers for them."""

from core.model.bands import Band
from core.rig.plan.frequency_plan import band_plan

SUM = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), 9.0e6)
FALLS = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="if_minus_vfo"), 19.66e6)
OVER = band_plan(Band(name="80m", low_hz=3.5e6, high_hz=3.8e6, scheme="vfo_minus_if"), 9.0e6)
ABOVE = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), 4.0e6)
#: Inside the ladder, above the carrier, where a counter's harmonics seldom are.
EDGES = {
    SUM: (9.0003e6, 9.0027e6),
    FALLS: (19.6603e6, 19.6627e6),
    OVER: (9.0003e6, 9.0027e6),
    ABOVE: (4.0003e6, 4.0027e6),
}
HELPERS = tuple(
    1e6 * mhz
    for mhz in (1.8432, 2.4576, 4.0, 5.12, 6.144, 7.3728, 8.192, 8.4672, 9.8304, 11.0592, 13.56, 14.318, 16.0)
) + tuple(1e6 * mhz for mhz in (19.2, 20.0, 22.1184, 24.0, 28.322))
