"""How numbers with their units are written in fields and tables, and read from what is typed."""

import re
from decimal import Decimal

from core.model.values.notation import PREFIXES, parse_near, plain, prefix_power
from core.model.values.quantities import Unit
from core.record import record

NO_UNIT = Unit("-")
#: A field shows so many digits where its style fixes none.
_DIGITS_SHOWN = 10
#: Between groups of digits.
THIN = "\u202f"
_DIGITS = rf"\d(?:[\d {THIN}]*\d)?"
#: A number as it stands in a field: sign, whole part, point, decimals, and what follows.
NUMBER = re.compile(rf"^(\s*[+\-−]?)({_DIGITS})(?:([.,])({_DIGITS})?)?(.*)$")
Span = tuple[float, float]
NO_LIMITS: Span = (float("-inf"), float("inf"))


@record
class Style:
    """How a field writes its number.

    `places` fixes the decimals and `exponent` the prefix (6 for MHz), so that every digit is there to be
    stepped; by default the prefix follows the value and idle zeros are left out.
    """

    places: int | None = None
    exponent: int | None = None
    whole: bool = False


#: The prefix follows the value.
FREELY = Style()


def number_text(value: float, unit: Unit, style: Style = FREELY) -> str:
    """Write `value` so that parsing the text gives it back (to ten digits, or to the style's places)."""
    exponent = -2 if unit.per_cent else style.exponent
    if exponent is None:
        exponent = prefix_power(value, unit.symbol, _DIGITS_SHOWN) if unit.scaled else 0
    if style.places is not None:
        text = f"{Decimal(repr(float(value))).scaleb(-exponent):.{style.places}f}"
    else:
        text = plain(value, _DIGITS_SHOWN, -exponent)
    return grouped(text.replace("-", "−")) + _suffix(unit, exponent)


def read_number(text: str, unit: Unit, style: Style, near: float | None, limits: Span = NO_LIMITS) -> float:
    """What a text typed into a field of `unit` and `style` means; see `notation.parse_near`."""
    shown = unit_shown(near, unit, style) if near else ""
    return parse_near(text, unit.written, shown, near, *limits)


def unit_shown(value: float, unit: Unit, style: Style = FREELY) -> str:
    """The unit with its prefix that a value is written with: `MHz`, `pF`, `%`; empty for plain numbers."""
    match = NUMBER.match(number_text(value, unit, style))
    return match.group(5).strip() if match else ""


def _suffix(unit: Unit, exponent: int) -> str:
    symbol = "" if unit.symbol == "-" else unit.symbol
    prefixed = "%" if unit.per_cent else PREFIXES[exponent] + symbol
    return f" {prefixed}" if prefixed else ""


def grouped(text: str) -> str:
    """Decimals in groups of three, and thousands from five digits on."""
    whole, point, decimals = text.partition(".")
    sign = whole[:1] if whole[:1] == "−" else ""
    digits = whole.removeprefix("−")
    if len(digits) > 4:
        head = len(digits) % 3
        groups = [digits[:head]] if head else []
        digits = THIN.join(groups + [digits[i : i + 3] for i in range(head, len(digits), 3)])
    decimals = THIN.join(decimals[i : i + 3] for i in range(0, len(decimals), 3))
    return sign + digits + point + decimals
