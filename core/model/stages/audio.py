"""The audio end: amplifiers, speaker, microphone."""

from typing import Literal

from core.model.stages.stage import StageBase
from core.model.values.base import Model
from core.model.values.quantities import Dbm, DbSpl, Decibel, DecibelLoss, Metre, Ohm, Watt, stated


class AudioAmplifier(StageBase):
    """An audio amplifier: receive (to the speaker) or microphone amplifier."""

    kind: Literal["audio"] = "audio"
    gain_db: Decibel = stated(
        60.0,
        "Gain",
        "Power gain with the volume full up.",
        "40 to 80 dB in receive, 20 to 40 dB for a microphone",
    )
    noise_figure_db: DecibelLoss = stated(8.0, "Noise figure", "Noise figure at 290 K.", "3 to 10 dB")
    largest_output_w: Watt = stated(
        0.5, "Largest output", "Output power at the onset of clipping.", "0.25 to 2 W in receive"
    )


class Speaker(Model):
    """The speaker and the ear in front of it."""

    sensitivity_db_spl: DbSpl = stated(
        86.0, "Sensitivity", "Sound pressure for 1 W at 1 m.", "82 to 92 dB SPL"
    )
    impedance_ohm: Ohm = stated(8.0, "Impedance", "Nominal impedance.", "4 to 16 Ω")
    distance_m: Metre = stated(0.5, "Distance", "From the speaker to the ear.", "0.3 to 1 m")
    room_noise_db_spl: DbSpl = stated(
        35.0, "Room noise", "Sound level of the room.", "30 dB SPL quiet, 40 ordinary, 50 busy"
    )


class Microphone(Model):
    """What the microphone gives on speech peaks."""

    peak_dbm: Dbm = stated(
        -50.0, "Speech peaks", "Level on speech peaks into the amplifier's input.", "−60 to −40 dBm"
    )
