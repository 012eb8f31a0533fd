"""The VFO's tank: what tunes it, what feeds it back, and which of its parts are to be found."""

from itertools import pairwise
from typing import Literal, Self

from pydantic import model_validator

from core.model.as_built import AsBuilt
from core.model.base import Model
from core.model.errors import DesignError
from core.model.filters import Series
from core.model.notation import parse
from core.model.quantities import (
    Ampere,
    CurrentGain,
    Farad,
    Henry,
    HertzSpan,
    Kelvin,
    Ohm,
    QualityFactor,
    Ratio,
    Second,
    Share,
    Turns,
    Volt,
    stated,
)

CapacitorType = Literal[
    "c0g",
    "p100",
    "n030",
    "n075",
    "n150",
    "n220",
    "n330",
    "n470",
    "n750",
    "n1500",
    "polystyrene",
    "silver_mica",
    "air_variable",
]
CoilType = Literal["air_coil", "iron_2", "iron_6", "iron_7"]

#: What a shifted band's own parts are called, the band's name behind: its capacitor and its trimmer.
SHIFT_PARTS = ("CB", "CT")
_TYPE = "its temperature coefficient follows"


class TuningCapacitor(Model):
    """The variable capacitor with its drive; turned from fully meshed (low frequency) to open."""

    low_f: Farad = stated(10e-12, "From", "Capacitance with the plates open.", "5 to 15 pF")
    high_f: Farad = stated(100e-12, "To", "Capacitance with the plates meshed.", "50 to 400 pF")
    law: Literal["straight_capacitance", "straight_frequency", "table"] = stated(
        "straight_capacitance",
        "Law",
        "How capacitance follows rotation: evenly; such that frequency follows evenly with nothing else "
        "across it; or as measured.",
    )
    table: str = stated(
        "",
        "Measured table",
        "Per cent of the travel and capacitance, from meshed to open; used when the law is measured.",
        "0 100p; 50 48p; 100 10p",
        max_length=900,
    )
    travel_turns: Turns = stated(
        0.5, "Travel", "Of its shaft from end to end, in turns or degrees.", "180° is half a turn"
    )
    reduction: Ratio = stated(36.0, "Reduction", "Turns of the knob for one turn of the shaft.", "6 to 36")
    type: CapacitorType = stated("air_variable", "Kind", f"Kind of capacitor; {_TYPE}.")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if not self.low_f < self.high_f:
            raise ValueError("the tuning capacitor's largest capacitance must be above its least")
        if self.law == "table":
            _ = self.points
        return self

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """The measured table as (share of the travel, farad), from meshed to open; `ValueError` if none."""
        found = []
        for entry in self.table.split(";"):
            words = entry.split()
            try:
                place, farad = parse(words[0]) / 100, parse(" ".join(words[1:]), "F")
            except (DesignError, IndexError):
                raise ValueError(
                    f"“{entry.strip()}” is no entry of a measured table; write pairs like 50 48p"
                ) from None
            found.append((place, farad))
        rising = all(a[0] < b[0] and a[1] > b[1] for a, b in pairwise(found))
        possible = all(1e-18 <= farad <= 1 for _, farad in found)
        if len(found) < 2 or not rising or not possible or found[0][0] != 0 or found[-1][0] != 1:
            raise ValueError("the measured table must run from 0 to 100 with falling capacitances")
        return tuple(found)

    @property
    def span_f(self) -> tuple[float, float]:
        """Least and largest capacitance, F, as the law in use has them."""
        if self.law == "table":
            return self.points[-1][1], self.points[0][1]
        return self.low_f, self.high_f


class Trimmer(Model):
    """The trimmer that takes up what the preferred values leave."""

    low_f: Farad = stated(3e-12, "From", "Least capacitance.", "2 to 6 pF")
    high_f: Farad = stated(30e-12, "To", "Largest capacitance.", "20 to 60 pF")
    type: CapacitorType = stated("air_variable", "Kind", f"Kind of capacitor; {_TYPE}.")

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low_f < self.high_f:
            raise ValueError("the trimmer's largest capacitance must be above its least; correct one of them")
        return self


class Feedback(Model):
    """The capacitive divider and the device that keeps the tank going."""

    upper_f: Farad = stated(
        330e-12, "Upper capacitor", "C1, gate to source or base to emitter.", "200 to 1000 pF"
    )
    lower_f: Farad = stated(470e-12, "Lower capacitor", "C2, source or emitter to ground.", "200 to 1000 pF")
    coupling_f: Farad = stated(
        150e-12,
        "Coupling",
        "CC, from a parallel-tuned tank to the gate; not in a series-tuned one.",
        "20 to 150 pF",
    )
    type: CapacitorType = stated("c0g", "Kind", f"Kind of these capacitors; {_TYPE}.")
    device: Literal["jfet", "bjt"] = stated("jfet", "Device", "Kind of transistor.")
    bias_a: Ampere = stated(5e-3, "Bias current", "Drain or collector current.", "2 to 10 mA")
    saturation_a: Ampere = stated(35e-3, "Saturation current", "IDSS of the JFET.", "24 to 60 mA for a J310")
    pinch_off_v: Volt = stated(
        4.0, "Pinch-off", "Gate-source voltage that cuts the JFET off.", "2 to 6.5 V for a J310"
    )
    beta: CurrentGain = stated(100.0, "Current gain", "Of the bipolar transistor.", "100")
    input_f: Farad = stated(
        5e-12,
        "Input capacitance",
        "Of the device, gate to source or base to emitter.",
        "4 to 5 pF for a J310",
    )
    drain_f: Farad = stated(
        2.5e-12,
        "Feed-through capacitance",
        "Of the device, gate to drain or base to collector; the drain is at ground for the signal.",
        "2 to 2.5 pF for a J310",
    )
    source_ohm: Ohm = stated(
        2200.0,
        "Load at the source",
        "Bias resistor and buffer together, at source or emitter.",
        "500 Ω to 5 kΩ",
    )

    @model_validator(mode="after")
    def _bias_possible(self) -> Self:
        if self.device == "jfet" and self.bias_a > self.saturation_a:
            raise ValueError("a JFET cannot run above its saturation current; lower the bias current")
        return self


class Warmth(Model):
    """How warm the VFO's box gets after switching on."""

    rise_k: Kelvin = stated(6.0, "Temperature rise", "Of the enclosure, once all is warm.", "3 to 15 K")
    time_constant_s: Second = stated(
        1200.0, "Time constant", "Time to two thirds of the rise.", "600 to 2400 s"
    )


class Tank(Model):
    """The tuned circuit of the VFO. Which of its parts are given and which are found `find` says."""

    tuned: Literal["parallel", "series"] = stated(
        "parallel",
        "Tuned circuit",
        "Coil and capacitors in parallel (coupled to the gate), or in series (between gate and ground).",
    )
    find: Literal["padder_and_parallel", "coil_and_parallel", "coil_and_padder"] = stated(
        "padder_and_parallel",
        "Find",
        "Which parts are computed so that the dial covers the bands; the others are given below.",
    )
    margin_hz: HertzSpan = stated(
        10e3, "Margin", "How much further the VFO tunes at both ends.", "5 to 20 kHz"
    )
    coil_h: Henry = stated(
        3e-6, "Coil", "Inductance, where the coil is not to be found.", "80 to 250 Ω reactance"
    )
    coil_type: CoilType = stated("air_coil", "Kind of coil", f"Kind of coil; {_TYPE}.")
    coil_q: QualityFactor = stated(180.0, "Coil Q", "Unloaded Q of the coil.", "120 to 250")
    coil_self_f: Farad = stated(1.5e-12, "Coil's own capacitance", "Across the coil.", "1 to 3 pF")
    stray_f: Farad = stated(
        5e-12, "Stray capacitance", "Of wiring and switch, across the tuning.", "3 to 10 pF"
    )
    variable: TuningCapacitor = stated(TuningCapacitor(), "Tuning capacitor", "The variable capacitor.")
    padder_f: Farad | None = stated(
        None,
        "Padder",
        "In series with the tuning capacitor, where it is not to be found; empty: none.",
        "none",
    )
    padder_type: CapacitorType = stated("c0g", "Kind of padder", f"Kind of capacitor; {_TYPE}.")
    parallel_f: Farad = stated(
        100e-12,
        "Parallel capacitor",
        "Fixed, across the tuning, where it is not to be found.",
        "50 to 300 pF",
    )
    parallel_type: CapacitorType = stated("c0g", "Kind of parallel", f"Kind of capacitor; {_TYPE}.")
    shift_type: CapacitorType = stated(
        "c0g", "Kind of band-shift", f"Kind of the capacitors switched for further bands; {_TYPE}."
    )
    trimmer: Trimmer = stated(Trimmer(), "Trimmer", "One for each range of the VFO.")
    capacitors: Series = stated("E24", "Capacitors from", "Series of preferred values.", "E24 or E12")
    compensation_f: Farad | None = stated(
        None,
        "Compensating part",
        "So much of the parallel capacitor is of the compensating kind; empty: none.",
        "solved below the plots",
    )
    compensation_type: CapacitorType = stated(
        "n150", "Kind of compensation", f"Kind of the compensating capacitor; {_TYPE}."
    )
    differential_f: Farad | None = stated(
        None,
        "Differential capacitor",
        "Total of a differential trimmer that shares itself between a zero and the compensating "
        "coefficient; empty: none.",
        "10 to 30 pF",
    )
    differential_share: Share = stated(
        0.0, "Differential setting", "Share of it on the compensating side.", "0 to 1"
    )
    feedback: Feedback = stated(Feedback(), "Feedback", "Divider and device.")
    warmth: Warmth = stated(Warmth(), "Warming up", "The box after switching on.")
    as_built: AsBuilt = stated(
        (), "As built", "Part reference to the value really fitted; it replaces the computed value."
    )
