"""The two oscillators of a single-conversion rig, as blocks."""

from typing import Literal

from core.model.base import Model
from core.model.quantities import Dbc, Dbm, DecibelLoss, stated


class Oscillator(Model):
    """Level and harmonics of an oscillator with its buffer; the harmonics are assumptions until measured."""

    output_dbm: Dbm = stated(7.0, "Output", "Level delivered to each mixer.", "+7 dBm for a ring")
    second_harmonic_dbc: Dbc = stated(-30.0, "Second harmonic", "Below the fundamental.", "−20 to −40 dBc")
    third_harmonic_dbc: Dbc = stated(-35.0, "Third harmonic", "Below the fundamental.", "−20 to −40 dBc")


class Vfo(Oscillator):
    """The variable oscillator that the dial turns."""

    kind: Literal["vfo"] = "vfo"


class CarrierOscillator(Oscillator):
    """The crystal oscillator at the edge of the ladder's pass-band; it makes and resolves the sideband."""

    kind: Literal["carrier"] = "carrier"
    edge_suppression_db: DecibelLoss = stated(
        20.0,
        "Suppression at the carrier",
        "How far down the ladder's skirt the carrier sits.",
        "15 to 25 dB",
        gt=3,
        le=60,
    )
    balance_db: DecibelLoss = stated(
        40.0, "Modulator balance", "Carrier suppression of the balanced modulator alone.", "35 to 50 dB"
    )
