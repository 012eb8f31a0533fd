"""An amplifier's parts for the gain, impedance and current that are asked.

Bias first, from the voltages a stage of its kind is given by custom; then degeneration and feedback, from the
closed form of an ideal transistor and Newton's method on the whole circuit; then preferred values, of which
those are taken that together come nearest to gain and match.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import exp, log
from types import MappingProxyType

from core.circuits.active.operating import Bias, bias
from core.circuits.circuit import Circuit
from core.model.stages.built_amplifier import READINGS, BuiltAmplifier, Topology
from core.model.stages.stage import Way
from core.model.transistors import OwnTransistor
from core.model.values.notation import significant
from core.model.values.part_names import NAMES
from core.record import record
from core.stages.amplifiers.coils import CHOKE, coils_of, note_of
from core.stages.amplifiers.solver import Solver
from core.stages.amplifiers.topologies import BOARDS, Key
from core.stages.gate import gate
from core.stages.nameless import nameless
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built
from core.stages.transistors import transistor
from core.stages.wound import Wound
from core.trade.devices import KIND_WORDS, Row

#: Which kind of transistor a circuit is for; the others are for bipolar ones.
_KINDS = {"common_source": "mosfet", "common_gate": "jfet", "source_follower": "jfet"}
#: Values are looked for at frequencies so far apart [nepers], so that turning the IF seldom searches anew.
_SEARCHED_EVERY = 0.01
#: Where an amplifier may be made for, Hz.
_LOWEST_HZ, _HIGHEST_HZ = 10e3, 1e9
#: Their gain follows from the current.
_FOLLOWERS_ONLY = ("emitter_follower", "source_follower")


@record(eq=False, kw_only=True)
class AmplifierDesign:
    """An amplifier's circuit on its resulting parts, at rest, with the gain asked [dB], None of a follower,
    and where [Hz]; `way` is the direction it works in where its parts work in the other one too, `wound` the
    windings on its core, by reference and which of a transformer's. Compared by identity, as all designs are.
    """

    topology: Topology
    transistor: Row
    circuit: Circuit
    parts: tuple[PartRow, ...]
    rest: Bias
    asked_db: float | None
    asked_at_hz: float
    way: Way | None = None
    span_hz: tuple[float, float] = (1e6, 60e6)
    wound: tuple[tuple[str, Wound], ...] = ()

    @property
    def supply_a(self) -> float:
        """What the stage takes from its supply, A."""
        return sum(self.rest.rails_a.values())

    @property
    def drawing(self) -> "AmplifierDesign":
        """Drawn as it is."""
        return self


def design(stage: BuiltAmplifier, own: Sequence[OwnTransistor] = ()) -> AmplifierDesign | Unsolved:
    """The stage's parts, on preferred values and as built, and its state at rest; `own` are the builder's
    own transistors.
    """
    of = transistor(stage.device, own)
    return of if isinstance(of, Unsolved) else _design(nameless(stage, *READINGS.values()), of)


@lru_cache(maxsize=64)
@gate("The amplifier")
def _design(stage: BuiltAmplifier, of: Row) -> AmplifierDesign | Unsolved:
    wanted = _KINDS.get(stage.topology, "bipolar")
    if of.kind != wanted:
        word = KIND_WORDS[wanted]
        kind = f"{word} transistor" if word == "bipolar" else word
        return Unsolved(
            f"This circuit is for a {kind} and {of.name} is none; choose another transistor for it.", "device"
        )
    values = _values(_for_search(stage), of)
    if isinstance(values, Unsolved):
        return values
    coils = coils_of(stage)
    if isinstance(coils, Unsolved):
        return coils
    (designed, preferred), solver = values, Solver(stage, of, coils)
    built = Built("amplifier", stage.as_built)
    rows, fitted = [], {}
    for slot in BOARDS[stage.topology]:
        kind, place = NAMES["amplifier"][slot.role].kind, (slot.role, slot.which)
        if kind == "transistor":
            rows.append(built.row(*place, 1.0, 1.0, of.name))
        elif kind == "transformer":
            assert solver.winding is not None
            ratio = solver.winding.ratio
            rows.append(built.row(*place, ratio, ratio, note_of(solver.winding, coils)))
        else:
            note = coils[CHOKE].note if slot.role == "choke" and coils else ""
            row = built.row(*place, designed[place], preferred[place], note)
            rows.append(row)
            fitted[place] = row.fitted
    circuit = solver.circuit(fitted)
    rest = bias(circuit)
    if isinstance(rest, Unsolved):
        return rest
    return AmplifierDesign(
        topology=stage.topology,
        transistor=of,
        circuit=circuit,
        parts=tuple(rows),
        rest=rest,
        asked_db=None if stage.topology in _FOLLOWERS_ONLY else stage.gain_db,
        asked_at_hz=stage.designed_at_hz,
        wound=tuple(coils.items()),
    )


def _for_search(stage: BuiltAmplifier) -> BuiltAmplifier:
    """The stage as its values are looked for: nothing is built, and its frequency is one of some that lie so
    near to each other that gain moves by some hundredths of a decibel from one to the next.
    """
    step = round(log(stage.designed_at_hz) / _SEARCHED_EVERY) * _SEARCHED_EVERY
    at_hz = min(max(significant(exp(step), 4), _LOWEST_HZ), _HIGHEST_HZ)
    return stage.edited(("as_built",), {}).edited(("designed_at_hz",), at_hz)


@lru_cache(maxsize=64)
def _values(stage: BuiltAmplifier, of: Row) -> tuple[Mapping[Key, float], Mapping[Key, float]] | Unsolved:
    """Exact and preferred values of the parts."""
    coils = coils_of(stage)
    if isinstance(coils, Unsolved):
        return coils
    solver = Solver(stage, of, coils)
    designed = solver.solved()
    if isinstance(designed, Unsolved):
        return designed
    preferred = solver.rounded(designed)
    if isinstance(preferred, Unsolved):
        return preferred
    return MappingProxyType(designed), MappingProxyType(preferred)
