"""Rules on source, fuse, lead and wrong polarity."""

from collections.abc import Iterator
from typing import Any

from core.model.supply.source import Fuse
from core.model.values.base import Path
from core.model.values.notation import format_value, significant
from core.model.values.part_names import spelled
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rules.power.tried import mending, remedy_of
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.polarity import LEAST_LEFT, chosen_way, fuse_facts, lead_facts
from core.rig.supply.soldered import supply_soldered
from core.rig.supply.state import running_a
from core.trade.supply.feeding import fuses, polarity_diodes, wires

_FUSE: Path = ("supply", "fuse")
_POLARITY: Path = ("supply", "polarity")
_LEAD: Path = ("supply", "lead", "gauge")
_SIZING = (
    "fuse at 1.25 to 1.5 times the largest steady current and below what the lead bears; " + COMMON_PRACTICE
)
_LEADS = "table of leads, from memory"


def _ampere(value: float) -> str:
    return format_value(value, "A", 3)


def _rating(of: Feeding, value: float) -> Edit:
    """Another fuse, in the place of one that was fitted too."""
    changes: tuple[tuple[Path, Any], ...] = (((*_FUSE, "rated_a"), value),)
    if "fuse" in dict(of.asked.as_built):
        rest = {key: built for key, built in of.asked.as_built if key != "fuse"}
        changes = (*changes, (("supply", "as_built"), rest))
    return Edit(f"Take a fuse of {_ampere(value)}", changes)


def _thicker(of: Feeding, fuse_a: float | None = None) -> list[Edit]:
    """Thicker leads, the thinnest first, with another fuse where one is given [A]."""
    found = []
    for gauge in sorted(wires(), reverse=True):
        if gauge < of.supply.lead.gauge:
            changes = ((_LEAD, gauge),) if fuse_a is None else ((_LEAD, gauge), ((*_FUSE, "rated_a"), fuse_a))
            words = f"Take a lead of AWG {gauge}"
            found.append(
                Edit(words if fuse_a is None else f"{words} and a fuse of {_ampere(fuse_a)}", changes)
            )
    return found


def _fuse_is_right(of: Feeding) -> bool:
    facts = fuse_facts(of)
    carries = facts.carries_a or 0.0
    return facts.running_a <= carries and (facts.rated_a or 0.0) <= facts.wire_a


@rule
def fuse_missing(analysis: Analysis) -> Iterator[Finding]:
    """A battery gives a hundred amperes into a short circuit."""
    of = feeding(analysis)
    if of is None or of.supply.fuse is not None:
        return
    facts = fuse_facts(of)
    edits: tuple[Edit, ...] = ()
    if facts.proposed_a is not None:
        fuse = Fuse(rated_a=facts.proposed_a)
        edits = (Edit(f"Put in a blade fuse of {_ampere(facts.proposed_a)}", ((_FUSE, fuse),)),)
    yield Finding(
        severity="fault",
        rule="fuse_missing",
        stage="supply",
        path=_FUSE,
        words="There is no fuse: <figure> flow into a short circuit, and the lead bears <limit>; it burns.",
        figure=facts.short_a,
        limit=facts.wire_a,
        unit="A",
        shown="2",
        remedy=remedy_of(edits, "Put a fuse at the source's end of a thicker lead."),
        source=COMMON_PRACTICE,
        edits=edits,
    )


@rule
def fuse_small(analysis: Analysis) -> Iterator[Finding]:
    """A fuse ages and opens when it carries nearly its rating for long."""
    of = feeding(analysis)
    if of is None or of.supply.fuse is None:
        return
    facts = fuse_facts(of)
    if facts.carries_a is None or facts.rated_a is None or facts.running_a <= facts.carries_a:
        return
    known = [each.rated_a for each in fuses()[of.supply.fuse.type]]
    wanted = next((each for each in known if each * of.supply.fuse.load_share >= facts.running_a), None)
    tried = [] if wanted is None else [_rating(of, wanted), *_thicker(of, wanted)]
    edits = mending(analysis, _fuse_is_right, *tried, most=1)
    yield Finding(
        severity="fault" if facts.running_a > facts.rated_a else "caution",
        rule="fuse_small",
        stage="supply",
        path=(*_FUSE, "rated_a"),
        words=f"The rig draws <figure> at full output; a fuse of {_ampere(facts.rated_a)} carries <limit> "
        "for long.",
        figure=facts.running_a,
        limit=facts.carries_a,
        unit="A",
        shown="3",
        remedy=remedy_of(edits, "Take a larger fuse and a lead that bears it."),
        source=_SIZING,
        edits=edits,
    )


@rule
def fuse_large(analysis: Analysis) -> Iterator[Finding]:
    """A fuse protects the lead, so that it has to open before the lead burns."""
    of = feeding(analysis)
    if of is None:
        return
    facts = fuse_facts(of)
    through = facts.running_a if facts.rated_a is None else max(facts.rated_a, facts.running_a)
    if through <= facts.wire_a:
        return
    tried = [] if facts.rated_a is None or facts.proposed_a is None else [_rating(of, facts.proposed_a)]
    if facts.rated_a is None:
        edits = mending(analysis, lambda fed: fuse_facts(fed).wire_a >= through, *_thicker(of), most=1)
    else:
        edits = mending(analysis, _fuse_is_right, *tried, *_thicker(of), most=2)
    what = "flow through the lead" if facts.rated_a is None else "pass before the fuse opens"
    yield Finding(
        severity="fault",
        rule="fuse_large",
        stage="supply",
        path=_LEAD if facts.rated_a is None else (*_FUSE, "rated_a"),
        words=f"<figure> {what}; a lead of AWG {of.supply.lead.gauge} bears <limit>.",
        figure=through,
        limit=facts.wire_a,
        unit="A",
        shown="3",
        remedy=remedy_of(edits[:2], "Take a thicker lead and a smaller fuse."),
        source=_LEADS,
        edits=edits,
    )


@rule
def fuse_not_made(analysis: Analysis) -> Iterator[Finding]:
    """Fuses come in preferred ratings."""
    of = feeding(analysis)
    if of is None or of.supply.fuse is None:
        return
    rated, known = of.supply.fuse.rated_a, [each.rated_a for each in fuses()[of.supply.fuse.type]]
    if any(abs(each - rated) < 1e-3 * rated for each in known):
        return
    nearest = next((each for each in known if each >= rated), known[-1])
    edits = (_rating(of, nearest),)
    yield Finding(
        severity="caution",
        rule="fuse_not_made",
        stage="supply",
        path=(*_FUSE, "rated_a"),
        words=f"Fuses of {_ampere(rated)} are not made in this type; the next one has {_ampere(nearest)}.",
        remedy=remedy_of(edits, ""),
        source="ratings of IEC 60127 and ISO 8820-3, from memory",
        edits=edits,
    )


@rule
def fuse_never_opens(analysis: Analysis) -> Iterator[Finding]:
    """A supply that limits its current may not give enough to open a fuse."""
    of = feeding(analysis)
    if of is None or of.supply.fuse is None:
        return
    facts = fuse_facts(of)
    if facts.blows_s is not None or facts.rated_a is None:
        return
    tried = [] if facts.proposed_a is None else [_rating(of, facts.proposed_a)]
    edits = mending(analysis, lambda fed: fuse_facts(fed).blows_s is not None, *tried)
    yield Finding(
        severity="caution",
        rule="fuse_never_opens",
        stage="supply",
        path=(*_FUSE, "rated_a"),
        words="Into a short circuit flow <figure>, with which a fuse of <limit> need not open.",
        figure=facts.short_a,
        limit=facts.rated_a,
        at_least=facts.short_a < facts.rated_a,
        unit="A",
        shown="2",
        remedy=remedy_of(edits, "Take a smaller fuse, or rely on the supply's own limit."),
        source="limits of IEC 60127-2 and ISO 8820-3, from memory",
        edits=edits,
    )


@rule
def wrong_polarity(analysis: Analysis) -> Iterator[Finding]:
    """A supply gets connected backwards once in every rig's life."""
    of = feeding(analysis)
    if of is None or chosen_way(of).outcome.safe:
        return
    made = chosen_way(of)
    tried = []
    if made.scheme in ("shunt_diode", "series_diode"):
        for row in polarity_diodes().values():
            tried.append(Edit(f"Take a diode {row.name} for it", (((*_POLARITY, "diode"), row.diode),)))
    proposed = fuse_facts(of).proposed_a
    if made.scheme == "shunt_diode" and of.supply.fuse is not None and proposed is not None:
        tried.append(_rating(of, proposed))
    mosfet = (((*_POLARITY, "scheme"), "p_mosfet"), ((*_POLARITY, "gate_clamped"), True))
    tried.append(Edit("Put a P-channel MOSFET with a clamped gate into the lead", mosfet))
    edits = mending(analysis, lambda fed: chosen_way(fed).outcome.safe, *tried)
    yield Finding(
        severity="fault" if made.scheme == "none" else "caution",
        rule="wrong_polarity",
        stage="supply",
        path=(*_POLARITY, "scheme"),
        words=f"Connected backwards, with {_PROTECTED[made.scheme].format(made.part)}: {made.outcome.words}",
        remedy=remedy_of(edits, "Put a P-channel MOSFET that bears the voltage into the lead."),
        source="an anti-parallel diode with a fuse saves a rig once, where the fuse opens before the diode's "
        f"surge limit; {COMMON_PRACTICE}",
        edits=edits,
    )


_PROTECTED = {
    "none": "{} against it",
    "shunt_diode": "the diode {} across the supply",
    "series_diode": "the diode {} in the lead",
    "p_mosfet": "the MOSFET {} in the lead",
}


@rule
def lead_loses(analysis: Analysis) -> Iterator[Finding]:
    """Voltage that the lead loses is power that the transmitter lacks."""
    of = feeding(analysis)
    if of is None:
        return
    facts = lead_facts(of)
    if facts.lead_v <= facts.most_v:
        return
    edits = mending(
        analysis, lambda fed: lead_facts(fed).lead_v <= lead_facts(fed).most_v, *_thicker(of), most=1
    )
    yield Finding(
        severity="caution",
        rule="lead_loses",
        stage="supply",
        path=_LEAD,
        words=f"The lead of AWG {facts.gauge} loses <figure> at {_ampere(running_a(of))}, where <limit> is "
        "much.",
        figure=facts.lead_v,
        limit=facts.most_v,
        unit="V",
        shown="2",
        remedy=remedy_of(edits, "Make the lead shorter, or take two in parallel."),
        source="copper at 20 °C, ASTM B258; 4 % of the supply is common practice",
        edits=edits,
    )


@rule
def rig_starves(analysis: Analysis) -> Iterator[Finding]:
    """A source that gives way leaves the rig too little, whatever the lead."""
    of = feeding(analysis)
    if of is None:
        return
    lead, most = lead_facts(of), (1 - LEAST_LEFT) * of.nominal_v
    if lead.lead_v > lead.most_v or lead.lost_v <= most:
        return
    source = ("supply", "source", "internal_ohm")
    over_ohm = (lead.lost_v - most) / max(running_a(of), 1e-9)
    tried = []
    allowed_ohm = of.supply.source.internal_ohm - over_ohm
    if allowed_ohm > 1e-3:
        ohm = significant(0.9 * allowed_ohm, 1)
        words = f"Take a source of {format_value(ohm, 'Ω', 2)} or less"
        tried.append(Edit(words, ((source, ohm),)))
    mosfet = (((*_POLARITY, "scheme"), "p_mosfet"), ((*_POLARITY, "gate_clamped"), True))
    tried.append(Edit("Put a P-channel MOSFET into the lead in place of the diode", mosfet))
    edits = mending(
        analysis,
        lambda fed: lead_facts(fed).lost_v <= (1 - LEAST_LEFT) * fed.nominal_v,
        *tried,
        most=1,
    )
    yield Finding(
        severity="caution",
        rule="rig_starves",
        stage="supply",
        path=source,
        words="Up to the rig <figure> are lost at full output, where <limit> is much.",
        figure=lead.lost_v,
        limit=most,
        unit="V",
        shown="2",
        remedy=remedy_of(edits, "Take a larger battery or supply, better contacts, or less power."),
        source=f"Ohm's law; a tenth of the supply is {COMMON_PRACTICE}",
        edits=edits,
    )


@rule
def nominal_outside(analysis: Analysis) -> Iterator[Finding]:
    """The nominal voltage is one that the battery has."""
    of = feeding(analysis)
    if of is None or of.empty_v <= of.nominal_v <= of.full_v:
        return
    middle = significant((of.full_v + of.empty_v) / 2, 3)
    low = of.nominal_v < of.empty_v
    path = ("station", "supply_v")
    yield Finding(
        severity="caution",
        rule="nominal_outside",
        stage="station",
        path=path,
        words="The nominal supply of <figure> is "
        + ("less than the empty battery's <limit>." if low else "more than the full battery's <limit>."),
        figure=of.nominal_v,
        limit=of.empty_v if low else of.full_v,
        at_least=low,
        unit="V",
        shown="3",
        remedy=f"Call {middle:g} V nominal, or correct the battery.",
        source=COMMON_PRACTICE,
        edits=(Edit(f"Call {middle:g} V nominal", ((path, middle),)),),
    )


@rule
def supply_gives_too_little(analysis: Analysis) -> Iterator[Finding]:
    """A supply that limits its current lets the rig starve."""
    of = feeding(analysis)
    limit = None if of is None or of.supply.source.type == "battery" else of.supply.source.limit_a
    if of is None or limit is None or running_a(of) <= limit:
        return
    yield Finding(
        severity="fault",
        rule="supply_gives_too_little",
        stage="supply",
        path=("supply", "source", "limit_a"),
        words="The rig draws <figure> at full output and the supply gives <limit>.",
        figure=running_a(of),
        limit=limit,
        unit="A",
        shown="3",
        remedy="Take a larger supply, or less power.",
        source="Ohm's law",
    )


@rule
def source_safety(analysis: Analysis) -> Iterator[Finding]:
    """Cautions that hold for any mains supply and any battery."""
    of = feeding(analysis)
    if of is None:
        return
    source = of.supply.source.type
    words = {
        "battery": "A battery gives enough current to melt tools and start fires: fuse it at its own "
        "terminal, cover its poles, and charge it as its maker says.",
        "mains": "Mains voltage kills: switch and fuse the live conductor, earth the case, keep mains wiring "
        "covered and apart, and let somebody who is qualified look at it; its capacitors hold charge after "
        "switching off.",
    }.get(source)
    if words is not None:
        yield Finding(
            severity="note",
            rule="source_safety",
            stage="supply",
            path=("supply", "source", "type"),
            words=words,
            remedy="Local rules decide; a bought regulated supply spares the mains part.",
            source=COMMON_PRACTICE,
        )


@rule
def supply_as_built_unknown(analysis: Analysis) -> Iterator[Finding]:
    """An as-built value for a part that the supply does not have is a value nobody uses."""
    made = supply_soldered(analysis)
    if made is None or not made.idle:
        return
    names = ", ".join(dict.fromkeys(spelled("supply", key) for _, key, _ in made.idle))
    yield Finding(
        severity="caution",
        rule="as_built_unused",
        stage="supply",
        path=("supply",),
        words=f"The supply has as-built values for {names}, which it does not have now.",
        remedy="Clear them at the end of its parts table, or go back to the design they belong to.",
        source="the project itself",
    )
