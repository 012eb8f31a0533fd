"""An amplifier built of parts: what is asked of it, and what was fitted."""

from typing import ClassVar, Literal, Self

from core.model.stages.stage import StageBase
from core.model.values.as_built import AmplifierAsBuilt
from core.model.values.parts import Family
from core.model.values.quantities import (
    CoreName,
    Dbm,
    DecibelLoss,
    RadioHertz,
    StageCurrent,
    StageGain,
    StageSupply,
    SystemOhm,
    TransistorName,
    stated,
)

#: Fields of readings that take the place of computed figures, by those figures' keys.
READINGS = {
    "gain_db": "measured_gain_db",
    "noise_figure_db": "measured_noise_figure_db",
    "oip3_dbm": "measured_oip3_dbm",
    "compression_dbm": "measured_compression_dbm",
}
#: How the stage is built.
Topology = Literal[
    "feedback",
    "feedback_transformer",
    "three_transistors",
    "common_source",
    "common_gate",
    "emitter_follower",
    "source_follower",
]


#: Those with a choke or an output transformer.
WITH_COILS = ("feedback", "feedback_transformer", "common_source", "common_gate")


class BuiltAmplifier(StageBase):
    """A small-signal amplifier as a circuit of transistors; its figures are computed from its parts."""

    family: ClassVar[Family] = "amplifier"
    kind: Literal["built_amplifier"] = "built_amplifier"
    topology: Topology = stated(
        "three_transistors",
        "Circuit",
        "One transistor with feedback, with or without an output transformer; three transistors whose ports "
        "hide each other's load; one MOSFET with feedback; a common-gate JFET; or a follower as a buffer.",
    )
    device: TransistorName = stated(
        "2n3904",
        "Transistor",
        "Its type, of the table of devices with typical figures, or one of the rig's own transistors.",
    )
    gain_db: StageGain = stated(
        16.0,
        "Gain wanted",
        "Power gain between equal resistances; followers have what they have.",
        "10 to 24 dB",
    )
    system_ohm: SystemOhm = stated(50.0, "Impedance", "The resistance around the stage.", "50 Ω")
    current_a: StageCurrent = stated(
        15e-3, "Current", "Collector or drain current of the first transistor.", "5 to 30 mA"
    )
    supply_v: StageSupply = stated(12.0, "Supply", "Voltage that the stage is fed with.", "9 to 13.8 V")
    designed_at_hz: RadioHertz = stated(
        10e6,
        "Gain wanted at",
        "Frequency at which gain and impedance are made right.",
        "the middle of its use",
    )
    resistors: Literal["E12", "E24", "E96"] = stated("E24", "Resistors from", "Series of preferred values.")
    core: CoreName = stated(
        "",
        "Choke or transformer on",
        "Core that the choke or the output transformer is wound on, with as many whole turns as the lowest "
        "band wants; empty: of so many henries, wound on anything.",
        "a ferrite toroid, FT37-43",
    )
    measured_gain_db: StageGain | None = stated(
        None, "Gain as measured", "A reading takes the place of the computed gain; empty: none."
    )
    measured_noise_figure_db: DecibelLoss | None = stated(
        None, "Noise figure as measured", "The same for the noise figure; empty: none.", "2 to 6 dB"
    )
    measured_oip3_dbm: Dbm | None = stated(
        None, "Intercept as measured", "The same for the third-order intercept at the output; empty: none."
    )
    measured_compression_dbm: Dbm | None = stated(
        None, "Compression as measured", "The same for the output at 1 dB compression; empty: none."
    )
    as_built: AmplifierAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def idle_fields(self) -> frozenset[str]:
        """A circuit without choke or transformer has nothing to wind."""
        return frozenset() if self.topology in WITH_COILS else frozenset({"core"})

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self
