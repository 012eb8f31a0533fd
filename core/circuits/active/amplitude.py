"""How far a transistor that oscillates swings.

The swing follows from the transistor's large-signal transconductance, which falls with it until it is what
just keeps the oscillation going. Of a bipolar one that is 2 I1(x)/(x I0(x)) times the mean current over VT, x
being the peak over VT (K. K. Clarke, D. T. Hess, Communication Circuits, 1971, from memory), up to where it
saturates. A field-effect one is a square law of its gate to the source less the same of its gate to the
drain, as a channel is alike at both ends: mean and fundamental of both over the part of a turn in which they
conduct, in closed form, derived here. So where its source swings up to its drain its current falls on the
crests, which is what ends the swing on most supplies. The mean current moves with the swing along the
resistors of the bias, and with it the room that the supply leaves. Harmonics are left out, as the crystal
lets none pass.
"""

from functools import lru_cache
from math import acos, cos, exp, log, pi, sin, sqrt

import numpy as np

from core.circuits.bias import omega
from core.circuits.circuit import THERMAL_V, Bipolar, SquareLaw
from core.circuits.ladder import Array
from core.record import record

#: Peak gate-source voltage at which a junction gate begins to conduct and holds it [V]; common practice.
_GATE_V = 0.6
#: A bipolar transistor's collector keeps at least this much of the voltage [V]; an assumption.
_LEAST_V = 0.4
#: How often the range of a field-effect transistor's swing is halved, Newton's steps to the mean current at
#: each, and how near that comes [-].
_HALVED, _STEPS, _NEAR = 16, 30, 1e-6


@record(kw_only=True)
class Room:
    """What the supply leaves a transistor at rest: its output over its common electrode and over its control
    [V], and how many times as far as the voltage between those two each of them swings to ground [-].
    """

    over_common_v: float = 1e6
    over_control_v: float = 1e6
    common_times: float = 1.0
    control_times: float = 2.0


#: All the room that it wants.
_AMPLE = Room()


@record(kw_only=True)
class Swing:
    """How far a transistor swings: peak voltage at its control [V], mean current [A] and transconductance at
    that swing [S].
    """

    control_v: float
    mean_a: float
    needed_s: float


def transconductance_s(device: Bipolar | SquareLaw, current_a: float) -> float:
    """Small-signal transconductance [S] at a current [A]: Ic/VT, or 2 sqrt(k Id)."""
    if isinstance(device, Bipolar):
        return current_a / THERMAL_V
    return 2 * sqrt(device.slope_a_v2 * current_a)


def swing(
    device: Bipolar | SquareLaw, at_a: float, needed_s: float, bias_ohm: float, room: Room = _AMPLE
) -> Swing | None:
    """The swing at which a transistor that rests at `at_a` [A] has just `needed_s` [S]; None where it has
    less at rest.

    `bias_ohm` is what the bias puts behind control and common, seen by the mean output current [ohm]; `room`
    what the supply leaves it, all that it wants unless given.
    """
    if not 0 < needed_s < transconductance_s(device, at_a):
        return None
    control_v, mean_a = (
        _bipolar(at_a, needed_s, bias_ohm, room)
        if isinstance(device, Bipolar)
        else _square(device, at_a, needed_s, bias_ohm, room)
    )
    return Swing(control_v=control_v, mean_a=mean_a, needed_s=needed_s)


@lru_cache(maxsize=1)
def _bessel() -> tuple[Array, Array, Array]:
    """x [-], ln I0(x) and 2 I1(x)/(x I0(x)) [-]; the integral over a turn, which even steps give exactly."""
    x = np.geomspace(1e-3, 400.0, 600)
    turn = np.cos(2 * pi * (np.arange(256) + 0.5) / 256)
    grown = np.exp(x[:, None] * (turn - 1))
    mean = grown.mean(axis=1)
    return x, np.log(mean) + x, 2 * (grown * turn).mean(axis=1) / (x * mean)


def _bipolar(at_a: float, needed_s: float, bias_ohm: float, room: Room) -> tuple[float, float]:
    """Peak between base and emitter [V] and mean current [A], as those of rest move little."""
    x, log_mean, over = _bessel()
    drop = max(bias_ohm, 1e-3) * at_a / THERMAL_V
    mean = omega(np.log(drop) + drop + log_mean) * THERMAL_V / max(bias_ohm, 1e-3)
    falling = -np.log(mean / THERMAL_V * over)
    most_v = min(
        (room.over_common_v - _LEAST_V) / room.common_times,
        (room.over_control_v + _LEAST_V) / room.control_times,
    )
    most = log(max(most_v, 1e-3) / THERMAL_V)
    at = min(float(np.interp(-np.log(needed_s), falling, np.log(x))), most)
    return exp(at) * THERMAL_V, float(np.exp(np.interp(at, np.log(x), np.log(mean))))


def _square(
    device: SquareLaw, at_a: float, needed_s: float, bias_ohm: float, room: Room
) -> tuple[float, float]:
    """Peak between gate and source [V] and mean current [A]."""
    k, rest_v = device.slope_a_v2, sqrt(at_a / device.slope_a_v2)
    most_v = abs(device.threshold_v) + _GATE_V
    # Where it conducts all the time and is never without room, Gm is 2 k u, and the mean moves the bias.
    u = needed_s / (2 * k)
    mean_a = at_a + (rest_v - u) / bias_ohm
    peak = sqrt(max(2 * (mean_a / k - u * u), 0.0))
    room_v = room.over_common_v - bias_ohm * (mean_a - at_a) - room.common_times * peak
    if u + peak <= min(room_v, most_v) and peak <= u:
        return peak, mean_a
    # A fundamental is no more than 0.54 times the crest that the gate allows.
    low, high = 0.0, 0.54 * k * most_v**2 / needed_s
    for _ in range(_HALVED):
        peak = (low + high) / 2
        conductance_s, mean_a = _at_swing(k, at_a, most_v, bias_ohm, room, peak)
        low, high = (peak, high) if conductance_s > needed_s else (low, peak)
    return peak, mean_a


def _at_swing(
    k: float, at_a: float, most_v: float, bias_ohm: float, room: Room, peak: float
) -> tuple[float, float]:
    """Transconductance [S] and mean current [A] where the gate swings by so much over the source [V, peak],
    and never more than `most_v` above where it conducts.
    """
    rest_v, end, mean_a = sqrt(at_a / k), room.control_times * peak, at_a
    # What flows falls as its mean rises, so there is one answer; halved where a step would leave it.
    low, high = 0.0, at_a + (rest_v + peak) / bias_ohm
    for _ in range(_STEPS):
        moved = bias_ohm * (mean_a - at_a)
        # A junction gate conducts on the crests and holds them.
        held = rest_v - moved > most_v - peak
        over = most_v - peak if held else rest_v - moved
        source, source_first, source_by = _pulse(-over / peak)
        drain, drain_first, drain_by = _pulse((room.over_common_v - moved - over) / end)
        found_a = k * (peak**2 * source - end**2 * drain)
        if abs(found_a - mean_a) < _NEAR * mean_a:
            break
        low, high = (mean_a, high) if found_a > mean_a else (low, mean_a)
        by = k * bias_ohm * (end * drain_by if held else peak * source_by)
        mean_a += (found_a - mean_a) / (1 + by)
        if not low <= mean_a <= high:
            mean_a = (low + high) / 2
    return k * (peak**2 * source_first - end**2 * drain_first) / peak, mean_a


def _pulse(c: float) -> tuple[float, float, float]:
    """Of (cos − c)² over the part of a turn in which cos is above c [-]: mean, fundamental, and by how much
    the mean falls with c.
    """
    half = acos(min(max(c, -1.0), 1.0))
    s = sin(half)
    turned = s * cos(half)
    mean = (half * (0.5 + c * c) + turned / 2 - 2 * c * s) / pi
    first = 2 / pi * (s - s**3 / 3 - c * (half + turned) + c * c * s)
    return mean, first, 2 * (s - half * c) / pi
