"""Amplifiers and pads as blocks with typed-in figures."""

from typing import Literal

from core.model.stages.stage import StageBase
from core.model.values.quantities import Dbc, Dbm, Decibel, DecibelLoss, Fraction, Watt, stated


class Amplifier(StageBase):
    """A small-signal amplifier at radio or intermediate frequency."""

    kind: Literal["amplifier"] = "amplifier"
    gain_db: Decibel = stated(20.0, "Gain", "Power gain between 50 Ω and 50 Ω.", "10 to 25 dB")
    noise_figure_db: DecibelLoss = stated(4.0, "Noise figure", "Noise figure at 290 K.", "2 to 6 dB")
    oip3_dbm: Dbm = stated(25.0, "Output intercept", "Third-order intercept at the output.", "+15 to +30 dBm")
    p1db_dbm: Dbm = stated(
        12.0, "Compression", "Output level at 1 dB compression.", "10 to 15 dB below the intercept"
    )
    isolation_db: DecibelLoss | None = stated(
        None,
        "Reverse isolation",
        "Loss from output back to input; empty: nothing comes back.",
        "20 to 40 dB",
    )


class Attenuator(StageBase):
    """A resistive pad."""

    kind: Literal["attenuator"] = "attenuator"
    loss_db: DecibelLoss = stated(3.0, "Loss", "Loss of the pad, and its noise figure at 290 K.", "1 to 6 dB")


class PowerAmplifier(StageBase):
    """The last transmit stage."""

    kind: Literal["power_amplifier"] = "power_amplifier"
    gain_db: Decibel = stated(16.0, "Gain", "Power gain at rated output.", "10 to 20 dB")
    noise_figure_db: DecibelLoss = stated(8.0, "Noise figure", "Noise figure at 290 K.", "5 to 10 dB")
    rated_w: Watt = stated(6.0, "Largest output", "Peak envelope power at 1 dB compression.", "5 to 20 W")
    oip3_dbm: Dbm = stated(
        48.0, "Output intercept", "Third-order intercept at the output.", "10 dB above compression"
    )
    isolation_db: DecibelLoss | None = stated(
        None,
        "Reverse isolation",
        "Loss from output back to input; empty: nothing comes back.",
        "20 to 40 dB",
    )
    efficiency: Fraction = stated(
        0.5, "Efficiency", "RF output over DC input at peak envelope power.", "40 to 60 %"
    )
    second_harmonic_dbc: Dbc = stated(
        -20.0, "Second harmonic", "Before the low-pass, an assumption until measured.", "−10 to −40 dBc"
    )
    third_harmonic_dbc: Dbc = stated(
        -15.0, "Third harmonic", "Before the low-pass, an assumption until measured.", "−10 to −25 dBc"
    )
    fourth_harmonic_dbc: Dbc = stated(
        -35.0, "Fourth harmonic", "Before the low-pass, an assumption until measured.", "below −30 dBc"
    )
    fifth_harmonic_dbc: Dbc = stated(
        -30.0, "Fifth harmonic", "Before the low-pass, an assumption until measured.", "below −25 dBc"
    )
