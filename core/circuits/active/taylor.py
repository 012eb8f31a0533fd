"""Currents and charges of transistors with every derivative that is wanted.

A bipolar transistor after Gummel and Poon, reduced to what data sheets tell (H. K. Gummel, H. C. Poon, Bell
Syst. Tech. J. 49 (1970) 827, from memory): exponential junctions, Early effect, base resistance, diffusion
charge from the transition frequency. A field-effect transistor by the square law with the channel's slope.
No fall of current gain at high current, no breakdown, constant capacitances.
"""

from collections.abc import Mapping
from functools import lru_cache
from math import exp, pi

import numpy as np

from core.circuits.circuit import THERMAL_V, Bipolar, Device, SquareLaw
from core.circuits.ladder import Array
from core.record import record

#: Terms of a Taylor series in two voltages up to the third order: entry (a, b) belongs to u^a w^b.
_TERMS = 4


@record
class Taylor:
    """Currents and charge of a transistor around a point, as Taylor coefficients, shape (4, 4) each, of T
    transistors (4, 4, T).

    In u, the control voltage (base or gate to emitter or source), and w, the output voltage (collector or
    drain to there): `output` current [A], `control` current [A] and `charge` between control and emitter [C]
    besides those of the constant capacitances.
    """

    output: Array
    control: Array
    charge: Array


def _times(series: Array, constant: float, u: float, w: float) -> Array:
    """A Taylor series times constant + u x + w y; terms above the third order are not kept right."""
    made = constant * series
    made[1:] += u * series[:-1]
    made[:, 1:] += w * series[:, :-1]
    return made


#: exp(x/VT) as a series in x.
_POWERS = np.array([1.0, 1 / THERMAL_V, 1 / (2 * THERMAL_V**2), 1 / (6 * THERMAL_V**3)])
#: exp((u − w)/VT) as a series in u and w.
_DIFFERENCE = np.outer(_POWERS, _POWERS * np.array([1.0, -1.0, 1.0, -1.0]))
_CONTROL = np.zeros((_TERMS, _TERMS))
_CONTROL[:, 0] = _POWERS
_ONE = np.zeros((_TERMS, _TERMS))
_ONE[0, 0] = 1.0
_NONE = np.zeros((_TERMS, _TERMS))


def taylor(device: Device, u: float, w: float) -> Taylor:
    """A transistor's series around control voltage `u` and output voltage `w` [V]."""
    if device.sign > 0:
        return _bipolar(device, u, w) if isinstance(device, Bipolar) else _square_law(device, u, w)
    mirrored = _bipolar(device, -u, -w) if isinstance(device, Bipolar) else _square_law(device, -u, -w)
    return Taylor(_MIRROR * mirrored.output, _MIRROR * mirrored.control, _MIRROR * mirrored.charge)


def first_order(device: Device, u: float, w: float) -> list[float]:
    """What Newton's method needs of that series: output and control current [A], then the slopes [S] of the
    first by u and by w, and those of the second.
    """
    if not isinstance(device, Bipolar):
        output = taylor(device, u, w).output
        return [float(output[0, 0]), 0.0, float(output[1, 0]), float(output[0, 1]), 0.0, 0.0]
    sign = device.sign
    found: list[float] = np.dot(_shares(device, sign * u, sign * w), _first_terms(device)).tolist()
    return found if sign > 0 else [-found[0], -found[1], *found[2:]]


#: i(u, w) = −i(−u, −w) of the mirrored device.
_MIRROR = np.array([[-((-1.0) ** (a + b)) for b in range(_TERMS)] for a in range(_TERMS)])


def _bipolar(device: Bipolar, u: float, w: float) -> Taylor:
    terms = np.dot(_shares(device, u, w), _bipolar_terms(device))
    output, control, charge = terms.reshape(3, _TERMS, _TERMS)
    return Taylor(output, control, charge)


def _shares(device: Bipolar, u: float, w: float) -> tuple[float, ...]:
    """How much of each of `_bipolar_terms` there is."""
    forward, backward = exp(u / THERMAL_V), exp((u - w) / THERMAL_V)
    early = 1 - (u - w) / device.early_v
    return forward * early, forward, backward * early, backward, early, 1.0


@lru_cache(maxsize=64)
def _first_terms(device: Bipolar) -> Array:
    """The columns of `_bipolar_terms` that `first_order` tells, shape (6, 6)."""
    output, control, _ = np.moveaxis(_bipolar_terms(device).reshape(6, 3, _TERMS, _TERMS), 1, 0)
    columns = [output[:, 0, 0], control[:, 0, 0]]
    columns += [each[:, a, b] for each in (output, control) for a, b in ((1, 0), (0, 1))]
    return np.stack(columns, axis=1)


@lru_cache(maxsize=64)
def _bipolar_terms(device: Bipolar) -> Array:
    """What output current, control current and charge are sums of, shape (6, 3 · 16).

    Both junctions' exponentials times the Early factor 1 − (u − w)/VA, and without it; that factor; and 1.
    """
    slope = 1 / device.early_v
    forward, backward = device.saturation_a * _CONTROL, device.saturation_a * _DIFFERENCE
    one = device.saturation_a * _ONE
    tilted = [_times(series, 0.0, -slope, slope) for series in (forward, backward, one)]
    gain, reverse, transit = device.current_gain, device.reverse_gain, device.transit_s
    return np.array(
        [
            [forward, _NONE, transit * forward],
            [tilted[0], forward / gain, transit * tilted[0]],
            [-backward, _NONE, _NONE],
            [-tilted[1] - backward / reverse, backward / reverse, _NONE],
            [_NONE, _NONE, -transit * one],
            [one / reverse, -one / gain - one / reverse, -transit * tilted[2]],
        ]
    ).reshape(6, -1)


def _square_law(device: SquareLaw, u: float, w: float) -> Taylor:
    if w < 0:
        return Taylor(_ends_exchanged(_square_law(device, u - w, -w).output), _NONE, _NONE)
    over = u - device.threshold_v
    if over <= 0:
        return Taylor(_NONE, _NONE, _NONE)
    current = device.slope_a_v2 * _times(_ONE, 1 + device.channel_per_v * w, 0.0, device.channel_per_v)
    if w >= over:
        current = _times(_times(current, over, 1.0, 0.0), over, 1.0, 0.0)
    else:
        current = _times(_times(current, 2 * over - w, 2.0, -1.0), w, 0.0, 1.0)
    return Taylor(current, _NONE, _NONE)


def of_many(device: Device, u: Array, w: Array, times: Mapping[str, Array]) -> Taylor:
    """The series of transistors that differ in values only around voltages (T,) [V]; `times` tells by how
    many times `gain` (current gain, or a field-effect transistor's current), `threshold` and `speed` (fT) are
    larger, (T,) each.
    """
    mirrored, u, w = device.sign < 0, device.sign * u, device.sign * w
    with np.errstate(over="ignore", invalid="ignore"):
        if isinstance(device, Bipolar):
            found = _bipolars(device, u, w, times)
        else:
            found = _square_laws(device, u, w, times)
    return Taylor(*(_MIRROR[..., None] * each for each in found)) if mirrored else Taylor(*found)


def _bipolars(device: Bipolar, u: Array, w: Array, times: Mapping[str, Array]) -> tuple[Array, Array, Array]:
    forward, backward = np.exp(u / THERMAL_V), np.exp((u - w) / THERMAL_V)
    early = 1 - (u - w) / device.early_v
    shares = np.stack([forward * early, forward, backward * early, backward, early, np.ones_like(u)])
    output, control, charge = (_bipolar_terms(device).T @ shares).reshape(3, _TERMS, _TERMS, -1)
    if "gain" in times:
        more = (1 / times["gain"] - 1) * device.saturation_a / device.current_gain
        control = control + more * (forward * _CONTROL[..., None] - _ONE[..., None])
    if "speed" in times:
        more_s = (1 / times["speed"] - 1) / (2 * pi * device.transition_hz)
        charge = charge * (1 + more_s / device.transit_s)
    return output, control, charge


def _square_laws(
    device: SquareLaw, u: Array, w: Array, times: Mapping[str, Array]
) -> tuple[Array, Array, Array]:
    turned = w < 0
    u, w = np.where(turned, u - w, u), np.abs(w)
    over, slope = u - device.threshold_v * times.get("threshold", 1.0), device.channel_per_v
    rise = 1 + slope * w
    current = np.zeros((_TERMS, _TERMS, len(u)))
    on, flat = over > 0, w >= over
    # Saturated (over + x)² (rise + λ y), else (w + y) (2 over − w + 2 x − y) (rise + λ y).
    pinched, room = over**2, 2 * (over - w)
    between = w * (2 * over - w)
    for (a, b), saturated, triode in (
        ((0, 0), pinched * rise, between * rise),
        ((1, 0), 2 * over * rise, 2 * w * rise),
        ((2, 0), rise, 0.0),
        ((0, 1), slope * pinched, room * rise + slope * between),
        ((1, 1), 2 * slope * over, 2 * rise + 2 * slope * w),
        ((2, 1), slope, 0.0),
        ((0, 2), 0.0, slope * room - rise),
        ((1, 2), 0.0, 2 * slope),
        ((0, 3), 0.0, -slope),
    ):
        current[a, b] = np.where(on, np.where(flat, saturated, triode), 0.0)
    current *= device.slope_a_v2 * times.get("gain", 1.0)
    exchanged = (_exchanging() @ current.reshape(_TERMS**2, -1)).reshape(current.shape)
    current = np.where(turned, exchanged, current)
    return current, np.zeros_like(current), np.zeros_like(current)


@lru_cache(maxsize=1)
def _exchanging() -> Array:
    """What `_ends_exchanged` makes of each coefficient, a column each."""
    units = np.eye(_TERMS**2).reshape(-1, _TERMS, _TERMS)
    return np.array([_ends_exchanged(each).reshape(-1) for each in units]).T


def _ends_exchanged(series: Array) -> Array:
    """The series of −i(u − w, −w) from that of i: drain and source have changed places."""
    found = np.zeros((_TERMS, _TERMS))
    for a in range(_TERMS):
        for b in range(_TERMS - a):
            term = series[a, b] * _ONE
            for _ in range(a):
                term = _times(term, 0.0, 1.0, -1.0)
            for _ in range(b):
                term = _times(term, 0.0, 0.0, -1.0)
            found -= term
    return found
