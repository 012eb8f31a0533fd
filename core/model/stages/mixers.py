"""Mixers: between dial and IF (driven by the VFO) and between IF and audio (driven by the carrier)."""

from typing import Literal

from core.model.stages.stage import StageBase
from core.model.values.quantities import Dbm, Decibel, DecibelLoss, stated

#: Two-diode balanced, four-diode ring, transistor array (four-quadrant, Gilbert).
MixerType = Literal["two_diode", "ring", "transistor_array"]


class Mixer(StageBase):
    """A mixer; driven by the carrier oscillator it is the product detector or the balanced modulator.

    An empty figure takes the mixer type's typical value; a reading typed in replaces it.
    """

    kind: Literal["mixer"] = "mixer"
    type: MixerType = stated("ring", "Type", "Kind of mixer; it sets the typical figures and the balance.")
    oscillator: Literal["vfo", "carrier"] = stated(
        "vfo", "Driven by", "The VFO between dial and IF, the carrier oscillator between IF and audio."
    )
    gain_db: Decibel | None = stated(
        None, "Conversion gain", "Conversion gain, negative for a loss; empty: typical.", "−6 dB for a ring"
    )
    noise_figure_db: DecibelLoss | None = stated(
        None, "Noise figure", "Single-sideband noise figure; empty: typical.", "6.5 dB for a ring"
    )
    iip3_dbm: Dbm | None = stated(
        None, "Input intercept", "Third-order input intercept; empty: typical.", "+13 dBm for a level-7 ring"
    )
    p1db_in_dbm: Dbm | None = stated(
        None, "Compression", "Input level at 1 dB compression; empty: typical.", "+1 dBm for a level-7 ring"
    )
    drive_dbm: Dbm | None = stated(
        None, "Drive wanted", "Oscillator level the mixer wants; empty: typical.", "+7 dBm for a ring"
    )
    oscillator_leak_db: DecibelLoss | None = stated(
        None,
        "Oscillator isolation",
        "Oscillator level at the signal port below the drive; empty: typical.",
        "30 to 50 dB",
    )
