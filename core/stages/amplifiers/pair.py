"""A bilateral pair: two amplifiers of three transistors back to back on the same two terminals.

The one not in use is not fed. Its transistors carry no current, but their capacitances and the resistors
around them stay on the terminals: each half is made right with the other one off beside it, and every figure
comes from the circuit of both. Two-ports in parallel add their admittances, which makes the search quick.
"""

from collections.abc import Sequence
from functools import lru_cache
from math import log10

import numpy as np

from core.circuits.active.operating import bias
from core.circuits.active.two_port import TwoPort, parallel, two_port
from core.circuits.circuit import GROUND, Branch, Circuit, Port, Rail
from core.circuits.ladder import ComplexArray
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.stage import Way
from core.model.transistors import OwnTransistor
from core.model.values.part_names import NAMES
from core.model.values.parts import Role, Which
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.solver import Solver
from core.stages.amplifiers.topologies import BOARDS, RAIL, Key, Slot, branches
from core.stages.gate import gate
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built
from core.stages.transistors import transistor
from core.trade.devices import Row

#: The terminals: that of the antenna's side, where receive goes in, and the other one.
TERMINALS = ("antenna_side", "audio_side")
#: A direction to the other one.
OTHER: dict[Way, Way] = {"receive": "transmit", "transmit": "receive"}
#: Parts of a role in one half, where that has several: the transmit half's numbers go on from there.
_SEVERAL: dict[Role, int] = {"coupling": 2, "transistor": 3, "emitter": 3}
#: Where a ring is looked for, Hz.
_RING_HZ = np.geomspace(0.1e6, 1e9, 161)
#: A loop gain below this is as good as none [-].
_LEAST_LOOP = 1e-6

Values = dict[Key, float]


@record(eq=False, kw_only=True)
class PairDesign:
    """Both halves on their resulting parts, at rest in either direction.

    `halves` are the branches of the receive half and of the transmit half, `around` the resistance at the
    terminals [ohm] and the supply [V]. Compared by identity, as all designs are.
    """

    parts: tuple[PartRow, ...]
    receive: AmplifierDesign
    transmit: AmplifierDesign
    halves: dict[Way, tuple[Branch, ...]]
    around: tuple[float, float]
    span_hz: tuple[float, float] = (1e6, 60e6)

    @property
    def circuit(self) -> Circuit:
        """Both halves, the receive half fed."""
        return self.receive.circuit

    @property
    def drawing(self) -> "PairDesign":
        """Drawn as it is."""
        return self

    def rows(self, way: Way) -> dict[tuple[str, Which], PartRow]:
        """The parts of one half by their role and number in an amplifier by itself."""
        of = {(row.role, row.which): row for row in self.parts}
        return {
            (plain.role, plain.which): of[slot.role, slot.which]
            for slot, plain in zip(_BOARDS[way], BOARDS["three_transistors"], strict=True)
        }

    def on(self, way: Way) -> AmplifierDesign:
        """The amplifier that it is in a direction."""
        return self.receive if way == "receive" else self.transmit


def _number(role: Role, which: Which, way: Way) -> int:
    """A part's number in the pair, from that in an amplifier by itself."""
    if which is None:
        return 1 if way == "receive" else 2
    return int(which) + (0 if way == "receive" else _SEVERAL[role])


def _slots(way: Way) -> tuple[Slot, ...]:
    """The places of one half on the board."""
    ends = TERMINALS if way == "receive" else TERMINALS[::-1]
    names = {"in": ends[0], "out": ends[1], RAIL: f"{way}_{RAIL}", GROUND: GROUND}
    return tuple(
        Slot(
            slot.role,
            _number(slot.role, slot.which, way),
            tuple(names.get(node, f"{node}_{way}") for node in slot.nodes),
        )
        for slot in BOARDS["three_transistors"]
    )


_BOARDS: dict[Way, tuple[Slot, ...]] = {"receive": _slots("receive"), "transmit": _slots("transmit")}


class _Half(Solver):
    """One half, with the other one off beside it once that is known."""

    def __init__(self, stage: BilateralAmplifier, of: Row, way: Way) -> None:
        super().__init__(
            BuiltAmplifier(
                id=stage.id,
                name=stage.name,
                topology="three_transistors",
                device=stage.device,
                gain_db=stage.receive_gain_db if way == "receive" else stage.transmit_gain_db,
                system_ohm=stage.system_ohm,
                current_a=stage.current_a,
                supply_v=stage.supply_v,
                designed_at_hz=stage.designed_at_hz,
                resistors=stage.resistors,
            ),
            of,
        )
        self.beside: TwoPort | None = None

    def two_port(self, values: Values) -> TwoPort | Unsolved:  # type: ignore[override]
        """What the terminals show where the gain is wanted, the other half off."""
        alone = super().two_port(values)
        return alone if self.beside is None or isinstance(alone, Unsolved) else parallel(alone, self.beside)

    def off(self, values: Values) -> TwoPort | Unsolved:
        """What this half does to a signal that goes the other way while it is not fed."""
        fed = self.circuit(values)
        dead = Circuit(fed.branches, fed.ports[::-1], tuple(Rail(rail.node, 0.0) for rail in fed.rails))
        return two_port(dead, [self.stage.designed_at_hz])


def _field(way: Way, why: Unsolved) -> str:
    """Which field of the pair is at fault where that one of a half is."""
    return f"{way}_{why.field}" if why.field == "gain_db" else why.field


def _solved(stage: BilateralAmplifier, of: Row) -> dict[Way, tuple[Values, Values]] | Unsolved:
    """Exact and preferred values of either half."""
    halves = {way: _Half(stage, of, way) for way in OTHER}
    alone: dict[Way, Values] = {}
    found: dict[Way, tuple[Values, Values]] = {}
    for way, half in halves.items():
        values = half.solved()
        if isinstance(values, Unsolved):
            return Unsolved(f"In {way}: {values.reason}", _field(way, values))
        alone[way] = values
    for way, half in halves.items():
        # The half found first stands beside the second one as it will be soldered.
        other = OTHER[way]
        beside = halves[other].off(found[other][1] if other in found else alone[other])
        if isinstance(beside, Unsolved):
            return beside
        half.beside = beside
        exact = half.matched(alone[way])
        if isinstance(exact, Unsolved):
            return Unsolved(f"In {way}, with the other half beside it: {exact.reason}", _field(way, exact))
        preferred = half.rounded(exact)
        if isinstance(preferred, Unsolved):
            return preferred
        found[way] = (exact, preferred)
    return found


def design(stage: BilateralAmplifier, own: Sequence[OwnTransistor] = ()) -> PairDesign | Unsolved:
    """The parts of both halves, on preferred values and as built, and their state at rest either way; `own`
    are the builder's own transistors.
    """
    of = transistor(stage.device, own)
    return of if isinstance(of, Unsolved) else _design(stage, of)


@lru_cache(maxsize=64)
@gate("The bilateral amplifier")
def _design(stage: BilateralAmplifier, of: Row) -> PairDesign | Unsolved:
    found = _solved(stage, of) if of.kind == "bipolar" else _NEEDS_BIPOLAR
    if isinstance(found, Unsolved):
        return found
    built, rows, halves = Built("pair", stage.as_built), [], {}
    for way, (exact, preferred) in found.items():
        fitted: Values = {}
        for slot, plain in zip(_BOARDS[way], BOARDS["three_transistors"], strict=True):
            place, origin = (slot.role, slot.which), (plain.role, plain.which)
            if NAMES["pair"][slot.role].kind == "transistor":
                rows.append(built.row(*place, 1.0, 1.0, of.name))
            else:
                row = built.row(*place, exact[origin], preferred[origin])
                rows.append(row)
                fitted[place] = row.fitted
        halves[way] = branches(_BOARDS[way], fitted, of.model, family="pair")
    around = (stage.system_ohm, stage.supply_v)
    made: dict[Way, AmplifierDesign] = {}
    for way in OTHER:
        circuit = _circuit(halves, around, way, {way})
        rest = bias(circuit)
        if isinstance(rest, Unsolved):
            return rest
        made[way] = AmplifierDesign(
            topology="three_transistors",
            transistor=of,
            circuit=circuit,
            parts=tuple(rows),
            rest=rest,
            asked_db=stage.receive_gain_db if way == "receive" else stage.transmit_gain_db,
            asked_at_hz=stage.designed_at_hz,
            way=way,
        )
    return PairDesign(
        parts=tuple(rows),
        receive=made["receive"],
        transmit=made["transmit"],
        halves=halves,
        around=around,
    )


_NEEDS_BIPOLAR = Unsolved(
    "A bilateral amplifier is made of bipolar transistors; choose another one for it.", "device"
)


def _circuit(
    halves: dict[Way, tuple[Branch, ...]], around: tuple[float, float], way: Way, fed: set[Way]
) -> Circuit:
    """These halves between the terminals as the signal goes through them; those in `fed` are fed."""
    ohm, volt = around
    ends = TERMINALS if way == "receive" else TERMINALS[::-1]
    rails = tuple(Rail(f"{half}_{RAIL}", volt if half in fed else 0.0) for half in halves)
    return Circuit(sum(halves.values(), ()), tuple(Port(end, ohm) for end in ends), rails)


@record(kw_only=True)
class Ring:
    """The gain once round a pair, forth through one half and back through the other one: its part in phase
    [dB], where that is largest [Hz]; both terminals stand in the system resistance.

    `receive_db` and `transmit_db` with only that half fed, `both_db` with both, as by a faulty switch. At
    0 dB or more it can howl.
    """

    receive_db: float
    receive_hz: float
    transmit_db: float
    transmit_hz: float
    both_db: float
    both_hz: float

    def on(self, way: Way) -> tuple[float, float]:
        """Gain [dB] and frequency [Hz] with the half of a direction fed."""
        return (
            (self.receive_db, self.receive_hz)
            if way == "receive"
            else (
                self.transmit_db,
                self.transmit_hz,
            )
        )


@lru_cache(maxsize=64)
@gate("The ring of the pair")
def ring(made: PairDesign) -> Ring | Unsolved:
    """The loop gain of a pair, 0.1 MHz to 1 GHz.

    With the admittances Y of both halves together and Ya, Yb at its terminals with their ends, the equations
    of the two nodes have a solution without a source where Y12 Y21 = Ya Yb; their ratio is the gain round the
    loop (derived here). It cannot turn round 1 where its part in phase stays below 1 (H. Nyquist, Bell Syst.
    Tech. J. 11 (1932) 126, from memory).
    """
    shown: dict[tuple[Way, bool], ComplexArray] = {}
    for way in OTHER:
        for is_fed in (True, False):
            alone = {way: made.halves[way]}
            port = two_port(_circuit(alone, made.around, "receive", {way} if is_fed else set()), _RING_HZ)
            if isinstance(port, Unsolved):
                return port
            shown[way, is_fed] = port.admittances()
    ends = 1 / made.around[0]
    found: dict[str, float] = {}
    for name, fed in (("receive", {"receive"}), ("transmit", {"transmit"}), ("both", set(OTHER))):
        y = shown["receive", "receive" in fed] + shown["transmit", "transmit" in fed]
        loop = y[:, 0, 1] * y[:, 1, 0] / ((y[:, 0, 0] + ends) * (y[:, 1, 1] + ends))
        at = int(np.argmax(loop.real))
        level = 20 * log10(max(float(loop[at].real), _LEAST_LOOP))
        found |= {f"{name}_db": level, f"{name}_hz": float(_RING_HZ[at])}
    return Ring(**found)


def amplifiers_in(made: object) -> tuple[AmplifierDesign, ...]:
    """The amplifiers that a design is: one, or one in each direction; none where it is something else."""
    if isinstance(made, PairDesign):
        return made.receive, made.transmit
    return (made,) if isinstance(made, AmplifierDesign) else ()
