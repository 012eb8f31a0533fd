"""The circuit description: what is soldered between which nodes.

Filters write it as a row of arms (`ladder.Network`, whose `circuit_of` gives the nodes), the VFO's tank
directly. Ladder solver, resonance, nodal solver, schematic, parts list and netlist read it. A part's role
and number tell what it is for; its reference is for people.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

PartKind = Literal["resistor", "inductor", "capacitor", "crystal"]
#: Which one of its role: a number along the signal, or the name of what it is switched in for.
Which = int | str | None
GROUND = "0"


@dataclass(frozen=True, slots=True)
class Part:
    """One component of two leads.

    `value` is in SI units (ohm, henry, farad; for a crystal the series resonance in hertz). `q` is the
    unloaded quality factor, constant with frequency, None for no loss. A crystal has also its motional
    inductance (henry) and holder capacitance (farad); its `q` sets Rm at the series resonance. `role` says
    what it is for (the words are the stages', in `core.model.values.parts`) and `which` which one of those.
    """

    ref: str
    kind: PartKind
    value: float
    q: float | None = None
    motional_inductance_h: float = 0.0
    holder_capacitance_f: float = 0.0
    role: str = "other"
    which: Which = None


@dataclass(frozen=True, slots=True)
class Transformer:
    """An ideal transformer of four leads; `ratio` is its first winding's turns over its second's [-]."""

    ref: str
    ratio: float
    role: str = "other"
    which: Which = None


@dataclass(frozen=True, slots=True)
class CoupledCoils:
    """Two coils on one core: four leads; both inductances [H], their coupling [-] up to 1, Q of each."""

    ref: str
    primary_h: float
    secondary_h: float
    coupling: float
    q: float | None = None
    role: str = "other"
    which: Which = None


@dataclass(frozen=True, slots=True)
class Branch:
    """A component soldered between nodes: two, or four for two windings (start and end of each)."""

    part: Part | Transformer | CoupledCoils
    nodes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Port:
    """Where a source or a load of `ohm` [ohm] stands, between a node and ground."""

    node: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Circuit:
    """Components between named nodes, `0` being ground, and the ports; without ports nothing drives it."""

    branches: tuple[Branch, ...]
    ports: tuple[Port, ...] = ()

    @property
    def nodes(self) -> tuple[str, ...]:
        """Every node but ground, in the order in which the branches and then the ports name them."""
        named = [node for branch in self.branches for node in branch.nodes]
        named += [port.node for port in self.ports]
        return tuple(node for node in dict.fromkeys(named) if node != GROUND)

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every component of two leads."""
        return tuple(branch.part for branch in self.branches if isinstance(branch.part, Part))

    def of_role(self, *roles: str) -> tuple[Branch, ...]:
        """The branches whose parts have one of these roles."""
        return tuple(branch for branch in self.branches if branch.part.role in roles)


def _joined(circuit: Circuit, at: Literal["signal", "dc"]) -> Iterator[tuple[str, str]]:
    """Pairs of nodes between which a current can flow."""
    for branch in circuit.branches:
        if isinstance(branch.part, Part):
            if at == "signal" or branch.part.kind in ("resistor", "inductor"):
                yield branch.nodes[0], branch.nodes[1]
        else:
            yield branch.nodes[0], branch.nodes[1]
            yield branch.nodes[2], branch.nodes[3]
    for port in circuit.ports:
        yield port.node, GROUND


def _apart(nodes: Iterable[str], joined: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """The nodes that no row of joined pairs leads to ground."""
    beside: dict[str, list[str]] = {}
    for a, b in joined:
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    reached, queue = {GROUND}, [GROUND]
    while queue:
        fresh = [node for node in beside.get(queue.pop(), ()) if node not in reached]
        reached.update(fresh)
        queue += fresh
    return tuple(node for node in nodes if node not in reached)


def without_path(circuit: Circuit) -> tuple[str, ...]:
    """Nodes from which no current of any frequency reaches ground: their voltage is undetermined."""
    return _apart(circuit.nodes, _joined(circuit, "signal"))


def without_dc_path(circuit: Circuit) -> tuple[str, ...]:
    """Nodes from which no direct current reaches ground.

    Harmless between capacitors of a filter; a transistor's electrode there has no bias.
    """
    return _apart(circuit.nodes, _joined(circuit, "dc"))
