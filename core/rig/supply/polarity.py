"""Fuse and lead against the current, and what a supply that is connected backwards does to the rig."""

from functools import lru_cache

from core.circuits.supply.protection import diode_bears_a, fault_a, forward_v, longest_s
from core.circuits.supply.wiring import lead_ohm
from core.model.supply.source import Polarity, Scheme
from core.record import record
from core.rig.supply.consumers import Feeding
from core.rig.supply.state import fuse_row, loop_ohm, on_ohm, polarity_drop_v, running_a, totals
from core.trade.supply.feeding import (
    PolarityDiodeRow,
    fuse_types,
    fuses,
    polarity_diodes,
    polarity_mosfets,
    wires,
)

#: Of the nominal voltage a lead loses so much at most [-]; common practice, no source.
MOST_LOST = 0.04
#: Of the nominal voltage so much arrives at the rig at least [-]; common practice, no source.
LEAST_LEFT = 0.9
#: A gate is driven to so much of what it bears at most [-]; common practice, no source.
GATE_SHARE = 0.8
SCHEMES: tuple[Scheme, ...] = ("none", "shunt_diode", "series_diode", "p_mosfet")


@record(kw_only=True)
class FuseFacts:
    """The fuse and the lead behind it.

    `running_a` is the largest steady current, `carries_a` what the fuse carries for long, `wire_a` what the
    lead bears [A]; `proposed_a` the smallest rating that carries the current and that the lead bears [A],
    None where there is none. `blows_s` is the longest that it takes at a short circuit of `short_a` in the
    rig [s, A].
    """

    name: str
    rated_a: float | None
    running_a: float
    carries_a: float | None
    wire_a: float
    proposed_a: float | None
    short_a: float
    blows_s: float | None
    cold_ohm: float | None
    melting_a2s: float | None


@lru_cache(maxsize=16)
def fuse_facts(feeding: Feeding) -> FuseFacts:
    """The fuse of a rig against what flows."""
    supply, running = feeding.supply, running_a(feeding)
    fuse, row = supply.fuse, fuse_row(supply)
    wire_a = wires()[_known(supply.lead.gauge)].bears_a
    short = fault_a(feeding.full_v, loop_ohm(supply), 0.0, _limit_a(feeding))
    return FuseFacts(
        name="no fuse" if fuse is None else fuse_types()[fuse.type].name,
        rated_a=None if fuse is None else fuse.rated_a,
        running_a=running,
        carries_a=None if fuse is None else fuse.rated_a * fuse.load_share,
        wire_a=wire_a,
        proposed_a=proposed_a(feeding, wire_a),
        short_a=short,
        blows_s=None if fuse is None else longest_s(short, fuse.rated_a, fuse_types()[fuse.type].longest),
        cold_ohm=None if row is None else row.cold_ohm,
        melting_a2s=None if row is None else row.melting_a2s,
    )


def _limit_a(feeding: Feeding) -> float | None:
    source = feeding.supply.source
    return None if source.type == "battery" else source.limit_a


def _known(gauge: int) -> int:
    """The gauge of the table at or next thinner than this one: gauges between even ones are rarely sold."""
    return min((each for each in wires() if each >= gauge), default=max(wires()))


def proposed_a(feeding: Feeding, wire_a: float) -> float | None:
    """The smallest rating that carries the current and that a lead for `wire_a` [A] bears, A; None: none."""
    fuse = feeding.supply.fuse
    kind, share = ("blade", 0.75) if fuse is None else (fuse.type, fuse.load_share)
    wanted = running_a(feeding) / share
    return next((each.rated_a for each in fuses()[kind] if wanted <= each.rated_a <= wire_a), None)


@record(kw_only=True)
class LeadFacts:
    """The lead: resistance of both wires [ohm], voltage lost in it and altogether up to the rig at the
    largest current [V], what of that is still in order [V], and the thinnest gauge that loses no more and
    bears the fuse, None where none does.
    """

    gauge: int
    length_m: float
    ohm: float
    lead_v: float
    lost_v: float
    most_v: float
    proposed: int | None


@lru_cache(maxsize=16)
def lead_facts(feeding: Feeding) -> LeadFacts:
    """The lead of a rig at its largest current."""
    supply, running = feeding.supply, running_a(feeding)
    lead, most = supply.lead, MOST_LOST * feeding.nominal_v
    wanted_a = running if supply.fuse is None else max(running, supply.fuse.rated_a)
    fits = [
        gauge
        for gauge, row in wires().items()
        if row.bears_a >= wanted_a and running * lead_ohm(lead.length_m, gauge) <= most
    ]
    ohm = lead_ohm(lead.length_m, lead.gauge)
    return LeadFacts(
        gauge=lead.gauge,
        length_m=lead.length_m,
        ohm=ohm,
        lead_v=running * ohm,
        lost_v=max(each.source_v - each.transmit_v for each in totals(feeding)),
        most_v=most,
        proposed=max(fits, default=None),
    )


@record(kw_only=True)
class Outcome:
    """What happens when the supply is connected backwards: whether the rig survives, in words, the current
    that flows [A], the longest until the fuse opens [s], None where it may never, and what the diode bears
    for so long [A].
    """

    safe: bool
    words: str
    fault_a: float | None = None
    opens_s: float | None = None
    bears_a: float | None = None


@record(kw_only=True)
class Backwards:
    """One way to stand against wrong polarity: the part, what it drops and heats at the largest current [V,
    W], and what happens when the supply is connected backwards; whether the rig has it.
    """

    scheme: Scheme
    part: str
    chosen: bool
    drop_v: float
    loss_w: float
    outcome: Outcome


@lru_cache(maxsize=16)
def backwards(feeding: Feeding) -> tuple[Backwards, ...]:
    """The ways to stand against wrong polarity, side by side, with the parts chosen."""
    asked = feeding.supply.polarity
    return tuple(with_part(feeding, asked.edited(("scheme",), scheme)) for scheme in SCHEMES)


def chosen_way(feeding: Feeding) -> Backwards:
    """The one that the rig has."""
    return next(each for each in backwards(feeding) if each.chosen)


def with_part(feeding: Feeding, polarity: Polarity) -> Backwards:
    """What a choice does at the rig's largest current."""
    running, chosen = running_a(feeding), polarity == feeding.supply.polarity
    drop = polarity_drop_v(polarity, running, on_ohm(feeding.supply) if chosen else None)
    part, outcome = _outcome(feeding, polarity, running)
    return Backwards(
        scheme=polarity.scheme,
        part=part,
        chosen=chosen,
        drop_v=drop,
        loss_w=drop * running,
        outcome=outcome,
    )


def _outcome(feeding: Feeding, polarity: Polarity, running: float) -> tuple[str, Outcome]:
    """A scheme's part by its name, and what happens with it."""
    volt, diode = feeding.full_v, polarity_diodes()[polarity.diode]
    if polarity.scheme == "none":
        words = f"{volt:.3g} V stand across every stage the wrong way."
        return "nothing", Outcome(safe=False, words=words)
    if polarity.scheme == "shunt_diode":
        return diode.name, _shunted(feeding, diode)
    if polarity.scheme == "series_diode":
        if diode.reverse_v <= volt:
            return diode.name, Outcome(safe=False, words=f"It breaks down at {diode.reverse_v:.3g} V.")
        if diode.steady_a < running:
            words = f"It bears {diode.steady_a:.3g} A for long and dies of the rig's own current."
            return diode.name, Outcome(safe=False, words=words)
        return diode.name, Outcome(safe=True, words="It blocks; nothing happens.")
    row = polarity_mosfets()[polarity.mosfet]
    if row.drain_v <= volt:
        return row.name, Outcome(safe=False, words=f"It breaks down at {row.drain_v:.3g} V.")
    if not polarity.gate_clamped and volt > GATE_SHARE * row.gate_v:
        words = f"Its gate sees {volt:.3g} V and bears {row.gate_v:.3g} V; a spike goes through it."
        return row.name, Outcome(safe=False, words=words)
    return row.name, Outcome(safe=True, words="It stays off; nothing happens.")


def _shunted(feeding: Feeding, diode: PolarityDiodeRow) -> Outcome:
    """A diode across the supply: the fuse must open before the diode's surge limit."""
    supply = feeding.supply
    current = _through(feeding, diode)
    fuse = supply.fuse
    opens = None if fuse is None else longest_s(current, fuse.rated_a, fuse_types()[fuse.type].longest)
    bears = diode.steady_a if opens is None else diode_bears_a(diode.surge_a, diode.steady_a, opens)
    safe = current <= bears
    flows = f"{current:.3g} A flow"
    if fuse is None:
        words = f"{flows} for good, and nothing opens." if safe else f"{flows} until the diode dies."
    elif opens is None:
        words = f"{flows}, too little for the fuse to open with certainty"
        words += ", and the diode bears them." if safe else f"; the diode bears {bears:.3g} A."
    else:
        words = f"{flows}, the fuse opens within {_milliseconds(opens)}, "
        words += "and the diode lives." if safe else f"and the diode bears {bears:.3g} A for so long."
    return Outcome(safe=safe and fuse is not None, words=words, fault_a=current, opens_s=opens, bears_a=bears)


def _through(feeding: Feeding, diode: PolarityDiodeRow) -> float:
    """The current through a diode across the supply that is connected backwards [A], in steps
    that go half the way: more current means more voltage across the diode.
    """
    ohm, limit = loop_ohm(feeding.supply), _limit_a(feeding)
    current = fault_a(feeding.full_v, ohm, diode.high_v, limit)
    for _ in range(30):
        volt = forward_v(current, (diode.low_v, diode.low_a), (diode.high_v, diode.high_a))
        current = (current + fault_a(feeding.full_v, ohm, volt, limit)) / 2
    return current


def _milliseconds(second: float) -> str:
    return f"{second:.2g} s" if second >= 1 else f"{1e3 * second:.2g} ms"
