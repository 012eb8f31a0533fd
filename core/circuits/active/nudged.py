"""A state at rest after small changes of its parts, to the first order."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

import numpy as np

from core.circuits.active.operating import STILL_V, Bias, Equations, fed, point_at, stamp
from core.circuits.active.taylor import taylor
from core.circuits.circuit import (
    Branch,
    Circuit,
    Part,
    Transistor,
    without_dc_path,
)


def nudged(circuit: Circuit, rest: Bias, changes: Sequence[tuple[Branch, Branch]]) -> list[Bias]:
    """The state at rest after each of some small changes, of one branch into another, to the first order.

    Newton's first step from the state known: one solution with a right side for each change.
    """
    equations = Equations(fed(circuit, frozenset(without_dc_path(circuit))))
    matrix = equations.matrix.copy()
    missing = np.zeros((len(matrix), len(changes)))
    places: dict[str, tuple[int, int, int]] = {}
    for part, (out, control, common) in equations.devices:
        point, unused = rest.transistors[part.ref], np.zeros(len(matrix))
        places[part.ref] = (out, control, common)
        for node, table in ((out, point.series.output), (control, point.series.control)):
            leads = (control, out, common)
            stamp(matrix, unused, (node, common), leads, table, point.control_v, point.output_v)
    for n, (was, now) in enumerate(changes):
        for node, ampere in _more_current(was, now, rest, equations.place, places):
            if node >= 0:
                missing[node, n] -= ampere
    moved = np.linalg.solve(matrix, missing)
    found = []
    for n, (_, now) in enumerate(changes):
        points = dict(rest.transistors)
        for part, nodes in equations.devices:
            by_out, by_control, by_common = (float(moved[node, n]) if node >= 0 else 0.0 for node in nodes)
            other, device = now.part, part.device
            if isinstance(other, Transistor) and other.ref == part.ref:
                device = other.device
            if device is part.device and max(abs(by_out - by_common), abs(by_control - by_common)) < STILL_V:
                continue
            u = points[part.ref].control_v + by_control - by_common
            w = points[part.ref].output_v + by_out - by_common
            points[part.ref] = point_at(taylor(device, u, w), u, w)
        last = len(matrix) - len(circuit.rails)
        rails = {
            rail.node: rest.rails_a[rail.node] - float(moved[last + k, n])
            for k, rail in enumerate(circuit.rails)
        }
        volts = {
            node: volt + (float(moved[equations.place[node], n]) if node in equations.place else 0.0)
            for node, volt in rest.volts.items()
        }
        found.append(Bias(MappingProxyType(volts), MappingProxyType(points), MappingProxyType(rails), 1))
    return found


def _more_current(
    was: Branch,
    now: Branch,
    rest: Bias,
    nodes: Mapping[str, int],
    places: Mapping[str, tuple[int, int, int]],
) -> Iterator[tuple[int, float]]:
    """Currents out of nodes [A] that a changed branch takes beyond what it took, at the same voltages."""
    part, other = was.part, now.part
    if isinstance(part, Part) and isinstance(other, Part) and part.kind == "resistor":
        one, two = (rest.volts.get(node, 0.0) for node in was.nodes)
        more = (1 / other.value - 1 / part.value) * (one - two)
        for name, sign in zip(was.nodes, (1, -1), strict=True):
            yield nodes.get(name, -1), sign * more
    elif isinstance(part, Transistor) and isinstance(other, Transistor):
        point = rest.transistors[part.ref]
        changed = taylor(other.device, point.control_v, point.output_v)
        out, control, common = places[part.ref]
        for node, after, before in (
            (out, changed.output, point.series.output),
            (control, changed.control, point.series.control),
        ):
            more = float(after[0, 0] - before[0, 0])
            yield node, more
            yield common, -more
