"""Rules on relays, and on the order of switching between receive and transmit."""

from collections.abc import Iterator
from functools import partial
from math import ceil

from core.model.supply.supply import Relay
from core.model.values.base import Path
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rules.power.tried import mending, remedy_of
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.parts import RelayFacts, relay_facts
from core.rig.supply.sequence import ROOM_S, antenna_relay, switching

#: A coil bears so much of its nominal voltage [-]; from memory.
_COIL_BEARS = 1.5
_SEQUENCE: Path = ("supply", "sequence")


def _relays(analysis: Analysis) -> Iterator[tuple[Feeding, RelayFacts, Path]]:
    of = feeding(analysis)
    for facts in () if of is None else relay_facts(of):
        assert of is not None
        yield of, facts, ("supply", "relays", facts.relay.name)


def _facts_of(of: Feeding, name: str) -> RelayFacts:
    return next(each for each in relay_facts(of) if each.relay.name == name)


def _is_held(name: str, of: Feeding) -> bool:
    facts = _facts_of(of, name)
    return facts.least_v >= facts.needs_v and of.full_v <= _COIL_BEARS * facts.relay.coil_v


@rule
def relay_not_held(analysis: Analysis) -> Iterator[Finding]:
    """A relay must pull in with the battery empty, and its coil must bear a full one."""
    for of, facts, path in _relays(analysis):
        relay = facts.relay
        weak = facts.least_v < facts.needs_v
        if _is_held(relay.name, of):
            continue
        watt = relay.coil_v**2 / relay.coil_ohm
        tried = [
            Edit(
                f"Take a relay for {volt:g} V",
                (((*path, "coil_v"), volt), ((*path, "coil_ohm"), significant(volt**2 / watt, 2))),
            )
            for volt in (24.0, 12.0, 9.0, 6.0, 5.0)
            if volt != relay.coil_v
        ]
        if weak and of.supply.source.type == "battery":
            # What source and lead lose at that moment stays lost.
            volt = ceil(10 * (of.empty_v + facts.needs_v - facts.least_v) + 0.5) / 10
            words = f"Count the battery as empty at {volt:g} V"
            tried.append(Edit(words, ((("supply", "source", "empty_v"), volt),)))
        edits = mending(analysis, partial(_is_held, relay.name), *tried)
        yield Finding(
            severity="fault" if weak else "caution",
            rule="relay_not_held",
            stage="supply",
            subject=relay.name,
            path=(*path, "coil_v"),
            words=f"{relay.name} gets <figure> with the source empty and needs <limit> to pull in."
            if weak
            else f"The coil of {relay.name} gets <figure> and bears <limit>.",
            figure=facts.least_v if weak else of.full_v,
            limit=facts.needs_v if weak else _COIL_BEARS * relay.coil_v,
            at_least=weak,
            unit="V",
            shown="3",
            remedy=remedy_of(edits, "Feed it from a regulator, or take another coil."),
            source="pull-in at a share of the nominal voltage as makers state it; coils bear half as much "
            "again, from memory",
            edits=edits,
        )


def _is_spared(name: str, of: Feeding) -> bool:
    """Whether the transistor of a relay bears what its coil does."""
    facts = _facts_of(of, name)
    return (facts.let_go_v or 0.0) <= facts.relay.driver_bears_v


@rule
def coil_bare(analysis: Analysis) -> Iterator[Finding]:
    """A coil that is let go without a diode kills its transistor."""
    for _, facts, path in _relays(analysis):
        relay, seen = facts.relay, facts.let_go_v
        if seen is None or seen <= relay.driver_bears_v:
            continue
        edit = Edit(f"Put a diode across the coil of {relay.name}", (((*path, "suppressor"), "diode"),))
        edits = mending(analysis, partial(_is_spared, relay.name), edit)
        yield Finding(
            severity="fault",
            rule="coil_bare",
            stage="supply",
            subject=relay.name,
            path=(*path, "suppressor"),
            words=f"When the coil of {relay.name} is let go, its transistor sees up to <figure> and bears "
            "<limit>.",
            figure=seen,
            limit=relay.driver_bears_v,
            unit="V",
            shown="2",
            remedy=remedy_of(edits, "Take a transistor that bears more."),
            source="all of the coil's energy in its stray capacitance, I √(L/C), the most that can be; that "
            f"such a coil kills its transistor is {COMMON_PRACTICE}",
            edits=edits,
        )


def _ordered(of: Feeding) -> bool:
    made = switching(of)
    return made.early_s is not None and made.early_s <= 0 and (made.late_s or 0.0) <= 0


def _later(of: Feeding) -> list[Edit]:
    """Power later and the relay let go later, as the relays' own times ask it."""
    made, asked = switching(of), of.supply.sequence
    relay = antenna_relay(of)
    if relay is None or made.settled_s is None:
        return []
    if relay.switches == "antenna_and_supplies":
        contacts = ((*("supply", "relays", relay.name), "switches"), "antenna")
        start = max(made.settled_s + ROOM_S, asked.transmit_s)
        back = max(asked.transmit_off_s + asked.fall_s + ROOM_S, asked.antenna_back_s)
        changes = (contacts, ((*_SEQUENCE, "transmit_s"), _tidy(start)), _back(back))
        return [Edit("Switch the supplies apart from the antenna, power last and first", changes)]
    start = asked.transmit_s + max((made.early_s or 0.0) + ROOM_S, 0.0)
    back = asked.antenna_back_s + max((made.late_s or 0.0) + ROOM_S, 0.0)
    words = f"Let power come {1e3 * _tidy(start):g} ms after key down"
    words += f", and the relay go {1e3 * _tidy(back):g} ms after key up"
    return [Edit(words, (((*_SEQUENCE, "transmit_s"), _tidy(start)), _back(back)))]


def _back(second: float) -> tuple[Path, float]:
    return (*_SEQUENCE, "antenna_back_s"), _tidy(second)


def _tidy(second: float) -> float:
    """Up to the next millisecond."""
    return ceil(1e3 * second - 1e-6) / 1e3


@rule
def receiver_hit(analysis: Analysis) -> Iterator[Finding]:
    """What reaches the receiver's input at key down, and between power and relay, must not destroy it."""
    of = feeding(analysis)
    if of is None or not analysis.project.path("receive"):
        return
    made, bears = switching(of), of.supply.receiver_bears_dbm
    if made.at_receiver_dbm is None or made.at_receiver_dbm <= bears:
        return
    edits = mending(
        analysis,
        lambda fed: (switching(fed).at_receiver_dbm or 0.0) <= fed.supply.receiver_bears_dbm,
        *_later(of),
    )
    whole = of.sends_dbm is not None and made.at_receiver_dbm > of.sends_dbm - 1
    yield Finding(
        severity="fault",
        rule="receiver_hit",
        stage="supply",
        path=(*_SEQUENCE, "transmit_s"),
        words="<figure> reach the receiver's input, which bears <limit>: "
        + (
            f"power and {made.antenna} overlap."
            if whole
            else f"the open contact of {made.antenna} lets them through."
        ),
        figure=made.at_receiver_dbm,
        limit=bears,
        unit="dBm",
        remedy=remedy_of(edits, "Ground the receiver's input in transmit with a second contact."),
        source="full output less what the open contact keeps; delays as set and the relays' own times",
        edits=edits,
    )


@rule
def switched_under_power(analysis: Analysis) -> Iterator[Finding]:
    """A relay that opens under power burns its contacts, and the power amplifier sees no antenna."""
    of = feeding(analysis)
    if of is None or of.sends_dbm is None or antenna_relay(of) is None:
        return
    made = switching(of)
    overlap = max(made.early_s or 0.0, made.late_s or 0.0)
    if overlap <= 0:
        return
    edits = mending(analysis, _ordered, *_later(of))
    when = "comes before" if (made.early_s or 0.0) >= overlap else "is there when"
    how = "has settled" if when == "comes before" else "is let go"
    yield Finding(
        severity="caution",
        rule="switched_under_power",
        stage="supply",
        path=(*_SEQUENCE, "antenna_back_s" if how == "is let go" else "transmit_s"),
        words=f"Power {when} {made.antenna} {how}, for <figure>: its contacts burn, and the power amplifier "
        "works without an antenna.",
        figure=1e3 * overlap,
        unit="ms",
        shown=".1f",
        remedy=remedy_of(edits, "Let power come later and go sooner."),
        source="delays as set and the relays' own times",
        edits=edits,
    )


@rule
def antenna_relay_missing(analysis: Analysis) -> Iterator[Finding]:
    """Something has to switch the antenna."""
    of = feeding(analysis)
    if of is None or of.sends_dbm is None or antenna_relay(of) is not None:
        return
    if not analysis.project.path("receive"):
        return
    fresh = Relay()
    if any(each.name == fresh.name for each in of.supply.relays):
        fresh = fresh.edited(("name",), "Antenna relay 2")
    edits = mending(
        analysis,
        lambda fed: antenna_relay(fed) is not None,
        Edit("Add an antenna relay", ((("supply", "relays"), (*of.supply.relays, fresh)),)),
    )
    yield Finding(
        severity="caution",
        rule="antenna_relay_missing",
        stage="supply",
        path=("supply", "relays"),
        words="No relay switches the antenna between receiver and transmitter, so nothing is known of what "
        "reaches the receiver when the rig sends.",
        remedy=remedy_of(edits, "Add a relay that switches it."),
        source=COMMON_PRACTICE,
        edits=edits,
    )


@rule
def heard_while_switching(analysis: Analysis) -> Iterator[Finding]:
    """A receiver that is not muted thumps, or howls, while everything switches."""
    of = feeding(analysis)
    if of is None or of.sends_dbm is None or not analysis.project.path("receive"):
        return
    made = switching(of)
    begins = min(each for each in (made.power_s, made.settled_s) if each is not None)
    ends = max(made.gone_s, made.back_s or 0.0)
    late, early = made.muted_s - begins, ends - made.unmuted_s
    if max(late, early) <= 0:
        return
    wait = _tidy(ends + ROOM_S)
    edits = mending(
        analysis,
        lambda fed: switching(fed).unmuted_s >= max(switching(fed).gone_s, switching(fed).back_s or 0.0),
        Edit(
            f"Mute it at once, and let it be heard {1e3 * wait:g} ms after the key",
            (((*_SEQUENCE, "mute_s"), 0.0), ((*_SEQUENCE, "unmute_s"), max(wait, made.unmuted_s))),
        ),
    )
    yield Finding(
        severity="caution",
        rule="heard_while_switching",
        stage="supply",
        path=(*_SEQUENCE, "mute_s" if late >= early else "unmute_s"),
        words="The receiver is heard for <figure> while antenna and power are switched: "
        + ("it is muted too late." if late >= early else "it comes back too soon."),
        figure=1e3 * max(late, early),
        unit="ms",
        shown=".1f",
        remedy=remedy_of(edits, "Mute it sooner and longer."),
        source="delays as set and the relays' own times",
        edits=edits,
    )
