"""Copper wire: diameters, resistance with skin effect."""

from math import pi, sqrt

#: Resistivity of annealed copper at 20 °C, Ω m (IEC 60028).
COPPER_OHM_M = 1.7241e-8
_MU0 = 4e-7 * pi
#: How many orders above its argument a Bessel function is small enough for the recurrence to begin.
_BEYOND = 40
#: Diameters of enamelled copper wire, m: part of IEC 60317-0-1's row, from memory.
WIRES_M = tuple(
    micrometres / 1e6
    for micrometres in (
        *(100, 125, 160, 200, 250, 315, 355, 400, 450, 500, 560, 630, 710),
        *(800, 900, 1000, 1120, 1250, 1400, 1600, 1800, 2000),
    )
)


def awg_m(number: int) -> float:
    """Diameter [m] of American wire gauge `number`: 0.127 mm · 92^((36 − n)/39) (ASTM B258)."""
    return 0.127e-3 * 92 ** ((36 - number) / 39)


def insulated_m(wire_m: float) -> float:
    """Diameter over the enamel [m] of a wire of copper diameter `wire_m` [m]: some 6 % and 13 µm more (grade
    1 of IEC 60317, from memory).
    """
    return 1.06 * wire_m + 13e-6


def skin_depth_m(f_hz: float) -> float:
    """Skin depth [m] of copper at `f_hz` [Hz]: √(ρ/(π f µ0))."""
    return sqrt(COPPER_OHM_M / (pi * f_hz * _MU0))


def resistance_ohm_m(wire_m: float, f_hz: float = 0.0) -> float:
    """Resistance [Ω/m] of a straight round wire at `f_hz` [Hz], with skin effect.

    R = Re[k ρ J0(k a)/(2 π a J1(k a))], k = (1 − j)/δ, a = d/2: the exact solution (Lord Kelvin 1889).
    """
    radius = wire_m / 2
    if f_hz <= 0:
        return COPPER_OHM_M / (pi * radius**2)
    wave = (1 - 1j) / skin_depth_m(f_hz)
    return (wave * COPPER_OHM_M / (2 * pi * radius) * _bessel_ratio(wave * radius)).real


def _bessel_ratio(z: complex) -> complex:
    """J0(z)/J1(z) by recurrence from far above down, where it is stable (J. C. P. Miller, from memory): each
    J(n − 1)/J(n) is 2n/z less the inverse of the next. So no window waits for a library of functions.
    """
    n = int(abs(z)) + _BEYOND
    ratio = 2 * n / z
    while n > 1:
        n -= 1
        ratio = 2 * n / z - 1 / ratio
    return ratio
