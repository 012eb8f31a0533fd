"""Amplifiers and pads as blocks with typed-in figures."""

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import model_validator

from core.model.stages.stage import StageBase
from core.model.values.quantities import Dbc, Dbm, Decibel, DecibelLoss, Fraction, Watt, stated

#: What older files state as `isolation_db` of every block where nobody typed another; it never counted [dB].
_NEVER_COUNTED_DB = 30.0


class _Block(StageBase):
    """A stage with typed figures, read from files of any age."""

    @model_validator(mode="before")
    @classmethod
    def _stated_before(cls, given: Any) -> Any:
        """An isolation of before that somebody typed is the reverse isolation; the usual one is none."""
        if not isinstance(given, Mapping) or "isolation_db" not in given:
            return given
        kept = {key: value for key, value in given.items() if key != "isolation_db"}
        if given["isolation_db"] != _NEVER_COUNTED_DB:
            kept.setdefault("reverse_isolation_db", given["isolation_db"])
        return kept


class Amplifier(_Block):
    """A small-signal amplifier at radio or intermediate frequency."""

    kind: Literal["amplifier"] = "amplifier"
    gain_db: Decibel = stated(20.0, "Gain", "Power gain between 50 Ω and 50 Ω.", "10 to 25 dB")
    noise_figure_db: DecibelLoss = stated(4.0, "Noise figure", "Noise figure at 290 K.", "2 to 6 dB")
    oip3_dbm: Dbm = stated(25.0, "Output intercept", "Third-order intercept at the output.", "+15 to +30 dBm")
    p1db_dbm: Dbm = stated(
        12.0, "Compression", "Output level at 1 dB compression.", "10 to 15 dB below the intercept"
    )
    reverse_isolation_db: DecibelLoss | None = stated(
        None,
        "Reverse isolation",
        "Loss from output back to input; empty: nothing comes back.",
        "20 to 40 dB",
    )


class Attenuator(StageBase):
    """A resistive pad."""

    kind: Literal["attenuator"] = "attenuator"
    loss_db: DecibelLoss = stated(3.0, "Loss", "Loss of the pad, and its noise figure at 290 K.", "1 to 6 dB")


class PowerAmplifier(_Block):
    """The last transmit stage."""

    kind: Literal["power_amplifier"] = "power_amplifier"
    gain_db: Decibel = stated(16.0, "Gain", "Power gain at rated output.", "10 to 20 dB")
    noise_figure_db: DecibelLoss = stated(8.0, "Noise figure", "Noise figure at 290 K.", "5 to 10 dB")
    rated_w: Watt = stated(6.0, "Largest output", "Peak envelope power at 1 dB compression.", "5 to 20 W")
    oip3_dbm: Dbm = stated(
        48.0, "Output intercept", "Third-order intercept at the output.", "10 dB above compression"
    )
    reverse_isolation_db: DecibelLoss | None = stated(
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
