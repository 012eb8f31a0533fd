"""The rails of a supply: what its circuit's nodes are called, and which rails are on in one direction only.

Such a rail is switched by the relay that switches supplies, where there is one, else by a transistor.
"""

from collections.abc import Iterator
from functools import lru_cache

from core.circuits.circuit import GROUND
from core.model.stages.stage import Way
from core.model.supply.supply import Regulator, Relay
from core.model.values.parts import key
from core.record import record
from core.rig.supply.consumers import WAYS, Consumer, Feeding
from core.rig.supply.state import State, state
from core.trade.supply.feeding import polarity_mosfets

#: What its nodes are called: the source's plus, behind the lead, behind the switch, and the rig's supply.
SOURCE, LEAD, SWITCHED, RIG = "source", "lead", "switched", "rig"
#: Where a line comes in that is high while the rig does so, and a gate against wrong polarity.
LINES: dict[Way, str] = {"receive": "receive line", "transmit": "transmit line"}
GATE = "gate"
_OWN = frozenset({GROUND, SOURCE, LEAD, SWITCHED, RIG, GATE, *LINES.values()})
#: What a small pnp transistor drops when it is driven hard [V]; from memory.
SATURATED_V = 0.15
#: Up to this a rail is switched by a small pnp transistor [A].
_SMALL_RAIL_A = 0.05


@record(kw_only=True)
class RailSwitch:
    """A rail that is on in one direction only: its number, from which node to which it is switched, when,
    by what, who hangs on it, the most that it carries and what it carries at rest [A], and what is lost
    across the switch then [V]; `on_ohm` is the resistance of a MOSFET as built when it is on [ohm].
    """

    number: int
    source: str
    node: str
    way: Way
    by: str
    names: tuple[str, ...]
    ampere: float
    on_ohm: float
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


def rail_of(regulator: Regulator) -> str:
    """The node of a regulator's output: its name, unless a node of the circuit's own is called so."""
    return f"{regulator.name} rail" if regulator.name.strip() in _OWN else regulator.name


def switched_from(node: str, way: str) -> str:
    """What is switched from a rail, on in a direction only."""
    return f"{node} {way}"


def node_of(of: Feeding, one: Consumer) -> str:
    """The node at which somebody is fed, ahead of its decoupling: a rail, or what is switched from it."""
    regulator = next((each for each in of.supply.regulators if each.name == one.rail), None)
    rail = RIG if regulator is None else rail_of(regulator)
    always = all(one.powered) or (regulator is not None and regulator.powered != "both")
    return rail if always else switched_from(rail, "receive" if one.powered[0] else "transmit")


@lru_cache(maxsize=16)
def rail_switches(of: Feeding) -> tuple[RailSwitch, ...]:
    """The rails that are on in one direction only: first those of the rig's supply."""
    wanted: dict[tuple[str, Way], list[str]] = {}
    for each in of.supply.regulators:
        if each.powered != "both":
            wanted.setdefault((RIG, each.powered), []).append(f"regulator {each.name}")
    for one in of.consumers:
        node = node_of(of, one)
        for way in WAYS:
            for source in (RIG, *map(rail_of, of.supply.regulators)):
                if any(one.powered) and node == switched_from(source, way):
                    wanted.setdefault((source, way), []).append(one.name)
    contacts = any(each.switches in ("supplies", "antenna_and_supplies") for each in of.supply.relays)
    found = []
    order = sorted(wanted, key=lambda each: (each[0] != RIG, each[0], WAYS.index(each[1])))
    for number, (source, way) in enumerate(order, 1):
        node, names = switched_from(source, way), tuple(wanted[source, way])
        ampere, rest = (_carried(of, node, way, full=full) for full in (True, False))
        by, ohm = "relay", 0.0
        if not (contacts and source == RIG):
            by = "pnp" if ampere <= _SMALL_RAIL_A else "mosfet"
            usual_ohm = polarity_mosfets()[of.supply.rail_mosfet].on_ohm
            ohm = dict(of.supply.as_built).get(key("rail_switch", number), usual_ohm)
        found.append(
            RailSwitch(
                number=number,
                source=source,
                node=node,
                way=way,
                by=by,
                names=names,
                ampere=ampere,
                on_ohm=ohm,
                lost_v=SATURATED_V if by == "pnp" else ohm * ampere,
                rest_a=rest,
                rest_lost_v=SATURATED_V if by == "pnp" else ohm * rest,
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
        if each.regulator.powered != "both" and node == switched_from(RIG, each.regulator.powered):
            found += each.load_a + each.own_a
    return found


def poles(relay: Relay, number: int, switches: dict[str, RailSwitch]) -> Iterator[tuple[str, str, str]]:
    """Each change-over: its middle, where it stands at rest, and where it stands with its coil on."""
    there, back = ("transmit", "receive") if relay.powered != "receive" else ("receive", "transmit")
    if relay.switches in ("antenna", "antenna_and_supplies"):
        yield f"antenna {number}", f"antenna {number} {back}", f"antenna {number} {there}"
    if relay.switches in ("supplies", "antenna_and_supplies"):
        yield RIG, switched_from(RIG, back), switched_from(RIG, there)


@lru_cache(maxsize=64)
def at_rest(of: Feeding, way: Way) -> State:
    """The rig in a direction with no signal, at the nominal voltage."""
    return state(of, of.nominal_v, way, full=False)


def rail_volts(of: Feeding, way: Way) -> dict[str, float]:
    """The voltages of the rig's supply and of every regulator's rail in a direction with no signal [V]."""
    at = at_rest(of, way)
    return {RIG: at.rig_v} | {rail_of(each.regulator): each.output_v for each in at.regulators}
