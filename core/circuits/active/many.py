"""States at rest of circuits that differ in values only: Newton's method on all of them at once.

From the state at rest of the one that they are like, with the equations of `operating.py` and the same bounds
on its steps, which that has in numbers for speed; conductances and supplies need no help so near to a state
that is known.
"""

from math import log, sqrt
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuits.active.linear import Times
from core.circuits.active.operating import STILL, STILL_V, Bias, Equations, OperatingPoint, between, fed
from core.circuits.active.taylor import of_many
from core.circuits.circuit import THERMAL_V, Bipolar, Circuit, Device, Part, without_dc_path
from core.circuits.ladder import Array

_MOST_STEPS = 60
#: Control and output voltage of a transistor [V], (T,) each.
_Volts = tuple[Array, Array]


def at_rest(circuit: Circuit, rest: Bias, times: Times) -> tuple[Bias, NDArray[np.bool_]]:
    """T circuits at rest, parts being so many `times` as large as in the one whose state is `rest`: which of
    them have such a state, (T,), and those together as one `Bias` of arrays.
    """
    equations = Equations(fed(circuit, frozenset(without_dc_path(circuit))))
    trials, size = len(next(iter(times.values()))), len(equations.driven)
    slopes, rests = equations.stamps

    def matrices(stamps: Array, siemens: Array) -> Array:
        return (stamps @ siemens).T.reshape(-1, size, size)

    resistors = [
        (branch.part, branch.nodes)
        for branch in circuit.branches
        if isinstance(branch.part, Part) and branch.part.kind == "resistor" and branch.part.ref in times
    ]
    more = np.array([(1 / times[part.ref] - 1) / part.value for part, _ in resistors]).reshape(-1, trials)
    stamps = between(size, equations.place, [nodes for _, nodes in resistors])
    matrix = equations.matrix + matrices(stamps, more)
    # Ground is the place −1.
    x: Array = np.zeros((trials, size + 1))
    for node, place in equations.place.items():
        x[:, place] = rest.volts.get(node, 0.0)
    points = (rest.transistors[part.ref] for part, _ in equations.devices)
    tried = [(np.full(trials, at.control_v), np.full(trials, at.output_v)) for at in points]
    count, still = len(equations.nodes), np.zeros(trials, dtype=bool)
    for _ in range(_MOST_STEPS):
        by, left = list[Array](), list[Array]()
        for (part, _), (u, w) in zip(equations.devices, tried, strict=True):
            series = of_many(part.device, u, w, _own(part.ref, times))
            for table in (series.output, series.control):
                by += table[1, 0], table[0, 1]
                left.append(table[0, 0] - table[1, 0] * u - table[0, 1] * w)
        cut, new = np.zeros(trials, dtype=bool), np.zeros_like(x)
        with np.errstate(all="ignore"):
            driven = equations.driven + (rests @ np.reshape(left, (-1, trials))).T
            jacobian = matrix + matrices(slopes, np.reshape(by, (-1, trials)))
            try:
                new[:, :size] = np.linalg.solve(jacobian, driven[..., None])[..., 0]
            except np.linalg.LinAlgError:
                break
            for n, (part, leads) in enumerate(equations.devices):
                tried[n] = _bounded(part.device, _seen(leads, new), tried[n], cut)
            moved = np.abs(new[:, :count] - x[:, :count])
            still = (moved <= STILL_V + STILL * np.abs(new[:, :count])).all(axis=1) & ~cut
        x = new
        if still.all():
            break
    return _as_bias(circuit, equations, x[still], only(times, still)), still


def only(times: Times, kept: NDArray[np.bool_]) -> dict[str, Array]:
    """Some of the circuits."""
    return {key: each[kept] for key, each in times.items()}


def _as_bias(circuit: Circuit, equations: Equations, x: Array, times: Times) -> Bias:
    columns: Any = x.T  # where a state has numbers, that of several circuits has arrays
    transistors = {}
    for part, leads in equations.devices:
        seen: Any = _seen(leads, x)
        u, w = seen
        series = of_many(part.device, u, w, _own(part.ref, times))
        amperes: Any = (series.output[0, 0], series.control[0, 0])
        transistors[part.ref] = OperatingPoint(
            output_a=amperes[0], control_a=amperes[1], control_v=u, output_v=w, series=series
        )
    inner = equations.inner.values()
    volts = {node: columns[place] for node, place in equations.place.items() if node not in inner}
    last = len(equations.driven) - len(circuit.rails)
    rails = {rail.node: -columns[last + k] for k, rail in enumerate(circuit.rails)}
    return Bias(MappingProxyType(volts), MappingProxyType(transistors), MappingProxyType(rails), 0)


def _own(ref: str, times: Times) -> dict[str, Array]:
    """What of `times` belongs to a transistor."""
    figures = ("gain", "threshold", "speed")
    return {name: times[f"{ref}.{name}"] for name in figures if f"{ref}.{name}" in times}


def _seen(leads: tuple[int, int, int], x: Array) -> _Volts:
    out, control, common = leads
    return x[:, control] - x[:, common], x[:, out] - x[:, common]


def _bounded(device: Device, seen: _Volts, old: _Volts, cut: NDArray[np.bool_]) -> _Volts:
    """The voltages at which a transistor is taken next; `cut` is set where a step was."""
    (u, w), (old_u, old_w) = seen, old
    if isinstance(device, Bipolar):
        high = THERMAL_V * log(THERMAL_V / (sqrt(2) * device.saturation_a))
        sign = device.sign
        new_u = sign * _junction(sign * u, sign * old_u, high)
        new_w = new_u - sign * _junction(sign * (u - w), sign * (old_u - old_w), high)
    else:
        most = 0.5 * (1 + abs(device.threshold_v))
        new_u, new_w = old_u + np.clip(u - old_u, -most, most), w
    cut |= (np.abs(new_u - u) > STILL_V) | (np.abs(new_w - w) > STILL_V)
    return new_u, new_w


def _junction(new: Array, old: Array, high: float) -> Array:
    """A junction's next voltage: beyond `high` it rises by the logarithm only."""
    argument = 1 + (new - old) / THERMAL_V
    from_old = np.where(argument > 0, old + THERMAL_V * np.log(np.maximum(argument, 1e-300)), high)
    from_none = THERMAL_V * np.log(np.maximum(new, 1e-300) / THERMAL_V)
    held = np.where(old > 0, from_old, from_none)
    return np.where((new <= high) | (np.abs(new - old) <= 2 * THERMAL_V), new, held)
