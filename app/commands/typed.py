"""Numbers as they stand on the command line."""

from typing import Any

from core.model.values.errors import DesignError
from core.model.values.notation import format_value, parse
from core.model.values.quantities import limits_of


def quantity(text: str, option: str, kind: Any) -> float:
    """The number that a text means, held to the limits that the model has for this kind of quantity."""
    low, high, unit = limits_of(kind)
    value = parse(text, unit)
    if not low <= value <= high:
        ends = f"{format_value(low, unit)} and {format_value(high, unit)}"
        raise DesignError(f"{option} must lie between {ends}; {text} does not.")
    return value
