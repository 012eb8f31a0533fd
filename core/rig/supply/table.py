"""Who is on in receive and in transmit and draws how much, and who feeds whom."""

from functools import lru_cache

from core.record import record
from core.rig.analysis import Analysis
from core.rig.supply.consumers import Consumer, Feeding, Origin, feeding
from core.rig.supply.state import Fed, state


@record(kw_only=True)
class SwitchingRow:
    """One who is fed: rail, whether it is on in receive and in transmit, its currents there, at rest and at
    full output [A], None where nobody knows, and where they come from.
    """

    name: str
    rail: str
    in_receive: bool
    in_transmit: bool
    receive_a: float | None
    transmit_a: float | None
    full_a: float | None
    origin: Origin


def switching_table(analysis: Analysis) -> tuple[SwitchingRow, ...]:
    """Who is on in receive and in transmit and draws how much at the nominal voltage; empty where no supply
    is planned. Regulators' own currents and relays' coils are rows too.
    """
    of = feeding(analysis)
    return () if of is None else rows_of(of)


@lru_cache(maxsize=16)
def rows_of(of: Feeding) -> tuple[SwitchingRow, ...]:
    """The rows of `switching_table`."""
    heard = state(of, of.nominal_v, "receive", full=False)
    rest, full = (state(of, of.nominal_v, "transmit", full=each) for each in (False, True))
    found = [_row(each, *(at.of(each.key) for at in (heard, rest, full))) for each in of.consumers]
    for now, then in zip(heard.regulators, rest.regulators, strict=True):
        found.append(
            SwitchingRow(
                name=f"regulator {now.regulator.name} itself",
                rail="",
                in_receive=now.on,
                in_transmit=then.on,
                receive_a=now.own_a,
                transmit_a=then.own_a,
                full_a=then.own_a,
                origin="circuit",
            )
        )
    coils = [dict(at.coils_a) for at in (heard, rest, full)]
    for relay in of.supply.relays:
        found.append(
            SwitchingRow(
                name=relay.name,
                rail="",
                in_receive=relay.name in coils[0],
                in_transmit=relay.name in coils[1],
                receive_a=coils[0].get(relay.name, 0.0),
                transmit_a=coils[1].get(relay.name, 0.0),
                full_a=coils[2].get(relay.name, 0.0),
                origin="circuit",
            )
        )
    return tuple(found)


def _row(one: Consumer, *at: Fed | None) -> SwitchingRow:
    heard, rest, full = (0.0 if each is None else each.ampere for each in at)
    return SwitchingRow(
        name=one.name,
        rail=one.rail,
        in_receive=one.on("receive"),
        in_transmit=one.on("transmit"),
        receive_a=heard,
        transmit_a=rest,
        full_a=full,
        origin=one.origin,
    )


@record
class Node:
    """Somebody in the tree of who feeds whom; `kind` says what it is."""

    name: str
    detail: str
    kind: str
    feeds: tuple["Node", ...] = ()


@lru_cache(maxsize=16)
def tree(of: Feeding) -> Node:
    """The source, what stands in the lead, the rig's supply, regulators and relays, and who hangs on each."""
    supply = of.supply
    regulators = tuple(
        Node(f"{each.name} regulator", each.type, "regulator", tuple(_hang_on(of, each.name)))
        for each in supply.regulators
    )
    relays = tuple(Node(each.name, each.switches, "relay") for each in supply.relays)
    rig = Node("rig's supply", "", "rail", (*regulators, *relays, *_hang_on(of, "")))
    fuse = "no fuse" if supply.fuse is None else f"{supply.fuse.rated_a:g} A"
    inside = Node(supply.polarity.scheme, fuse, "protection", (rig,))
    return Node(supply.source.type, f"{of.nominal_v:g} V", "source", (inside,))


def _hang_on(of: Feeding, rail: str) -> list[Node]:
    ways = {(True, True): "both", (True, False): "receive", (False, True): "transmit"}
    return [
        Node(each.name, ways.get(each.powered, ""), "stage") for each in of.consumers if each.rail == rail
    ]
