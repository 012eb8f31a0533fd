"""Direct currents of a single transistor from its resistors, in closed form.

A JFET by the square law Id = IDSS (1 - Vgs/Vp)^2, a bipolar transistor by the exponential one with its
current gain; both without the output's own slope (Early or channel-length effect), which moves the current by
about a per cent. Derived here. And Wright's omega, by which a junction behind a resistance is a closed form.
"""

from math import exp, log, sqrt

import numpy as np

from core.circuits.circuit import THERMAL_V
from core.circuits.ladder import Array

#: Saturation current of a small-signal bipolar transistor's junction, A; customary, from memory. A decade
#: more lowers the base-emitter voltage by 59 mV.
JUNCTION_A = 1e-14


def jfet_self_bias_a(saturation_a: float, pinch_off_v: float, source_ohm: float) -> float:
    """Drain current [A] with the gate at ground and a resistor [ohm] at the source.

    `saturation_a` is IDSS [A], `pinch_off_v` the magnitude of Vp [V]. The smaller root of
    Id = IDSS (1 - Id R/|Vp|)^2, which the device takes, written so that small resistors lose no digits.

    >>> round(1e3 * jfet_self_bias_a(35e-3, 4.0, 2200.0), 5)
    1.44832
    """
    full = source_ohm * saturation_a / pinch_off_v
    q = 1 + 2 * full
    return 2 * saturation_a / (q + sqrt(q**2 - 4 * full**2))


def jfet_transconductance_s(saturation_a: float, pinch_off_v: float, current_a: float) -> float:
    """Transconductance [S] at a drain current [A]: 2/|Vp| sqrt(IDSS Id)."""
    return 2 / pinch_off_v * sqrt(saturation_a * current_a)


def bipolar_bias_a(
    supply_v: float, upper_ohm: float, lower_ohm: float, emitter_ohm: float, current_gain: float
) -> float:
    """Collector current [A] with a base divider from `supply_v` [V] and a resistor at the emitter [ohm].

    Base loop: V lower/(upper + lower) = Ic r + VT ln(Ic/Is), where r is the emitter's resistor and the
    divider's resistance seen through the current gain [-]. Its solution is Lambert's W, here by Newton's
    method on its logarithm, which neither overflows nor needs a start.
    """
    base_v = supply_v * lower_ohm / (upper_ohm + lower_ohm)
    r = emitter_ohm * (1 + 1 / current_gain) + upper_ohm * lower_ohm / (upper_ohm + lower_ohm) / current_gain
    wanted = log(JUNCTION_A * r / THERMAL_V) + base_v / THERMAL_V
    y = log(wanted) if wanted > 1 else wanted
    for _ in range(30):
        step = (exp(y) + y - wanted) / (exp(y) + 1)
        y -= step
        if abs(step) < 1e-14:
            break
    return THERMAL_V / r * exp(y)


#: Below this omega(x) is exp(x) to the last digit.
_FAR_BELOW = -40.0


def omega(x: Array) -> Array:
    """Wright's omega of real numbers of any shape, w + ln w = x, to 1e-14 of it.

    By two steps of F. N. Fritsch, R. E. Shafer and W. P. Crowley (Comm. ACM 16 (1973) 123, from memory), each
    of the fourth order. SciPy has it too, and takes a quarter of a second to load with the window.
    """
    near = np.maximum(x, _FAR_BELOW)
    # Beyond 1 as w = x - ln x, below as w = e^x / (1 + e^x): off by a sixth at most.
    power = np.exp(np.minimum(near, 1.0))
    w = np.where(near > 1.0, near - np.log(np.maximum(near, 1.0)), power / (1 + power))
    for _ in range(2):
        left = near - w - np.log(w)
        most = 2 * (1 + w) * (1 + w + 2 * left / 3)
        w = w * (1 + left / (1 + w) * (most - left) / (most - 2 * left))
    found: Array = np.where(x < _FAR_BELOW, np.exp(np.minimum(x, 0.0)), w)
    return found
