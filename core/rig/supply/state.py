"""Voltages and currents of a rig at one voltage of its source, in one direction."""

from functools import lru_cache

from core.circuits.supply.protection import forward_v
from core.circuits.supply.wiring import lead_ohm
from core.model.stages.stage import Way
from core.model.supply.source import Polarity
from core.model.supply.supply import Regulator, Relay, Supply
from core.record import record
from core.rig.supply.consumers import WAYS, Consumer, Feeding
from core.trade.supply.feeding import FuseRow, fuses, polarity_diodes, polarity_mosfets, regulators

#: A voltage stands when it moves by less than this, V; at most so many steps.
_STILL_V, _MOST_STEPS = 1e-6, 40


@record(kw_only=True)
class Fed:
    """A consumer while the rig is fed: voltage at it [V] and current [A], None where nobody knows it."""

    key: str
    name: str
    rail: str
    volt: float
    ampere: float | None


@record(kw_only=True)
class RegulatorAt:
    """A regulator: input and output [V], what hangs on it draws [A], its heat [W] and junction [°C]; whether
    the input leaves it the room that it needs.
    """

    regulator: Regulator
    on: bool
    input_v: float
    output_v: float
    load_a: float
    own_a: float
    heat_w: float
    junction_c: float
    holds: bool


@record(kw_only=True)
class State:
    """The rig at one voltage of its source [V]: at its own terminals, behind what stands against wrong
    polarity [V], the whole current [A], and every consumer, regulator and relay coil that is on [A].
    """

    source_v: float
    rig_v: float
    total_a: float
    lost_v: float
    fed: tuple[Fed, ...]
    regulators: tuple[RegulatorAt, ...]
    coils_a: tuple[tuple[str, float], ...]

    def of(self, key: str) -> Fed | None:
        """A consumer; None where it is not on."""
        return next((each for each in self.fed if each.key == key), None)

    def rail_v(self, rail: str) -> float:
        """The voltage of a rail, that of the rig itself for none, V."""
        return next((each.output_v for each in self.regulators if each.regulator.name == rail), self.rig_v)


def fuse_row(supply: Supply) -> FuseRow | None:
    """The fuse as the table has it, or the one next to it; None without a fuse."""
    if supply.fuse is None:
        return None
    rated = supply.fuse.rated_a
    known = fuses()[supply.fuse.type]
    return min(known, key=lambda each: abs(each.rated_a - rated) / max(each.rated_a, rated))


def fuse_ohm(supply: Supply) -> float:
    """Resistance of the fuse when cold; nothing without one [ohm]."""
    row = fuse_row(supply)
    return 0.0 if row is None else row.cold_ohm


def loop_ohm(supply: Supply) -> float:
    """Resistance between the source's own voltage and the rig [ohm]."""
    lead, source = supply.lead, supply.source
    ohm = source.internal_ohm + lead.contacts_ohm + lead_ohm(lead.length_m, lead.gauge)
    return ohm + fuse_ohm(supply)


def on_ohm(supply: Supply) -> float | None:
    """Resistance of a MOSFET against wrong polarity when on, as built [ohm]; None where it is the table's."""
    return dict(supply.as_built).get("polarity_mosfet")


def polarity_drop_v(polarity: Polarity, ampere: float, built_ohm: float | None = None) -> float:
    """What stands against wrong polarity drops at a current [A], V; a MOSFET by its resistance as built when
    on [ohm], None for the table's.
    """
    if polarity.scheme == "series_diode":
        row = polarity_diodes()[polarity.diode]
        return forward_v(ampere, (row.low_v, row.low_a), (row.high_v, row.high_a))
    if polarity.scheme == "p_mosfet":
        return ampere * (polarity_mosfets()[polarity.mosfet].on_ohm if built_ohm is None else built_ohm)
    return 0.0


def is_on(powered: str, way: Way) -> bool:
    """Whether something that is fed so is on in a direction."""
    return powered in ("both", way)


def _at_stage(one: Consumer, way: Way, rail_v: float, *, full: bool) -> tuple[float, float | None]:
    """Voltage at a consumer behind its decoupling [V], and its current [A]."""
    known = one.current(way)
    if known is None:
        return rail_v, None
    volt, series = rail_v, one.decoupling.resistor_ohm if one.decoupling is not None else None
    ampere = known.at(volt, full=full)
    for _ in range(4 if series else 0):
        volt = max(rail_v - ampere * (series or 0.0), 0.0)
        ampere = known.at(volt, full=full)
    return volt, ampere


def _regulator(each: Regulator, way: Way, rig_v: float, load_a: float, air_c: float) -> RegulatorAt:
    row, on = regulators()[each.type], is_on(each.powered, way)
    output = min(each.output_v, max(rig_v - row.drop_out_v, 0.0)) if on else 0.0
    own = row.own_a if on and rig_v > 0 else 0.0
    heat = (rig_v - output) * load_a + own * rig_v if on else 0.0
    to_air = row.air_k_w if each.sink_k_w is None else row.case_k_w + each.sink_k_w
    return RegulatorAt(
        regulator=each,
        on=on,
        input_v=rig_v,
        output_v=output,
        load_a=load_a,
        own_a=own,
        heat_w=heat,
        junction_c=air_c + heat * to_air,
        holds=not on or rig_v - row.drop_out_v >= each.output_v,
    )


def coil_a(relay: Relay, volt: float) -> float:
    """Current of a relay's coil at a voltage [V], A."""
    return volt / relay.coil_ohm


def at_rig(feeding: Feeding, source_v: float, rig_v: float, way: Way, *, full: bool) -> State:
    """Everything with `rig_v` [V] at the rig, whatever the lead loses."""
    supply = feeding.supply
    rails = {"": rig_v}
    for each in supply.regulators:
        rails[each.name] = _regulator(each, way, rig_v, 0.0, supply.air_c).output_v
    fed, load_a = [], dict.fromkeys(rails, 0.0)
    for one in feeding.consumers:
        if not one.on(way):
            continue
        volt, ampere = _at_stage(one, way, rails[one.rail], full=full)
        fed.append(Fed(key=one.key, name=one.name, rail=one.rail, volt=volt, ampere=ampere))
        load_a[one.rail] += ampere or 0.0
    made = tuple(_regulator(each, way, rig_v, load_a[each.name], supply.air_c) for each in supply.regulators)
    coils = tuple((each.name, coil_a(each, rig_v)) for each in supply.relays if is_on(each.powered, way))
    total = load_a[""] + sum(each.load_a + each.own_a for each in made) + sum(a for _, a in coils)
    return State(
        source_v=source_v,
        rig_v=rig_v,
        total_a=total,
        lost_v=source_v - rig_v,
        fed=tuple(fed),
        regulators=made,
        coils_a=coils,
    )


@lru_cache(maxsize=256)
def state(feeding: Feeding, source_v: float, way: Way, *, full: bool) -> State:
    """The rig with its source at `source_v` [V], in a direction, without a signal or at full output.

    Voltage at the rig and current follow from each other; steps go half the way, which settles as long as the
    resistance up to the rig is well below the rig's own. Where it does not, the highest voltage that holds is
    looked for between that of the source and none.
    """
    ohm, polarity = loop_ohm(feeding.supply), feeding.supply.polarity
    built_ohm = on_ohm(feeding.supply)

    def ahead_v(at: State) -> float:
        """How much more the source would leave at the rig than is assumed, V."""
        left = source_v - at.total_a * ohm - polarity_drop_v(polarity, at.total_a, built_ohm)
        return max(left, 0.0) - at.rig_v

    def assumed(rig_v: float) -> State:
        return at_rig(feeding, source_v, rig_v, way, full=full)

    found = assumed(source_v)
    for _ in range(_MOST_STEPS):
        step = ahead_v(found) / 2
        if abs(step) < _STILL_V:
            return found
        found = assumed(found.rig_v + step)
    grid = [source_v * (1 - n / _MOST_STEPS) for n in range(_MOST_STEPS + 1)]
    low = next((volt for volt in grid if ahead_v(assumed(volt)) >= 0), 0.0)
    high = min(low + source_v / _MOST_STEPS, source_v)
    for _ in range(_MOST_STEPS):
        middle = (low + high) / 2
        if ahead_v(assumed(middle)) >= 0:
            low = middle
        else:
            high = middle
    return assumed(low)


@lru_cache(maxsize=32)
def ripple_share(feeding: Feeding, rail: str, way: Way) -> float:
    """What of the source's ripple stands on a rail in a direction [-]: all of it on the rig's own, and behind
    a regulator that has not the room to regulate.
    """
    found = (each for each in state(feeding, feeding.nominal_v, way, full=False).regulators)
    at = next((each for each in found if each.regulator.name == rail), None)
    if at is None or not at.holds:
        return 1.0
    return float(10 ** (-regulators()[at.regulator.type].rejection_db / 20))


@record(kw_only=True)
class Total:
    """The whole current at one voltage of the source: in receive, in transmit at rest and at full output [A],
    and the voltage at the rig in receive and at full output [V].
    """

    of: str
    source_v: float
    receive_a: float
    transmit_rest_a: float
    transmit_full_a: float
    receive_v: float
    transmit_v: float


@lru_cache(maxsize=16)
def totals(feeding: Feeding) -> tuple[Total, ...]:
    """The whole current with the source full, nominal and empty."""
    found = []
    for name, volt in feeding.source_v.items():
        # A receiver draws its most at full volume; what it draws at rest is told of each stage.
        heard = state(feeding, volt, "receive", full=False)
        rest, full = (state(feeding, volt, "transmit", full=each) for each in (False, True))
        found.append(
            Total(
                of=name,
                source_v=volt,
                receive_a=heard.total_a,
                transmit_rest_a=rest.total_a,
                transmit_full_a=full.total_a,
                receive_v=heard.rig_v,
                transmit_v=full.rig_v,
            )
        )
    return tuple(found)


@lru_cache(maxsize=16)
def running_a(feeding: Feeding) -> float:
    """The largest steady current, A: in any direction at full output, at any voltage of the source."""
    return max(
        state(feeding, volt, way, full=True).total_a for volt in feeding.source_v.values() for way in WAYS
    )


@record(kw_only=True)
class BatteryLife:
    """Hours on a battery: mean current in receive, in transmit on speech and altogether [A]; hours [h]."""

    receive_a: float
    transmit_a: float
    mean_a: float
    hours: float
    receive_hours: float


@lru_cache(maxsize=16)
def battery_life(feeding: Feeding) -> BatteryLife | None:
    """How long the battery lasts at the share of transmitting; None of any other source."""
    supply = feeding.supply
    if supply.source.type != "battery":
        return None
    volt = feeding.nominal_v
    heard = state(feeding, volt, "receive", full=False).total_a
    rest, full = (state(feeding, volt, "transmit", full=each).total_a for each in (False, True))
    sent = rest + supply.speech_share * (full - rest)
    mean = heard + supply.transmit_share * (sent - heard)
    usable_ah = supply.source.capacity_ah * supply.source.usable_share
    return BatteryLife(
        receive_a=heard,
        transmit_a=sent,
        mean_a=mean,
        hours=usable_ah / max(mean, 1e-6),
        receive_hours=usable_ah / max(heard, 1e-6),
    )
