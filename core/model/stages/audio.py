"""The audio end: amplifiers of figures or of parts, speaker or headphones, microphone."""

from math import log10
from typing import ClassVar, Literal, Self

from core.model.stages.stage import StageBase
from core.model.values.as_built import AudioAsBuilt, AudioPowerAsBuilt
from core.model.values.base import Model
from core.model.values.parts import Family
from core.model.values.quantities import (
    AudioGain,
    AudioOhm,
    AudioVolt,
    Dbm,
    DbSpl,
    Decibel,
    DecibelLoss,
    Henry,
    HighHertz,
    LoadOhm,
    LowHertz,
    Metre,
    Ohm,
    StageCurrent,
    StageSupply,
    TransistorName,
    Watt,
    stated,
)

#: How a voltage amplifier is built, and a power stage.
AudioTopology = Literal["single", "pair", "operational"]
PowerTopology = Literal["chip", "complementary"]
#: Operational amplifiers and power amplifiers of the table of chips.
OperationalName = Literal["ne5532", "tl072", "lm358"]
PowerChipName = Literal["lm386", "lm386_4", "lm380"]
_IDLE: dict[str, frozenset[str]] = {
    "single": frozenset({"chip", "second_a"}),
    "pair": frozenset({"chip"}),
    "operational": frozenset({"device", "current_a", "second_a"}),
}


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


class BuiltAudio(StageBase):
    """A voltage amplifier for audio as a circuit: of a microphone, or between detector and volume."""

    family: ClassVar[Family] = "audio"
    kind: Literal["built_audio"] = "built_audio"
    topology: AudioTopology = stated(
        "pair",
        "Circuit",
        "One transistor; a pair of them, coupled directly, of which the second is a follower; or an "
        "operational amplifier.",
    )
    device: TransistorName = stated(
        "2n3904",
        "Transistor",
        "Its type, of the table of devices or one of the rig's own; a JFET alone has the highest input "
        "impedance.",
    )
    chip: OperationalName = stated(
        "ne5532", "Operational amplifier", "Its type; one with JFETs at its input for a crystal microphone."
    )
    gain_db: AudioGain = stated(
        36.0, "Voltage gain wanted", "From the input's terminal to the load, at 1 kHz.", "20 to 46 dB"
    )
    input_ohm: AudioOhm = stated(
        5e3,
        "Input resistance wanted",
        "What the stage shows a microphone or detector; less than it has by itself is made by a resistor.",
        "1 to 50 kΩ, 1 MΩ for a crystal microphone",
    )
    low_hz: LowHertz = stated(
        200.0, "Lowest frequency", "Where the gain may have fallen by 3 dB.", "100 to 300 Hz"
    )
    high_hz: HighHertz = stated(
        5e3, "Highest frequency", "Where a capacitor makes it fall by 3 dB again.", "3 to 10 kHz"
    )
    source_ohm: AudioOhm = stated(
        600.0, "Source", "Resistance that it is made for at its input.", "600 Ω dynamic, 50 Ω detector"
    )
    load_ohm: AudioOhm = stated(
        10e3, "Load", "Resistance that it works into.", "10 kΩ volume control, 50 Ω diode modulator"
    )
    electret_ohm: AudioOhm | None = stated(
        None,
        "Electret's resistor",
        "From the filtered supply to the input, through which an electret capsule is fed; empty: none.",
        "2.2 to 10 kΩ",
    )
    current_a: StageCurrent = stated(
        1e-3, "Current", "Collector or drain current of the first transistor.", "0.3 to 3 mA"
    )
    second_a: StageCurrent | None = stated(
        None,
        "Follower's current",
        "Of the pair's second transistor, which drives the load; empty: a quarter more than the first's.",
        "5 to 15 mA into 50 Ω",
    )
    supply_v: StageSupply = stated(9.0, "Supply", "Voltage that the stage is fed with.", "5 to 13.8 V")
    feed_ohm: AudioOhm = stated(
        470.0,
        "Resistor in the supply",
        "With a capacitor behind it, which keeps hum and the other stages out.",
        "100 Ω to 1 kΩ",
    )
    resistors: Literal["E12", "E24", "E96"] = stated("E24", "Resistors from", "Series of preferred values.")
    as_built: AudioAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def idle_fields(self) -> frozenset[str]:
        """What the other circuits are asked for."""
        return _IDLE[self.topology]

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self


class AudioPower(StageBase):
    """The last stage in receive as a circuit: a chip, or a complementary pair of transistors."""

    family: ClassVar[Family] = "audio_power"
    kind: Literal["audio_power"] = "audio_power"
    topology: PowerTopology = stated(
        "chip", "Circuit", "A power amplifier on a chip, or a transistor that drives a complementary pair."
    )
    chip: PowerChipName = stated("lm386", "Chip", "Its type, with typical figures of the data sheet.")
    device: TransistorName = stated(
        "2n2222a",
        "Transistors",
        "Type of the driver and of the npn half of the pair; the pnp half is taken as its equal.",
    )
    gain_db: AudioGain = stated(
        34.0,
        "Voltage gain wanted",
        "From the input's terminal to the output, before any resistor in series with the load, at 1 kHz.",
        "26 to 46 dB of a chip with gain pins, 20 to 34 dB of transistors",
    )
    low_hz: LowHertz = stated(
        150.0, "Lowest frequency", "Where the gain may have fallen by 3 dB.", "50 to 300 Hz"
    )
    load_ohm: LoadOhm = stated(8.0, "Load", "Impedance of the speaker or headphones.", "4 to 16 Ω, 32 Ω")
    series_ohm: LoadOhm | None = stated(
        None,
        "Resistor before the load",
        "In series with headphones, which it keeps from being driven too loud; empty: none.",
        "100 to 470 Ω for headphones",
    )
    supply_v: StageSupply = stated(9.0, "Supply", "Voltage that the stage is fed with.", "6 to 13.8 V")
    resistors: Literal["E12", "E24", "E96"] = stated("E24", "Resistors from", "Series of preferred values.")
    as_built: AudioPowerAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def idle_fields(self) -> frozenset[str]:
        """What the other circuit is asked for."""
        return frozenset({"device"}) if self.topology == "chip" else frozenset({"chip"})

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self


class Speaker(Model):
    """The speaker and the ear in front of it, or headphones."""

    worn: Literal["speaker", "headphones"] = stated(
        "speaker", "Listened to by", "A speaker in the room, or headphones on the ears."
    )
    sensitivity_db_spl: DbSpl = stated(
        86.0,
        "Sensitivity",
        "Sound pressure of a speaker for 1 W at 1 m, of headphones for 1 mW at the ear.",
        "82 to 92 dB SPL, headphones 95 to 110 dB SPL",
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

    @property
    def idle_fields(self) -> frozenset[str]:
        """Headphones stand nowhere."""
        return frozenset({"distance_m"}) if self.worn == "headphones" else frozenset()

    @property
    def at_ear_db_spl(self) -> float:
        """Sound pressure at the ear for 1 W [dB SPL]: free field from a speaker; headphones as stated."""
        if self.worn == "headphones":
            return self.sensitivity_db_spl + 30.0
        return self.sensitivity_db_spl - 20 * log10(self.distance_m)


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
    inductance_h: Henry = stated(
        10e-3, "Inductance", "Of a dynamic microphone's coil, in series with its resistance.", "1 to 50 mH"
    )
    input_ohm: Ohm = stated(
        2.2e3,
        "Amplifier's input",
        "Input resistance of the microphone amplifier, where that is no circuit.",
        "1 to 50 kΩ, 1 MΩ for a crystal",
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """Only a dynamic microphone's coil counts."""
        return frozenset() if self.type == "dynamic" else frozenset({"inductance_h"})
