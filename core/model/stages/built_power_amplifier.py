"""A power amplifier built of parts: what is asked of it, what cools it, and what was fitted."""

from typing import ClassVar, Literal, Self

from core.model.stages.stage import StageBase
from core.model.values.as_built import PowerAsBuilt
from core.model.values.parts import Family
from core.model.values.quantities import (
    Celsius,
    CoreName,
    KelvinPerWatt,
    Kilogram,
    LeadOhm,
    PowerAmpere,
    PowerOhm,
    PowerWatt,
    RadioHertz,
    StageGain,
    StageSupply,
    TransistorName,
    stated,
)


class BuiltPowerAmplifier(StageBase):
    """The last transmit stage as a circuit of power transistors on a heat sink."""

    family: ClassVar[Family] = "power"
    kind: Literal["built_power_amplifier"] = "built_power_amplifier"
    device: TransistorName = stated(
        "rd16hhf1",
        "Transistor",
        "Its type, of the table of power transistors, or one of the rig's own with what it bears.",
    )
    topology: Literal["single", "parallel", "push_pull"] = stated(
        "single",
        "Circuit",
        "One transistor, two on the same load, or two in push-pull, whose even harmonics cancel.",
    )
    working_class: Literal["a", "ab", "b"] = stated(
        "ab",
        "Class",
        "A: conducts always; AB: at the current asked when idle; B: at the edge of conduction, which "
        "distorts speech.",
    )
    power_w: PowerWatt = stated(
        8.0, "Power wanted", "Peak envelope power that the load is made for.", "5 to 20 W"
    )
    load_ohm: PowerOhm | None = stated(
        None, "Load", "At the drain, from drain to drain in push-pull; empty: what the power wants."
    )
    supply_v: StageSupply = stated(13.8, "Supply", "Voltage that the stage is fed with.", "12 to 13.8 V")
    idle_a: PowerAmpere = stated(
        0.25, "Idle current", "Of each transistor without a signal, in class AB.", "50 to 500 mA"
    )
    match: Literal["transformer", "l", "pi"] = stated(
        "transformer",
        "Output match",
        "A transformer of whole turns serves every band; an L or a pi is made for one frequency.",
    )
    core: CoreName = stated(
        "",
        "Core",
        "What the output transformer, or the coil of an L or pi, is wound on; empty: the smallest that will "
        "do, or air.",
    )
    designed_at_hz: RadioHertz = stated(
        14e6, "Match made at", "Frequency of an L or a pi.", "the middle of its use"
    )
    input_turns: int = stated(
        2,
        "Input turns",
        "Turns towards the driver for one towards the gate; 1: none, but in push-pull.",
        "2",
        ge=1,
        le=4,
    )
    swamping_ohm: PowerOhm | None = stated(
        None, "Swamping", "Resistor at each gate or base; empty: what matches the input transformer.", "10 Ω"
    )
    feedback_ohm: PowerOhm | None = stated(
        None, "Feedback", "Resistor from drain to gate; empty: none.", "100 to 1000 Ω"
    )
    degeneration_ohm: LeadOhm = stated(
        0.0, "In the source", "Resistor in source or emitter of each transistor; 0: none.", "0 to 2 Ω"
    )
    regulator_v: StageSupply = stated(
        8.0, "Bias regulator", "Voltage that the bias is taken from.", "5 to 8 V"
    )
    bias_from: Literal["trimmer", "divider"] = stated(
        "trimmer",
        "Bias from",
        "A trimmer between two resistors, or the two alone, whose current is what the threshold makes of it.",
    )
    tracking: Literal["none", "diode", "thermistor"] = stated(
        "diode",
        "Follows heat",
        "What on the sink lowers the bias as it warms: transistors as diodes, a thermistor, or nothing.",
    )
    sink_k_w: KelvinPerWatt = stated(
        4.0, "Heat sink", "Thermal resistance of the sink to air.", "2 to 10 K/W"
    )
    sink_kg: Kilogram = stated(0.1, "Its mass", "Mass of the sink, taken as aluminium.", "0.05 to 0.5 kg")
    insulator_k_w: KelvinPerWatt = stated(
        0.7, "Insulator", "Thermal resistance from case to sink, with its grease.", "0.2 to 1.5 K/W"
    )
    ambient_c: Celsius = stated(40.0, "Air", "Temperature of the air around the sink.", "25 to 50 °C")
    resistors: Literal["E12", "E24", "E96"] = stated("E24", "Resistors from", "Series of preferred values.")
    measured_gain_db: StageGain | None = stated(
        None, "Measured gain", "A reading takes the place of the computed gain; empty: none."
    )
    as_built: PowerAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def sides(self) -> int:
        """How many halves share the output: two in push-pull."""
        return 2 if self.topology == "push_pull" else 1

    @property
    def transistors(self) -> int:
        """How many transistors it has."""
        return 1 if self.topology == "single" else 2

    @property
    def idle_fields(self) -> frozenset[str]:
        """What the present choices leave without effect."""
        idle = set()
        if self.working_class != "ab":
            idle.add("idle_a")
        if self.match == "transformer":
            idle.add("designed_at_hz")
        return frozenset(idle)

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self
