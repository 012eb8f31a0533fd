"""The VFO's tank: what tunes it, what feeds it back, and which of its parts are to be found."""

from itertools import pairwise
from typing import Any, ClassVar, Literal, Self

from pydantic import model_validator

from core.model.stages.filters import Series
from core.model.values.as_built import TankAsBuilt
from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.model.values.notation import format_value, parse
from core.model.values.parts import Family
from core.model.values.quantities import (
    Ampere,
    CoreName,
    CurrentGain,
    Farad,
    Henry,
    HertzSpan,
    Kelvin,
    Metre,
    Ohm,
    QualityFactor,
    Ratio,
    Second,
    Share,
    Turns,
    Volt,
    stated,
)
from core.model.values.wording import shortened

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
#: Transistors of the device table that the VFO may have.
Device = Literal["j310", "2n3819", "bf245b", "2n3904", "2n2222a"]
CoilType = Literal["air_coil", "iron_2", "iron_6", "iron_7"]

_TYPE = "its temperature coefficient follows"


class TuningPoint(Model):
    """A point of a tuning capacitor's measured table."""

    travel: Share = stated(..., "Travel", "Share of its travel, from meshed to open.")
    capacitance_f: Farad = stated(..., "Capacitance", "Measured there.")


def points_of(text: str) -> tuple[TuningPoint, ...]:
    """A measured table as it is typed, `0 100p; 50 48p; 100 10p`, per cent of the travel and capacitance.

    `DesignError` with one sentence for what is none.
    """
    found = []
    for entry in filter(None, (each.strip() for each in text.split(";"))):
        words = entry.split()
        try:
            travel, capacitance_f = parse(words[0]) / 100, parse(" ".join(words[1:]), "F")
        except DesignError:
            raise DesignError(
                f"“{shortened(entry)}” is no entry of a measured table; write pairs like 50 48p."
            ) from None
        found.append(TuningPoint.checked(travel=travel, capacitance_f=capacitance_f))
    return tuple(found)


def points_text(points: tuple[TuningPoint, ...]) -> str:
    """A measured table as `points_of` reads it.

    >>> points_text(points_of("0 100p;12,5 92,5 pF"))
    '0 100 pF; 12.5 92.5 pF'
    """
    return "; ".join(
        f"{format_value(100 * each.travel, '', 9)} {format_value(each.capacitance_f, 'F', 9)}"
        for each in points
    )


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
    table: tuple[TuningPoint, ...] = stated(
        (),
        "Measured table",
        "Capacitance along the travel, from meshed to open, typed in pairs of per cent and capacitance; used "
        "when the law is measured.",
        "0 100p; 50 48p; 100 10p",
        max_length=100,
    )
    travel_turns: Turns = stated(
        0.5, "Travel", "Of its shaft from end to end, in turns or degrees.", "180° is half a turn"
    )
    reduction: Ratio = stated(36.0, "Reduction", "Turns of the knob for one turn of the shaft.", "6 to 60")
    type: CapacitorType = stated("air_variable", "Kind", f"Kind of capacitor; {_TYPE}.")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if not self.low_f < self.high_f:
            raise ValueError("the tuning capacitor's largest capacitance must be above its least")
        pairs = list(pairwise(self.table))
        falling = all(a.travel < b.travel and a.capacitance_f > b.capacitance_f for a, b in pairs)
        whole = pairs and self.table[0].travel == 0 and self.table[-1].travel == 1
        if self.law == "table" and not (falling and whole):
            raise ValueError("the measured table must run from 0 to 100 with falling capacitances")
        return self

    @property
    def span_f(self) -> tuple[float, float]:
        """Least and largest capacitance, F, as the law in use has them."""
        if self.law == "table":
            return self.table[-1].capacitance_f, self.table[0].capacitance_f
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


#: The bipolar ones among the devices, and the fields that only one of the two kinds has.
BIPOLAR: frozenset[str] = frozenset({"2n3904", "2n2222a"})
_OF_JFETS = frozenset({"saturation_a", "pinch_off_v", "gate_ohm"})
_OF_BIPOLARS = frozenset({"beta", "base_upper_ohm", "base_lower_ohm"})


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
    device: Device = stated("j310", "Device", "Transistor; its typical figures come from the device table.")
    saturation_a: Ampere | None = stated(
        None, "Saturation current", "IDSS of the JFET; empty: typical of its type.", "24 to 60 mA for a J310"
    )
    pinch_off_v: Volt | None = stated(
        None,
        "Pinch-off",
        "Gate-source voltage that cuts the JFET off, without its sign; empty: typical of its type.",
        "2 to 6.5 V for a J310",
    )
    beta: CurrentGain | None = stated(
        None, "Current gain", "Of the bipolar transistor; empty: typical of its type.", "100 to 300"
    )
    input_f: Farad | None = stated(
        None,
        "Input capacitance",
        "Of the device, gate to source or base to emitter; empty: typical of its type at its current.",
        "4 to 5 pF for a J310",
    )
    drain_f: Farad | None = stated(
        None,
        "Feed-through capacitance",
        "Of the device, gate to drain or base to collector; the drain is at ground for the signal. "
        "Empty: typical of its type.",
        "2 to 2.5 pF for a J310",
    )
    bias_ohm: Ohm = stated(
        470.0,
        "Bias resistor",
        "From source or emitter to ground, behind the choke where there is one; it sets the current.",
        "220 Ω to 1 kΩ behind a choke",
    )
    choke_h: Henry | None = stated(
        1e-3,
        "Choke",
        "In series with the bias resistor, so that it does not load the tank; empty: none.",
        "470 µH to 1 mH",
    )
    load_ohm: Ohm | None = stated(
        10e3, "Buffer's load", "What the buffer puts at source or emitter; empty: none.", "5 to 100 kΩ"
    )
    gate_ohm: Ohm = stated(
        100e3, "Gate resistor", "From a JFET's gate to ground; a bipolar transistor has none.", "47 to 470 kΩ"
    )
    base_upper_ohm: Ohm = stated(
        22e3, "Upper base resistor", "From supply to base; a JFET has none.", "10 to 47 kΩ"
    )
    base_lower_ohm: Ohm = stated(
        22e3, "Lower base resistor", "From base to ground; a JFET has none.", "10 to 47 kΩ"
    )
    supply_v: Volt = stated(
        8.0, "Oscillator's supply", "Regulated supply of the oscillator, at drain or collector.", "5 to 9 V"
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """What the device does not have: a bipolar transistor no gate resistor, a JFET no base resistors."""
        return _OF_JFETS if self.device in BIPOLAR else _OF_BIPOLARS

    @model_validator(mode="before")
    @classmethod
    def _without_typed_bias(cls, data: Any) -> Any:
        """Fields as earlier files have them: a bias current beside a resistor that did not agree with it.

        The resistor is what was drawn, so it stays; the current follows from it.
        """
        if not isinstance(data, dict) or not {"bias_a", "source_ohm"} & data.keys():
            return data
        device = data.get("device", "jfet")
        # The old defaults were a JFET's figures, whatever the device; what stood for the other is left out.
        jfet = {"saturation_a": 35e-3, "pinch_off_v": 4.0, "input_f": 5e-12, "drain_f": 2.5e-12}
        idle = {"bias_a", "source_ohm", "device"} | ({"beta"} if device == "jfet" else set())
        if device == "bjt":
            idle |= {name for name, value in jfet.items() if data.get(name) == value}
        kept = {name: value for name, value in data.items() if name not in idle}
        drawn = {"bias_ohm": data.get("source_ohm", 2200.0), "choke_h": None, "load_ohm": None}
        return {**drawn, **kept, "device": {"jfet": "j310", "bjt": "2n3904"}.get(device, device)}


class Warmth(Model):
    """How warm the VFO's box gets after switching on."""

    rise_k: Kelvin = stated(6.0, "Temperature rise", "Of the enclosure, once all is warm.", "3 to 15 K")
    time_constant_s: Second = stated(
        1200.0, "Time constant", "Time to two thirds of the rise.", "600 to 2400 s"
    )


class Tank(Model):
    """The tuned circuit of the VFO. Which of its parts are given and which are found `find` says."""

    family: ClassVar[Family] = "tank"
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
    core: CoreName = stated(
        "",
        "Coil on",
        "Core that the coil is wound on with whole turns, which then tells its value, Q and drift; empty: a "
        "coil of the figures below, or in air.",
    )
    coil_diameter_m: Metre | None = stated(
        None,
        "Coil's diameter",
        "Of a single layer in air, from middle to middle of the wire; with its length it tells turns, Q and "
        "drift; empty: none.",
        "8 to 25 mm",
    )
    coil_length_m: Metre | None = stated(
        None, "Coil's length", "Of a single layer in air; empty: none.", "1 to 2 times its diameter"
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
        0.0, "Differential setting", "Share of it on the compensating side.", "0 to 100 %"
    )
    feedback: Feedback = stated(Feedback(), "Feedback", "Divider and device.")
    warmth: Warmth = stated(Warmth(), "Warming up", "The box after switching on.")
    as_built: TankAsBuilt = stated(
        (),
        "As built",
        "Part, by role and number, to the value really fitted; it replaces the computed.",
    )

    @property
    def in_air(self) -> tuple[float, float] | None:
        """Diameter and length of a coil that is wound in air [m]; None for any other."""
        if self.core or self.coil_diameter_m is None or self.coil_length_m is None:
            return None
        return self.coil_diameter_m, self.coil_length_m

    @property
    def idle_fields(self) -> frozenset[str]:
        """Of a coil that is wound, Q and drift follow from how; on a core there is no former."""
        idle = {"coil_q", "coil_type"} if self.core or self.in_air else set()
        return frozenset(idle | ({"coil_diameter_m", "coil_length_m"} if self.core else set()))
