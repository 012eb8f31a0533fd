"""Third-order products by nonlinear currents, and the limits of class A.

Nonlinear currents (Volterra series on the circuit's own matrix; S. Narayanan, Bell Syst. Tech. J. 46 (1967)
991, from memory): solved at both tones, the transistors' second-order currents drive the circuit at 2f1 and
f1 − f2, and their third-order currents with those at 2f1 − f2. Holds well below compression, as an intercept
does.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, Literal

import numpy as np

from core.circuits.active.linear import Linear, Placed, Times, linear
from core.circuits.active.taylor import Taylor
from core.circuits.circuit import Bipolar, Circuit, SquareLaw
from core.circuits.ladder import Array, ComplexArray
from core.circuits.units import dbm
from core.circuits.unsolved import Unsolved
from core.record import record

#: Output at which gain has fallen by 1 dB, above the level at which the first transistor of the linear
#: solution runs out of current or voltage [dB]. An empirical rule: +1.07 to +1.69 dB on ten circuits by
#: transient simulation, so half a decibel either way.
COMPRESSION_BEYOND_LIMIT_DB = 1.5
#: A collector keeps this much voltage [V]; an assumption, saturation from memory with something in reserve.
_LEAST_COLLECTOR_V = 0.5
#: Peak voltage at which a junction at rest without current begins to conduct [V]; common practice, no source.
_JUNCTION_V = 0.6
#: A transistor with less than this between its electrodes is not fed [V].
UNFED_V = 1e-3


@record(kw_only=True, slots=False)
class Intercept:
    """Third-order output intercept [dBm], and each transistor's share of the product's amplitude at the
    output [-], by its reference.
    """

    output_dbm: float
    shares: tuple[tuple[str, float], ...]


@record(kw_only=True, slots=False)
class Limit:
    """The output [dBm] at which a transistor of the linear solution runs out of `what`: current, voltage, or
    being off, where it is not fed.
    """

    ref: str
    what: Literal["current", "voltage", "off"]
    output_dbm: float


class _Solver:
    """The circuit, or several, with its ports closed, at single frequencies."""

    def __init__(self, around: Linear) -> None:
        self.around = around

    def volts(self, f_hz: float, currents: ComplexArray) -> ComplexArray:
        """Node voltages [V], and a zero for ground, at `f_hz` [Hz] of currents into the nodes [A], nodes the
        first axis.
        """
        # At a difference or a sum of tones below zero the answer is the conjugate of that above.
        f = np.array([abs(f_hz)])
        y = (self.around.passive_at(f) + self.around.active_at(f))[..., 0, :, :]
        for port, ohm in zip(self.around.ports, self.around.port_ohm, strict=True):
            y[..., port, port] += 1 / ohm
        given = currents[:-1] if f_hz >= 0 else currents[:-1].conj()
        found = np.linalg.solve(y, given.T[..., None])[..., 0].T
        full = np.zeros((len(currents), *found.shape[1:]), dtype=complex)
        full[:-1] = found if f_hz >= 0 else found.conj()
        return full

    def driven(self, f_hz: float) -> ComplexArray:
        """Node voltages [V] at `f_hz` [Hz] with an EMF of 1 V behind the first port's resistance."""
        currents = np.zeros(len(self.around.nodes) + 1, dtype=complex)
        currents[self.around.ports[0]] = 1 / self.around.port_ohm[0]
        return self.volts(f_hz, currents)


#: A voltage or a current of one circuit, or of several (T,); numpy tells them apart.
_Value = Any


def _seen(at: Placed, volts: ComplexArray) -> tuple[_Value, _Value]:
    """Control and output voltage of a transistor [V]."""
    common = volts[at.common]
    return volts[at.control] - common, volts[at.output] - common


@lru_cache(maxsize=128)
def third_order(circuit: Circuit, f1_hz: float, f2_hz: float) -> Intercept | Unsolved:
    """The intercept of the product at 2 f1 − f2 [Hz] from the first port to the second."""
    around = linear(circuit)
    if isinstance(around, Unsolved):
        return around
    output_dbm, shares = _third_order(around, f1_hz, f2_hz, shared=True)
    shared = tuple((ref, float(share)) for ref, share in shares.items())
    return Intercept(output_dbm=float(output_dbm), shares=shared)


def intercepts_dbm(around: Linear, f1_hz: float, f2_hz: float) -> Array:
    """The same intercept of several circuits together at 2 f1 − f2 [Hz], (T,) [dBm]."""
    return _third_order(around, f1_hz, f2_hz, shared=False)[0]


def _third_order(
    around: Linear, f1_hz: float, f2_hz: float, *, shared: bool
) -> tuple[Array, dict[str, Array]]:
    """The intercept [dBm], and the transistors' shares where they are wanted; none where there is no
    product.
    """
    solver, w = _Solver(around), 2 * np.pi
    one, two = solver.driven(f1_hz), solver.driven(f2_hz)
    series = {at.ref: around.bias.transistors[at.ref].series for at in around.transistors}

    def currents(f_hz: float, made: dict[str, tuple[_Value, _Value, _Value]]) -> ComplexArray:
        into = np.zeros_like(one)
        for at in around.transistors:
            output, control, charge = made.get(at.ref, (0.0, 0.0, 0.0))
            control = control + 1j * w * f_hz * charge
            into[at.output] -= output
            into[at.control] -= control
            into[at.common] += output + control
        return into

    def second(a: ComplexArray, b: ComplexArray, factor: float) -> dict[str, tuple[_Value, _Value, _Value]]:
        return {
            at.ref: _tables(series[at.ref], lambda t, at=at: factor * _second(t, _seen(at, a), _seen(at, b)))
            for at in around.transistors
        }

    twice, apart = 2 * f1_hz, f1_hz - f2_hz
    at_twice = solver.volts(twice, currents(twice, second(one, one, 0.5)))
    at_apart = solver.volts(apart, currents(apart, second(one, two.conj(), 1.0)))
    product = 2 * f1_hz - f2_hz
    made = {}
    for at in around.transistors:
        u1, u2 = _seen(at, one), _seen(at, two.conj())
        ua, ub = _seen(at, at_twice), _seen(at, at_apart)
        made[at.ref] = _tables(
            series[at.ref],
            lambda t, u1=u1, u2=u2, ua=ua, ub=ub: _third(t, u1, u2) + _second(t, ua, u2) + _second(t, ub, u1),
        )
    load, ohm = around.ports[1], around.port_ohm[1]
    whole = np.abs(solver.volts(product, currents(product, made))[load])

    refs = made if shared and np.any(whole) else ()
    shares = {ref: np.abs(solver.volts(product, currents(product, {ref: made[ref]}))[load]) for ref in refs}
    with np.errstate(divide="ignore"):
        wanted_dbm, unwanted_dbm = (
            10 * np.log10(np.abs(volts) ** 2 / (2 * ohm) / 1e-3) for volts in (one[load], whole)
        )
    return wanted_dbm + (wanted_dbm - unwanted_dbm) / 2, shares


def _tables(series: Taylor, of) -> tuple[_Value, _Value, _Value]:  # type: ignore[no-untyped-def]
    return of(series.output), of(series.control), of(series.charge)


def _second(t: Array, a: tuple[_Value, _Value], b: tuple[_Value, _Value]) -> _Value:
    """The second-order current of two tones' voltages (control, output), at the sum of their frequencies."""
    crossed = (a[0] * b[1] + a[1] * b[0]) / 2
    return t[2, 0] * a[0] * b[0] + t[1, 1] * crossed + t[0, 2] * a[1] * b[1]


def _third(t: Array, a: tuple[_Value, _Value], b: tuple[_Value, _Value]) -> _Value:
    """The third-order current of one tone twice and another once."""
    (u, w), (v, x) = a, b
    return (
        0.75 * t[3, 0] * u * u * v
        + t[2, 1] * (u * u * x + 2 * u * w * v) / 4
        + t[1, 2] * (w * w * v + 2 * u * w * x) / 4
        + 0.75 * t[0, 3] * w * w * x
    )


@lru_cache(maxsize=128)
def limits(circuit: Circuit, f_hz: float) -> tuple[Limit, ...] | Unsolved:
    """Where each transistor would leave class A at `f_hz` [Hz], by current and by voltage, and where one that
    is not fed would begin to conduct, as levels at the output [dBm]; the lowest first.
    """
    around = linear(circuit)
    if isinstance(around, Unsolved):
        return around
    volts = _Solver(around).driven(f_hz)
    output_dbm = dbm(abs(volts[around.ports[1]]) ** 2 / (2 * around.port_ohm[1]))
    found = []
    for ref, what, room, swing in _ends(circuit, around, volts, {}):
        if room <= 0:
            return Unsolved(
                f"{ref} has no {what} to swing at rest; give it more, by its resistors or the supply."
            )
        if swing > 0:
            beyond_db = 20 * float(np.log10(room / swing))
            found.append(Limit(ref=ref, what=what, output_dbm=output_dbm + beyond_db))
    return tuple(sorted(found, key=lambda limit: limit.output_dbm))


def first_limit_dbm(circuit: Circuit, around: Linear, f_hz: float, times: Times) -> Array:
    """The lowest of these limits by current or voltage at `f_hz` [Hz] of circuits whose parts are so many
    `times` as large, (T,) [dBm]; NaN where a transistor has nothing to swing at rest.
    """
    volts = _Solver(around).driven(f_hz)
    ends = _ends(circuit, around, volts, times)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = [np.where(room > 0, room, np.nan) / swing for _, what, room, swing in ends if what != "off"]
        most_v = np.abs(volts[around.ports[1]]) * np.minimum.reduce(shares)
        lowest: Array = 10 * np.log10(most_v**2 / (2 * around.port_ohm[1]) / 1e-3)
    return lowest


def _ends(
    circuit: Circuit, around: Linear, volts: ComplexArray, times: Times
) -> Iterator[tuple[str, Literal["current", "voltage", "off"], Any, Any]]:
    """What each transistor runs out of: its reference, what, how much there is at rest, and what these node
    voltages take of it; numbers of one circuit, arrays (T,) of several.
    """
    devices = {part.ref: part.device for part, _ in circuit.transistors}
    for at in around.transistors:
        point, device = around.bias.transistors[at.ref], devices[at.ref]
        (u, w), output = _seen(at, volts), point.series.output
        unfed = np.all(abs(point.control_v) < UNFED_V) and np.all(abs(point.output_v) < UNFED_V)
        if isinstance(device, Bipolar) and unfed:
            yield at.ref, "off", _JUNCTION_V, np.maximum(abs(u), abs(u - w))
            continue
        yield at.ref, "current", abs(point.output_a), abs(output[1, 0] * u + output[0, 1] * w)
        least_v: float | Array = _LEAST_COLLECTOR_V
        if isinstance(device, SquareLaw):
            threshold_v = device.threshold_v * times.get(f"{at.ref}.threshold", 1.0)
            least_v = device.sign * point.control_v - threshold_v
        yield at.ref, "voltage", device.sign * point.output_v - least_v, abs(w)
