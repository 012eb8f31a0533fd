"""Preferred values by IEC 60063."""

from bisect import bisect_left
from functools import lru_cache
from math import floor, inf, log10

# Eight values of E24 differ from the rounded power of ten, so E3 to E24 are written out (IEC 60063).
_E24: tuple[float, ...] = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0)
_E24 += (3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1)
#: A value on hand stands in for one that lies at most this factor away.
FURTHEST = 1.5
#: Series name to its values within one decade, ascending.
VALUES: dict[str, tuple[float, ...]] = {
    "E6": _E24[::4],
    "E12": _E24[::2],
    "E24": _E24,
    "E48": tuple(round(10 ** (i / 48), 2) for i in range(48)),
    "E96": tuple(round(10 ** (i / 96), 2) for i in range(96)),
}
#: A second capacitor across the first is no smaller than this share of it: less is left to its tolerance.
_LEAST_SHARE = 0.1


def _pairs(row: tuple[float, ...]) -> dict[float, tuple[float, ...]]:
    """What one or two parts of a series make in parallel within a decade, with the fewest parts that do.

    Of pairs that make the same, the one whose second is smaller, as less hangs on its tolerance.
    """
    seconds = [round(each / tenth, 2) for tenth in (1, 10) for each in reversed(row)]
    sums = {
        round(one + other, 2): (one, other)
        for other in seconds
        for one in row
        if _LEAST_SHARE * one < 1.001 * other <= 1.001 * one
    }
    # From 10 on it is the next decade's.
    made = {total: pair for total, pair in sums.items() if total < 10}
    made |= {
        round(total / 10, 3): (pair[0] / 10, pair[1] / 10) for total, pair in sums.items() if total >= 10
    }
    return made | {one: (one,) for one in row}


#: Two parts in parallel where one does not do: value within a decade to its parts.
PAIRS = {f"{series}_pairs": _pairs(VALUES[series]) for series in ("E12", "E24")}
VALUES |= {series: tuple(sorted(made)) for series, made in PAIRS.items()}


@lru_cache(maxsize=4096)
def neighbours(value: float, series: str) -> tuple[float, float]:
    """The preferred values at or below and at or above `value` (any unit); equal when it is one.

    `FloatingPointError` for what is not above zero or no number.
    """
    if not 0 < value < inf:
        raise FloatingPointError(f"there is no preferred value near {value}")
    if series == "exact":
        return value, value
    row = VALUES[series]
    decade = floor(log10(value))
    scaled = value / 10.0**decade
    position = bisect_left(row, scaled * (1 - 1e-9))
    above = row[position] if position < len(row) else 10.0
    if abs(above - scaled) < 1e-9 * above:
        below = above
    else:
        below = row[position - 1] if position > 0 else row[-1] / 10
    return _scaled(below, decade), _scaled(above, decade)


def preferred(value: float, series: str) -> float:
    """The preferred value nearest `value` (> 0, any unit) in ratio; `value` itself for `exact`.

    >>> preferred(243.361e-12, "E24")
    2.4e-10
    """
    below, above = neighbours(value, series)
    return below if value / below <= above / value else above


def in_parallel(value: float, series: str) -> tuple[float, ...]:
    """The parts that make a value of `series` (any unit), the larger first; the value alone for one part.

    >>> in_parallel(352e-12, "E12_pairs")
    (2.7e-10, 8.2e-11)
    """
    if series not in PAIRS:
        return (value,)
    decade = floor(log10(value) + 1e-9)
    parts = PAIRS[series].get(round(value / 10.0**decade, 3), (value / 10.0**decade,))
    return tuple(_scaled(part, decade) for part in parts)


def nearest(value: float, values: tuple[float, ...]) -> tuple[float, float] | None:
    """Those of `values` (any order) next below and above `value`, same unit; one of them twice where the
    other is missing or too far, None when none lies within a factor of FURTHEST.
    """
    near = [each for each in values if 1 / FURTHEST <= each / value <= FURTHEST]
    below = max((each for each in near if each <= value), default=None)
    above = min((each for each in near if each >= value), default=None)
    if below is None or above is None:
        single = above if below is None else below
        return None if single is None else (single, single)
    return below, above


def _scaled(mantissa: float, decade: int) -> float:
    # Through text, so that 2.4 and 1e-10 give 2.4e-10 and not its neighbour in binary.
    return float(f"{mantissa:.3f}e{decade}")
