"""Ladder networks: a circuit written as a row, and the fast solver that reads it so.

A network is a row of arms between a source and a load, each arm in series with the signal or in shunt
across it. The solver works from the load backwards with two complex arrays, voltage and current, in
homogeneous form: an arm whose impedance is infinite (a lossless trap at resonance) or zero (a lossless
crystal in shunt) multiplies a common scale instead of dividing, so no singular case needs nudging.

Source: the back-propagation is Kirchhoff's two laws; S-parameters from the port quantities after
IEEE power-wave practice with real reference resistances.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.circuits.circuit import GROUND, Branch, Circuit, CoupledCoils, Part, Port, Transformer
from core.record import record

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complexfloating[Any, Any]]
#: Overrides of part values by reference, e.g. one column of trials: any shape (..., 1).
Values = Mapping[str, ArrayLike]

#: The unit of each kind of part's value; a crystal's value is its series resonance.
UNIT_OF_KIND: dict[str, str] = {
    "resistor": "Ω",
    "inductor": "H",
    "capacitor": "F",
    "crystal": "Hz",
    "coupling": "-",
}


@record
class Arm:
    """One or more parts in series with the signal or in shunt across it.

    Several parts in one arm are joined `in_series` or `in_parallel`: a trap is a series arm of a coil
    and a capacitor in parallel, a tank a shunt arm of the same.
    """

    position: Literal["series", "shunt"]
    parts: tuple[Part, ...]
    joined: Literal["in_series", "in_parallel"] = "in_series"


@record
class Coupled:
    """Two coils to ground, one at either side, coupled by their field alone: both, and their coupling."""

    parts: tuple[Part, ...]


@record
class Network:
    """Arms from source to load between two resistances (ohm)."""

    arms: tuple[Arm | Transformer | Coupled, ...]
    source_ohm: float
    load_ohm: float

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every part, from source to load."""
        return tuple(part for arm in self.arms if not isinstance(arm, Transformer) for part in arm.parts)

    def reversed(self) -> "Network":
        """The same circuit seen from the load."""
        return Network(tuple(map(_turned, self.arms[::-1])), self.load_ohm, self.source_ohm)


def _turned(arm: Arm | Transformer | Coupled) -> Arm | Transformer | Coupled:
    """An arm seen from its other side."""
    if isinstance(arm, Transformer):
        return replace(arm, ratio=1 / arm.ratio)
    if isinstance(arm, Coupled):
        near, far, coupling = arm.parts
        return Coupled((far, near, coupling))
    return arm


def joined(networks: Sequence[Network]) -> Network:
    """The networks of several passive stages, from source to load, as the one circuit that they make.

    It stands between the first one's source resistance and the last one's load; what lies between two of
    them is no resistance but the other. Their losses do not add: out of its pass-band each sees a reactance
    where it was designed for a resistance. References of different networks may be alike, so the overrides
    of `solve` are for one network alone. At least one network.
    """
    arms = tuple(arm for network in networks for arm in network.arms)
    return Network(arms, networks[0].source_ohm, networks[-1].load_ohm)


def circuit_of(network: Network) -> Circuit:
    """The network with its nodes, numbered from the source, which is its first port.

    A transformer's windings stand from the line to ground on either side. This is where a row's nodes are
    made; every reader but the solver below takes them from here.
    """
    branches: list[Branch] = []
    here = last = 1
    for arm in network.arms:
        if isinstance(arm, Transformer):
            last += 1
            branches.append(Branch(arm, (str(here), GROUND, str(last), GROUND)))
            here = last
            continue
        if isinstance(arm, Coupled):
            last += 1
            branches.append(Branch(_coils(arm), (str(here), GROUND, str(last), GROUND)))
            here = last
            continue
        first = end = str(here)
        if arm.position == "series" and arm.joined == "in_parallel":
            last += 1
            end = str(last)
        elif arm.position == "shunt" and arm.joined == "in_parallel":
            end = GROUND
        for n, each in enumerate(arm.parts):
            if arm.joined == "in_series":
                to_ground = arm.position == "shunt" and n == len(arm.parts) - 1
                last += not to_ground
                first, end = end, GROUND if to_ground else str(last)
            branches.append(Branch(each, (first, end)))
        if arm.position == "series":
            here = last
    return Circuit(tuple(branches), (Port("1", network.source_ohm), Port(str(here), network.load_ohm)))


def _coils(arm: Coupled) -> CoupledCoils:
    near, far, coupling = arm.parts
    return CoupledCoils(
        coupling.ref,
        near.value,
        far.value,
        coupling.value,
        near.q,
        coupling.role,
        coupling.which,
        coils=(near, far),
    )


@record(slots=False)
class Response:
    """S-parameters on a frequency grid; arrays are read-only, shape (..., F), frequency last.

    `s11`, `s21` are referred to the network's source and load resistance.
    """

    f_hz: Array
    s11: ComplexArray
    s21: ComplexArray

    @cached_property
    def loss_db(self) -> Array:
        """Transducer loss, dB; infinite where nothing passes."""
        with np.errstate(divide="ignore"):
            return frozen(-20 * np.log10(np.abs(self.s21)))

    @cached_property
    def return_loss_db(self) -> Array:
        """Return loss at the source side, dB; infinite at a perfect match."""
        with np.errstate(divide="ignore"):
            return frozen(-20 * np.log10(np.abs(self.s11)))


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """The same array marked read-only, so that no reader of a cached result can spoil it for the others."""
    array.setflags(write=False)
    return array


#: An impedance as numerator over denominator [ohm]; None as denominator means 1. A capacitor is 1 over its
#: admittance, which saves two divisions, the dearest operation here.
Ratio = tuple[Any, Any]


#: The numerator of a capacitor, whose denominator is never None.
_ONE = 1.0


def impedance(part: Part, s: ComplexArray, values: Values) -> Ratio:
    """Impedance [ohm] of a part at s = jω [rad/s] of any shape, as numerator and denominator.

    Loss: series R = ωL/Q in coils, parallel G = ωC/Q in capacitors. `values` are overrides as of `solve`.
    """
    value = np.asarray(values.get(part.ref, part.value), dtype=float)
    if part.kind == "resistor":
        return value + 0 * s, None
    if part.kind != "crystal":
        q: Any = values.get(f"{part.ref}.q", part.q)
        reactive = s * value * (1 if q is None else 1 - 1j / q)
        return (reactive, None) if part.kind == "inductor" else (_ONE, reactive)
    lm = np.asarray(values.get(f"{part.ref}.lm", part.motional_inductance_h), dtype=float)
    c0 = np.asarray(values.get(f"{part.ref}.c0", part.holder_capacitance_f), dtype=float)
    q = np.asarray(values.get(f"{part.ref}.q", np.inf if part.q is None else part.q), dtype=float)
    ws = 2 * np.pi * value
    # s Lm + 1/(s Cm) written as a product: near resonance the two terms cancel to a part in a million.
    w = s.imag
    motional = ws * lm / q + 1j * lm * (w - ws) * (w + ws) / w
    return motional, 1 + s * c0 * motional


def coupled_ohm(
    arm: Coupled, s: ComplexArray, values: Values
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Impedances [ohm] of two coupled coils at s = jω [rad/s]: of each by itself, and the one they share.

    What one loses is lost in series with it; V1 = Z1 I1 + Z I2, Z = s k sqrt(L1 L2).
    """
    near, far, _ = arm.parts
    one, other, k = (np.asarray(values.get(each.ref, each.value), dtype=float) for each in arm.parts)
    shared = s * (k * np.sqrt(one * other))
    return impedance(near, s, values)[0], impedance(far, s, values)[0], shared


def _joined(arm: Arm, s: ComplexArray, values: Values, known: dict[object, Ratio]) -> Ratio:
    num, den = _looked_up(arm.parts[0], s, values, known)
    for part in arm.parts[1:]:
        n, d = _looked_up(part, s, values, known)
        one, two = (1 if den is None else den), (1 if d is None else d)
        if arm.joined == "in_parallel" and n is num and d is den and len(arm.parts) == 2:
            # Two alike are half of one; the general form would be 0/0 at the resonance of lossless ones.
            den = 2 * one
        elif arm.joined == "in_series":
            num, den = num * two + n * one, None if den is None and d is None else one * two
        else:
            num, den = num * n, num * two + n * one
    return num, den


#: A crystal's figures besides its series resonance, as overridden by `X1.lm` and the like.
_CRYSTAL_FIGURES = ("lm", "c0", "q")


def _looked_up(part: Part, s: ComplexArray, values: Values, known: dict[object, Ratio]) -> Ratio:
    """The impedance of a part, computed once for all that are alike: a ladder's crystals usually are."""
    if values and (part.ref in values or any(f"{part.ref}.{name}" in values for name in _CRYSTAL_FIGURES)):
        return impedance(part, s, values)
    key = (part.kind, part.value, part.q, part.motional_inductance_h, part.holder_capacitance_f)
    found = known.get(key)
    if found is None:
        found = known[key] = impedance(part, s, values)
    return found


def solve(network: Network, f_hz: ArrayLike, *, values: Values | None = None) -> Response:
    """Exact S11 and S21 of a ladder network.

    `f_hz` is the frequency grid, shape (F,), all positive [Hz]. `values` overrides part values by
    reference with arrays that broadcast against the grid, e.g. shape (trials, 1); Q as `L1.q`, and a
    crystal's other figures as `X1.lm`, `X1.c0`. Returns arrays of shape (..., F).
    """
    f = np.asarray(f_hz, dtype=float)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        s11, s21 = _scattered(network, _propagated(network, f, values or {}))
        if not (np.isfinite(s21).all() and np.isfinite(s11).all()):
            # Far outside its pass-band a long ladder of odd parts goes beyond what a float can hold.
            s11, s21 = _scattered(network, _propagated(network, f, values or {}, held_near_one=True))
    shape = np.broadcast_shapes(np.shape(s11), f.shape)
    return Response(
        frozen(f.copy()), frozen(np.broadcast_to(s11, shape)), frozen(np.broadcast_to(s21, shape))
    )


def chain(network: Network, f_hz: ArrayLike) -> ComplexArray:
    """The chain matrix: voltage and current at the source's end from those at the load's [-, ohm, S, -].

    `f_hz` has shape (F,), all positive [Hz]; the result (2, 2, F). Not finite where nothing passes at all.
    """
    f = np.asarray(f_hz, dtype=float)
    # One row for a volt and one for an ampere at the load.
    volts, amperes = np.zeros((2, 2, f.size), dtype=complex)
    volts[0], amperes[1] = 1.0, 1.0
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        nodes = _propagated(network, f, {}, ends=(volts, amperes))
        (v, i, _), scale = nodes[-1], _scale(nodes)
        return frozen(np.array([v / scale, i / scale]))


def power_passed(network: Network, f_hz: ArrayLike, source_ohm: complex, load_ohm: complex) -> Array:
    """Power in a load over what there would be with one ampere through it per volt of a source, up to a
    constant, between any two impedances [ohm]; shape (F,) like `f_hz` [Hz]. Nothing where it goes beyond what
    a float can hold.
    """
    f = np.asarray(f_hz, dtype=float)
    amperes = np.ones(f.shape, dtype=complex)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        nodes = _propagated(network, f, {}, ends=(load_ohm * amperes, amperes))
        (v, i, _), scale = nodes[-1], _scale(nodes)
        power = np.abs(scale / (v + source_ohm * i)) ** 2
        return frozen(np.where(np.isfinite(power), power, 0.0))


def _scale(nodes: "list[_Node]") -> ComplexArray | float:
    """What all arms together multiplied the common scale by."""
    scale: ComplexArray | float = 1.0
    for _, _, factor in nodes:
        if factor is not _NO_CHANGE:
            scale = scale * factor
    return scale


def _scattered(network: Network, nodes: "list[_Node]") -> tuple[ComplexArray, ComplexArray]:
    v, i, _ = nodes[-1]
    sent: ComplexArray = v + network.source_ohm * i
    s11: ComplexArray = (v - network.source_ohm * i) / sent
    return s11, 2 * np.sqrt(network.source_ohm / network.load_ohm) * _scale(nodes) / sent


#: Step of the numerical derivative in `group_delay_s`, as a share of the frequency [-].
_PHASE_STEP = 1e-7


def group_delay_s(network: Network, f_hz: ArrayLike) -> Array:
    """Group delay in seconds at `f_hz`, shape (F,) [Hz]: minus the derivative of the phase of S21.

    A central difference over a ten-millionth of the frequency at each point, whatever the grid, so that
    a coarse grid does not miss turns of the phase. NaN where nothing passes at all.
    """
    f = np.asarray(f_hz, dtype=float)
    step = _PHASE_STEP * f
    around = solve(network, np.stack([f - step, f + step])).s21
    # Where nothing passes there is no phase and no delay: NaN.
    with np.errstate(divide="ignore", invalid="ignore"):
        return frozen(-np.angle(around[1] / around[0]) / (4 * np.pi * step))


_NO_CHANGE = 1.0
#: Voltage and current at a node to a common scale, and the factor by which the arm changed that scale.
_Node = tuple[ComplexArray, ComplexArray, ComplexArray | float]


def _propagated(
    network: Network,
    f: Array,
    values: Values,
    held_near_one: bool = False,
    ends: tuple[ComplexArray, ComplexArray] | None = None,
) -> list[_Node]:
    """The nodes from the load to the source, beginning with 1 V at the load or with `ends`, voltage and
    current there.

    With `held_near_one` every node's voltage and current are divided by the larger of them, which the
    factor then holds too; otherwise they grow along the ladder.
    """
    s = 2j * np.pi * f
    v: ComplexArray
    i: ComplexArray
    if ends is None:
        v = np.ones(f.shape, dtype=complex)
        i = v / network.load_ohm
    else:
        v, i = ends
    nodes: list[_Node] = [(v, i, 1.0)]
    known: dict[object, Ratio] = {}
    for arm in reversed(network.arms):
        factor: ComplexArray | float = _NO_CHANGE
        if isinstance(arm, Transformer):
            v, i = v * arm.ratio, i / arm.ratio
        elif isinstance(arm, Coupled):
            near, far, mutual = coupled_ohm(arm, s, values)
            v, i, factor = near * v + (near * far - mutual**2) * i, v + far * i, mutual
        else:
            num, den = _joined(arm, s, values, known)
            if arm.position == "series":
                if den is None:
                    v = v + i * num
                elif num is _ONE:
                    v = v + i / den
                else:
                    v, i, factor = v * den + i * num, i * den, den
            elif num is _ONE:
                i = i + v * den
            elif den is None and len(arm.parts) == 1:
                i = i + v / num
            else:
                v, i, factor = v * num, i * num + (v if den is None else v * den), num
        if held_near_one:
            size = np.maximum(np.abs(v), np.abs(i))
            v, i, factor = v / size, i / size, np.asarray(factor / size, dtype=complex)
        nodes.append((v, i, factor))
    return nodes


@record(slots=False)
class Stress:
    """Largest voltage across and current through one arm, amplitude per volt of source EMF.

    Arrays of the frequencies' shape: `volts` [V/V] and `amperes` [A/V], complex amplitudes' magnitudes.
    """

    refs: tuple[str, ...]
    volts: Array
    amperes: Array


def stresses(network: Network, f_hz: ArrayLike, load_ohm: ArrayLike | None = None) -> tuple[Stress, ...]:
    """Voltage across and current through every arm, from source to load, per volt of source EMF.

    `f_hz` has shape (..., F) [Hz], `load_ohm` [ohm], complex, that broadcasts to it; the network's own load
    where none is given. For a source of available power P the EMF's amplitude is sqrt(8 P Rs) V.
    Transformers and coupled coils are left out.
    """
    f = np.asarray(f_hz, dtype=float)
    volt = np.ones(f.shape, dtype=complex)
    ends = None if load_ohm is None else (volt, volt / np.asarray(load_ohm))
    nodes = _propagated(network, f, {}, ends=ends)
    emf = nodes[-1][0] + network.source_ohm * nodes[-1][1]
    found = []
    # From the source down: `scale` brings a node's homogeneous coordinates to the source's scale.
    scale: Any = 1 / emf
    for arm, near, far in zip(network.arms, nodes[:0:-1], nodes[-2::-1], strict=True):
        v_near, i_near = near[0] * scale, near[1] * scale
        scale = scale * near[2]
        if not isinstance(arm, Arm):
            continue
        v_far, i_far = far[0] * scale, far[1] * scale
        volts, amperes = (v_near - v_far, i_near) if arm.position == "series" else (v_near, i_near - i_far)
        refs = tuple(part.ref for part in arm.parts)
        found.append(Stress(refs, frozen(np.abs(volts)), frozen(np.abs(amperes))))
    return tuple(found)
