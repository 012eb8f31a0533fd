"""The supply as it is soldered: from the source's lead to every rail, one circuit of parts between nodes.

The fuse stands at the source's end of the lead; behind connector and switch come what stands against wrong
polarity, suppressor and smoothing, and then regulators, rails that are on in one direction only, and relays
with what drives them. The lines that tell these to, high while the rig receives or transmits, come from the
key by what makes its sequence; they are no part of it.
"""

from collections.abc import Iterator
from functools import cached_property, lru_cache
from math import inf
from typing import Literal

from core.circuits.circuit import Branch, Circuit, Hardware, Port, Rail
from core.circuits.devices.hardware import Joined
from core.model.stages.stage import Way
from core.model.supply.supply import Relay, Supply
from core.model.values.as_built import Pairs
from core.model.values.base import Path
from core.model.values.notation import format_value
from core.model.values.parts import Role, Which
from core.record import record
from core.rig.analysis import Analysis
from core.rig.plan.surroundings import shelf
from core.rig.supply.consumers import WAYS, Feeding, feeding
from core.rig.supply.making import OPEN, Body, Making
from core.rig.supply.rails import SOURCE, Hanging, RailSwitch, rail_volts
from core.rig.supply.state import fuse_ohm, is_on, loop_ohm
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow

#: The pieces that its drawing falls into: from lead to regulators, rails that are switched, relays, and
#: decoupling.
Piece = Literal["feeds", "rails", "relays", "decoupling"]


@record(kw_only=True, eq=False, slots=False)
class SupplyDesign:
    """The circuit, its parts, rails that are switched, and who hangs on each node; of each part that has a
    value where it stands in the design as built, and by which key.

    `circuit` has every contact as it stands in receive. Compared by identity, as it comes out of a cache.
    """

    feeding: Feeding
    branches: tuple[Branch, ...]
    parts: tuple[PartRow, ...]
    switches: tuple[RailSwitch, ...]
    hanging: tuple[Hanging, ...]
    bodies: dict[str, Body]
    places: dict[str, tuple[Path, str]]

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
        of, volts = self.feeding, rail_volts(self.feeding, way)
        branches = tuple(_standing(branch, way, of) for branch in self.branches)
        ports = [Port(SOURCE, loop_ohm(of.supply) - fuse_ohm(of.supply))]
        for each in self.hanging:
            ampere, volt = each.ampere[WAYS.index(way)], each.volt[WAYS.index(way)]
            ports.append(Port(each.node, volt / ampere if ampere and volt else inf))
        rails = [Rail(node, volt) for node, volt in volts.items()]
        rails += [Rail(each.node, volts[each.source] if each.way == way else 0.0) for each in self.switches]
        return Circuit(branches, tuple(ports), tuple(rails))

    @property
    def idle(self) -> tuple[tuple[Path, str, float], ...]:
        """Values as built that no part of it takes: where they stand in the design, the part's key, and the
        value.
        """
        taken = set(self.places.values())
        return tuple(
            (path, key, value)
            for path, as_built in _as_built(self.feeding.asked)
            for key, value in as_built
            if (path, key) not in taken
        )

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
        reached = {node}
        for branch in (*self.of_role("decoupling_choke"), *self.of_role("decoupling_resistor")):
            if branch.nodes[0] in reached:
                reached.add(branch.nodes[1])
        return tuple(each for each in self.hanging if each.node in reached)


def told_of(design: SupplyDesign, node: str) -> tuple[str, ...]:
    """Who hangs on a node, each with its current at rest where it is fed."""
    found = []
    for each in design.on_node(node):
        known = next((a for a in each.ampere if a is not None), None)
        found.append(each.name if not known else f"{each.name} {format_value(known, 'A', 2)}")
    return tuple(found)


def _as_built(asked: Supply) -> Iterator[tuple[Path, Pairs]]:
    """Everywhere in a supply where values as built stand, and these."""
    yield ("supply", "as_built"), asked.as_built
    for n, regulator in enumerate(asked.regulators):
        yield ("supply", "regulators", n, "as_built"), regulator.as_built
    for n, relay in enumerate(asked.relays):
        yield ("supply", "relays", n, "as_built"), relay.as_built
    for n, load in enumerate(asked.loads):
        if load.decoupling is not None:
            yield ("supply", "loads", n, "decoupling", "as_built"), load.decoupling.as_built


def _standing(branch: Branch, way: Way, of: Feeding) -> Branch:
    """A relay or a switch of a rail as it stands in a direction."""
    part = branch.part
    if not isinstance(part, Hardware) or part.role not in ("relay", "rail_switch"):
        return branch
    if part.role == "relay":
        relay = of.supply.relays[int(part.which or 1) - 1]
        return Branch(_with(part, _contacts(relay, part.leads, way)), branch.nodes)
    on = branch.nodes[1].endswith(way)
    return branch if on else Branch(_with(part, OPEN), branch.nodes)


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
    made = Making(of, shelf)
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
        places=made.places,
    )


def supply_soldered(analysis: Analysis) -> SupplyDesign | None:
    """The supply of a rig, with the junk box first where that is wanted; None where none is planned."""
    of = feeding(analysis)
    return None if of is None else supply_design(of, shelf(analysis.project.junk_box))
