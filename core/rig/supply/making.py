"""The parts of a supply's circuit, one after the other: entrance, regulators, rails, relays, who is fed.

Values of resistors are by custom, no source.
"""

from core.circuits.circuit import GROUND, Branch, Diode, Hardware, Part, Transistor
from core.circuits.devices.hardware import Joined, Regulating
from core.model.supply.supply import Decoupling
from core.model.values.as_built import MEASURED, Pairs, unit_of_part
from core.model.values.base import Path
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import TYPED, UNIT_OF_KIND, Role, Which, key, valued
from core.rig.supply.by_table import adjusting, diode_of, gives_v, lower_ohm, marked
from core.rig.supply.consumers import WAYS, Consumer, Feeding
from core.rig.supply.parts import let_go_zener_v
from core.rig.supply.rails import (
    GATE,
    LEAD,
    LINES,
    RIG,
    SATURATED_V,
    SOURCE,
    SWITCHED,
    Hanging,
    at_rest,
    node_of,
    poles,
    rail_of,
    rail_switches,
    switched_from,
)
from core.rig.supply.state import coil_a, fuse_ohm
from core.stages.on_hand import Shelf
from core.stages.outcome import PartRow
from core.trade.bodies.packages import transistors
from core.trade.devices import devices
from core.trade.series import preferred
from core.trade.supply.feeding import (
    fuse_types,
    polarity_diodes,
    polarity_mosfets,
    regulators,
    supply_parts,
)

#: A base gets so much of the collector's current, at most [-], and at least so much of it in a driver [A].
_BASE_SHARE, _LEAST_BASE_A = 1 / 20, 0.5e-3
#: A junction's voltage [V]; from memory.
_BASE_V = 0.7
#: Up to this a coil is driven by a small transistor [A].
_SMALL_COIL_A = 0.1
#: From gate or base to its supply, and into the base of what pulls it down [ohm].
_PULL_OHM, _BASE_OHM = 10e3, 10e3
#: From gate to ground, bare and with a Zener diode across [ohm].
_GATE_OHM, _CLAMPED_OHM = 100e3, 10e3
#: What keeps a gate in bounds [V], and a coil's diode.
_GATE_ZENER_V, _DIODE = 12, "1n4001"
#: What conducts nothing in ordinary use.
OPEN = Joined()
DIODE_LEADS = ("anode", "cathode")
#: A package, the order in which its leads stand, empty where that does not matter or nobody knows it, and
#: where that order is from.
Body = tuple[str, tuple[str, ...], str]


def _base_ohm(volt: float, ampere: float) -> float:
    """What drives a transistor that switches so much [A] from a rail [V], ohm; 1 ohm where the rail is no
    higher than its base, and it does not switch at all.
    """
    return max((volt - _BASE_V) / max(ampere * _BASE_SHARE, _LEAST_BASE_A), 1.0)


class Making:
    """The circuit while it is put together: parts for what was asked, with values as built in their place.

    `places` tells of each part that has a value where it stands in a design as built, by its reference.
    """

    def __init__(self, of: Feeding, shelf: Shelf) -> None:
        self.of, self.supply, self.shelf = of, of.asked, shelf
        self.places: dict[str, tuple[Path, str]] = {}
        self._whole()
        self.branches: list[Branch] = []
        self.parts: list[PartRow] = []
        self.hanging: list[Hanging] = []
        self.bodies: dict[str, Body] = {}
        self.switches = {each.node: each for each in rail_switches(of)}

    # -- parts ------------------------------------------------------------------------------------

    def _whole(self) -> None:
        """What follows is there once, or has its number in the whole supply."""
        self._of(("supply",), self.supply.as_built)
        self._numbered = True

    def _of(self, path: Path, as_built: Pairs) -> None:
        """What follows is part of a regulator, a relay or a decoupling, with its values as built."""
        self._path, self._built, self._numbered = (*path, "as_built"), dict(as_built), False

    def _key(self, role: Role, which: Which) -> str:
        return key(role, which if self._numbered else None)

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
        built, on_hand_f = self._built.get(self._key(role, which)), None
        if kind == "capacitor" and built is None:
            on_hand_f = self.shelf.ample(value)
        if on_hand_f is not None:
            exact, value = value, on_hand_f
            self.shelf = self.shelf.without((value,))
        fitted = value if built is None else built
        self.branches.append(Branch(Part(ref, kind, fitted, role=role, which=which), nodes))
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
        value: float | None = None,
    ) -> None:
        """What has a type instead of a value, and maybe one that can be measured; `body` is its package with
        the order of its leads.
        """
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
        self._row(role, which, None, row.name, type=row.name)

    def _row(
        self,
        role: Role,
        which: Which,
        value: float | None,
        note: str,
        *,
        type: str = "",
        designed: float | None = None,
    ) -> None:
        kind, ref = NAMES["supply"][role].kind, reference("supply", role, which)
        where, unit = self._key(role, which), UNIT_OF_KIND[kind]
        if kind not in TYPED or (role in MEASURED and value is not None):
            unit = unit_of_part("supply", where)
            self.places[ref] = (self._path, where)
        taken = 1.0 if value is None else value
        self.parts.append(
            PartRow(
                ref=ref,
                kind=kind,
                designed=designed or taken,
                preferred=taken,
                as_built=self._built.get(where) if ref in self.places else None,
                unit=unit,
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
            joined = Joined(((0, 1, fuse_ohm(self.of.supply)),))
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
            OPEN,
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
                "suppressor", None, (GROUND, RIG), DIODE_LEADS, diode, type=row.name, note=note, body=body
            )
        if supply.smoothing_f is not None:
            self.part("smoothing", None, (RIG, GROUND), supply.smoothing_f)

    def _polarity(self, into: str) -> None:
        asked = self.supply.polarity
        row = polarity_diodes()[asked.diode]
        body: Body = (row.package, (), "")
        device = diode_of(row)
        if asked.scheme == "series_diode":
            self.typed("polarity_diode", None, (into, RIG), DIODE_LEADS, device, type=row.name, body=body)
            return
        if asked.scheme == "p_mosfet":
            mosfet = polarity_mosfets()[asked.mosfet]
            leads = ("drain", "source", "gate")
            ohm = self._built.get("polarity_mosfet", mosfet.on_ohm)
            joined = Joined(((0, 1, ohm),))
            body = (mosfet.package, mosfet.order, mosfet.status)
            nodes, name = (into, RIG, GATE), mosfet.name
            self.typed(
                "polarity_mosfet", None, nodes, leads, joined, type=name, body=body, value=mosfet.on_ohm
            )
            ohm = _CLAMPED_OHM if asked.gate_clamped else _GATE_OHM
            self.part("polarity_gate", None, (GATE, GROUND), ohm)
            if asked.gate_clamped:
                self._zener("polarity_zener", None, (GATE, RIG), _GATE_ZENER_V)
            return
        # Nothing in the lead: the rig hangs on the wire itself.
        self._merge(into, RIG)
        if asked.scheme == "shunt_diode":
            self.typed("polarity_diode", None, (GROUND, RIG), DIODE_LEADS, device, type=row.name, body=body)

    def _merge(self, gone: str, kept: str) -> None:
        """One node for two."""
        self.branches = [
            Branch(each.part, tuple(kept if node == gone else node for node in each.nodes))
            for each in self.branches
        ]

    def _zener(self, role: Role, which: Which, nodes: tuple[str, str], volt: float) -> None:
        """A Zener diode, its cathode at the second node; it carries no current but when it has to."""
        name = f"Zener {volt:g} V, 1.3 W"
        self.typed(role, which, nodes, DIODE_LEADS, diode_of(polarity_diodes()[_DIODE]), type=name)

    # -- regulators -------------------------------------------------------------------------------

    def regulators(self) -> None:
        """Each regulator with its capacitors, and what sets an adjustable one."""
        for n, each in enumerate(self.supply.regulators, 1):
            self._of(("supply", "regulators", n - 1), each.as_built)
            row, output = regulators()[each.type], rail_of(each)
            source = RIG if each.powered == "both" else switched_from(RIG, each.powered)
            device = Regulating(volt=gives_v(each), drop_out_v=row.drop_out_v, own_a=row.own_a)
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
                "regulator",
                n,
                (source, output, foot),
                leads,
                device,
                type=type_,
                note=note,
                body=body,
                value=each.output_v,
            )
            self.part("regulator_input", n, (source, GROUND), row.input_f)
            self.part("regulator_output", n, (output, GROUND), row.output_f)
            if row.reference_v:
                self.part("adjust_upper", n, (output, foot), upper)
                exact = lower_ohm(each, upper)
                self.part("adjust_lower", n, (foot, GROUND), lower, exact=exact)

    # -- rails that are switched ------------------------------------------------------------------

    def switched(self) -> None:
        """Transistors for the rails that no relay switches."""
        self._whole()
        for each in self.switches.values():
            if each.by == "relay":
                continue
            n, control, pulled = each.number, f"{each.node} control", f"{each.node} pulled"
            if each.by == "pnp":
                ohm = SATURATED_V / max(each.ampere, 1e-6)
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
                wanted = _base_ohm(self._volt(each.source), each.ampere)
                value = preferred(wanted, "E12")
                self.part("rail_control", n, (control, pulled), value, exact=wanted)
            else:
                mosfet = polarity_mosfets()[self.supply.rail_mosfet]
                joined, leads = Joined(((0, 1, each.on_ohm),)), ("source", "drain", "gate")
                body = (mosfet.package, mosfet.order, mosfet.status)
                nodes = (each.source, each.node, control)
                self.typed(
                    "rail_switch",
                    n,
                    nodes,
                    leads,
                    joined,
                    type=mosfet.name,
                    body=body,
                    value=mosfet.on_ohm,
                )
                self.part("rail_pull", n, (each.source, control), _PULL_OHM)
                pulled = control
            self.npn("rail_driver", n, (pulled, f"{each.node} base", GROUND), "2n3904")
            self.part("rail_base", n, (LINES[each.way], f"{each.node} base"), _BASE_OHM)

    def _volt(self, node: str) -> float:
        return next((r.output_v for r in self.of.supply.regulators if rail_of(r) == node), self.of.nominal_v)

    # -- relays -----------------------------------------------------------------------------------

    def relays(self) -> None:
        """Each relay with what drives it and what its coil is let go through."""
        for n, each in enumerate(self.supply.relays, 1):
            self._of(("supply", "relays", n - 1), each.as_built)
            top = RIG
            foot, ampere = f"{each.name} coil", coil_a(each, self.of.nominal_v)
            nodes, leads = [top, foot], ["coil", "coil's other end"]
            for pole, ends in enumerate(poles(each, n, self.switches), 1):
                nodes += ends
                leads += [f"common {pole}", f"closed {pole}", f"open {pole}"]
            note = f"{each.name}: {each.coil_v:g} V, {each.coil_ohm:g} Ω"
            count = (len(leads) - 2) // 3
            change = ("", ", one change-over", ", two change-overs")[count]
            self.typed(
                "relay",
                n,
                tuple(nodes),
                tuple(leads),
                OPEN,
                type=f"relay, {each.coil_v:g} V{change}",
                note=note,
                body=("relay", tuple(leads), "from memory"),
                value=each.coil_v,
            )
            diode = diode_of(polarity_diodes()[_DIODE])
            if each.suppressor != "none":
                middle = f"{each.name} let go" if each.suppressor == "diode_and_zener" else top
                self.typed("let_go_diode", n, (foot, middle), DIODE_LEADS, diode, type="1N4001")
                if each.suppressor == "diode_and_zener":
                    # Cathode to cathode with the diode, which blocks while the coil is on.
                    self._zener("let_go_zener", n, (top, middle), let_go_zener_v(self.of))
            if each.driven_by == "transistor":
                name = "2n3904" if ampere <= _SMALL_COIL_A else "2n2222a"
                base = f"{each.name} base"
                self.npn("relay_driver", n, (foot, base, GROUND), name)
                wanted = _base_ohm(self.of.nominal_v, ampere)
                line = LINES["receive" if each.powered == "receive" else "transmit"]
                source = RIG if each.powered == "both" else line
                self.part("relay_base", n, (source, base), preferred(wanted, "E12"), exact=wanted)
            else:
                self._merge(foot, f"{each.name} contact")

    # -- who is fed -------------------------------------------------------------------------------

    def _decoupling(self, one: Consumer) -> tuple[int, Decoupling | None]:
        """Where among the loads a decoupling was asked for somebody, and that."""
        asked = ((n, load) for n, load in enumerate(self.supply.loads) if one.key == (load.of or load.name))
        return next(((n, load.decoupling) for n, load in asked), (0, None))

    def consumers(self) -> None:
        """Everybody at the node at which it is fed, behind its decoupling where it has one."""
        at = {way: at_rest(self.of, way) for way in WAYS}
        n = 0
        for one in self.of.consumers:
            if not any(one.powered):
                continue
            node = node_of(self.of, one)
            place, made = self._decoupling(one)
            if made is not None:
                self._of(("supply", "loads", place, "decoupling"), made.as_built)
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
