"""Where a circuit with a crystal and one transistor oscillates, whether it starts, and how far it swings.

Taken apart are the transistor's own current and the branch with the crystal; the rest is solved node by node
about one frequency. With the voltage v between base and emitter (gate and source) the collector's current
Gm v and the base's drive that rest; they come back as v where 1/Gm = K(f). The imaginary part of 1/K is zero
where it oscillates, the real part there is the transconductance that just keeps it going, and how many times
the transistor has that at rest is the start-up margin. Derived here; for a Colpitts circuit without further
losses it is the textbooks' gm > w² C1 C2 R.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.active.amplitude import transconductance_s
from core.circuits.active.linear import Linear, around
from core.circuits.active.operating import Bias, bias
from core.circuits.circuit import Bipolar, Branch, Circuit, Part, SquareLaw
from core.circuits.ladder import Array, ComplexArray, Values, frozen, impedance
from core.circuits.unsolved import Unsolved
from core.record import record

#: The rest is solved at the middle and this share [-] to either side; a parabola between them is off by less
#: than a millihertz of what a crystal makes of it.
_APART = 4e-3
#: Rounds of so many frequencies that close in on the one of oscillation.
_ROUNDS, _GRID = 2, 33

#: Parts in series; several that stand together are in parallel.
InARow = Sequence[Part | tuple[Part, ...]]


@record(eq=False, kw_only=True, slots=False)
class Rest:
    """A circuit without its oscillating transistor's current and without the crystal's branch.

    `reach` (3, nodes, 3): every node's voltage [V] per ampere of collector current, base current and current
    of the branch, as a parabola over how far a frequency lies from `middle_hz`, in `_APART`s. `seen` (3, 2,
    3) is the same across the transistor's control and across the branch. `device` is the transistor's, `at_a`
    its collector or drain current at rest [A]; `linear` and the places of its `leads` and the
    branch's ends in it are what all this was solved of.
    """

    nodes: tuple[str, ...]
    middle_hz: float
    reach: ComplexArray
    seen: ComplexArray
    device: Bipolar | SquareLaw
    at_a: float
    linear: Linear
    leads: tuple[int, int, int, int, int]

    @property
    def transconductance_s(self) -> float:
        """At rest, S."""
        return transconductance_s(self.device, self.at_a)

    def far_off(self, f_hz: Array) -> "Rest | None":
        """The same at these frequencies alone, shape (F,) [Hz], however far from `middle_hz`; asked at no
        others, in this order. None where it has no answer.
        """
        solved = _reach(self.linear, f_hz, self.leads)
        if solved is None:
            return None
        seen = _across(solved, self.leads)
        still = [np.zeros_like(each) for each in (solved, seen)]
        return replace(
            self,
            reach=np.stack([solved, still[0], still[0]]),
            seen=np.stack([seen, still[1], still[1]]),
        )

    def holding(self, f_hz: ArrayLike, loss_ohm: ArrayLike) -> tuple[Array, Array]:
        """The reactance that a branch of so much loss [ohm] must have for the circuit to oscillate at a
        frequency [Hz], and the transconductance that this takes [S], of their common shape; NaN for none.

        With u the branch's impedance and the circuit's own, 1/K = u/(K0 u - P): its imaginary part is zero at
        the two roots of a quadratic in the reactance, of which the one with less transconductance is meant.
        """
        f, loss = np.broadcast_arrays(np.asarray(f_hz, dtype=float), np.asarray(loss_ohm, dtype=float))
        (k0, branch), (control, own) = self._seen(f)
        back = branch * control
        a = loss + own.real
        half = back.real / 2
        with np.errstate(all="ignore"):
            root = np.sqrt(half**2 - k0.imag * (k0.imag * a * a - a * back.imag))
            # Written so that a K0 without an imaginary part loses no digits.
            far = -(half + np.copysign(root, half))
            reach = np.stack([(k0.imag * a * a - a * back.imag) / far, far / k0.imag])
            u = a + 1j * reach
            needed = (u / (k0 * u - back)).real
        needed = np.where(needed > 0, needed, np.inf)
        at = np.argmin(needed, axis=0)[None]
        least = np.take_along_axis(needed, at, axis=0)[0]
        x = np.take_along_axis(reach, at, axis=0)[0] - own.imag
        sound = np.isfinite(least)
        return np.where(sound, x, np.nan), np.where(sound, least, np.nan)

    def volts(self, f_hz: float, branch_ohm: complex, control_v: float) -> ComplexArray:
        """Peak voltage of every node [V] where it oscillates with so much between its controls [V, peak]."""
        reach = self._at(self.reach, np.asarray(f_hz))
        drive = reach[:, 0]
        if isinstance(self.device, Bipolar):
            drive = drive + self._base(np.asarray(f_hz)) * reach[:, 1]
        (k0, branch), (control, own) = self._seen(np.asarray(f_hz))
        share = branch / (branch_ohm + own)
        found: ComplexArray = (drive - share * reach[:, 2]) * control_v / (k0 - share * control)
        return found

    def _base(self, f: Array) -> ComplexArray:
        """The base's current over the collector's [-]."""
        assert isinstance(self.device, Bipolar)
        found: ComplexArray = 1 / self.device.current_gain + 2j * pi * f * self.device.transit_s
        return found

    def _seen(self, f: Array) -> tuple[tuple[ComplexArray, ComplexArray], tuple[ComplexArray, ComplexArray]]:
        """Voltage across control and branch per ampere that the transistor gives, and per ampere put into the
        branch's ends [ohm], of the frequencies' shape.
        """
        seen = self._at(self.seen, f)
        drive = seen[..., 0]
        if isinstance(self.device, Bipolar):
            drive = drive + self._base(f)[..., None] * seen[..., 1]
        return (drive[..., 0], drive[..., 1]), (seen[..., 0, 2], seen[..., 1, 2])

    def _at(self, parabola: ComplexArray, f: Array) -> ComplexArray:
        x = ((f - self.middle_hz) / (_APART * self.middle_hz))[..., None, None]
        found: ComplexArray = parabola[0] + x * (parabola[1] + x * parabola[2])
        return found


def at_rest(circuit: Circuit) -> Bias | Unsolved:
    """The direct currents of a circuit, found without what carries none; so other capacitors and another
    crystal have the same.
    """
    carrying = tuple(
        branch
        for branch in circuit.branches
        if not (isinstance(branch.part, Part) and branch.part.kind in ("capacitor", "crystal"))
    )
    kept = {node for b in carrying for node in b.nodes}
    return bias(Circuit(carrying, tuple(p for p in circuit.ports if p.node in kept), circuit.rails))


def rest_of(
    circuit: Circuit, ref: str, row: InARow, ends: tuple[str, str], f_hz: float
) -> tuple[Rest, Bias] | Unsolved:
    """What is left of a circuit without the current of its transistor `ref` and without the parts in a `row`
    between two `ends`, about a frequency [Hz], and its bias.
    """
    gone = {id(part) for part in parts_of(row)}
    found = at_rest(Circuit(_without(circuit, gone), circuit.ports, circuit.rails))
    if isinstance(found, Unsolved):
        return found
    ((transistor, leads),) = ((t, nodes) for t, nodes in circuit.transistors if t.ref == ref)
    device, inner = transistor.device, f"{ref} inside"
    out, control, common = leads
    branches = (
        *_without(circuit, gone | {id(transistor)}),
        *_of_transistor(device, (out, control, common), inner),
    )
    linear = around(Circuit(branches, circuit.ports, circuit.rails), found)
    if isinstance(linear, Unsolved):
        return linear
    base = inner if isinstance(device, Bipolar) and device.base_ohm > 0 else control
    place = {node: n for n, node in enumerate(linear.nodes)}
    one, two, three, four, five = (place.get(node, -1) for node in (out, base, common, *ends))
    at = (one, two, three, four, five)
    solved = _reach(linear, f_hz * (1 + _APART * np.array([-1.0, 0.0, 1.0])), at)
    if solved is None:
        return Unsolved("The circuit has no single answer at this frequency; give its ideal parts a loss.")
    low, middle, high = solved
    reach = np.stack([middle, (high - low) / 2, (high + low) / 2 - middle])
    made = Rest(
        nodes=linear.nodes,
        middle_hz=f_hz,
        reach=frozen(reach),
        seen=frozen(_across(reach, at)),
        device=device,
        at_a=abs(found.transistors[ref].output_a),
        linear=linear,
        leads=at,
    )
    return made, found


def _without(circuit: Circuit, gone: set[int]) -> tuple[Branch, ...]:
    return tuple(branch for branch in circuit.branches if id(branch.part) not in gone)


def _of_transistor(device: Bipolar | SquareLaw, leads: tuple[str, str, str], inner: str) -> list[Branch]:
    """What of a transistor stays whatever its current is."""
    out, control, common = leads
    if isinstance(device, Bipolar):
        base = inner if device.base_ohm > 0 else control
        parts = [(device.emitter_f, base, common), (device.feedback_f, base, out)]
        kept = [] if base == control else [Branch(Part("", "resistor", device.base_ohm), (control, base))]
    else:
        parts = [
            (device.gate_source_f, control, common),
            (device.gate_drain_f, control, out),
            (device.drain_source_f, out, common),
        ]
        kept = []
    return [*kept, *(Branch(Part("", "capacitor", farad), (a, b)) for farad, a, b in parts if farad > 0)]


def _reach(linear: Linear, f: Array, leads: tuple[int, int, int, int, int]) -> ComplexArray | None:
    """Every node's voltage at frequencies (F,) [Hz] per ampere of collector current, base current and current
    of the branch, shape (F, nodes, 3) [V]; None for no single answer.
    """
    whole = linear.passive_at(f) + linear.active_at(f)
    for port, ohm in zip(linear.ports, linear.port_ohm, strict=True):
        if port >= 0:
            whole[:, port, port] += 1 / ohm
    out, base, common, one, other = leads
    driven = np.zeros((len(linear.nodes), 3))
    for column, (into, from_) in enumerate(((common, out), (common, base), (one, other))):
        for node, sign in ((into, 1.0), (from_, -1.0)):
            if node >= 0:
                driven[node, column] += sign
    try:
        found: ComplexArray = np.linalg.solve(whole, driven)
    except np.linalg.LinAlgError:
        return None
    return frozen(found) if np.isfinite(found).all() else None


def _across(reach: ComplexArray, leads: tuple[int, int, int, int, int]) -> ComplexArray:
    """Of voltages at the nodes (F, nodes, 3) those across the transistor's control and the branch."""
    _, base, common, one, other = leads
    padded = np.concatenate([reach, np.zeros((len(reach), 1, 3))], axis=1)
    found: ComplexArray = padded[:, [base, one]] - padded[:, [common, other]]
    return found


def in_row(row: InARow, f_hz: Array, values: Values) -> ComplexArray:
    """Impedance [ohm] of parts in series at `f_hz` [Hz]; `values` override theirs as of `ladder.solve`."""
    s = 2j * pi * f_hz
    total: ComplexArray = np.zeros(s.shape, dtype=complex)
    for each in row:
        if isinstance(each, Part):
            num, den = impedance(each, s, values)
            total = total + (num if den is None else num / den)
            continue
        siemens = 0.0
        for part in each:
            num, den = impedance(part, s, values)
            siemens = siemens + (1.0 if den is None else den) / num
        total = total + 1 / siemens
    return total


def parts_of(row: InARow) -> tuple[Part, ...]:
    """Every part of a row."""
    return tuple(part for each in row for part in ((each,) if isinstance(each, Part) else each))


def oscillates_at(
    rest: Rest,
    row: InARow,
    span_hz: tuple[float, float],
    values: Values | None = None,
    *,
    rounds: int = _ROUNDS,
) -> tuple[Array, Array]:
    """Frequency [Hz] at which a circuit with these parts in a row oscillates, between two, and the
    transconductance that it needs for that [S]; NaN where it cannot. `values` of shape (V,) or single ones
    give both a shape of (V,).

    The row's reactance rises with frequency, what the circuit wants hardly moves: where they meet. In each
    of so many `rounds` a thirtieth of the range is left, and a straight line in the last.
    """
    given = {name: np.asarray(value, dtype=float)[..., None] for name, value in (values or {}).items()}
    shape = np.broadcast_shapes((1,), *(each.shape[:-1] for each in given.values()))
    low, high = np.full(shape, span_hz[0]), np.full(shape, span_hz[1])
    share, good = np.linspace(0.0, 1.0, _GRID), np.ones(shape, dtype=bool)
    places = np.arange(len(low))
    with np.errstate(all="ignore"):
        for _ in range(rounds):
            f = low[:, None] + (high - low)[:, None] * share
            ohm = in_row(row, f, given)
            wanted, needed = rest.holding(f, ohm.real)
            beyond = ohm.imag - wanted
            crossed = (beyond[:, :-1] <= 0) & (beyond[:, 1:] > 0)
            at = np.argmax(crossed, axis=1)
            good &= crossed.any(axis=1)
            low, high = f[places, at], f[places, at + 1]
        one, two = beyond[places, at], beyond[places, at + 1]
        part = one / (one - two)
        needs = needed[places, at] + part * (needed[places, at + 1] - needed[places, at])
        found = low + part * (high - low)
    return np.where(good, found, np.nan), np.where(good, needs, np.nan)
