"""The two oscillators of a single-conversion rig and the read-out's helper: as blocks, and what a crystal
oscillator is built of.
"""

from typing import Any, ClassVar, Literal

from pydantic import model_validator

from core.model.stages.filters import Crystal, Series
from core.model.stages.tank import Device, Tank
from core.model.values.as_built import CrystalCircuitAsBuilt
from core.model.values.base import Model
from core.model.values.parts import Family
from core.model.values.quantities import (
    CoreName,
    Dbc,
    DbcHz,
    Dbm,
    Decibel,
    DecibelLoss,
    Farad,
    Henry,
    Hertz,
    Ohm,
    SkirtDepth,
    StartMargin,
    Volt,
    Watt,
    stated,
)


class Oscillator(Model):
    """Level and harmonics of an oscillator with its buffer; the harmonics are assumptions until measured."""

    output_dbm: Dbm = stated(
        7.0,
        "Output",
        "Level delivered to each mixer; with amplifiers or pads of its own behind it, that before them.",
        "+7 dBm for a ring",
    )
    second_harmonic_dbc: Dbc = stated(-30.0, "Second harmonic", "Below the fundamental.", "−20 to −40 dBc")
    third_harmonic_dbc: Dbc = stated(-35.0, "Third harmonic", "Below the fundamental.", "−20 to −40 dBc")
    amplifier_gain_db: Decibel | None = stated(
        None,
        "Own amplifier",
        "Gain of the buffer or small amplifier that the output already counts; empty: none.",
        "10 to 20 dB",
        ge=0,
        le=60,
    )


class Vfo(Oscillator):
    """The variable oscillator that the dial turns."""

    kind: Literal["vfo"] = "vfo"
    tank: Tank | None = stated(
        None, "Tank", "The tuned circuit; without one the VFO is a block that tunes what is wanted."
    )
    noise_dbc_hz: DbcHz | None = stated(
        -135.0,
        "Noise",
        "Noise beside it in 1 Hz, an estimate until measured; empty: not known.",
        "−130 to −150 dBc/Hz at 10 kHz for an LC oscillator, from memory",
    )
    noise_offset_hz: Hertz = stated(
        10e3, "Noise is at", "How far beside the VFO that noise lies; it falls by 20 dB a decade.", "10 kHz"
    )


class CrystalCircuit(Model):
    """What a crystal oscillator is built of; its values are found so that it surely starts, leaves its
    crystal cool, and delivers the output asked.
    """

    family: ClassVar[Family] = "crystal_oscillator"
    device: Device = stated("2n3904", "Device", "Transistor of the oscillator; of the device table.")
    margin: StartMargin = stated(
        4.0,
        "Start-up margin",
        "How many times the transistor gives back what is lost with the worst crystal.",
        "3 to 5",
    )
    worst_ohm: Ohm | None = stated(
        None,
        "Crystal's worst loss",
        "Largest loss resistance that a crystal of this kind may have; empty: twice that of its Q, an "
        "assumption.",
        "30 to 60 Ω near 9 MHz, from memory",
    )
    most_w: Watt = stated(
        500e-6,
        "Crystal bears",
        "Drive level: heat in the crystal beyond which it drifts and ages.",
        "100 µW for small cans, 500 µW for HC-49/U, from memory",
    )
    supply_v: Volt = stated(
        8.0, "Oscillator's supply", "Regulated supply of oscillator and buffer.", "6 to 10 V"
    )
    buffer: Literal["2n3904", "2n2222a"] = stated(
        "2n3904", "Buffer", "Transistor between the oscillator and what it drives."
    )
    switched_by: Literal["relay", "switch"] = stated(
        "relay",
        "Sideband switched by",
        "What joins the crystal to coil and trimmer of a sideband, where both are in use.",
    )
    resistors: Series = stated("E24", "Resistors from", "Series of preferred values.", "E24 or E12")
    capacitors: Series = stated("E12", "Capacitors from", "Series of preferred values.", "E12")
    as_built: CrystalCircuitAsBuilt = stated(
        (),
        "As built",
        "Part, by role and number, to the value really fitted; it replaces the computed.",
    )


#: What brings any crystal oscillator to its frequency.
_TRIMMER_LOW: Any = stated(5e-12, "Trimmer from", "Least capacitance of the series trimmer.", "3 to 10 pF")
_TRIMMER_HIGH: Any = stated(60e-12, "Trimmer to", "Largest capacitance of the trimmer.", "30 to 100 pF")
_LOAD: Any = stated(
    100e-12,
    "Load of the circuit",
    "What the oscillator itself puts in series with crystal and trimmer.",
    "50 to 250 pF",
)


def _trimmer_ordered(made: Any) -> Any:
    if not made.trimmer_low_f < made.trimmer_high_f:
        raise ValueError("the trimmer's largest capacitance must be above its least; correct one of them")
    return made


class HelperOscillator(Model):
    """The read-out's helper oscillator: its crystal, what brings that to its frequency, and the circuit."""

    crystal: Crystal | None = stated(
        None,
        "Crystal",
        "Equivalent circuit of the helper's crystal; empty: a typical one of its frequency, from memory.",
    )
    marked_load_f: Farad = stated(
        20e-12, "Marked at", "Load capacitance at which the crystal has its marked frequency.", "18 to 32 pF"
    )
    trimmer_low_f: Farad = _TRIMMER_LOW
    trimmer_high_f: Farad = _TRIMMER_HIGH
    load_capacitance_f: Farad = _LOAD
    circuit: CrystalCircuit = stated(CrystalCircuit(), "Circuit", "Transistors and their parts.")

    _ordered = model_validator(mode="after")(_trimmer_ordered)


class CarrierOscillator(Oscillator):
    """The crystal oscillator at the edge of the ladder's pass-band; it makes and resolves the sideband."""

    kind: Literal["carrier"] = "carrier"
    edge_suppression_db: SkirtDepth = stated(
        20.0,
        "Suppression at the carrier",
        "How far down the ladder's skirt the carrier sits, unless the lowest tone says it.",
        "15 to 25 dB",
    )
    lowest_audio_hz: Hertz | None = stated(
        None,
        "Lowest tone",
        "The tone that is to be 6 dB down at the ladder; empty: by suppression.",
        "200 to 350 Hz",
        le=2000,
    )
    crystal: Crystal | None = stated(
        None, "Crystal of its own", "The carrier's crystal where it is not one of the ladder's kind."
    )
    trimmer_low_f: Farad = _TRIMMER_LOW
    trimmer_high_f: Farad = _TRIMMER_HIGH
    load_capacitance_f: Farad = _LOAD
    coil_h: Henry | None = stated(
        None,
        "Series coil",
        "Coil in series that pulls the crystal down, so that the trimmer is centred; empty: automatic.",
        "0 to 15 µH",
    )
    coil_core: CoreName = stated(
        "",
        "Series coil on",
        "Core that the series coil is wound on with whole turns, squeezed or spread to what is wanted; "
        "empty: a coil of any value.",
    )
    balance_db: DecibelLoss = stated(
        40.0,
        "Modulator balance",
        "Carrier suppression of the balanced modulator alone, unless its circuit says it.",
        "35 to 50 dB",
    )

    circuit: CrystalCircuit | None = stated(
        None,
        "Circuit",
        "Transistors and parts of the oscillator; without it the oscillator is a block of figures.",
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """A buffer of parts is made for the output, so nothing is said of another."""
        return frozenset() if self.circuit is None else frozenset({"amplifier_gain_db"})

    _ordered = model_validator(mode="after")(_trimmer_ordered)
