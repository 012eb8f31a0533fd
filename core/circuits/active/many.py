"""States at rest of circuits that differ in values only: Newton's method on all of them at once.

From the state at rest of the one that they are like, with the same bounds on its steps as `operating.py`
has; conductances and supplies need no help so near to a state that is known.
"""

from collections.abc import Mapping
from math import log, sqrt
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from core.circuits.active.linear import Times
from core.circuits.active.operating import STILL, STILL_V, Bias, Equations, OperatingPoint, fed
from core.circuits.active.taylor import of_many
from core.circuits.circuit import THERMAL_V, Bipolar, Circuit, Device, Part, without_dc_path
from core.circuits.ladder import Array
from core.record import record

_MOST_STEPS = 60


@record(kw_only=True)
class _Placed:
    """A transistor, its nodes in the equations, and how many times its figures are (T,) each."""

    ref: str
    device: Device
    output: int
    control: int
    common: int
    times: Mapping[str, Array]


def at_rest(circuit: Circuit, rest: Bias, times: Times) -> tuple[Bias, NDArray[np.bool_]]:
    """T circuits at rest, parts being so many `times` as large as in the one whose state is `rest`: which of
    them have such a state, (T,), and those together as one `Bias` of arrays.
    """
    equations = Equations(fed(circuit, frozenset(without_dc_path(circuit))))
    trials, size = len(next(iter(times.values()))), len(equations.driven)
    matrix = np.repeat(equations.matrix[None], trials, axis=0)
    for branch in circuit.branches:
        part = branch.part
        if isinstance(part, Part) and part.kind == "resistor" and part.ref in times:
            places = [equations.place.get(node, -1) for node in branch.nodes]
            _stamp(matrix, places, places, (1 / times[part.ref] - 1) / part.value)
    placed = [
        _Placed(ref=part.ref, device=part.device, output=o, control=c, common=e, times=_own(part.ref, times))
        for part, (o, c, e) in equations.devices
    ]
    x: Array = np.zeros((trials, size + 1))
    for node, place in equations.place.items():
        x[:, place] = rest.volts.get(node, 0.0)
    points = (rest.transistors[each.ref] for each in placed)
    tried = [(np.full(trials, at.control_v), np.full(trials, at.output_v)) for at in points]
    count, still = len(equations.nodes), np.zeros(trials, dtype=bool)
    for _ in range(_MOST_STEPS):
        jacobian, driven = matrix.copy(), np.repeat(equations.driven[None], trials, axis=0)
        for each, (u, w) in zip(placed, tried, strict=True):
            series = of_many(each.device, u, w, each.times)
            _stamp_device(jacobian, driven, each.output, each, series.output, u, w)
            _stamp_device(jacobian, driven, each.control, each, series.control, u, w)
        with np.errstate(all="ignore"):
            new: Array = np.zeros((trials, size + 1))
            try:
                new[:, :size] = np.linalg.solve(jacobian, driven[..., None])[..., 0]
            except np.linalg.LinAlgError:
                break
            cut = np.zeros(trials, dtype=bool)
            for n, each in enumerate(placed):
                tried[n] = _bounded(each, new, tried[n], cut)
            moved = np.abs(new[:, :count] - x[:, :count])
            still = (moved <= STILL_V + STILL * np.abs(new[:, :count])).all(axis=1) & ~cut
        x = new
        if still.all():
            break
    return _as_bias(circuit, equations, placed, x[still], only(times, still)), still


def only(times: Times, kept: NDArray[np.bool_]) -> dict[str, Array]:
    """Some of the circuits."""
    return {key: each[kept] for key, each in times.items()}


def _as_bias(circuit: Circuit, equations: Equations, placed: list[_Placed], x: Array, times: Times) -> Bias:
    columns: Any = x.T  # where a state has numbers, that of several circuits has arrays
    transistors = {}
    for each in placed:
        common = columns[each.common]
        u, w = columns[each.control] - common, columns[each.output] - common
        series = of_many(each.device, u, w, _own(each.ref, times))
        amperes: Any = (series.output[0, 0], series.control[0, 0])
        transistors[each.ref] = OperatingPoint(
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


def _stamp(matrix: Array, into: list[int], across: list[int], siemens: Array) -> None:
    """A current of so many siemens (T,) times the voltage across two nodes."""
    for row, sign in zip(into, (1, -1), strict=True):
        for column, way in zip(across, (1, -1), strict=True):
            if row >= 0 and column >= 0:
                matrix[:, row, column] += sign * way * siemens


def _stamp_device(
    matrix: Array, driven: Array, node: int, at: _Placed, table: Array, u: Array, w: Array
) -> None:
    """A current from a node to the common one, linear around (u, w)."""
    by_u, by_w = table[1, 0], table[0, 1]
    rest = table[0, 0] - by_u * u - by_w * w
    _stamp(matrix, [node, at.common], [at.control, at.common], by_u)
    _stamp(matrix, [node, at.common], [at.output, at.common], by_w)
    for row, sign in ((node, 1.0), (at.common, -1.0)):
        if row >= 0:
            driven[:, row] -= sign * rest


def _bounded(at: _Placed, x: Array, old: tuple[Array, Array], cut: NDArray[np.bool_]) -> tuple[Array, Array]:
    """The voltages at which a transistor is taken next; `cut` is set where a step was."""
    u, w = x[:, at.control] - x[:, at.common], x[:, at.output] - x[:, at.common]
    device, (old_u, old_w) = at.device, old
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
