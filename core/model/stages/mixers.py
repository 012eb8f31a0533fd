"""Mixers: between dial and IF (driven by the VFO) and between IF and audio (driven by the carrier)."""

from typing import ClassVar, Literal, Self

from core.model.stages.stage import Member, StageBase
from core.model.values.as_built import MixerAsBuilt
from core.model.values.parts import Family
from core.model.values.quantities import (
    CoreName,
    Dbm,
    Decibel,
    DecibelLoss,
    DegenerationOhm,
    ForwardVolt,
    InnerOhm,
    StageCurrent,
    StageSupply,
    TransformerLoss,
    TransistorName,
    Unevenness,
    stated,
)

#: Two-diode balanced, four-diode ring, transistor array (four-quadrant, Gilbert).
MixerType = Literal["two_diode", "ring", "transistor_array"]
#: Diodes of the table (`core.trade.diodes`).
MixerDiode = Literal["1n4148", "1n5711", "hsms_2822", "bat54"]
#: The figures that a reading can replace.
READINGS = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "drive_dbm", "oscillator_leak_db")
_OF_DIODES = frozenset({"diode", "transformer_loss_db", "uneven_share"})
_OF_TRANSISTORS = frozenset({"device", "tail_a", "degeneration_ohm", "inner_ohm", "supply_v"})
_OF_BOTH = frozenset({"matching", "difference_v"})
_OF_BALANCE = frozenset({"balance_trimmed", "measured_balance_db"})


class Mixer(StageBase):
    """A mixer; driven by the carrier oscillator it is the product detector or the balanced modulator.

    An empty figure takes the mixer type's typical value, or the one computed of its circuit at the drive that
    its oscillator delivers; a reading typed in replaces it.
    """

    family: ClassVar[Family] = "mixer"
    kind: Literal["mixer"] = "mixer"
    type: MixerType = stated("ring", "Type", "Kind of mixer; it sets the typical figures and the balance.")
    oscillator: Literal["vfo", "carrier"] = stated(
        "vfo", "Driven by", "The VFO between dial and IF, the carrier oscillator between IF and audio."
    )
    gain_db: Decibel | None = stated(
        None, "Conversion gain", "Conversion gain, negative for a loss; empty: as below.", "−6 dB for a ring"
    )
    noise_figure_db: DecibelLoss | None = stated(
        None, "Noise figure", "Single-sideband noise figure; empty: as below.", "6.5 dB for a ring"
    )
    iip3_dbm: Dbm | None = stated(
        None, "Input intercept", "Third-order input intercept; empty: as below.", "+13 dBm for a level-7 ring"
    )
    p1db_in_dbm: Dbm | None = stated(
        None, "Compression", "Input level at 1 dB compression; empty: as below.", "+1 dBm for a level-7 ring"
    )
    drive_dbm: Dbm | None = stated(
        None, "Drive wanted", "Oscillator level the mixer wants; empty: as below.", "+7 dBm for a ring"
    )
    oscillator_leak_db: DecibelLoss | None = stated(
        None,
        "Oscillator isolation",
        "Oscillator level at the signal port below the drive; empty: as below.",
        "30 to 60 dB",
    )
    figures_from: Literal["type", "circuit"] = stated(
        "type",
        "Empty figures",
        "What is typical of the type, or what the circuit does at the drive that it gets.",
    )
    diode: MixerDiode = stated("1n4148", "Diodes", "Their type; figures of the table of diodes.")
    transformer_loss_db: TransformerLoss = stated(
        0.5, "Loss of a transformer", "Of each small transformer, for signal and drive.", "0.3 to 1 dB"
    )
    core: CoreName = stated(
        "FT37-43",
        "Transformers on",
        "Core that each transformer is wound on, with as many whole turns as its lowest frequency wants; "
        "empty: of so many henries, wound on anything.",
        "a ferrite toroid, FT37-43",
    )
    device: TransistorName = stated(
        "2n3904",
        "Transistors",
        "Their type, of the table of devices with typical figures, or one of the rig's own transistors.",
    )
    supply_v: StageSupply = stated(
        12.0, "Supply", "Voltage that the transistors are fed with.", "9 to 13.8 V"
    )
    tail_a: StageCurrent = stated(1e-3, "Tail current", "Of the pair that takes the signal.", "0.5 to 2 mA")
    degeneration_ohm: DegenerationOhm = stated(
        47.0, "Emitter resistors", "At each emitter of the pair that takes the signal.", "0 to 470 Ω"
    )
    inner_ohm: InnerOhm = stated(
        1500.0,
        "Impedance inside",
        "Resistor across the pair's bases and across the collectors, each matched to its port.",
        "1 to 3 kΩ",
    )
    matching: Literal["as_they_come", "matched"] = stated(
        "as_they_come", "Devices", "As they come out of the bag, or matched by forward voltage."
    )
    difference_v: ForwardVolt | None = stated(
        None,
        "Devices differ by",
        "Forward or base-emitter voltage of two of them at the same current; empty: 10 mV as they come, 2 mV "
        "matched, a fifth of it within an array.",
        "1 to 20 mV",
    )
    uneven_share: Unevenness = stated(
        0.01,
        "Windings differ by",
        "How far the halves of a transformer's winding differ; common practice.",
        "0.5 to 3 %",
    )
    balance_trimmed: Literal["not_at_all", "resistance", "both"] = stated(
        "resistance",
        "Balance trimmed by",
        "Nothing, a potentiometer, or with diodes a small trimmer capacitor too.",
    )
    measured_balance_db: DecibelLoss | None = stated(
        None,
        "Balance as measured",
        "How far the carrier lies below one sideband on speech peaks; a reading replaces the estimate.",
        "35 to 55 dB",
    )

    as_built: MixerAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @property
    def members(self) -> tuple[Member, ...]:
        """Its circuit, where its figures are those of one; of a type nothing more is known."""
        return () if self.figures_from == "type" else super().members

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`."""
        return self.edited(("device",), new) if self.device == old else self

    @property
    def gives_audio(self) -> bool:
        """Whether audio leaves, of a type that works one way only."""
        return self.oscillator == "carrier" and not self.is_modulator

    @property
    def is_modulator(self) -> bool:
        """Whether it makes sidebands, so that its carrier wants balancing."""
        return self.oscillator == "carrier" and self.direction != "receive"

    @property
    def idle_fields(self) -> frozenset[str]:
        """The circuit's fields where figures are the type's, and those that another type or place has."""
        if self.figures_from == "type":
            return _OF_DIODES | _OF_TRANSISTORS | _OF_BOTH | _OF_BALANCE | {"core"}
        other = _OF_DIODES if self.type == "transistor_array" else _OF_TRANSISTORS
        return other | (_OF_BALANCE if self.oscillator == "vfo" else frozenset())
