"""What the rig is fed from, by which lead and fuse, and what stands against wrong polarity."""

from typing import Literal, Self

from pydantic import model_validator

from core.model.values.base import Model
from core.model.values.quantities import (
    AmpereHour,
    FeedAmpere,
    FeedMetre,
    FeedOhm,
    Fraction,
    FuseAmpere,
    SourceVolt,
    stated,
)

#: Kinds of fuse of the table (`core.trade.supply.feeding`).
FuseType = Literal["glass_fast", "glass_slow", "blade"]
#: Diodes and MOSFETs of the table for that place.
PolarityDiode = Literal["1n4001", "1n5404", "6a4", "1n5822", "sb560"]
PolarityMosfet = Literal["irf9540", "irf4905"]
#: Connectors, switches and suppressors of the table.
ConnectorType = Literal["coaxial", "screw", "two_pole"]
SwitchType = Literal["none", "toggle", "rocker"]
SuppressorType = Literal["none", "p6ke18a", "1_5ke18a"]
Scheme = Literal["none", "shunt_diode", "series_diode", "p_mosfet"]
_OF_BATTERIES = frozenset({"capacity_ah", "usable_share", "full_v", "empty_v"})


class Source(Model):
    """A battery, a bought regulated supply, or a supply for the mains of the builder's own."""

    type: Literal["battery", "regulated", "mains"] = stated(
        "battery",
        "Source",
        "A battery, a bought regulated supply, or a supply for the mains that is built for the rig.",
    )
    full_v: SourceVolt = stated(
        14.4, "Highest voltage", "Of a full battery, or where it may be under charge.", "12.8 to 14.6 V"
    )
    empty_v: SourceVolt = stated(
        11.5, "Lowest voltage", "Where the battery counts as empty, without load.", "11 to 12 V"
    )
    capacity_ah: AmpereHour = stated(7.0, "Capacity", "Of the battery.", "4 to 20 Ah")
    usable_share: Fraction = stated(
        0.8, "Of it usable", "Share of the capacity that is taken out.", "50 % lead-acid, 80 to 90 % lithium"
    )
    internal_ohm: FeedOhm = stated(
        0.03, "Internal resistance", "Of battery or supply.", "10 to 50 mΩ for a battery of 7 Ah"
    )
    limit_a: FeedAmpere | None = stated(
        None,
        "Current limit",
        "Most that the supply gives, into a short circuit too; empty: it has no limit.",
        "none for a battery, 5 to 25 A for a supply",
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """What only a battery has; that one has no limit."""
        return frozenset({"limit_a"}) if self.type == "battery" else _OF_BATTERIES

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.empty_v < self.full_v:
            raise ValueError("the lowest voltage must lie below the highest; correct one of them")
        return self


class Lead(Model):
    """The two wires from the source to the rig."""

    length_m: FeedMetre = stated(1.5, "Length", "From source to rig, one way.", "1 to 3 m")
    gauge: int = stated(
        16, "Wire, AWG", "American wire gauge of either wire; larger is thinner.", "18 to 12", ge=8, le=30
    )
    contacts_ohm: FeedOhm = stated(0.02, "Contacts", "Plugs, switch and fuse holder together.", "10 to 50 mΩ")


class Fuse(Model):
    """What opens when too much flows."""

    type: FuseType = stated("blade", "Type", "A glass cartridge, fast or time-lag, or a blade fuse.")
    rated_a: FuseAmpere = stated(5.0, "Rated", "Its rated current.", "3 to 7.5 A")
    load_share: Fraction = stated(
        0.75, "Loaded to", "Share of its rating that it carries for long at most.", "67 to 80 %"
    )


class Polarity(Model):
    """What happens when the supply is connected backwards."""

    scheme: Scheme = stated(
        "shunt_diode",
        "Against wrong polarity",
        "Nothing, a diode across the supply behind the fuse, or a diode or P-channel MOSFET in the lead.",
    )
    diode: PolarityDiode = stated("6a4", "Diode", "Its type, for across the supply or in the lead.")
    mosfet: PolarityMosfet = stated("irf4905", "MOSFET", "Its type.")
    gate_clamped: bool = stated(
        True, "Gate clamped", "A Zener diode of 12 V and a resistor keep the gate's voltage in bounds."
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """Parts that the scheme does not have."""
        of_diodes, of_mosfets = {"diode"}, {"mosfet", "gate_clamped"}
        if self.scheme == "none":
            return frozenset(of_diodes | of_mosfets)
        return frozenset(of_diodes if self.scheme == "p_mosfet" else of_mosfets)
