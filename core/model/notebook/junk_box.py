"""The junk box: parts on hand, each with how many there are."""

from functools import cached_property
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from core.model.stages.tank import CapacitorType
from core.model.values.base import Model
from core.model.values.quantities import (
    CoreName,
    Farad,
    Hertz,
    Metre,
    Name,
    TransistorName,
    Volt,
    WireMetre,
    stated,
)

#: Values of one kind in the junk box, and lines of it.
MOST_ON_HAND = 500
#: More pieces of one part are as good as endless.
MOST_PIECES = 100_000
#: What a capacitor is of: those of class 1 and their kin by their type, all others alike, as they decide no
#: frequency.
OnHandType = CapacitorType | Literal["other"]
#: Of what a filter's capacitors can be: what neither loses nor drifts much.
FILTER_TYPES: frozenset[str] = frozenset({"c0g", "silver_mica", "polystyrene"})


def _pieces() -> int:
    made: int = stated(1, "Pieces", "How many there are.", "1 to 100", ge=0, le=MOST_PIECES)
    return made


class OnHand(Model):
    """What all parts on hand have."""

    #: How builders and tables call the kind.
    spelled: ClassVar[str] = ""

    count: int = _pieces()
    note: Name = stated("", "Note", "Where it lies, what it came out of.", max_length=200)


class CrystalOnHand(OnHand):
    """Crystals of one marked frequency."""

    spelled = "crystal"
    kind: Literal["crystal"] = "crystal"
    frequency_hz: Hertz = stated(9e6, "Frequency", "The frequency that is written on it.", "9 MHz")


class CapacitorOnHand(OnHand):
    """Capacitors of one value and kind."""

    spelled = "capacitor"
    kind: Literal["capacitor"] = "capacitor"
    capacitance_f: Farad = stated(100e-12, "Capacitance", "Its value.", "82 pF")
    type: OnHandType = stated(
        "c0g",
        "Kind",
        "What it is of; filters are made of C0G, silver mica and polystyrene alone.",
        "C0G",
    )


class CoreOnHand(OnHand):
    """Cores of one kind."""

    spelled = "core"
    kind: Literal["core"] = "core"
    core: CoreName = stated("T50-6", "Core", "Its designation.", "T50-6", min_length=1)


class WireOnHand(OnHand):
    """Enamelled wire of one diameter."""

    spelled = "wire"
    kind: Literal["wire"] = "wire"
    diameter_m: WireMetre = stated(0.4e-3, "Diameter", "Diameter of the copper.", "0.2 to 1 mm")
    length_m: Metre = stated(10.0, "Length", "How much there is of it.", "1 to 100 m")


class TransistorOnHand(OnHand):
    """Transistors of one type."""

    spelled = "transistor"
    kind: Literal["transistor"] = "transistor"
    device: TransistorName = stated("2N3904", "Type", "Its type, as it is written on it.", "2N3904")


class DiodeOnHand(OnHand):
    """Diodes of one type."""

    spelled = "diode"
    kind: Literal["diode"] = "diode"
    device: TransistorName = stated("1N4148", "Type", "Its type, as it is written on it.", "1N4148")


class VariableOnHand(OnHand):
    """Variable capacitors and trimmers of one range."""

    spelled = "variable capacitor"
    kind: Literal["variable_capacitor"] = "variable_capacitor"
    low_f: Farad = stated(10e-12, "From", "Its least capacitance.", "10 pF")
    high_f: Farad = stated(365e-12, "To", "Its largest capacitance.", "365 pF")


class RelayOnHand(OnHand):
    """Relays of one kind."""

    spelled = "relay"
    kind: Literal["relay"] = "relay"
    coil_v: Volt = stated(12.0, "Coil", "Voltage of its coil.", "12 V")
    contacts: Name = stated("", "Contacts", "What it switches.", "2 change-over", max_length=60)


PartOnHand = Annotated[
    CrystalOnHand
    | CapacitorOnHand
    | CoreOnHand
    | WireOnHand
    | TransistorOnHand
    | DiodeOnHand
    | VariableOnHand
    | RelayOnHand,
    Field(discriminator="kind"),
]
#: Every kind of part on hand, in the order in which a table offers them.
KINDS: tuple[type[OnHand], ...] = (
    CrystalOnHand,
    CapacitorOnHand,
    CoreOnHand,
    WireOnHand,
    TransistorOnHand,
    DiodeOnHand,
    VariableOnHand,
    RelayOnHand,
)


class JunkBox(Model):
    """Parts on hand: values of which there are as many as wanted, and parts that were counted."""

    first: bool = stated(
        False,
        "Junk box first",
        "Capacitors, cores and crystals on hand are taken wherever the rig is hardly worse for it; "
        "transistors, diodes, trimmers and other cores that would do are told among the findings.",
    )
    crystals_hz: tuple[Hertz, ...] = stated(
        (),
        "Crystals",
        "Marked frequencies of crystals on hand, as many as wanted of each; the IF survey marks them.",
        "9 MHz; 19.6608 MHz",
        max_length=MOST_ON_HAND,
    )
    capacitors_f: tuple[Farad, ...] = stated(
        (),
        "Capacitors",
        "Values of capacitors on hand, each in as many pieces as wanted; the ladder can be made of them.",
        "82 pF; 100 pF; 150 pF",
        max_length=MOST_ON_HAND,
    )
    parts: tuple[PartOnHand, ...] = stated(
        (), "Counted parts", "Parts on hand that were counted.", max_length=MOST_ON_HAND
    )

    # Hundreds of parts: what is cached on a junk box would hash them at every look.
    @cached_property
    def _digest(self) -> int:
        return hash((self.first, self.crystals_hz, self.capacitors_f, self.parts))

    def __hash__(self) -> int:
        return self._digest

    @cached_property
    def every_crystal_hz(self) -> tuple[float, ...]:
        """Marked frequencies of all crystals on hand, counted or not [Hz], each once, in the order typed."""
        counted = (each.frequency_hz for each in self.parts if isinstance(each, CrystalOnHand) and each.count)
        return tuple(dict.fromkeys((*self.crystals_hz, *counted)))

    @cached_property
    def every_capacitor_f(self) -> tuple[float, ...]:
        """Values of all capacitors on hand that a filter can be made of [F], each once."""
        counted = (
            each.capacitance_f
            for each in self.parts
            if isinstance(each, CapacitorOnHand) and each.count and each.type in FILTER_TYPES
        )
        return tuple(dict.fromkeys((*self.capacitors_f, *counted)))
