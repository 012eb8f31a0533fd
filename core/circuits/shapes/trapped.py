"""Chebyshev low-passes with traps, and of even order, between equal resistances: exact, in closed form.

With a trap at Ω_t the equal ripple is that of cos(Σ arccos x_n), x_n = (Ω − 1/Ω_n)/(1 − Ω/Ω_n) over all N
zeros of transmission, two at ±Ω_t for each trap and the rest at infinity (R. J. Cameron's recursion for
filters of prescribed zeros). A filter of even order between equal resistances may reflect nothing at zero
frequency, so its lowest zero of reflection is moved there by Ω² → (Ω² − Ω_0²)/(1 − Ω_0²), which keeps the
ripple. The elements are then taken off the lossless input admittance one by one: a shunt capacitor as large
as leaves a pole of the impedance at the trap, the trap, and so on (Matthaei, Young, Jones 1964 and W. Saal's
tables tell of both; all citations from memory).
"""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from math import cos, pi, sqrt
from typing import Any

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

from core.circuits.shapes.prototypes import ripple_factor
from core.record import record

_Polynomial = NDArray[np.floating[Any]]
#: Rounds that move an even order's lowest zero of reflection; each leaves a thousandth of what was missing.
_ROUNDS = 12


@record
class TrappedLowPass:
    """Normalised elements [-], source and load 1 ohm, ripple edge at 1 rad/s.

    `shunts` are the capacitors from the source on, `coils` lie behind each of them (an odd order ends in a
    capacitor), and `across` is the capacitor across each coil, 0 where it is no trap.
    """

    shunts: tuple[float, ...]
    coils: tuple[float, ...]
    across: tuple[float, ...]


def trapped(order: int, ripple_db: float, traps: Mapping[int, float]) -> TrappedLowPass | None:
    """A Chebyshev low-pass of `order` reactances and a capacitor more for each trap, of `ripple_db` [dB].

    `traps` are frequencies over the ripple edge [-], over 1, by the place of the coil from the source on
    (0, 1 ...). None where there is no such filter: an element would have to be negative, or it is the last
    coil of an even order, behind which no capacitor keeps up the fall.

    >>> made = trapped(4, 0.1, {})
    >>> [round(each, 4) for pair in zip(made.shunts, made.coils) for each in pair]
    [0.9297, 1.4346, 1.4346, 0.9297]
    """
    return _trapped(order, ripple_db, tuple(sorted(traps.items())))


@lru_cache(maxsize=512)
def _trapped(order: int, ripple_db: float, traps: tuple[tuple[int, float], ...]) -> TrappedLowPass | None:
    at = {place: omega**2 for place, omega in traps}
    if any(not 0 <= place < (order - 1) // 2 for place in at):
        return None
    top, below = _admittance(order, ripple_db, tuple(at.values()))
    shunts: list[float] = []
    coils: list[float] = []
    across: list[float] = []
    # The admittance s T(y)/B(y) of what is left, y = s².
    for place in range(order // 2):
        if place not in at:
            shunts.append(top[-1] / below[-1])
            top = (top - shunts[-1] * below)[:-1]
            coils.append(below[-1] / top[-1])
            below = (below - coils[-1] * polynomial.polymulx(top))[:-1]
            across.append(0.0)
        else:
            y = -at[place]
            shunts.append(float(polynomial.polyval(y, top) / polynomial.polyval(y, below)))
            top = polynomial.polydiv(top - shunts[-1] * below, [-y, 1.0])[0]
            pole = polynomial.polyval(y, below) / (y * polynomial.polyval(y, top))
            below = polynomial.polydiv(below - pole * polynomial.polymulx(top), [-y, 1.0])[0]
            coils.append(pole / at[place])
            across.append(1 / pole)
    if order % 2:
        shunts.append(top[-1] / below[-1])
    if not all(each > 0 for each in (*shunts, *coils)) or any(each < 0 for each in across):
        return None
    return TrappedLowPass(*(tuple(map(float, each)) for each in (shunts, coils, across)))


def three_db_edge(order: int, ripple_db: float, traps: Iterable[float]) -> float:
    """Frequency [-] of the −3.0103 dB point over the ripple edge; `traps` as of `trapped`, in any order.

    >>> round(three_db_edge(7, 0.1, ()), 4), round(three_db_edge(7, 0.1, (1.9,)), 4)
    (1.068, 1.0609)
    """
    lowest, before = _moved(order, tuple(each**2 for each in traps))
    _, lost, passed = _waves(order, before)
    level = polynomial.polysub(ripple_factor(ripple_db) ** 2 * lost, polynomial.polymul(passed, passed))
    found = polynomial.polyroots(level)
    edge = min(each.real for each in found if each.real > 1 and abs(each.imag) < 1e-6 * each.real)
    return float(sqrt((edge - lowest) / (1 - lowest)))


def _admittance(order: int, ripple_db: float, traps: tuple[float, ...]) -> tuple[_Polynomial, _Polynomial]:
    """The lossless input admittance s T(y)/B(y), T and B rising in y = s²; its far end is open with an odd
    order and shorted with an even one, as its last reactance wants. `traps` are squared frequencies.
    """
    lowest, before = _moved(order, traps)
    zeros, lost, passed = _waves(order, before)
    poles: NDArray[Any] = polynomial.polyroots(
        polynomial.polyadd(ripple_factor(ripple_db) ** 2 * lost, polynomial.polymul(passed, passed))
    )
    if order % 2 == 0:
        poles, zeros = (poles - lowest) / (1 - lowest), (zeros - lowest) / (1 - lowest)
        zeros[0] = 0.0
    # Of every pair of s the one to the left; poles and zeros are squared frequencies, −s².
    down = polynomial.polyfromroots(-np.sqrt(-poles.astype(complex))).real
    reflected = polynomial.polyfromroots(-zeros)
    even, odd = down[0::2], down[1::2]
    if order % 2:
        return odd + reflected, even
    return even + reflected, polynomial.polymulx(odd)


def _moved(order: int, traps: tuple[float, ...]) -> tuple[float, tuple[float, ...]]:
    """The lowest zero of reflection that is moved to zero frequency, and where the traps lie before that,
    all squared; nothing is moved where the order is odd.
    """
    if order % 2:
        return 0.0, traps
    lowest = cos((order - 1) * pi / (2 * order)) ** 2
    before = tuple(each * (1 - lowest) + lowest for each in traps)
    for _ in range(_ROUNDS if traps else 0):
        lowest = float(_waves(order, before)[0][0])
        before = tuple(each * (1 - lowest) + lowest for each in traps)
    return lowest, before


def _waves(order: int, traps: tuple[float, ...]) -> tuple[_Polynomial, _Polynomial, _Polynomial]:
    """Zeros of reflection in Ω², the lowest first and without that at zero of an odd order; the square of the
    wave in the ripple, and what it is over: rising in Ω². `traps` are squared frequencies.
    """
    wave = _numerator(order, traps)
    lost = polynomial.polymul(wave, wave)
    passed: _Polynomial = np.ones(1)
    for each in traps:
        passed = polynomial.polymul(passed, [1.0, -1 / each])
    zeros = np.sort(polynomial.polyroots(wave).real)
    return zeros, polynomial.polymulx(lost) if order % 2 else lost, passed


def _numerator(order: int, traps: tuple[float, ...]) -> _Polynomial:
    """What the equal ripple swings as, over the product of 1 − Ω²/Ω_t²: rising in Ω², without the factor Ω
    of an odd order. `traps` are squared frequencies.
    """
    inverse = [sign / each**0.5 for each in traps for sign in (1, -1)]
    inverse += [0.0] * (order - len(inverse))
    # cos and sin of the sum, the latter over sqrt(Ω² − 1).
    wave, other = np.ones(1), np.zeros(1)
    for each in inverse:
        root = (1 - each**2) ** 0.5
        factor = [-each, 1.0]
        wave, other = (
            polynomial.polyadd(
                polynomial.polymul(wave, factor), root * polynomial.polymul(other, [-1.0, 0.0, 1.0])
            ),
            polynomial.polyadd(polynomial.polymul(other, factor), root * wave),
        )
    return wave[order % 2 :: 2]
