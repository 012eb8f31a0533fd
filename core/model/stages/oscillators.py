"""The two oscillators of a single-conversion rig, as blocks."""

from typing import Literal, Self

from pydantic import model_validator

from core.model.stages.crystal_circuit import CrystalCircuit
from core.model.stages.filters import Crystal
from core.model.stages.tank import Tank
from core.model.values.base import Model
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
    SkirtDepth,
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
    trimmer_low_f: Farad = stated(
        5e-12, "Trimmer from", "Least capacitance of the series trimmer.", "3 to 10 pF"
    )
    trimmer_high_f: Farad = stated(
        60e-12, "Trimmer to", "Largest capacitance of the trimmer.", "30 to 100 pF"
    )
    load_capacitance_f: Farad = stated(
        100e-12,
        "Load of the circuit",
        "What the oscillator itself puts in series with crystal and trimmer.",
        "50 to 250 pF",
    )
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

    @model_validator(mode="after")
    def _trimmer_ordered(self) -> Self:
        if not self.trimmer_low_f < self.trimmer_high_f:
            raise ValueError("the trimmer's largest capacitance must be above its least; correct one of them")
        return self
