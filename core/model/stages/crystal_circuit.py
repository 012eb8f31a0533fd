"""A crystal oscillator of parts: transistor, feedback divider and buffer, for carrier and helper alike."""

from typing import ClassVar, Literal, Self

from pydantic import model_validator

from core.model.stages.as_built import CrystalCircuitAsBuilt
from core.model.stages.filters import Crystal, Series
from core.model.stages.tank import Device
from core.model.values.base import Model
from core.model.values.parts import Family
from core.model.values.quantities import Farad, Ohm, Ratio, Volt, Watt, stated


class CrystalCircuit(Model):
    """What a crystal oscillator is built of; its values are found so that it surely starts, leaves its
    crystal cool, and delivers the output asked.
    """

    family: ClassVar[Family] = "crystal_oscillator"
    device: Device = stated("2n3904", "Device", "Transistor of the oscillator; of the device table.")
    margin: Ratio = stated(
        4.0,
        "Start-up margin",
        "How many times the transistor gives back what is lost with the worst crystal.",
        "3 to 5",
        ge=1.2,
        le=20,
    )
    worst_ohm: Ohm | None = stated(
        None,
        "Crystal's worst loss",
        "Largest loss resistance that a crystal of this kind may have; empty: twice that of its Q.",
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


class HelperOscillator(Model):
    """The read-out's helper oscillator: its crystal, what brings that to its frequency, and the circuit."""

    crystal: Crystal | None = stated(
        None,
        "Crystal",
        "Equivalent circuit of the helper's crystal; empty: an ordinary one of its frequency.",
    )
    marked_load_f: Farad = stated(
        20e-12, "Marked at", "Load capacitance at which the crystal has its marked frequency.", "18 to 32 pF"
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
    circuit: CrystalCircuit = stated(CrystalCircuit(), "Circuit", "Transistors and their parts.")

    @model_validator(mode="after")
    def _trimmer_ordered(self) -> Self:
        if not self.trimmer_low_f < self.trimmer_high_f:
            raise ValueError("the trimmer's largest capacitance must be above its least; correct one of them")
        return self
