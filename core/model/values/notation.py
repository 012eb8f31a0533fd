"""Numbers as builders write them: `14,1 MHz`, `14.1M`, `4k7`, `2n2`, and back to engineering notation.

A comma is a decimal mark, a letter can stand for the decimal mark, and nobody means millihertz; the general
libraries for quantities read `14,1 MHz` as 141 MHz and `4k7` as 4.
"""

import re
from decimal import Decimal
from math import inf, isfinite, log10

from core.model.values.errors import DesignError
from core.model.values.wording import shortened

_MINUS = "\u2212"
_SPACES = re.compile(r"(?<=\d)[\s\u00a0\u202f\u2009'\u2019](?=\d)")
#: Signs that stand for a minus, and letters that look like others, in what is pasted.
_PASTED = str.maketrans(
    {
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
        "\u03bc": "u",
        "\u00b5": "u",
        "\u2126": "\u03a9",
    }
)
_BARE = re.compile(r"[+-]?[\d.,]+")
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)(?P<mantissa>\d+(?:[.,]\d*)?|[.,]\d+)(?P<exponent>[eE][+-]?\d+)?\s*(?P<rest>.*)"
)
_INFIX = re.compile(r"(?P<sign>[+-]?)(?P<whole>\d+)(?P<prefix>[pnuµmkKMGRΩ])(?P<decimals>\d+)\s*(?P<rest>.*)")
_PREFIXES = {"f": -15, "p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9}
#: As they are written, by their power of ten.
PREFIXES = {0: "", **{power: letter.replace("u", "µ") for letter, power in _PREFIXES.items()}}
#: Nobody writes millihertz, which are read as mega; capacitors are spoken of in picofarads, however small.
_LEAST_POWER = {"Hz": 0, "F": -12}
#: A number of more signs is not read any more, but counted.
_LONGEST = 20
#: Units that take no engineering prefix, besides decibels.
_UNSCALED = ("", "-", "%", "turns", "K", "ppm", "°")
#: A rotation may be given in degrees.
_DEGREES = ("°", "deg", "degrees")
#: Ways to write each unit, in lower case, besides the unit itself.
_SPELLINGS: dict[str, tuple[str, ...]] = {
    "Hz": ("hz", "h"),
    "F": ("f",),
    "H": ("h", "hy"),
    "Ω": ("ω", "ohm", "ohms", "r"),
    "W": ("w",),
    "V": ("v",),
    "A": ("a",),
    "m": ("m",),
    "s": ("s",),
    "dB": ("db",),
    "dBm": ("dbm",),
    "dBc": ("dbc", "db"),
    "dBc/Hz": ("dbc/hz", "dbc", "db"),
    "turns": ("turn", "t"),
    "dB SPL": ("db spl", "dbspl", "db"),
    "-": (),
    "": (),
}


def significant(value: float, digits: int) -> float:
    """The value [any unit] on so many significant digits.

    >>> significant(14123.4, 2), significant(-0.04567, 1)
    (14000.0, -0.05)
    """
    return float(f"{value:.{digits}g}")


def parse(text: str, unit: str = "") -> float:
    """The number that `text` means, in the SI unit `unit` (empty or `-` for none).

    Comma and point are both decimal marks, blanks group digits, a prefix may stand for the decimal mark
    (`4k7`). `DesignError` with one sentence for anything that could mean two things or nothing.
    """
    cleaned = _cleaned(text)
    example = _example(unit)
    if not cleaned:
        raise DesignError(f"Nothing was typed; type a number such as {example}.")
    if infix := _INFIX.fullmatch(cleaned):
        number = f"{infix['sign']}{infix['whole']}.{infix['decimals']}"
        prefix = "" if infix["prefix"] in "RΩ" else infix["prefix"]
        if infix["prefix"] in "RΩ" and unit not in ("Ω", "-", ""):
            raise DesignError(f"“{shortened(text)}” is a resistance; type a number such as {example}.")
        return _scaled(number, prefix + _without_prefix(infix["rest"], unit), text, unit)
    match = _NUMBER.fullmatch(cleaned)
    if match is None or re.match(r"[.,]?\d", match["rest"]) or match["rest"][:1] in (".", ","):
        reason = "has more than one decimal mark" if re.search(r"[.,]\d*[.,]", cleaned) else "is not a number"
        raise DesignError(f"“{shortened(text)}” {reason}; type a number such as {example}.")
    number = f"{match['sign']}{match['mantissa'].replace(',', '.')}{match['exponent'] or ''}"
    return _scaled(number, match["rest"].strip(), text, unit)


def _cleaned(text: str) -> str:
    return _SPACES.sub("", text.strip().translate(_PASTED))


def is_bare(text: str) -> bool:
    """Whether a text is a number without unit or prefix."""
    return _BARE.fullmatch(_cleaned(text)) is not None


def parse_near(
    text: str, unit: str, shown: str, near: float | None, low: float = -inf, high: float = inf
) -> float:
    """The number that a text in a field means, in the SI unit `unit`.

    `shown` is the unit on show with its prefix (`MHz`, `pF`, `%`), `near` the value that stands in the field
    or is usual for it, `low` and `high` its limits. A number with a unit means just that. A bare one is read
    in the unit shown, or in the plain unit where that is nearer to `near`; and where both would be off by a
    hundred and more, in kilohertz, as `21480` is in a field that shows 21.48 MHz. `DesignError` as `parse`.
    """
    plain = parse(text, unit)
    if not shown or not is_bare(text):
        return plain
    as_shown = parse(f"{text} {shown}", unit)
    if not near or not as_shown:
        return as_shown
    others = [plain, *([parse(f"{text} kHz", unit)] if unit == "Hz" else [])]
    allowed = [value for value in (as_shown, plain) if low <= value <= high]
    best = min(allowed, key=lambda value: _times_off(value, near), default=as_shown)
    if _times_off(best, near) >= 100:
        best = next((value for value in others if _times_off(value, near) <= 10), best)
    return best


def _times_off(value: float, near: float) -> float:
    return max(abs(value / near), abs(near / value))


def _without_prefix(rest: str, unit: str) -> str:
    rest = rest.strip()
    return "" if rest.lower() in (unit.lower(), *_SPELLINGS.get(unit, ())) else rest


def _scaled(number: str, suffix: str, text: str, unit: str) -> float:
    """`number` times the prefix in `suffix`, after checking that the unit in it is the right one."""
    names = (unit.lower(), *_SPELLINGS.get(unit, ()))
    exponent: int | None = None
    if unit == "turns" and suffix in _DEGREES:
        return float(number) / 360
    if unit == "%" and suffix in ("%", "percent", "per cent"):
        suffix, number = "", str(float(number) / 100)
    if suffix == "" or (suffix.lower() in names and not (suffix == "m" and unit != "m")):
        exponent = 0
    elif suffix[0] in _PREFIXES | {"K": 3} and (
        suffix[1:].strip() == "" or suffix[1:].strip().lower() in names
    ):
        exponent = ({**_PREFIXES, "K": 3})[suffix[0]]
        # A milli with hertz is never meant: a builder who types "14.1 mhz" means mega.
        if unit == "Hz" and suffix[0] == "m":
            exponent = 6
        if unit == "m" and suffix == "m":
            exponent = 0
    if exponent is None:
        wanted = f"a value in {unit}" if unit not in ("", "-") else "a plain number"
        raise DesignError(f"“{shortened(text)}” is not {wanted}; type a number such as {_example(unit)}.")
    mantissa, _, power = number.lower().partition("e")
    # Python refuses to count with thousands of digits; a power that needs so many is beyond all measure.
    value = float(f"{mantissa}e{int(power or 0) + exponent}") if len(power) < 100 else inf
    if not isfinite(value):
        raise DesignError(
            f"“{shortened(text)}” is too large a number; type a number such as {_example(unit)}."
        )
    return value


def _example(unit: str) -> str:
    return {
        "Hz": "14.1 MHz",
        "F": "62 pF",
        "H": "1.6 µH",
        "Ω": "4k7",
        "dB": "−6.5 dB",
        "dBm": "−73 dBm",
        "W": "5 W",
        "m": "0.5 m",
        "%": "5 %",
    }.get(unit, "12.5")


def format_value(value: float, unit: str, digits: int = 4, scaled: bool = True) -> str:
    """A value with its unit in engineering notation, at most `digits` significant digits: `62 pF`.

    With `scaled` False, or for units that take no prefix (dB, none), a plain decimal. A real minus sign.
    """
    if not scaled or unit in _UNSCALED or unit.startswith("dB"):
        number = (
            f"{value:.{max(digits - 1, 0)}e}"
            if value and not 1e-4 <= abs(value) < 1e7
            else plain(value, digits)
        )
        return f"{number}{'' if unit in ('', '-') else ' ' + unit}".replace("-", _MINUS)
    power = prefix_power(value, unit, digits)
    number = plain(value, digits, -power)
    if len(number) > _LONGEST:
        return f"{value:.{max(digits - 1, 0)}e} {unit}".replace("-", _MINUS)
    return f"{number} {PREFIXES[power]}{unit}".replace("-", _MINUS)


def prefix_power(value: float, unit: str, digits: int) -> int:
    """Power of ten of the prefix with which a value of `digits` digits is written, a multiple of three.

    >>> prefix_power(62e-12, "F", 3), prefix_power(999.96, "Ω", 4), prefix_power(0.5, "Hz", 3)
    (-12, 3, 0)
    """
    decade = int(f"{value:.{max(digits - 1, 0)}e}".partition("e")[2])
    return min(max(3 * (decade // 3), _LEAST_POWER.get(unit, min(PREFIXES))), max(PREFIXES)) if value else 0


def signed(value: float, places: int = 0, unit: str = "") -> str:
    """A number with its sign, `places` decimals and its unit; a real minus sign, and no sign before zero."""
    text = f"{value:+.{places}f}"
    if not float(text):
        text = text[1:]
    return f"{text}{f' {unit}' if unit else ''}".replace("-", _MINUS)


def plain(value: float, digits: int | None = None, power: int = 0) -> str:
    """`value` times ten to `power` as a plain decimal, to `digits` significant digits or so many as it has.

    >>> plain(19660772.0, power=-6), plain(-4.70001e-11, 3, 12)
    ('19.660772', '-47')
    """
    # Through Decimal: a fixed format of the float itself would show its binary tail.
    number = Decimal(repr(float(value)) if digits is None else f"{value:.{digits}g}")
    text = format(number.scaleb(power), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def format_frequency(hz: float, step_hz: float = 10.0) -> str:
    """A frequency in MHz to a step of `step_hz`, digits grouped as on a dial: `14.200 00 MHz`."""
    decimals = max(0, 6 - round(log10(step_hz)))
    text = f"{hz / 1e6:.{decimals}f}"
    whole, _, fraction = (text if float(text) else text.removeprefix("-")).partition(".")
    grouped = "\u202f".join(fraction[i : i + 3] for i in range(0, len(fraction), 3))
    return f"{whole}{'.' if grouped else ''}{grouped} MHz".replace("-", _MINUS)


def megahertz(*hz: float, places: int = 3) -> str:
    """Frequencies in MHz to so many decimals, the unit once: `14.200 MHz`, `5.000 to 5.350 MHz`.

    >>> megahertz(14.2e6), megahertz(5e6, 5.35e6), megahertz(19_660_772.0, places=6)
    ('14.200 MHz', '5.000 to 5.350 MHz', '19.660772 MHz')
    """
    return f"{' to '.join(f'{each / 1e6:.{places}f}' for each in hz)} MHz".replace("-", _MINUS)
