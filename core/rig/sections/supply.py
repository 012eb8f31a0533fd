"""Figures of the supply: who draws what, fuse, lead, wrong polarity, regulators, relays, sequence."""

from collections.abc import Callable, Sequence
from typing import Any

from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, label
from core.rig.sections.section import Section
from core.rig.sections.supply_parts import (
    BIAS,
    DECOUPLING,
    FUSE,
    LEAD,
    POLARITY,
    REGULATORS,
    RELAYS,
    STATE,
    ampere,
)
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.parts import (
    decoupling_facts,
    regulator_facts,
    relay_facts,
)
from core.rig.supply.polarity import (
    backwards,
    fuse_facts,
    lead_facts,
)
from core.rig.supply.sequence import Event, Switching, switching
from core.rig.supply.state import BatteryLife, Total, battery_life, totals
from core.rig.supply.table import SwitchingRow, rows_of

_ORIGINS = {"circuit": "computed", "typed": "typed", "unknown": "not known"}
SWITCHING: Table[SwitchingRow] = (
    label("name", "fed", lambda r: r.name),
    Figure(
        key="rail",
        title="hangs on",
        what="The regulator that it hangs on, or the rig's own supply.",
        source="the project",
        get=lambda r: r.rail or "supply",
    ),
    Figure(
        key="on_in_receive",
        title="on in receive",
        what="Whether it is fed in receive.",
        source="the directions that its stage works in, or as set",
        get=lambda r: r.in_receive,
    ),
    Figure(
        key="on_in_transmit",
        title="on in transmit",
        what="Whether it is fed in transmit.",
        source="the directions that its stage works in, or as set",
        get=lambda r: r.in_transmit,
    ),
    ampere("receive_a", "receive", "Its current in receive without a signal.", lambda r: r.receive_a, BIAS),
    ampere("transmit_a", "transmit", "Its current in transmit at rest.", lambda r: r.transmit_a, BIAS),
    ampere("full_a", "full output", "Its current in transmit at full output.", lambda r: r.full_a, BIAS),
    Figure(
        key="origin",
        title="current is",
        what="Where the current comes from.",
        source="the stage's circuit, or the supply's fields",
        get=lambda r: r.origin,
        words=lambda word: _ORIGINS[word],
    ),
)

TOTALS: Table[Total] = (
    label("of", "source", lambda t: t.of),
    Figure(
        key="source_v",
        title="voltage",
        what="The source's own voltage, without load.",
        source="the project",
        get=lambda t: t.source_v,
        unit="V",
    ),
    ampere("receive_a", "receive", "All that the rig draws in receive.", lambda t: t.receive_a, STATE),
    ampere(
        "transmit_a",
        "transmit",
        "All that it draws in transmit at rest.",
        lambda t: t.transmit_rest_a,
        STATE,
    ),
    ampere("full_a", "full output", "All that it draws at full output.", lambda t: t.transmit_full_a, STATE),
    Figure(
        key="receive_v",
        title="at the rig, receive",
        what="Voltage at the rig in receive.",
        source=STATE,
        get=lambda t: t.receive_v,
        unit="V",
    ),
    Figure(
        key="transmit_v",
        title="at the rig, full output",
        what="Voltage at the rig at full output.",
        source=STATE,
        get=lambda t: t.transmit_v,
        unit="V",
    ),
)

BATTERY: Table[BatteryLife] = (
    ampere("receive_a", "receive", "Mean current in receive.", lambda b: b.receive_a, STATE),
    ampere(
        "transmit_a",
        "transmit",
        "Mean current in transmit on speech.",
        lambda b: b.transmit_a,
        "between rest and full output by the share that speech draws; an estimate",
    ),
    ampere(
        "mean_a",
        "mean",
        "Mean current at the share of transmitting.",
        lambda b: b.mean_a,
        "both by the share of time",
    ),
    Figure(
        key="hours",
        title="battery lasts",
        what="Time on a full battery at the share of transmitting.",
        source="usable capacity over mean current; an estimate, as a battery gives less in the cold and at "
        "large currents",
        get=lambda b: b.hours,
        unit="h",
        digits=2,
    ),
    Figure(
        key="receive_hours",
        title="receiving only",
        what="Time on a full battery without transmitting.",
        source="usable capacity over the current in receive; an estimate",
        get=lambda b: b.receive_hours,
        unit="h",
        digits=2,
    ),
)

SEQUENCE: Table[Event] = (
    label("key", "key", lambda e: e.key),
    Figure(
        key="after_s",
        title="after",
        what="Time after the key goes down or up.",
        source="delays as set, and the relays' own times",
        get=lambda e: e.after_s,
        unit="s",
        places=1,
        prefix="m",
    ),
    Figure(
        key="what",
        title="what happens",
        what="What happens then.",
        source="the sequence",
        get=lambda e: e.what,
    ),
)

KEY_DOWN: Table[Switching] = (
    Figure(
        key="early_s",
        title="relay settles before power by",
        what="How much sooner the antenna relay has settled than power can come.",
        source="delays as set, and the relays' own times",
        get=lambda s: None if s.early_s is None else -s.early_s,
        unit="s",
        places=1,
        prefix="m",
    ),
    Figure(
        key="late_s",
        title="power gone before it is let go by",
        what="How much sooner power is gone than the antenna relay is let go.",
        source="delays as set, and the relays' own times",
        get=lambda s: None if s.late_s is None else -s.late_s,
        unit="s",
        places=1,
        prefix="m",
    ),
    Figure(
        key="isolation_db",
        title="open contact",
        what="What the relay's open contact keeps from the receiver on the highest band.",
        source="capacitance of the contact between 50 Ω; from memory",
        get=lambda s: s.isolation_db,
        unit="dB",
        places=0,
    ),
    Figure(
        key="at_receiver_dbm",
        title="at the receiver's input",
        what="The most that reaches the receiver's input when the rig sends.",
        source="full output less the open contact's isolation; all of it where power overlaps with the relay",
        get=lambda s: s.at_receiver_dbm,
        unit="dBm",
        places=0,
        signed=True,
    ),
)


def _battery(of: Feeding) -> Sequence[BatteryLife]:
    found = battery_life(of)
    return () if found is None else (found,)


def _where_it_sends(get: Callable[[Switching], Sequence[Any]]) -> Callable[[Feeding], Sequence[Any]]:
    return lambda of: () if of.sends_dbm is None else get(switching(of))


def _of(get: Callable[[Feeding], Sequence[Any]]) -> Callable[[Analysis], Sequence[Any]]:
    """What fills a table; nothing where no supply is planned."""

    def rows(analysis: Analysis) -> Sequence[Any]:
        found = feeding(analysis)
        return () if found is None else get(found)

    return rows


SUPPLY = (
    Section("switching", SWITCHING, _of(rows_of)),
    Section("supply", TOTALS, _of(totals)),
    Section("battery", BATTERY, _of(_battery)),
    Section("fuse", FUSE, _of(lambda of: (fuse_facts(of),))),
    Section("lead", LEAD, _of(lambda of: (lead_facts(of),))),
    Section("polarity", POLARITY, _of(backwards)),
    Section("regulators", REGULATORS, _of(regulator_facts)),
    Section("relays", RELAYS, _of(relay_facts)),
    Section("decoupling", DECOUPLING, _of(decoupling_facts)),
    Section("sequence", SEQUENCE, _of(_where_it_sends(lambda s: s.events))),
    Section("key_down", KEY_DOWN, _of(_where_it_sends(lambda s: (s,)))),
)
