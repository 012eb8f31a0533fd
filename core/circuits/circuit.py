"""The circuit description: what is soldered between which nodes.

Filters write it as a row of arms (`ladder.Network`, whose `circuit_of` gives the nodes), the VFO's tank
directly. Ladder solver, resonance, nodal solver, schematic, parts list and netlist read it. A part's role
and number tell what it is for; its reference is for people.
"""

from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import pi, sqrt
from typing import ClassVar, Literal

from core.circuits.devices.chips import GROUND as GROUND
from core.circuits.devices.chips import Chip, elements
from core.circuits.devices.hardware import Joined, Regulating
from core.circuits.units import BOLTZMANN
from core.record import record

PartKind = Literal["resistor", "inductor", "capacitor", "crystal", "coupling"]
#: Which one of its role: a number along the signal, or the name of what it is switched in for.
Which = int | str | None
#: Temperature of every transistor [K], 27 °C as circuit simulators have it, an electron's charge [C], and
#: the thermal voltage [V].
TEMPERATURE_K, ELECTRON = 300.15, 1.602176634e-19
THERMAL_V = BOLTZMANN * TEMPERATURE_K / ELECTRON


@record
class Part:
    """One component of two leads; a coupling of two coils has none.

    `value` is in SI units (ohm, henry, farad; for a crystal the series resonance in hertz; a coupling [-]).
    `q` is the unloaded quality factor, constant with frequency, None for no loss. A crystal has also its
    motional inductance (henry) and holder capacitance (farad); its `q` sets Rm at the series resonance.
    `role` says what it is for (the words are the stages', in `core.model.values.parts`) and `which` which one
    of those.
    """

    ref: str
    kind: PartKind
    value: float
    q: float | None = None
    motional_inductance_h: float = 0.0
    holder_capacitance_f: float = 0.0
    role: str = "other"
    which: Which = None


@record
class Transformer:
    """An ideal transformer of four leads; `ratio` is its first winding's turns over its second's [-]."""

    ref: str
    ratio: float
    role: str = "other"
    which: Which = None


@record
class CoupledCoils:
    """Two coils that share a field: four leads; both inductances [H], their coupling [-] up to 1, Q of each.

    `coils` are the two where they are parts of their own, as those beside each other are and windings of one
    transformer are not.
    """

    ref: str
    primary_h: float
    secondary_h: float
    coupling: float
    q: float | None = None
    role: str = "other"
    which: Which = None
    coils: tuple[Part, ...] = ()


@record
class Windings:
    """Windings of one transformer that all share a field: two leads each, start and end; inductance of each
    [H], and the coupling of any two of them [-], up to 1.
    """

    ref: str
    henry: tuple[float, ...]
    coupling: float
    role: str = "other"
    which: Which = None

    def mutual_h(self, a: int, b: int) -> float:
        """Inductance between two of them, by their number from 0 on [H]; of one with itself its own."""
        return self.henry[a] if a == b else self.coupling * sqrt(self.henry[a] * self.henry[b])


@record(kw_only=True)
class Bipolar:
    """A bipolar transistor; leads collector, base, emitter.

    `saturation_a` Is [A], current gains [-], `transition_hz` fT as stated at a collector current of
    `transition_at_a` [Hz, A], `feedback_f` Cob and `emitter_f` the emitter junction's capacitance [F],
    `base_ohm` the base resistance [ohm], `early_v` the Early voltage [V]. `sign` is 1 for npn, −1 for pnp.
    """

    saturation_a: float
    current_gain: float
    transition_hz: float
    transition_at_a: float
    feedback_f: float
    emitter_f: float
    base_ohm: float
    early_v: float
    reverse_gain: float = 1.0
    sign: int = 1
    takes_current: ClassVar[bool] = True
    leads: ClassVar[tuple[str, ...]] = ("collector", "base", "emitter")

    @property
    def transit_s(self) -> float:
        """Transit time TF [s]: 1/(2 pi fT) less what the two capacitances take at the current of fT."""
        taken = (self.feedback_f + self.emitter_f) * THERMAL_V / self.transition_at_a
        return 1 / (2 * pi * self.transition_hz) - taken


@record(kw_only=True)
class SquareLaw:
    """A field-effect transistor; leads drain, gate, source.

    `slope_a_v2` k [A/V²] (IDSS/Vp² of a JFET), `threshold_v` Vth, below zero for a JFET's Vp [V],
    `channel_per_v` lambda [1/V], and constant capacitances Cgs, Cgd, Cds [F]. `sign` is 1 for n-channel, −1
    for p-channel.
    """

    slope_a_v2: float
    threshold_v: float
    channel_per_v: float = 0.0
    gate_source_f: float = 0.0
    gate_drain_f: float = 0.0
    drain_source_f: float = 0.0
    sign: int = 1
    takes_current: ClassVar[bool] = False
    leads: ClassVar[tuple[str, ...]] = ("drain", "gate", "source")


#: What a diode's leads are called.
DIODE_LEADS = ("anode", "cathode")


@record(kw_only=True)
class Diode:
    """A diode: i = Is (exp(v/(n VT)) − 1) behind a series resistance; Is [A], n [-], Rs [ohm]."""

    saturation_a: float
    ideality: float
    series_ohm: float
    leads: ClassVar[tuple[str, ...]] = ("anode", "cathode")

    @property
    def slope_v(self) -> float:
        """n VT [V]."""
        return self.ideality * THERMAL_V


Device = Bipolar | SquareLaw


@record
class Transistor:
    """A transistor of three leads: collector, base, emitter, or drain, gate, source."""

    ref: str
    device: Device
    role: str = "transistor"
    which: Which = None


@record
class ControlledSource:
    """A current of `siemens` [S] times the voltage between two nodes, from one further node to another.

    Leads: where the current leaves, where it enters, plus and minus of the voltage.
    """

    ref: str
    siemens: float
    role: str = "other"
    which: Which = None


@record
class Hardware:
    """A component that no small signal is solved through: a connector, a fuse, a switch, a relay, a
    regulator, a diode. `leads` are what its leads are called, in the order of its nodes.
    """

    ref: str
    leads: tuple[str, ...]
    device: Joined | Regulating | Diode
    role: str = "other"
    which: Which = None


Component = Part | Transformer | CoupledCoils | Windings | Transistor | Chip | ControlledSource | Hardware


@record
class Branch:
    """A component soldered between nodes: two, three for a transistor, four for two windings (start and end
    of each) and for a controlled source, as many as it has leads for further windings, a chip and hardware.
    """

    part: Component
    nodes: tuple[str, ...]


@record
class Rail:
    """A node that the supply holds at a voltage [V], and at ground for signals."""

    node: str
    volt: float


@record
class Port:
    """Where a source or a load of `ohm` [ohm] stands, between a node and ground."""

    node: str
    ohm: float


@record
class Circuit:
    """Components between named nodes, `0` being ground, the ports, and the supply's rails; without ports
    nothing drives it.
    """

    branches: tuple[Branch, ...]
    ports: tuple[Port, ...] = ()
    rails: tuple[Rail, ...] = ()

    @property
    def nodes(self) -> tuple[str, ...]:
        """Every node but ground, in the order in which the branches and then the ports name them."""
        named = [node for branch in self.branches for node in branch.nodes]
        named += [port.node for port in self.ports]
        return tuple(node for node in dict.fromkeys(named) if node != GROUND)

    @property
    def transistors(self) -> tuple[tuple[Transistor, tuple[str, ...]], ...]:
        """Every transistor with its nodes."""
        return tuple((b.part, b.nodes) for b in self.branches if isinstance(b.part, Transistor))

    @property
    def chips(self) -> tuple[tuple[Chip, tuple[str, ...]], ...]:
        """Every chip with its nodes."""
        return tuple((b.part, b.nodes) for b in self.branches if isinstance(b.part, Chip))

    @property
    def hardware(self) -> tuple[tuple[Hardware, tuple[str, ...]], ...]:
        """All hardware with its nodes."""
        return tuple((b.part, b.nodes) for b in self.branches if isinstance(b.part, Hardware))

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every component of two leads; of coupled coils that are parts of their own these, and their
        coupling.
        """
        found: list[Part] = []
        for part in (branch.part for branch in self.branches):
            if isinstance(part, Part):
                found.append(part)
            elif isinstance(part, CoupledCoils) and part.coils:
                coupling = Part(part.ref, "coupling", part.coupling, role=part.role, which=part.which)
                found += [*part.coils, coupling]
        return tuple(found)

    def of_role(self, *roles: str) -> tuple[Branch, ...]:
        """The branches whose parts have one of these roles."""
        return tuple(branch for branch in self.branches if branch.part.role in roles)


def _joined(circuit: Circuit, at: Literal["signal", "dc"]) -> Iterator[tuple[str, str]]:
    """Pairs of nodes between which a current can flow."""
    for branch in circuit.branches:
        part, nodes = branch.part, branch.nodes
        if isinstance(part, Part):
            if at == "signal" or part.kind in ("resistor", "inductor"):
                yield nodes[0], nodes[1]
        elif isinstance(part, Transistor):
            # Into a gate no direct current flows.
            leads = nodes if at == "signal" or part.device.takes_current else (nodes[0], nodes[2])
            yield from pairwise(leads)
        elif isinstance(part, ControlledSource):
            continue
        elif isinstance(part, Hardware):
            yield from pairwise(nodes) if at == "signal" else _conducting(part, nodes)
        elif isinstance(part, Chip):
            yield from (into for into, across, _ in elements(part, nodes).sources if into == across)
        else:
            # Windings.
            yield from zip(nodes[::2], nodes[1::2], strict=True)
    for port in circuit.ports:
        yield port.node, GROUND
    for rail in circuit.rails:
        yield rail.node, GROUND


def _conducting(part: Hardware, nodes: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(part.device, Joined):
        yield from ((nodes[a], nodes[b]) for a, b, _ in part.device.through)
    else:
        yield nodes[0], nodes[1]


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


def without_bias(circuit: Circuit, loose: tuple[str, ...]) -> str | None:
    """The first electrode at one of the `loose` nodes, which no direct current reaches, in a sentence that
    names the parts that meet there; None where every transistor can have its bias.
    """
    placed: list[tuple[Transistor | Chip, tuple[str, ...]]] = [*circuit.transistors, *circuit.chips]
    for part, nodes in placed:
        for lead, node in zip(part.device.leads, nodes, strict=True):
            if node in loose:
                meet = [b.part.ref for b in circuit.branches if node in b.nodes and b.part is not part]
                beside = f", where only {' and '.join(meet)} end{'s' * (len(meet) == 1)}" if meet else ""
                return (
                    f"No direct current reaches the {lead} of {part.ref}{beside}; give it a resistor or a "
                    "choke."
                )
    return None
