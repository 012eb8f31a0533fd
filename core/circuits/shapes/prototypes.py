"""Low-pass prototypes and coupled-resonator values, from closed forms.

Sources: G. Matthaei, L. Young, E. Jones, *Microwave Filters, Impedance-Matching Networks and Coupling
Structures* (1964), section 4.05, for the g values; M. Dishal, Proc. IRE 37 (1949) 1050, for k and q;
S. B. Cohn, Proc. IRE 47 (1959) 1342, for equal coupling (all citations from memory).
"""

from functools import lru_cache
from math import acos, acosh, cos, cosh, log, log10, pi, sin, sinh, sqrt, tanh
from typing import Literal

from core.circuits.shapes.paired_ends import paired_ends
from core.record import record

Shape = Literal["butterworth", "chebyshev", "equal_coupling", "paired_ends"]
_LN10_40 = log(10) / 40


@record
class Prototype:
    """Normalised elements g_1 to g_N [-] and the load g_{N+1} [-], source 1 ohm, edge at 1 rad/s.

    The edge is the ripple edge for Chebyshev and the −3.0103 dB point for Butterworth.
    """

    g: tuple[float, ...]
    load: float


@record
class Couplings:
    """Normalised couplings k_12 to k_{N-1,N} [-] and end quality factors [-] of coupled resonators."""

    k: tuple[float, ...]
    q_first: float
    q_last: float


def ripple_factor(ripple_db: float) -> float:
    """The Chebyshev epsilon [-] of a ripple in dB: ε = sqrt(10^(A/10) − 1)."""
    return sqrt(10 ** (ripple_db / 10) - 1)


def three_db_edge(order: int, ripple_db: float) -> float:
    """Frequency [-] of the −3.0103 dB point of a Chebyshev low-pass over its ripple edge."""
    return cosh(acosh(1 / ripple_factor(ripple_db)) / order)


@lru_cache(maxsize=256)
def prototype(shape: Literal["butterworth", "chebyshev"], order: int, ripple_db: float = 0.1) -> Prototype:
    """Doubly terminated low-pass prototype of `order` elements; `ripple_db` [dB] is Chebyshev's.

    >>> [round(g, 4) for g in prototype("chebyshev", 5, 0.1).g]
    [1.1468, 1.3712, 1.975, 1.3712, 1.1468]
    """
    n = order
    if shape == "butterworth":
        return Prototype(tuple(2 * sin((2 * k - 1) * pi / (2 * n)) for k in range(1, n + 1)), 1.0)
    beta = log(1 / tanh(ripple_db * _LN10_40))
    gamma = sinh(beta / (2 * n))
    a = [sin((2 * k - 1) * pi / (2 * n)) for k in range(1, n + 1)]
    b = [gamma**2 + sin(k * pi / n) ** 2 for k in range(1, n + 1)]
    g = [2 * a[0] / gamma]
    for k in range(1, n):
        g.append(4 * a[k - 1] * a[k] / (b[k - 1] * g[k - 1]))
    return Prototype(tuple(g), 1.0 if n % 2 else 1 / tanh(beta / 4) ** 2)


@lru_cache(maxsize=256)
def couplings(shape: Shape, order: int, ripple_db: float = 0.1) -> Couplings:
    """Couplings and end quality factors of `order` resonators.

    Normalised to the bandwidth between the ripple edges for Chebyshev, and between the −3 dB points for
    Butterworth and equal coupling (the outer ones; Cohn's form has all g alike). `paired_ends` has two
    resonators in parallel at each end and counts as equal coupling does.
    """
    if shape == "paired_ends":
        k, q, _ = paired_ends(order)
        return Couplings((k,) * (order - 1), q, q)
    if shape == "equal_coupling":
        edge = _equal_coupling_edge(order)
        return Couplings((1 / edge,) * (order - 1), edge, edge)
    low_pass = prototype(shape, order, ripple_db)
    g = low_pass.g
    between = tuple(1 / sqrt(g[j] * g[j + 1]) for j in range(order - 1))
    # With even Chebyshev order g_N g_{N+1} equals g_1: both ends then want the same resistance.
    return Couplings(between, g[0], g[-1] * low_pass.load)


def _equal_coupling_edge(order: int) -> float:
    """Outermost −3 dB frequency of the prototype with every g = 1 (found on the transfer polynomial)."""
    import numpy as np
    from numpy.polynomial import Polynomial

    # Alternating series s and shunt s from a 1 ohm load: H = 2 / (v + i), both polynomials in s.
    s = Polynomial([0, 1])
    v, i = Polynomial([1]), Polynomial([1])
    for position in range(order):
        v, i = (v, i + s * v) if position % 2 == 0 else (v + s * i, i)
    total = v + i
    # |total(jw)|² = 4 · 10^0.30103 = 8 at −3.0103 dB.
    real = Polynomial([c * (-1) ** (p // 2) if p % 2 == 0 else 0 for p, c in enumerate(total.coef)])
    imag = Polynomial([c * (-1) ** (p // 2) if p % 2 else 0 for p, c in enumerate(total.coef)])
    roots = (real**2 + imag**2 - 8).roots()
    return float(max(r.real for r in np.asarray(roots) if abs(r.imag) < 1e-6 * abs(r)))


def attenuation_db(
    shape: Literal["butterworth", "chebyshev"], order: int, omega: float, ripple_db: float = 0.1
) -> float:
    """Ideal attenuation in dB at `omega`, a frequency over the edge [-].

    Butterworth 10 lg(1 + Ω^2N); Chebyshev 10 lg(1 + ε² T_N²(Ω)).
    """
    if shape == "butterworth":
        return 10 * log10(1 + omega ** (2 * order))
    argument = cosh(order * acosh(omega)) if omega > 1 else cos(order * acos(omega))
    return 10 * log10(1 + (ripple_factor(ripple_db) * argument) ** 2)
