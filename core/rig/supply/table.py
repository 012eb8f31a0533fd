"""Who is on in receive and in transmit and draws how much, and who feeds whom."""

from functools import lru_cache
from typing import Literal

from core.record import record
from core.rig.analysis import Analysis
from core.rig.supply.consumers import Consumer, Feeding, Origin, feeding
from core.rig.supply.state import Fed, State, state


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


#: What stands in the tree of who feeds whom.
Place = Literal["source", "fuse", "polarity", "rig", "regulator", "relay", "consumer"]


@record(kw_only=True)
class Node:
    """Somebody in the tree of who feeds whom, at the nominal voltage.

    `word` is the model's word for what it is, `volt` the voltage that it gives on [V], None where it feeds
    nobody; `ways` whether it is on in receive and in transmit; currents as of a `SwitchingRow` [A], of one
    who feeds others those of all of them.
    """

    name: str
    place: Place
    word: str = ""
    volt: float | None = None
    ways: tuple[bool, bool] = (True, True)
    receive_a: float | None = None
    full_a: float | None = None
    feeds: tuple["Node", ...] = ()


@lru_cache(maxsize=16)
def tree(of: Feeding) -> Node:
    """The source, what stands in the lead, the rig's supply, regulators and relays, and who hangs on each."""
    supply = of.supply
    heard = state(of, of.nominal_v, "receive", full=False)
    full = state(of, of.nominal_v, "transmit", full=True)
    regulators = tuple(
        Node(
            name=then.regulator.name,
            place="regulator",
            word=then.regulator.type,
            volt=then.regulator.output_v,
            ways=(now.on, then.on),
            receive_a=now.load_a + now.own_a,
            full_a=then.load_a + then.own_a,
            feeds=_hang_on(of, then.regulator.name, heard, full),
        )
        for now, then in zip(heard.regulators, full.regulators, strict=True)
    )
    coils = [dict(at.coils_a) for at in (heard, full)]
    relays = tuple(
        Node(
            name=each.name,
            place="relay",
            word=each.switches,
            ways=(each.name in coils[0], each.name in coils[1]),
            receive_a=coils[0].get(each.name, 0.0),
            full_a=coils[1].get(each.name, 0.0),
        )
        for each in supply.relays
    )
    found = Node(
        name="rig",
        place="rig",
        volt=full.rig_v,
        receive_a=heard.total_a,
        full_a=full.total_a,
        feeds=(*regulators, *relays, *_hang_on(of, "", heard, full)),
    )
    if supply.polarity.scheme != "none":
        found = Node(name="", place="polarity", word=supply.polarity.scheme, feeds=(found,))
    if supply.fuse is not None:
        found = Node(
            name="fuse", place="fuse", word=supply.fuse.type, full_a=supply.fuse.rated_a, feeds=(found,)
        )
    return Node(name="", place="source", word=supply.source.type, volt=of.nominal_v, feeds=(found,))


def _hang_on(of: Feeding, rail: str, heard: State, full: State) -> tuple[Node, ...]:
    found = []
    for each in of.consumers:
        if each.rail == rail:
            now, then = heard.of(each.key), full.of(each.key)
            found.append(
                Node(
                    name=each.name,
                    place="consumer",
                    ways=each.powered,
                    receive_a=0.0 if now is None else now.ampere,
                    full_a=0.0 if then is None else then.ampere,
                )
            )
    return tuple(found)
