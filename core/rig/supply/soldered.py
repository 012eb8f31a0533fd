"""The supply as it is soldered: from the source's lead to every rail, one circuit of parts between nodes.

The fuse stands at the source's end of the lead; behind connector and switch come what stands against wrong
polarity, suppressor and smoothing, and then regulators, rails that are on in one direction only, and relays
with what drives them. Rails are switched by the relay that switches supplies, where there is one, else by
transistors. The lines that tell them to, high while the rig receives or transmits, come from the key by what
makes its sequence; they are no part of it. Values of resistors are by custom, no source.
"""

from collections.abc import Iterator
from functools import cached_property, lru_cache
from math import exp, inf, log
from typing import Literal

from core.circuits.circuit import (
    GROUND,
    THERMAL_V,
    Branch,
    Circuit,
    Diode,
    Hardware,
    Part,
    Port,
    Rail,
    Transistor,
)
from core.circuits.devices.hardware import Joined, Regulating
from core.model.stages.stage import Way
from core.model.supply.supply import Regulator, Relay
from core.model.values.notation import format_value
from core.model.values.parts import NAMES, UNIT_OF_KIND, Role, Which, reference, valued
from core.record import record
from core.rig.analysis import Analysis
from core.rig.plan.surroundings import shelf
from core.rig.supply.consumers import WAYS, Consumer, Feeding, feeding
from core.rig.supply.state import State, coil_a, fuse_row, is_on, loop_ohm, state
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow
from core.trade.bodies.packages import transistors
from core.trade.devices import devices
from core.trade.series import preferred
from core.trade.supply.feeding import (
    PolarityDiodeRow,
    fuse_types,
    polarity_diodes,
    polarity_mosfets,
    regulators,
    supply_parts,
)

#: What its nodes are called: the source's plus, behind the lead, behind the switch, and the rig's supply.
SOURCE, LEAD, SWITCHED, RIG = "source", "lead", "switched", "rig"
#: Where a line comes in that is high while the rig does so.
LINES: dict[Way, str] = {"receive": "receive line", "transmit": "transmit line"}
#: A base gets so much of the collector's current, at most [-], and at least so much of it in a driver [A].
_BASE_SHARE, _LEAST_BASE_A = 1 / 20, 0.5e-3
#: A junction's voltage [V], and what a small pnp transistor drops when it is driven hard [V]; from memory.
_BASE_V, _SATURATED_V = 0.7, 0.15
#: Up to this a rail is switched by a small pnp transistor [A].
_SMALL_RAIL_A = 0.05
#: Up to this a coil is driven by a small transistor [A].
_SMALL_COIL_A = 0.1
#: From gate or base to its supply, and into the base of what pulls it down [ohm].
_PULL_OHM, _BASE_OHM = 10e3, 10e3
#: From gate to ground, bare and with a Zener diode across, and between output and adjustment of a regulator
#: [ohm].
_GATE_OHM, _CLAMPED_OHM, _UPPER_OHM = 100e3, 10e3, (240.0, 220.0, 200.0, 180.0, 270.0)
#: What keeps a gate in bounds [V], and a coil's diode.
_GATE_ZENER_V, _DIODE = 12, "1n4001"
_OPEN = Joined()
#: A package, the order in which its leads stand, empty where that does not matter or nobody knows it, and
#: where that order is from.
Body = tuple[str, tuple[str, ...], str]


#: The pieces that its drawing falls into: from lead to regulators, rails that are switched, relays, and
#: decoupling.
Piece = Literal["feeds", "rails", "relays", "decoupling"]


@record(kw_only=True)
class RailSwitch:
    """A rail that is on in one direction only: its number, from which node to which it is switched, when,
    by what, who hangs on it, the most that it carries and what it carries at rest [A], and what is lost
    across the switch then [V].
    """

    number: int
    source: str
    node: str
    way: Way
    by: str
    names: tuple[str, ...]
    ampere: float
    lost_v: float
    rest_a: float
    rest_lost_v: float


@record(kw_only=True)
class Hanging:
    """Somebody who hangs on a node: its name, the node, whether it is fed in receive and in transmit, and its
    current [A] and voltage [V] there at rest, None where it is not fed or nobody knows.
    """

    name: str
    node: str
    ways: tuple[bool, bool]
    ampere: tuple[float | None, float | None]
    volt: tuple[float | None, float | None]


@record(kw_only=True, eq=False, slots=False)
class SupplyDesign:
    """The circuit, its parts, rails that are switched, and who hangs on each node.

    `circuit` has every contact as it stands in receive. Compared by identity, as it comes out of a cache.
    """

    feeding: Feeding
    branches: tuple[Branch, ...]
    parts: tuple[PartRow, ...]
    switches: tuple[RailSwitch, ...]
    hanging: tuple[Hanging, ...]
    bodies: dict[str, Body]

    @property
    def drawing(self) -> "SupplyDesign":
        """What its schematic is drawn of."""
        return self

    @property
    def span_hz(self) -> tuple[float, float]:
        """Nothing is drawn over frequency; hum and speech [Hz]."""
        return 50.0, 3e3

    @cached_property
    def circuit(self) -> Circuit:
        """Nodes and parts, as it stands in receive."""
        return self.on("receive")

    @property
    def on_board(self) -> Circuit:
        """The same from the connector on: the lead comes in at its only port, and from rails wires go out."""
        made = self.circuit
        connector = next(b for b in self.branches if b.part.role == "supply_connector")
        return Circuit(made.branches, (Port(connector.nodes[0], 0.0),), made.rails)

    def on(self, way: Way) -> Circuit:
        """The same with contacts as they stand in a direction; who is fed there is a load that takes what it
        takes at rest, and what is held is told in `rails` [V].
        """
        of, at = self.feeding, _at(self.feeding, way)
        branches = tuple(_standing(branch, way, of) for branch in self.branches)
        ports = [Port(SOURCE, loop_ohm(of.supply) - _fuse_ohm(of))]
        for each in self.hanging:
            ampere, volt = each.ampere[WAYS.index(way)], each.volt[WAYS.index(way)]
            ports.append(Port(each.node, volt / ampere if ampere and volt else inf))
        rails = [Rail(RIG, at.rig_v)]
        rails += [Rail(each.regulator.name, each.output_v) for each in at.regulators]
        rails += [
            Rail(each.node, at.rail_v("" if each.source == RIG else each.source) if each.way == way else 0.0)
            for each in self.switches
        ]
        return Circuit(branches, tuple(ports), tuple(rails))

    @property
    def transistor_switches(self) -> tuple[RailSwitch, ...]:
        """The rails that no relay switches."""
        return tuple(each for each in self.switches if each.by != "relay")

    def of_role(self, role: Role) -> tuple[Branch, ...]:
        """The branches whose parts are for that, by their number."""
        return tuple(branch for branch in self.branches if branch.part.role == role)

    def parts_of(self, role: str, which: Which) -> tuple[PartRow, ...]:
        """The rows of the parts that are that."""
        return tuple(row for row in self.parts if (row.role, row.which) == (role, which))

    def drawn_in(self, piece: Piece) -> int:
        """Of how many parts a piece of its drawing is made."""
        return {
            "feeds": 1 + len(self.of_role("regulator")),
            "rails": len(self.transistor_switches),
            "relays": len(self.of_role("relay")),
            "decoupling": len(self.of_role("decoupling_capacitor")),
        }[piece]

    def nodes_of(self, role: str, which: Which) -> tuple[str, ...]:
        """Between which nodes a part is soldered."""
        return next(b.nodes for b in self.branches if (b.part.role, b.part.which) == (role, which))

    def on_node(self, node: str) -> tuple[Hanging, ...]:
        """Who hangs on a node, those behind a decoupling of their own too."""
        own = {branch.nodes[1] for branch in self.branches if _leads_off(branch, node)}
        return tuple(each for each in self.hanging if each.node == node or each.node in own)


def told_of(design: SupplyDesign, node: str) -> tuple[str, ...]:
    """Who hangs on a node, each with its current at rest where it is fed."""
    found = []
    for each in design.on_node(node):
        known = next((a for a in each.ampere if a is not None), None)
        found.append(each.name if not known else f"{each.name} {format_value(known, 'A', 2)}")
    return tuple(found)


def _leads_off(branch: Branch, node: str) -> bool:
    return branch.part.role in ("decoupling_resistor", "decoupling_choke") and branch.nodes[0] == node


@lru_cache(maxsize=64)
def _at(of: Feeding, way: Way) -> State:
    return state(of, of.nominal_v, way, full=False)


def _fuse_ohm(of: Feeding) -> float:
    row = fuse_row(of.supply)
    return 0.0 if row is None else row.cold_ohm


def _standing(branch: Branch, way: Way, of: Feeding) -> Branch:
    """A relay or a switch of a rail as it stands in a direction."""
    part = branch.part
    if not isinstance(part, Hardware) or part.role not in ("relay", "rail_switch"):
        return branch
    if part.role == "relay":
        relay = of.supply.relays[int(part.which or 1) - 1]
        return Branch(_with(part, _contacts(relay, part.leads, way)), branch.nodes)
    on = branch.nodes[1].endswith(way)
    return branch if on else Branch(_with(part, _OPEN), branch.nodes)


def _with(part: Hardware, device: Joined) -> Hardware:
    return Hardware(part.ref, part.leads, device, part.role, part.which)


def _contacts(relay: Relay, leads: tuple[str, ...], way: Way) -> Joined:
    """The coil, and each change-over to the side at which it stands."""
    through = [(0, 1, relay.coil_ohm)]
    rest = "open" if is_on(relay.powered, way) else "closed"
    for pole in range((len(leads) - 2) // 3):
        first = 2 + 3 * pole
        through.append((first, first + (2 if rest == "open" else 1), 0.0))
    return Joined(tuple(through))


@lru_cache(maxsize=16)
def supply_design(of: Feeding, shelf: Shelf = ALL_BOUGHT) -> SupplyDesign:
    """The supply of a rig; capacitors of the `shelf` are taken where they are no smaller than is wanted."""
    made = _Making(of, shelf)
    made.entrance()
    made.regulators()
    made.switched()
    made.relays()
    made.consumers()
    return SupplyDesign(
        feeding=of,
        branches=tuple(made.branches),
        parts=tuple(made.parts),
        switches=tuple(made.switches.values()),
        hanging=tuple(made.hanging),
        bodies=made.bodies,
    )


def supply_soldered(analysis: Analysis) -> SupplyDesign | None:
    """The supply of a rig, with the junk box first where that is wanted; None where none is planned."""
    of, box = feeding(analysis), analysis.project.junk_box
    return None if of is None else supply_design(of, shelf(box) if box.first else ALL_BOUGHT)


class _Making:
    """The circuit while it is put together."""

    def __init__(self, of: Feeding, shelf: Shelf) -> None:
        self.of, self.supply, self.shelf = of, of.supply, shelf
        self.branches: list[Branch] = []
        self.parts: list[PartRow] = []
        self.hanging: list[Hanging] = []
        self.bodies: dict[str, Body] = {}
        self.switches = {each.node: each for each in _rail_switches(of)}

    # -- parts ------------------------------------------------------------------------------------

    def part(
        self,
        role: Role,
        which: Which,
        nodes: tuple[str, str],
        value: float,
        note: str = "",
        exact: float = 0.0,
    ) -> None:
        """A resistor, capacitor or choke; `exact` is what was computed, where that is another value."""
        kind, ref = valued(NAMES["supply"][role].kind), reference("supply", role, which)
        if kind == "capacitor":
            exact, value = value, self.shelf.ample(value)
            self.shelf = self.shelf.without((value,))
        self.branches.append(Branch(Part(ref, kind, value, role=role, which=which), nodes))
        self._row(role, which, value, note, designed=exact or value)

    def typed(
        self,
        role: Role,
        which: Which,
        nodes: tuple[str, ...],
        leads: tuple[str, ...],
        device: Joined | Regulating | Diode,
        *,
        type: str,
        note: str = "",
        body: Body = ("diode_power", (), ""),
        value: float = 1.0,
    ) -> None:
        """What has a type instead of a value; `body` is its package with the order of its leads."""
        ref = reference("supply", role, which)
        self.branches.append(Branch(Hardware(ref, leads, device, role, which), nodes))
        self.bodies[ref] = body
        self._row(role, which, value, note, type=type)

    def npn(self, role: Role, which: Which, nodes: tuple[str, str, str], name: str) -> None:
        """A transistor that pulls something down, emitter at ground."""
        row = devices()[name]
        self.branches.append(
            Branch(Transistor(reference("supply", role, which), row.model, role, which), nodes)
        )
        self._row(role, which, 1.0, row.name, type=row.name)

    def _row(
        self, role: Role, which: Which, value: float, note: str, *, type: str = "", designed: float = 0.0
    ) -> None:
        kind = NAMES["supply"][role].kind
        self.parts.append(
            PartRow(
                ref=reference("supply", role, which),
                kind=kind,
                designed=designed or value,
                preferred=value,
                as_built=None,
                unit=UNIT_OF_KIND[kind],
                note=note or type,
                role=role,
                which=which,
                type=type,
            )
        )

    # -- from the source to the rig ---------------------------------------------------------------

    def entrance(self) -> None:
        """Fuse, connector, switch, what stands against wrong polarity, suppressor and smoothing."""
        supply, table = self.supply, supply_parts()
        fuse, lead = supply.fuse, LEAD
        if fuse is None:
            lead = SOURCE
        else:
            joined = Joined(((0, 1, _fuse_ohm(self.of)),))
            name = f"{fuse_types()[fuse.type].name}, {fuse.rated_a:g} A"
            note = f"{name}, in the lead at the source's end"
            self.typed(
                "fuse",
                None,
                (SOURCE, LEAD),
                ("one", "other"),
                joined,
                type=name,
                note=note,
                value=fuse.rated_a,
            )
        connector = table[supply.connector]
        bears = f"bears {connector.bears_a:g} A"
        self.typed(
            "supply_connector",
            None,
            (lead, GROUND),
            ("plus", "minus"),
            _OPEN,
            type=connector.name,
            note=f"{connector.name}, {bears}",
            body=(connector.package, (), ""),
        )
        into = lead
        if supply.on_switch != "none":
            switch = table[supply.on_switch]
            into = SWITCHED
            self.typed(
                "on_switch",
                None,
                (lead, SWITCHED),
                ("one", "other"),
                Joined(((0, 1, 0.0),)),
                type=switch.name,
                note=f"{switch.name}, bears {switch.bears_a:g} A",
                body=(switch.package, (), ""),
            )
        self._polarity(into)
        if supply.suppressor != "none":
            row = table[supply.suppressor]
            diode = Diode(saturation_a=1e-12, ideality=1.0, series_ohm=0.0)
            note = f"{row.name}, leaves {row.leaves_v:g} V alone and lets no more than {row.most_v:g} V pass"
            body = (row.package, (), "")
            self.typed(
                "suppressor", None, (GROUND, RIG), _DIODE_LEADS, diode, type=row.name, note=note, body=body
            )
        if supply.smoothing_f is not None:
            self.part("smoothing", None, (RIG, GROUND), supply.smoothing_f)

    def _polarity(self, into: str) -> None:
        asked = self.supply.polarity
        row = polarity_diodes()[asked.diode]
        body: Body = (row.package, (), "")
        device = diode_of(row)
        if asked.scheme == "series_diode":
            self.typed("polarity_diode", None, (into, RIG), _DIODE_LEADS, device, type=row.name, body=body)
            return
        if asked.scheme == "p_mosfet":
            mosfet = polarity_mosfets()[asked.mosfet]
            leads = ("drain", "source", "gate")
            joined = Joined(((0, 1, mosfet.on_ohm),))
            body = (mosfet.package, mosfet.order, mosfet.status)
            nodes = (into, RIG, "gate")
            self.typed("polarity_mosfet", None, nodes, leads, joined, type=mosfet.name, body=body)
            ohm = _CLAMPED_OHM if asked.gate_clamped else _GATE_OHM
            self.part("polarity_gate", None, ("gate", GROUND), ohm)
            if asked.gate_clamped:
                self._zener("polarity_zener", None, ("gate", RIG), _GATE_ZENER_V)
            return
        # Nothing in the lead: the rig hangs on the wire itself.
        self._merge(into, RIG)
        if asked.scheme == "shunt_diode":
            self.typed("polarity_diode", None, (GROUND, RIG), _DIODE_LEADS, device, type=row.name, body=body)

    def _merge(self, gone: str, kept: str) -> None:
        """One node for two."""
        self.branches = [
            Branch(each.part, tuple(kept if node == gone else node for node in each.nodes))
            for each in self.branches
        ]

    def _zener(self, role: Role, which: Which, nodes: tuple[str, str], volt: float) -> None:
        """A Zener diode, its cathode at the second node; it carries no current but when it has to."""
        name = f"Zener {volt:g} V, 1.3 W"
        self.typed(role, which, nodes, _DIODE_LEADS, diode_of(polarity_diodes()[_DIODE]), type=name)

    # -- regulators -------------------------------------------------------------------------------

    def regulators(self) -> None:
        """Each regulator with its capacitors, and what sets an adjustable one."""
        for n, each in enumerate(self.supply.regulators, 1):
            row, output = regulators()[each.type], each.name
            source = RIG if each.powered == "both" else _node(RIG, each.powered)
            device = Regulating(volt=each.output_v, drop_out_v=row.drop_out_v, own_a=row.own_a)
            foot = f"{output} adjustment" if row.reference_v else GROUND
            third = "adjustment" if row.reference_v else "ground"
            type_, note = marked(each), ""
            if row.reference_v:
                upper, lower, gives = adjusting(each)
                note = f"{type_}, gives {gives:.3g} V with its resistors"
            if each.sink_k_w is not None:
                note = f"{note or type_}, on a heat sink of {each.sink_k_w:g} K/W"
            leads = ("input", "output", third)
            body = (row.package, row.order, row.status)
            self.typed(
                "regulator", n, (source, output, foot), leads, device, type=type_, note=note, body=body
            )
            self.part("regulator_input", n, (source, GROUND), row.input_f)
            self.part("regulator_output", n, (output, GROUND), row.output_f)
            if row.reference_v:
                self.part("adjust_upper", n, (output, foot), upper)
                exact = _lower_ohm(each, upper)
                self.part("adjust_lower", n, (foot, GROUND), lower, exact=exact)

    # -- rails that are switched ------------------------------------------------------------------

    def switched(self) -> None:
        """Transistors for the rails that no relay switches."""
        for each in self.switches.values():
            if each.by == "relay":
                continue
            n, control, pulled = each.number, f"{each.node} control", f"{each.node} pulled"
            if each.by == "pnp":
                ohm = _SATURATED_V / max(each.ampere, 1e-6)
                joined, leads = Joined(((0, 1, ohm),)), ("emitter", "collector", "base")
                pinned = transistors()["2n3906"]
                body: Body = (pinned.package, pinned.order, pinned.status)
                self.typed(
                    "rail_switch",
                    n,
                    (each.source, each.node, control),
                    leads,
                    joined,
                    type="2N3906",
                    body=body,
                )
                self.part("rail_pull", n, (each.source, control), _PULL_OHM)
                wanted = (self._volt(each.source) - _BASE_V) / max(each.ampere * _BASE_SHARE, _LEAST_BASE_A)
                value = preferred(wanted, "E12")
                self.part("rail_control", n, (control, pulled), value, exact=wanted)
            else:
                mosfet = polarity_mosfets()[self.supply.rail_mosfet]
                joined, leads = Joined(((0, 1, mosfet.on_ohm),)), ("source", "drain", "gate")
                body = (mosfet.package, mosfet.order, mosfet.status)
                nodes = (each.source, each.node, control)
                self.typed("rail_switch", n, nodes, leads, joined, type=mosfet.name, body=body)
                self.part("rail_pull", n, (each.source, control), _PULL_OHM)
                pulled = control
            self.npn("rail_driver", n, (pulled, f"{each.node} base", GROUND), "2n3904")
            self.part("rail_base", n, (LINES[each.way], f"{each.node} base"), _BASE_OHM)

    def _volt(self, node: str) -> float:
        return next((r.output_v for r in self.supply.regulators if r.name == node), self.of.nominal_v)

    # -- relays -----------------------------------------------------------------------------------

    def relays(self) -> None:
        """Each relay with what drives it and what its coil is let go through."""
        for n, each in enumerate(self.supply.relays, 1):
            top = RIG
            foot, ampere = f"{each.name} coil", coil_a(each, self.of.nominal_v)
            nodes, leads = [top, foot], ["coil", "coil's other end"]
            for pole, (middle, at_rest, on) in enumerate(_poles(each, n, self.switches), 1):
                nodes += [middle, at_rest, on]
                leads += [f"common {pole}", f"closed {pole}", f"open {pole}"]
            note = f"{each.name}: {each.coil_v:g} V, {each.coil_ohm:g} Ω"
            poles = (len(leads) - 2) // 3
            change = ("", ", one change-over", ", two change-overs")[poles]
            self.typed(
                "relay",
                n,
                tuple(nodes),
                tuple(leads),
                _OPEN,
                type=f"relay, {each.coil_v:g} V{change}",
                note=note,
                body=("relay", tuple(leads), "from memory"),
                value=each.coil_v,
            )
            diode = diode_of(polarity_diodes()[_DIODE])
            if each.suppressor != "none":
                middle = f"{each.name} let go" if each.suppressor == "diode_and_zener" else top
                self.typed("let_go_diode", n, (foot, middle), _DIODE_LEADS, diode, type="1N4001")
                if each.suppressor == "diode_and_zener":
                    # Cathode to cathode with the diode, so that it holds the coil's own voltage.
                    self._zener("let_go_zener", n, (top, middle), round(self.of.full_v))
            if each.driven_by == "transistor":
                name = "2n3904" if ampere <= _SMALL_COIL_A else "2n2222a"
                base = f"{each.name} base"
                self.npn("relay_driver", n, (foot, base, GROUND), name)
                wanted = (self.of.nominal_v - _BASE_V) / max(ampere * _BASE_SHARE, _LEAST_BASE_A)
                line = LINES["receive" if each.powered == "receive" else "transmit"]
                source = RIG if each.powered == "both" else line
                self.part("relay_base", n, (source, base), preferred(wanted, "E12"), exact=wanted)
            else:
                self._merge(foot, f"{each.name} contact")

    # -- who is fed -------------------------------------------------------------------------------

    def consumers(self) -> None:
        """Everybody at the node at which it is fed, behind its decoupling where it has one."""
        at = {way: _at(self.of, way) for way in WAYS}
        n = 0
        for one in self.of.consumers:
            if not any(one.powered):
                continue
            node = node_of(self.of, one)
            made = one.decoupling
            if made is not None:
                n += 1
                own, behind = f"{one.name} fed", node
                if made.choke_h is not None:
                    node = own if made.resistor_ohm is None else f"{one.name} choke"
                    self.part("decoupling_choke", n, (behind, node), made.choke_h, one.name)
                    behind = node
                if made.resistor_ohm is not None:
                    self.part("decoupling_resistor", n, (behind, own), made.resistor_ohm, one.name)
                node = own
                self.part("decoupling_capacitor", n, (own, GROUND), made.capacitor_f, one.name)
            heard, sent = (at[way].of(one.key) for way in WAYS)
            self.hanging.append(
                Hanging(
                    name=one.name,
                    node=node,
                    ways=one.powered,
                    ampere=(heard.ampere if heard else None, sent.ampere if sent else None),
                    volt=(heard.volt if heard else None, sent.volt if sent else None),
                )
            )


_DIODE_LEADS = ("anode", "cathode")


def diode_of(row: PolarityDiodeRow) -> Diode:
    """A diode through both of its stated points: I = Is exp(V/(n VT))."""
    per_e = (row.high_v - row.low_v) / log(row.high_a / row.low_a)
    return Diode(saturation_a=row.low_a * exp(-row.low_v / per_e), ideality=per_e / THERMAL_V, series_ohm=0.0)


def marked(regulator: Regulator) -> str:
    """What is written on a regulator: `78L08`; of an adjustable one its family."""
    row = regulators()[regulator.type]
    return row.marked if row.reference_v else f"{row.marked}{round(regulator.output_v):02d}"


def _lower_ohm(regulator: Regulator, upper_ohm: float) -> float:
    row = regulators()[regulator.type]
    return (regulator.output_v - row.reference_v) / (row.reference_v / upper_ohm + row.adjust_a)


def adjusting(regulator: Regulator) -> tuple[float, float, float]:
    """The resistors of an adjustable regulator from output to adjustment and from there to ground [ohm], and
    what it gives with them [V]: of a few usual upper ones with the E24 value below that comes nearest.

    V = Vref (1 + R2/R1) + Iadj R2, as in the data sheets.
    """
    row = regulators()[regulator.type]
    found = []
    for upper in _UPPER_OHM:
        lower = preferred(max(_lower_ohm(regulator, upper), 1.0), "E24")
        gives = row.reference_v * (1 + lower / upper) + row.adjust_a * lower
        found.append((abs(gives - regulator.output_v), upper, lower, gives))
    _, upper, lower, gives = min(found)
    return upper, lower, gives


def _node(node: str, way: str) -> str:
    return f"{node} {way}"


def node_of(of: Feeding, one: Consumer) -> str:
    """The node at which somebody is fed, ahead of its decoupling: a rail, or what is switched from it."""
    regulator = next((each for each in of.supply.regulators if each.name == one.rail), None)
    rail = RIG if regulator is None else regulator.name
    always = all(one.powered) or (regulator is not None and regulator.powered != "both")
    return rail if always else _node(rail, "receive" if one.powered[0] else "transmit")


@lru_cache(maxsize=16)
def _rail_switches(of: Feeding) -> tuple[RailSwitch, ...]:
    """The rails that are on in one direction only: first those of the rig's supply."""
    wanted: dict[tuple[str, Way], list[str]] = {}
    for each in of.supply.regulators:
        if each.powered != "both":
            wanted.setdefault((RIG, each.powered), []).append(f"regulator {each.name}")
    for one in of.consumers:
        node = node_of(of, one)
        for way in WAYS:
            for source in (RIG, *(each.name for each in of.supply.regulators)):
                if any(one.powered) and node == _node(source, way):
                    wanted.setdefault((source, way), []).append(one.name)
    contacts = any(each.switches in ("supplies", "antenna_and_supplies") for each in of.supply.relays)
    found = []
    order = sorted(wanted, key=lambda each: (each[0] != RIG, each[0], WAYS.index(each[1])))
    for number, (source, way) in enumerate(order, 1):
        node, names = _node(source, way), tuple(wanted[source, way])
        ampere, rest = (_carried(of, node, way, full=full) for full in (True, False))
        by, ohm = "relay", 0.0
        if not (contacts and source == RIG):
            by = "pnp" if ampere <= _SMALL_RAIL_A else "mosfet"
            ohm = polarity_mosfets()[of.supply.rail_mosfet].on_ohm
        found.append(
            RailSwitch(
                number=number,
                source=source,
                node=node,
                way=way,
                by=by,
                names=names,
                ampere=ampere,
                lost_v=_SATURATED_V if by == "pnp" else ohm * ampere,
                rest_a=rest,
                rest_lost_v=_SATURATED_V if by == "pnp" else ohm * rest,
            )
        )
    return tuple(found)


def _carried(of: Feeding, node: str, way: Way, *, full: bool) -> float:
    """What a rail carries, at full output or at rest, A."""
    at = state(of, of.nominal_v, way, full=full)
    found = 0.0
    for one in of.consumers:
        fed = at.of(one.key)
        if fed is not None and node_of(of, one) == node:
            found += fed.ampere or 0.0
    for each in at.regulators:
        if each.regulator.powered != "both" and node == _node(RIG, each.regulator.powered):
            found += each.load_a + each.own_a
    return found


def _poles(relay: Relay, number: int, switches: dict[str, RailSwitch]) -> Iterator[tuple[str, str, str]]:
    """Each change-over: its middle, where it stands at rest, and where it stands with its coil on."""
    there, back = ("transmit", "receive") if relay.powered != "receive" else ("receive", "transmit")
    if relay.switches in ("antenna", "antenna_and_supplies"):
        yield f"antenna {number}", f"antenna {number} {back}", f"antenna {number} {there}"
    if relay.switches in ("supplies", "antenna_and_supplies"):
        yield RIG, _node(RIG, back), _node(RIG, there)
