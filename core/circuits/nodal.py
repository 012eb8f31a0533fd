"""Small-signal solution of any circuit, node by node: S-parameters between its ports and every voltage.

Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan, IEEE Trans. CAS-22 (1975) 504, from memory): an
admittance for each branch that has one, and for those that may have none (ideal transformers, coupled
coils, lossless crystals, wires) their current as a further unknown. So a crystal is one branch, ideal parts
are exact, and nothing is added to keep the matrix regular: where it is not, that is the answer.
"""

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.circuit import (
    GROUND,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Diode,
    Part,
    Transformer,
    Windings,
    without_path,
)
from core.circuits.ladder import Array, ComplexArray, Values, frozen, impedance
from core.circuits.unsolved import Unsolved
from core.record import record


@record(slots=False)
class NodalResponse:
    """Arrays are read-only, frequency last.

    `s` has shape (ports, ports, ..., F), row where the wave leaves and column where it enters, each port
    referred to its own resistance. `volts` has shape (nodes, ports, ..., F): every node's voltage per volt of
    EMF behind the resistance of that port [V/V].
    """

    f_hz: Array
    nodes: tuple[str, ...]
    s: ComplexArray
    volts: ComplexArray

    def at(self, node: str, port: int = 0) -> ComplexArray:
        """A node's voltage, shape (..., F), per volt of EMF at the port of that number [V/V]."""
        return self.volts[self.nodes.index(node), port]


class _Matrix:
    """The equations as they are stamped: unknowns are the nodes' voltages, then some branches' currents."""

    def __init__(self, nodes: tuple[str, ...]) -> None:
        self.place = {node: n for n, node in enumerate(nodes)}
        self.size = len(nodes)
        self.entries: list[tuple[int, int, ComplexArray | float]] = []

    def current(self) -> int:
        """A further unknown, and the row of its equation."""
        self.size += 1
        return self.size - 1

    def voltage(self, row: int, a: str, b: str, factor: ComplexArray | float) -> None:
        """`factor` times the voltage from node a to node b in an equation."""
        for node, value in ((a, factor), (b, -factor)):
            if node != GROUND:
                self.entries.append((row, self.place[node], value))

    def flow(self, column: int, a: str, b: str, factor: float = 1.0) -> None:
        """`factor` times an unknown current leaves node a and enters node b."""
        for node, value in ((a, factor), (b, -factor)):
            if node != GROUND:
                self.entries.append((self.place[node], column, value))

    def admittance(self, a: str, b: str, value: ComplexArray | float) -> None:
        """An admittance [S] between two nodes."""
        for row, sign in ((a, 1), (b, -1)):
            if row != GROUND:
                self.voltage(self.place[row], a, b, sign * value)

    def whole(self, shape: tuple[int, ...]) -> ComplexArray:
        """The matrix, shape (*shape, size, size)."""
        matrix = np.zeros((self.size, self.size, *shape), dtype=complex)
        for row, column, value in self.entries:
            matrix[row, column] += value
        return np.moveaxis(matrix, (0, 1), (-2, -1))


def _stamped(circuit: Circuit, s: ComplexArray, values: Values) -> _Matrix:
    matrix = _Matrix(circuit.nodes)
    for branch in circuit.branches:
        part, nodes = branch.part, branch.nodes
        if isinstance(part, Transformer):
            row = matrix.current()
            matrix.flow(row, nodes[0], nodes[1])
            matrix.flow(row, nodes[2], nodes[3], -part.ratio)
            matrix.voltage(row, nodes[0], nodes[1], 1.0)
            matrix.voltage(row, nodes[2], nodes[3], -part.ratio)
        elif isinstance(part, CoupledCoils):
            _coupled(matrix, part, nodes, s, values)
        elif isinstance(part, Windings):
            _wound(matrix, part, nodes, s)
        elif isinstance(part, ControlledSource):
            for node, sign in ((nodes[0], 1), (nodes[1], -1)):
                if node != GROUND:
                    matrix.voltage(matrix.place[node], nodes[2], nodes[3], sign * part.siemens)
        elif isinstance(part, Part):
            _two_leads(matrix, part, nodes, s, values)
    for port in circuit.ports:
        matrix.admittance(port.node, GROUND, 1 / port.ohm)
    return matrix


def _two_leads(matrix: _Matrix, part: Part, nodes: tuple[str, ...], s: ComplexArray, values: Values) -> None:
    num, den = impedance(part, s, values)
    den = 1.0 if den is None else den
    if (part.kind == "crystal" and part.q is None) or not np.all(num):
        # V den = I num holds where either is zero, at the resonances of a lossless crystal.
        row = matrix.current()
        matrix.flow(row, nodes[0], nodes[1])
        matrix.voltage(row, nodes[0], nodes[1], den)
        matrix.entries.append((row, row, -num))
    else:
        matrix.admittance(nodes[0], nodes[1], den / num)


def _coupled(
    matrix: _Matrix, coils: CoupledCoils, nodes: tuple[str, ...], s: ComplexArray, values: Values
) -> None:
    rows = matrix.current(), matrix.current()
    lossy = s * (1 if coils.q is None else 1 - 1j / coils.q)
    parts_h = [np.asarray(values.get(part.ref, part.value), dtype=float) for part in coils.coils]
    primary_h, secondary_h = parts_h or (np.asarray(coils.primary_h), np.asarray(coils.secondary_h))
    coupling = np.asarray(values.get(coils.ref, coils.coupling), dtype=float)
    mutual = -s * (coupling * np.sqrt(primary_h * secondary_h))
    for own, other, start, own_h in (
        (rows[0], rows[1], 0, primary_h),
        (rows[1], rows[0], 2, secondary_h),
    ):
        matrix.flow(own, nodes[start], nodes[start + 1])
        matrix.voltage(own, nodes[start], nodes[start + 1], 1.0)
        matrix.entries += [(own, own, -lossy * own_h), (own, other, mutual)]


def _wound(matrix: _Matrix, windings: Windings, nodes: tuple[str, ...], s: ComplexArray) -> None:
    rows = [matrix.current() for _ in windings.henry]
    for n, row in enumerate(rows):
        start, end = nodes[2 * n], nodes[2 * n + 1]
        matrix.flow(row, start, end)
        matrix.voltage(row, start, end, 1.0)
        matrix.entries += [(row, rows[m], -s * windings.mutual_h(n, m)) for m in range(len(rows))]


def solve(circuit: Circuit, f_hz: ArrayLike, *, values: Values | None = None) -> NodalResponse | Unsolved:
    """S-parameters and node voltages of a circuit with at least one port, exactly.

    `f_hz` is the frequency grid, shape (F,), all positive [Hz]; `values` overrides part values as for
    `ladder.solve`. `Unsolved` names the nodes from which no current can flow, or the frequency at which
    ideal parts leave one undetermined.
    """
    for hardware, _ in circuit.hardware:
        if isinstance(hardware.device, Diode):
            return Unsolved(f"{hardware.ref} is a diode, through which no small signal is solved.")
        return Unsolved(f"{hardware.ref} stands in a supply, through which no signal is solved.")
    for of, word in ((circuit.transistors, "transistor"), (circuit.chips, "chip")):
        if of:
            return Unsolved(f"{of[0][0].ref} is a {word} and wants a bias first.")
    loose = without_path(circuit)
    if loose:
        which, have = ("Node", "has") if len(loose) == 1 else ("Nodes", "have")
        return Unsolved(
            f"{which} {', '.join(loose)} of the circuit {have} no path to ground; join "
            f"{'it' if len(loose) == 1 else 'them'} to the rest."
        )
    f = np.asarray(f_hz, dtype=float)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        stamped = _stamped(circuit, 2j * np.pi * f, values or {})
        shape = np.broadcast_shapes(f.shape, *(np.shape(value) for _, _, value in stamped.entries))
        matrix = stamped.whole(shape)
    driven = np.zeros((stamped.size, len(circuit.ports)))
    for n, port in enumerate(circuit.ports):
        driven[stamped.place[port.node], n] = 1 / port.ohm
    try:
        found = np.linalg.solve(matrix, driven)
    except np.linalg.LinAlgError:
        found = np.full((*shape, *driven.shape), np.nan, dtype=complex)
    if not np.isfinite(found).all():
        return Unsolved(_told(matrix, f))
    volts = np.moveaxis(found[..., : len(stamped.place), :], (-2, -1), (0, 1))
    ohm = np.array([port.ohm for port in circuit.ports])
    ports = [stamped.place[port.node] for port in circuit.ports]
    wave = 2 * np.sqrt(ohm[None, :] / ohm[:, None])
    s = volts[ports] * wave.reshape(*wave.shape, *(1 for _ in shape))
    s[np.arange(len(ports)), np.arange(len(ports))] -= 1
    return NodalResponse(frozen(f.copy()), circuit.nodes, frozen(s), frozen(np.array(volts)))


def _told(matrix: ComplexArray, f: Array) -> str:
    """The sentence on a matrix that has no solution at some of the frequencies."""
    usable = np.isfinite(matrix).all(axis=(-2, -1), keepdims=True)
    singular = np.asarray(np.linalg.matrix_rank(np.where(usable, matrix, 0)) < matrix.shape[-1])
    at = np.broadcast_to(f, singular.shape)[singular]
    where = f" at {at.flat[0] / 1e6:.6g} MHz" if at.size else ""
    return (
        f"The circuit has no single answer{where}: ideal parts in it leave a current undetermined; give them "
        "a loss or take one of them out."
    )
