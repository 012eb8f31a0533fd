"""A bilateral amplifier: two of three transistors back to back, what is asked of them and what was fitted."""

from typing import ClassVar, Literal, Self

from core.model.stages.stage import StageBase
from core.model.values.as_built import PairAsBuilt
from core.model.values.parts import Family
from core.model.values.quantities import (
    RadioHertz,
    StageCurrent,
    StageGain,
    StageSupply,
    SystemOhm,
    TransistorName,
    stated,
)


class BilateralAmplifier(StageBase):
    """An amplifier for receive and one for transmit on the same two terminals; only one of them is fed."""

    family: ClassVar[Family] = "pair"
    kind: Literal["bilateral_amplifier"] = "bilateral_amplifier"
    receive_gain_db: StageGain = stated(
        16.0,
        "Gain in receive",
        "Power gain wanted between equal resistances, the transmit half unfed beside it.",
        "10 to 24 dB",
    )
    transmit_gain_db: StageGain = stated(
        16.0, "Gain in transmit", "The same with the receive half unfed.", "10 to 24 dB"
    )
    device: TransistorName = stated(
        "2n3904",
        "Transistor",
        "Type of all six, of the table of devices with typical figures, or one of the rig's own transistors.",
    )
    system_ohm: SystemOhm = stated(50.0, "Impedance", "The resistance around the stage.", "50 Ω")
    current_a: StageCurrent = stated(
        15e-3, "Current", "Collector current of the first transistor of either half.", "5 to 30 mA"
    )
    supply_v: StageSupply = stated(
        12.0, "Supply", "Voltage of the half in use; the other one's supply is off.", "9 to 13.8 V"
    )
    designed_at_hz: RadioHertz = stated(
        10e6,
        "Gain wanted at",
        "Frequency at which gain and impedance are made right.",
        "the middle of its use",
    )
    resistors: Literal["E12", "E24", "E96"] = stated("E24", "Resistors from", "Series of preferred values.")
    measured_receive_gain_db: StageGain | None = stated(
        None, "Gain in receive as measured", "A reading takes the place of the computed gain; empty: none."
    )
    measured_transmit_gain_db: StageGain | None = stated(
        None, "Gain in transmit as measured", "The same in the other direction; empty: none."
    )
    as_built: PairAsBuilt = stated((), "As built", "Values really fitted, by part.")

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self
