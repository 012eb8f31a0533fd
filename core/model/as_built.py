"""Values really fitted: part reference to number, checked against what such a part can be."""

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from pydantic import BeforeValidator, PlainSerializer, WithJsonSchema

from core.model.notation import format_value
from core.model.quantities import Farad, Henry, Hertz, Name, Ohm, QualityFactor, limits_of

#: A design has a hundred values at most: four a crystal of the longest ladder, and its capacitors.
MOST_VALUES = 200
_LONGEST_REFERENCE = 40

#: What the first letter of a reference stands for; a crystal's value is its series resonance.
_KINDS: dict[str, Any] = {"C": Farad, "L": Henry, "R": Ohm, "X": Hertz}
#: A crystal's other figures, as in `X1.lm`.
_CRYSTAL_FIGURES: dict[str, Any] = {"lm": Henry, "c0": Farad, "q": QualityFactor}


def _limits(ref: str) -> tuple[float, float, str]:
    """Least and largest value of a part, and their unit; `ValueError` for no reference of a part."""
    figure = ref.partition(".")[2] if ref[:1] == "X" else ""
    kind = _CRYSTAL_FIGURES.get(figure) if figure else _KINDS.get(ref[:1])
    if kind is None or len(ref) > _LONGEST_REFERENCE:
        raise ValueError(f"“{ref[:_LONGEST_REFERENCE]}” is no part with a value; take it out of as built")
    return limits_of(kind)


def unit_of_part(ref: str) -> str:
    """Unit of the value that a part's reference stands for; `ValueError` for no reference of a part."""
    return _limits(ref)[2]


def _checked(pair: Any) -> tuple[str, float]:
    if not isinstance(pair, tuple | list) or len(pair) != 2 or not isinstance(pair[0], str):
        raise ValueError("values as built are pairs of a part's reference and a number")
    ref, value = pair
    low, high, unit = _limits(ref)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"the value of {ref} must be a number in {unit}, without quotes or brackets")
    if not low <= value <= high:
        given = format_value(float(value), unit, 3) if abs(value) < 1e300 else "so large a number"
        raise ValueError(
            f"the value of {ref} cannot be {given}; it must lie between {format_value(low, unit)} and "
            f"{format_value(high, unit)}"
        )
    return ref, float(value)


def _pairs(value: Any) -> tuple[tuple[str, float], ...]:
    """Sorted pairs of an object or of pairs; `ValueError` says which of them cannot be."""
    entries = value.items() if isinstance(value, Mapping) else value
    if isinstance(entries, str) or not isinstance(entries, Iterable):
        raise ValueError("values as built are pairs of a part's reference and a number")
    pairs = sorted(_checked(pair) for pair in entries)
    if len(pairs) > MOST_VALUES:
        raise ValueError(f"more than {MOST_VALUES} values as built are more than any stage has parts")
    twice = [ref for ref, count in Counter(ref for ref, _ in pairs).items() if count > 1]
    if twice:
        raise ValueError(f"the part {twice[0]} is given twice; leave one value")
    return tuple(pairs)


#: Part reference to the value really fitted. An object in the file; sorted pairs in the model, because
#: a dictionary inside a frozen model cannot be hashed and could be changed in place.
AsBuilt = Annotated[
    tuple[tuple[Name, float], ...],
    BeforeValidator(_pairs),
    PlainSerializer(dict, return_type=dict[str, float]),
    WithJsonSchema({"type": "object", "additionalProperties": {"type": "number"}}),
]
