"""The frequency read-out: a simple counter module, and what may be built around it."""

from typing import Literal, Self

from pydantic import model_validator

from core.model.stages.oscillators import HelperOscillator
from core.model.values.base import Model
from core.model.values.quantities import Dbm, GateTime, Hertz, Ppm, stated


class Counter(Model):
    """A counter module that counts, and adds or subtracts a stored number; negative results show zeros."""

    lowest_hz: Hertz = stated(100e3, "Counts from", "Lowest frequency it counts.", "10 kHz to 1 MHz")
    highest_hz: Hertz = stated(50e6, "Counts to", "Highest frequency it counts.", "30 to 60 MHz")
    gate_s: GateTime = stated(0.1, "Gate time", "The longer, the finer and the slower.", "0.1 or 1 s")
    prescaler: int = stated(1, "Prescaler", "Divides the input before counting.", "1 or 10", ge=1, le=1000)
    digits: int = stated(7, "Digits", "Digits shown.", "5 to 8", ge=3, le=12)
    programmes: int = stated(
        2,
        "Stored programmes",
        "Offsets with their direction that it keeps.",
        "1 to 4",
        ge=1,
        le=16,
    )
    selected_by: Literal["jumper", "line", "button"] = stated(
        "line",
        "Selected by",
        "How a programme is chosen: a jumper, a line from the band switch, or a button.",
    )
    adds: bool = stated(True, "Adds", "It can add the stored offset to the count.")
    subtracts: bool = stated(True, "Subtracts", "It can subtract the stored offset from the count.")
    inputs: int = stated(
        1,
        "Inputs",
        "With two it counts VFO and carrier in turn and adds or subtracts.",
        "1",
        ge=1,
        le=2,
    )
    reference_ppm: Ppm = stated(10.0, "Reference", "Error of its clock.", "1 to 30 ppm")
    clock_hz: Hertz = stated(
        4e6,
        "Clock",
        "Its crystal, which is heard wherever a harmonic falls.",
        "4 to 20 MHz",
    )

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.lowest_hz < self.highest_hz:
            raise ValueError("the counter must count to a frequency above the one that it counts from")
        return self


class ReadOut(Model):
    """What shows the dial frequency."""

    counter: Counter = stated(Counter(), "Counter", "The counter module.")
    helpers: Literal["stock", "junk_box"] = stated(
        "stock", "Helper crystals from", "Where a helper oscillator's crystal may come from."
    )
    helper_hz: Hertz | None = stated(
        None, "Helper crystal", "The helper oscillator's crystal; empty: the best one is chosen.", "empty"
    )
    helper_measured_hz: Hertz | None = stated(
        None,
        "Helper measured",
        "The helper as built, measured with this counter; empty: its crystal's marked frequency.",
    )
    helper_dbm: Dbm = stated(0.0, "Helper's level", "Output of the helper oscillator.", "−10 to +7 dBm")
    helper: HelperOscillator | None = stated(
        None, "Helper's circuit", "The helper oscillator's parts; without it the helper is a block."
    )
    carrier_upper_hz: Hertz | None = stated(
        None,
        "Carrier measured, upper",
        "The carrier that makes the upper sideband at the IF, as measured; empty: as computed.",
    )
    carrier_lower_hz: Hertz | None = stated(
        None,
        "Carrier measured, lower",
        "The carrier that makes the lower sideband at the IF, as measured; empty: as computed.",
    )
