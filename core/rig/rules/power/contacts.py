"""Rules on the contacts that all of a rig's current passes."""

from collections.abc import Iterator

from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding, rule
from core.rig.rules.power.tried import remedy_of
from core.rig.supply.consumers import feeding
from core.rig.supply.state import running_a
from core.trade.supply.feeding import supply_parts

#: By their field in the supply, what they are in the table.
_CONTACTS = {"connector": "connector", "on_switch": "switch"}


@rule
def contacts_small(analysis: Analysis) -> Iterator[Finding]:
    """Connector and switch carry all that the rig draws; what is too small for it gets hot."""
    of = feeding(analysis)
    if of is None:
        return
    table, running = supply_parts(), running_a(of)
    for field, what in _CONTACTS.items():
        mine = table.get(getattr(of.supply, field))
        if mine is None or mine.bears_a is None or running <= mine.bears_a:
            continue
        others = sorted((e for e in table.values() if e.what == what), key=lambda e: e.bears_a or 0.0)
        edits = tuple(
            Edit(f"Take {each.name}", ((("supply", field), each.word),))
            for each in others
            if (each.bears_a or 0.0) >= running
        )[:1]
        yield Finding(
            severity="caution",
            rule="contacts_small",
            subject=field,
            stage="supply",
            path=("supply", field),
            words=f"The rig draws <figure>; a {mine.name} bears <limit> for long.",
            figure=running,
            limit=mine.bears_a,
            unit="A",
            shown="3",
            remedy=remedy_of(edits, "Let a relay switch the supply, and take terminals that bear it."),
            source="table of connectors and switches, from memory",
            edits=edits,
        )
