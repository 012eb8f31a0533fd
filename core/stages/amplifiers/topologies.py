"""How amplifiers are soldered: each topology as its parts between nodes, by role and number.

A feedback stage divides its gain between the resistor under the emitter and the one from collector to base
(W. Hayward and others; from memory). Three transistors after W. Hayward and B. Kopski, from memory: the
followers keep the load from the first one's collector, so that either port hides what stands at the other.
"""

from collections.abc import Mapping, Sequence

from core.circuits.circuit import (
    GROUND,
    Branch,
    Circuit,
    Component,
    CoupledCoils,
    Device,
    Part,
    Port,
    Rail,
    Transistor,
)
from core.model.stages.built_amplifier import Topology
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import Family, Role, Which, valued
from core.record import record

RAIL = "supply"
Key = tuple[Role, Which]
#: Coupling of the windings of a small transformer on ferrite of high permeability [-]; common practice, no
#: source.
WINDINGS_COUPLING = 0.998


@record
class Slot:
    """A place on the board for a part of two leads, a transistor (collector, base, emitter or drain, gate,
    source), or the output transformer (both ends of either winding).
    """

    role: Role
    which: Which
    nodes: tuple[str, ...]


def _slot(role: Role, which: Which, *nodes: str) -> Slot:
    return Slot(role, which, nodes)


_FEEDBACK = (
    _slot("coupling", 1, "in", "b"),
    _slot("bias_upper", None, RAIL, "b"),
    _slot("bias_lower", None, "b", GROUND),
    _slot("feedback", None, "b", "f"),
    _slot("feedback_block", None, "f", "c"),
    _slot("transistor", 1, "c", "b", "e"),
    _slot("degeneration", None, "e", "x"),
    _slot("emitter", 1, "x", GROUND),
    _slot("bypass", None, "x", GROUND),
)
BOARDS: dict[Topology, tuple[Slot, ...]] = {
    "feedback": (*_FEEDBACK, _slot("choke", None, RAIL, "c"), _slot("coupling", 2, "c", "out")),
    "feedback_transformer": (
        *_FEEDBACK,
        _slot("output_transformer", None, RAIL, "c", GROUND, "t"),
        _slot("coupling", 2, "t", "out"),
    ),
    "three_transistors": (
        _slot("coupling", 1, "in", "b"),
        _slot("bias_upper", None, "e2", "b"),
        _slot("bias_lower", None, "b", GROUND),
        _slot("feedback", None, "b", "f"),
        _slot("feedback_block", None, "f", "e2"),
        _slot("transistor", 1, "c", "b", "e"),
        _slot("degeneration", None, "e", "x"),
        _slot("emitter", 1, "x", GROUND),
        _slot("bypass", None, "x", GROUND),
        _slot("collector", None, RAIL, "c"),
        _slot("transistor", 2, RAIL, "c", "e2"),
        _slot("emitter", 2, "e2", GROUND),
        _slot("transistor", 3, RAIL, "c", "e3"),
        _slot("emitter", 3, "e3", GROUND),
        _slot("output_resistor", None, "e3", "y"),
        _slot("coupling", 2, "y", "out"),
    ),
    "common_source": (
        _slot("coupling", 1, "in", "g"),
        _slot("bias_upper", None, RAIL, "g"),
        _slot("bias_lower", None, "g", GROUND),
        _slot("feedback", None, "g", "f"),
        _slot("feedback_block", None, "f", "d"),
        _slot("transistor", 1, "d", "g", "s"),
        _slot("degeneration", None, "s", "x"),
        _slot("source", None, "x", GROUND),
        _slot("bypass", None, "x", GROUND),
        _slot("choke", None, RAIL, "d"),
        _slot("coupling", 2, "d", "out"),
    ),
    "common_gate": (
        _slot("coupling", 1, "in", "s"),
        _slot("choke", None, "s", "k"),
        _slot("source", None, "k", GROUND),
        _slot("bypass", None, "k", GROUND),
        _slot("transistor", 1, "d", GROUND, "s"),
        _slot("output_transformer", None, RAIL, "d", GROUND, "t"),
        _slot("coupling", 2, "t", "out"),
    ),
    "emitter_follower": (
        _slot("coupling", 1, "in", "b"),
        _slot("bias_upper", None, RAIL, "b"),
        _slot("bias_lower", None, "b", GROUND),
        _slot("transistor", 1, RAIL, "b", "e"),
        _slot("emitter", 1, "e", GROUND),
        _slot("coupling", 2, "e", "out"),
    ),
    "source_follower": (
        _slot("coupling", 1, "in", "g"),
        _slot("bias_gate", None, "g", GROUND),
        _slot("transistor", 1, RAIL, "g", "s"),
        _slot("source", None, "s", GROUND),
        _slot("coupling", 2, "s", "out"),
    ),
}


@record
class Winding:
    """An output transformer: whole turns of the first winding for each of the second, and the second's
    inductance [H].
    """

    ratio: int
    secondary_h: float


def branches(
    slots: Sequence[Slot],
    values: Mapping[Key, float],
    device: Device,
    winding: Winding | None = None,
    family: Family = "amplifier",
) -> tuple[Branch, ...]:
    """What is soldered at these places, with these values [SI]; `family` gives the references."""
    made = []
    for slot in slots:
        ref, kind = reference(family, slot.role, slot.which), NAMES[family][slot.role].kind
        component: Component
        if kind == "transistor":
            component = Transistor(ref, device, slot.role, slot.which)
        elif kind == "transformer":
            assert winding is not None
            component = CoupledCoils(
                ref,
                winding.ratio**2 * winding.secondary_h,
                winding.secondary_h,
                WINDINGS_COUPLING,
                None,
                slot.role,
                slot.which,
            )
        else:
            value = values[slot.role, slot.which]
            component = Part(ref, valued(kind), value, role=slot.role, which=slot.which)
        made.append(Branch(component, slot.nodes))
    return tuple(made)


def soldered(
    topology: Topology,
    values: Mapping[Key, float],
    device: Device,
    around: tuple[float, float, float],
    winding: Winding | None = None,
) -> Circuit:
    """The circuit with these values [SI]; `around` is source and load [ohm] and the supply [V]."""
    source_ohm, load_ohm, supply_v = around
    ports = (Port("in", source_ohm), Port("out", load_ohm))
    return Circuit(branches(BOARDS[topology], values, device, winding), ports, (Rail(RAIL, supply_v),))
