"""Values really fitted: part to number, checked against what such a part can be.

A part is written by its role and number (`core.model.values.parts.key`), so that a value stays with its part
whatever the part is called and whatever other parts come and go.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from math import inf, isfinite
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

from core.model.values.notation import format_value
from core.model.values.part_names import NAMES, spelled
from core.model.values.parts import Family, taken_apart
from core.model.values.quantities import (
    Coupling,
    Farad,
    FuseAmpere,
    Henry,
    Hertz,
    Name,
    Ohm,
    QualityFactor,
    RailVolt,
    limits_of,
)

#: A design has a hundred values at most: four a crystal of the longest ladder, and its capacitors.
MOST_VALUES = 200
_LONGEST_KEY = 60

#: What a part of a kind is measured in; a crystal's value is its series resonance.
_QUANTITIES: dict[str, Any] = {
    "resistor": Ohm,
    "capacitor": Farad,
    "inductor": Henry,
    "crystal": Hertz,
    "coupling": Coupling,
}
#: Circuits that have no resistors, or, the tank, have them as fields of their own.
_WITHOUT_RESISTORS: frozenset[Family] = frozenset({"ladder", "band_pass", "low_pass", "tank"})
#: What is measured of a part that has a type: a regulator's output, a fuse's rating, a switch when it is on.
MEASURED: Mapping[str, Any] = {
    "regulator": RailVolt,
    "fuse": FuseAmpere,
    "polarity_mosfet": Ohm,
    "rail_switch": Ohm,
}
#: A crystal's other figures.
_CRYSTAL_FIGURES: dict[str, Any] = {"lm": Henry, "c0": Farad, "q": QualityFactor}


def _limits(family: Family, key: str) -> tuple[float, float, str]:
    """Least and largest value of a part, and their unit; `ValueError` for no key of a part."""
    role, which, figure = taken_apart(key)
    if role == "other" and which:
        # What a former version kept for a part that no design had.
        return -inf, inf, ""
    naming = NAMES[family].get(role)  # type: ignore[call-overload]
    quantity = None if naming is None else _QUANTITIES.get(naming.kind)
    if naming is not None and naming.kind == "resistor" and family in _WITHOUT_RESISTORS:
        quantity = None
    if naming is not None and quantity is None and family == "supply":
        quantity = MEASURED.get(role)
    if figure:
        quantity = _CRYSTAL_FIGURES.get(figure)
    if quantity is None or which == "" or len(key) > _LONGEST_KEY:
        what = spelled(family, key)[:_LONGEST_KEY]
        raise ValueError(f"“{what}” is no part with a value; take it out of as built")
    return limits_of(quantity)


def unit_of_part(family: Family, key: str) -> str:
    """Unit of the value that a part's key stands for; `ValueError` for no key of a part."""
    return _limits(family, key)[2]


def _checked(family: Family, pair: Any) -> tuple[str, float]:
    if not isinstance(pair, tuple | list) or len(pair) != 2 or not isinstance(pair[0], str):
        raise ValueError("values as built are pairs of a part and a number")
    key, value = pair
    low, high, unit = _limits(family, key)
    what = spelled(family, key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"the value of {what} must be a number in {unit}, without quotes or brackets")
    if not (low <= value <= high and isfinite(value)):
        given = format_value(float(value), unit, 3) if abs(value) < 1e300 else "so large a number"
        raise ValueError(
            f"the value of {what} cannot be {given}; it must lie between {format_value(low, unit)} and "
            f"{format_value(high, unit)}"
        )
    return key, float(value)


def pairs_of(family: Family) -> Callable[[Any], tuple[tuple[str, float], ...]]:
    """What makes checked pairs of the values as built of a kind of circuit."""

    def pairs(value: Any) -> tuple[tuple[str, float], ...]:
        """Sorted pairs of an object or of pairs; `ValueError` says which of them cannot be."""
        entries = value.items() if isinstance(value, Mapping) else value
        if isinstance(entries, str) or not isinstance(entries, Iterable):
            raise ValueError("values as built are pairs of a part and a number")
        checked = sorted(_checked(family, pair) for pair in entries)
        if len(checked) > MOST_VALUES:
            raise ValueError(f"more than {MOST_VALUES} values as built are more than any stage has parts")
        twice = [key for key, count in Counter(key for key, _ in checked).items() if count > 1]
        if twice:
            raise ValueError(f"the part {spelled(family, twice[0])} is given twice; leave one value")
        return tuple(checked)

    return pairs


Pairs = tuple[tuple[Name, float], ...]
WRITTEN = PlainSerializer(dict, return_type=dict[str, float])
SCHEMA = WithJsonSchema({"type": "object", "additionalProperties": {"type": "number"}})

#: Part, by role and number, to the value really fitted, for each kind of circuit. An object in the file;
#: sorted pairs in the model, because a dictionary inside a frozen model cannot be hashed and could be changed
#: in place.
LadderAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("ladder")), WRITTEN, SCHEMA]
BandPassAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("band_pass")), WRITTEN, SCHEMA]
LowPassAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("low_pass")), WRITTEN, SCHEMA]
AmplifierAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("amplifier")), WRITTEN, SCHEMA]
PairAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("pair")), WRITTEN, SCHEMA]
PowerAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("power")), WRITTEN, SCHEMA]
AudioAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("audio")), WRITTEN, SCHEMA]
AudioPowerAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("audio_power")), WRITTEN, SCHEMA]
VolumeAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("volume")), WRITTEN, SCHEMA]
SupplyAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("supply")), WRITTEN, SCHEMA]
MixerAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("mixer")), WRITTEN, SCHEMA]
TankAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("tank")), WRITTEN, SCHEMA]
CrystalCircuitAsBuilt = Annotated[Pairs, BeforeValidator(pairs_of("crystal_oscillator")), WRITTEN, SCHEMA]
