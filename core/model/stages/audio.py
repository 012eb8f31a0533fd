"""The audio end: amplifiers, speaker, microphone."""

from typing import Literal

from core.model.stages.stage import StageBase
from core.model.values.base import Model
from core.model.values.quantities import AudioVolt, Dbm, DbSpl, Decibel, DecibelLoss, Metre, Ohm, Watt, stated


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
    heard_over_room_db: Decibel = stated(
        3.0,
        "Loudness wanted",
        "How far band noise should exceed the room's with all controls full up.",
        "3 dB to be heard, 10 dB to be comfortable",
    )

    @property
    def wanted_db_spl(self) -> float:
        """Sound level at which band noise is loud enough."""
        return self.room_noise_db_spl + self.heard_over_room_db


class Microphone(Model):
    """What the microphone gives on speech peaks: a level that is typed in, or what its type gives."""

    type: Literal["level", "dynamic", "electret", "crystal"] = stated(
        "level", "Type", "Its type, with typical voltage and impedance; or a level that is typed in."
    )
    peak_dbm: Dbm = stated(
        -50.0,
        "Speech peaks, as a level",
        "Level on speech peaks into the amplifier's input, where that is what is known.",
        "−60 to −40 dBm",
    )
    peak_v: AudioVolt | None = stated(
        None,
        "Speech peaks, open",
        "Voltage without a load, as that of a tone as loud as the peaks; empty: the type's usual one.",
        "5 mV dynamic, 20 mV electret, 50 mV crystal",
    )
    source_ohm: Ohm | None = stated(
        None,
        "Source impedance",
        "At 1 kHz; empty: the type's usual one.",
        "600 Ω dynamic, 2.2 kΩ electret, 100 kΩ crystal",
    )
    input_ohm: Ohm = stated(
        2.2e3,
        "Amplifier's input",
        "Input resistance of the microphone amplifier.",
        "1 to 50 kΩ, 1 MΩ for a crystal",
    )
