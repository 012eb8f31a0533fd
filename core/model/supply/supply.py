"""The rig's supply: source, fuse, regulators, relays, currents that are typed, and the order of switching."""

from collections import Counter
from typing import ClassVar, Literal, Self

from pydantic import model_validator

from core.model.supply.source import (
    ConnectorType,
    Fuse,
    Lead,
    Polarity,
    PolarityMosfet,
    Source,
    SuppressorType,
    SwitchType,
)
from core.model.values.as_built import SupplyAsBuilt
from core.model.values.base import Model
from core.model.values.parts import Family
from core.model.values.quantities import (
    CelsiusAir,
    CoilOhm,
    CoilVolt,
    Dbm,
    Delay,
    Farad,
    FeedAmpere,
    Fraction,
    Henry,
    KelvinPerWatt,
    Name,
    Ohm,
    RailVolt,
    Share,
    SwitchTime,
    Volt,
    stated,
)

#: Families of regulator of the table (`core.trade.supply.feeding`).
RegulatorType = Literal["78l", "78m", "78", "317", "low_drop"]
Powered = Literal["receive", "transmit", "both"]


class Decoupling(Model):
    """What keeps a stage's supply to itself: a resistor or a choke, and a capacitor behind it."""

    family: ClassVar[Family] = "supply"

    resistor_ohm: Ohm | None = stated(47.0, "Resistor", "In the stage's supply; empty: none.", "10 to 100 Ω")
    choke_h: Henry | None = stated(None, "Choke", "In the stage's supply; empty: none.", "47 to 470 µH")
    capacitor_f: Farad = stated(100e-6, "Capacitor", "From the stage's supply to ground.", "100 nF to 100 µF")
    as_built: SupplyAsBuilt = stated((), "As built", "Values really fitted, by part.")

    @model_validator(mode="after")
    def _has_something(self) -> Self:
        if self.resistor_ohm is None and self.choke_h is None:
            raise ValueError("decoupling needs a resistor or a choke; give it one")
        return self


class Load(Model):
    """What is typed of one who is fed: where its circuit does not tell its current, where it is switched
    otherwise than it works, or where it is no stage.
    """

    name: Name = stated("Lamp", "Name", "What it is called here.", min_length=1, max_length=40)
    of: Name = stated("", "Is", "The stage or oscillator that it is told of; empty: none of the path.")
    receive_a: FeedAmpere | None = stated(
        None, "In receive", "Its current in receive; empty: by its circuit.", "5 to 50 mA"
    )
    transmit_a: FeedAmpere | None = stated(
        None, "In transmit", "Its current in transmit; empty: by its circuit.", "5 to 50 mA"
    )
    powered: Literal["as_it_works", "receive", "transmit", "both"] = stated(
        "as_it_works", "Is on in", "When it is fed; as it works: in the directions that its stage works in."
    )
    decoupling: Decoupling | None = stated(None, "Decoupling", "Of its supply; none: it has none.")


class Regulator(Model):
    """A linear regulator and who hangs on it."""

    family: ClassVar[Family] = "supply"

    name: Name = stated("8 V", "Name", "What the rail is called.", min_length=1, max_length=24)
    type: RegulatorType = stated("78l", "Type", "Its family; typical figures of the table.")
    output_v: RailVolt = stated(8.0, "Output", "Its output voltage.", "5, 6, 8, 9 or 10 V")
    sink_k_w: KelvinPerWatt | None = stated(
        None, "Heat sink", "Thermal resistance of its heat sink; empty: it stands in the air.", "5 to 30 K/W"
    )
    powered: Powered = stated("both", "Is on in", "When it is fed.")
    feeds: tuple[Name, ...] = stated(
        (), "Feeds", "Who hangs on it; the others hang on the rig's supply.", max_length=60
    )
    as_built: SupplyAsBuilt = stated((), "As built", "Values really fitted, by part.")


class Relay(Model):
    """A relay: coil, times, and what it switches."""

    family: ClassVar[Family] = "supply"

    name: Name = stated("Antenna relay", "Name", "What it is called.", min_length=1, max_length=40)
    switches: Literal["antenna", "antenna_and_supplies", "supplies", "other"] = stated(
        "antenna",
        "Switches",
        "The antenna, the supplies of receiver and transmitter, both of these, or something else.",
    )
    powered: Powered = stated("transmit", "Coil is on in", "When current flows in its coil.")
    coil_v: CoilVolt = stated(12.0, "Coil", "Nominal voltage of the coil.", "5, 9 or 12 V")
    coil_ohm: CoilOhm = stated(360.0, "Coil's resistance", "At 20 °C.", "270 Ω to 1 kΩ at 12 V")
    coil_h: Henry = stated(
        0.3, "Coil's inductance", "It tells what happens when the coil is let go.", "0.1 to 1 H"
    )
    pull_in_share: Fraction = stated(
        0.75, "Pulls in at", "Share of the nominal voltage that it needs.", "70 to 80 %"
    )
    operate_s: SwitchTime = stated(
        8e-3, "Operate time", "From voltage to closed contacts, bounce counted.", "3 to 15 ms"
    )
    release_s: SwitchTime = stated(
        6e-3,
        "Release time",
        "From no current to contacts back, with what is across the coil.",
        "3 to 15 ms",
    )
    suppressor: Literal["none", "diode", "diode_and_zener"] = stated(
        "diode", "Across the coil", "What takes the coil's current when it is let go."
    )
    driven_by: Literal["transistor", "contact"] = stated(
        "transistor", "Driven by", "A transistor, or the contact of a key or switch."
    )
    driver_bears_v: Volt = stated(
        40.0, "Transistor bears", "Breakdown voltage of the transistor that drives it.", "40 to 60 V"
    )
    contact_f: Farad = stated(
        1e-12, "Open contact", "Capacitance across an open contact; it tells the isolation.", "0.5 to 2 pF"
    )
    as_built: SupplyAsBuilt = stated((), "As built", "Values really fitted, by part.")


class Sequence(Model):
    """The order of switching, each counted from the key."""

    mute_s: Delay = stated(0.0, "Receiver muted after", "From key down.", "0")
    antenna_s: Delay = stated(0.0, "Antenna relay on after", "From key down.", "0 to 5 ms")
    transmit_s: Delay = stated(
        20e-3, "Transmitter on after", "From key down until its supply comes on.", "10 to 30 ms"
    )
    transmit_off_s: Delay = stated(0.0, "Transmitter off after", "From key up.", "0")
    fall_s: Delay = stated(
        3e-3, "Power falls in", "Until the transmitter's capacitors are empty.", "1 to 10 ms"
    )
    antenna_back_s: Delay = stated(
        10e-3, "Antenna relay off after", "From key up until its coil is let go.", "5 to 20 ms"
    )
    unmute_s: Delay = stated(
        30e-3, "Receiver heard after", "From key up until it is heard again.", "20 to 50 ms"
    )


class Supply(Model):
    """What feeds the rig and how it is switched.

    Values as built of what there is once stand here, those of a regulator, a relay or a decoupling with it,
    so that they go where it goes.
    """

    family: ClassVar[Family] = "supply"

    source: Source = stated(Source(), "Source", "Battery or supply.")
    lead: Lead = stated(Lead(), "Lead", "The wires from source to rig.")
    fuse: Fuse | None = stated(Fuse(), "Fuse", "At the source's end of the lead.")
    connector: ConnectorType = stated("screw", "Connector", "Where the lead comes into the rig.")
    on_switch: SwitchType = stated("rocker", "On/off switch", "Behind the connector.")
    polarity: Polarity = stated(Polarity(), "Polarity", "What stands against wrong polarity.")
    suppressor: SuppressorType = stated(
        "none", "Suppressor", "What keeps spikes of the source out, across the rig's supply."
    )
    smoothing_f: Farad | None = stated(
        470e-6, "Smoothing", "Across the rig's supply; empty: none.", "100 µF to 2.2 mF"
    )
    regulators: tuple[Regulator, ...] = stated(
        (), "Regulators", "Linear regulators with who hangs on them.", max_length=12
    )
    relays: tuple[Relay, ...] = stated((), "Relays", "Relays that are switched.", max_length=20)
    loads: tuple[Load, ...] = stated(
        (),
        "Currents and decoupling",
        "What is typed of those who are fed, and those who are no stage.",
        max_length=60,
    )
    rail_mosfet: PolarityMosfet = stated(
        "irf9540",
        "Rails are switched by",
        "What switches a rail that is on in one direction only, where no relay does and more than some "
        "50 mA flow.",
    )
    sequence: Sequence = stated(Sequence(), "Sequence", "The order of switching.")
    transmit_share: Share = stated(
        0.2, "Transmits", "Share of the time that is spent in transmit.", "10 to 30 %"
    )
    speech_share: Share = stated(
        0.4,
        "Speech draws",
        "Mean current on speech between rest and full output; an estimate.",
        "30 to 50 %",
    )
    air_c: CelsiusAir = stated(40.0, "Air in the box", "Temperature around the parts.", "30 to 50 °C")
    receiver_bears_dbm: Dbm = stated(
        20.0, "Receiver bears", "The most that its input survives.", "+10 to +23 dBm"
    )
    as_built: SupplyAsBuilt = stated((), "As built", "Values really fitted, by part.")

    def without(self, key: str) -> Self:
        """The supply of a rig that has no stage of this key any more."""
        regulators = tuple(
            each.edited(("feeds",), tuple(fed for fed in each.feeds if fed != key))
            for each in self.regulators
        )
        loads = tuple(each for each in self.loads if each.of != key)
        if (regulators, loads) == (self.regulators, self.loads):
            return self
        return self.edited(("regulators",), regulators).edited(("loads",), loads)

    @model_validator(mode="after")
    def _names_unique(self) -> Self:
        for what, names in (
            ("regulator", [each.name for each in self.regulators]),
            ("relay", [each.name for each in self.relays]),
            ("current", [each.name for each in self.loads]),
        ):
            twice = [name for name, count in Counter(names).items() if count > 1]
            if twice:
                raise ValueError(f"two entries share the name {twice[0]} of a {what}; rename one")
        return self
