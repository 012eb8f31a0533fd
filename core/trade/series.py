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
