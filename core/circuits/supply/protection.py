"""Fuses and diodes under too much current."""

from bisect import bisect_right
from collections.abc import Sequence
from math import exp, log, sqrt

#: Length of the half-wave that a diode's surge current is stated for, s: one of 60 Hz.
HALF_WAVE_S = 1 / 120
#: How the surge that a diode survives falls with its length beyond one half-wave [-]: to a third from 1 to
#: 100 cycles, as the curves of rectifiers do; from memory.
_FALLS = 0.25


def longest_s(current_a: float, rated_a: float, longest: Sequence[tuple[float, float]]) -> float | None:
    """The longest that a fuse of `rated_a` [A] may take to open at `current_a` [A], s; None where nothing is
    promised.

    `longest` are multiples of the rating and times [-, s], rising in the first; between them the time is a
    straight line on logarithmic scales, beyond the last I²t stays the same (adiabatic melting).

    >>> longest_s(50.0, 5.0, [(2.0, 5.0), (5.0, 0.1)])
    0.025
    """
    multiple = current_a / rated_a
    place = bisect_right([each for each, _ in longest], multiple)
    if place == 0:
        return None
    n, time = longest[place - 1]
    if place == len(longest):
        return time * (n / multiple) ** 2
    after, later = longest[place]
    return time * (later / time) ** (log(multiple / n) / log(after / n))


def diode_bears_a(surge_a: float, steady_a: float, for_s: float) -> float:
    """The direct current that a diode survives once for `for_s` [s], A.

    `surge_a` is the peak of one half-wave of 60 Hz that it survives, `steady_a` what it bears for ever [A].
    Up to that half-wave's length I²t is that of the half-wave, Ip² T/2; a longer surge falls with the fourth
    root of its length (see `_FALLS`).

    >>> round(diode_bears_a(30.0, 1.0, HALF_WAVE_S), 1)
    21.2

    """
    of_half_wave = surge_a / sqrt(2)
    if for_s <= HALF_WAVE_S:
        return of_half_wave * sqrt(HALF_WAVE_S / for_s)
    return max(of_half_wave * (HALF_WAVE_S / for_s) ** _FALLS, steady_a)


def forward_v(current_a: float, low: tuple[float, float], high: tuple[float, float]) -> float:
    """A diode's forward voltage [V] at a current [A], from that at a low and a high one [V, A]: a straight
    line over the logarithm of the current between the two, and below; above, the slope at the high one as a
    resistance.
    """
    (low_v, low_a), (high_v, high_a) = low, high
    per_e = (high_v - low_v) / log(high_a / low_a)
    if current_a > high_a:
        return high_v + per_e * (current_a / high_a - 1)
    least = low_a * exp(-low_v / per_e)
    return per_e * log(max(current_a, least) / least)


def fault_a(source_v: float, loop_ohm: float, diode_v: float, limit_a: float | None) -> float:
    """The current through a diode across a supply of `source_v` [V] that is connected backwards, A: what the
    resistance of the loop [ohm] leaves of it, or the supply's limit [A], None: it has none.
    """
    short = max(source_v - diode_v, 0.0) / max(loop_ohm, 1e-3)
    return short if limit_a is None else min(short, limit_a)
