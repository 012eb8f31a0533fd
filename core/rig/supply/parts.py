"""Regulators, relays and decoupling: what they need, and what they keep away."""

from functools import lru_cache

import numpy as np

from core.circuits.supply.wiring import corner_hz, decoupled, let_go_v
from core.model.stages.stage import Way
from core.model.supply.supply import Regulator, Relay
from core.record import record
from core.rig.supply.consumers import WAYS, Feeding
from core.rig.supply.state import coil_a, is_on, ripple_share, state
from core.trade.series import preferred
from core.trade.supply.feeding import RegulatorRow, regulators

#: Tones at which decoupling is told: hum at twice 50 Hz, and a tone of speech, Hz.
HUM_HZ, SPEECH_HZ = 100.0, 1000.0
#: A diode's forward voltage, V.
_DIODE_V = 0.7


#: Hottest junction of a regulator that lasts, °C: 25 K below where makers stop; common practice, no source.
MOST_JUNCTION_C = 100.0


@record(kw_only=True)
class RegulatorFacts:
    """A regulator as asked, its output as built [V], and how it is at its worst: most current of what hangs
    on it [A], heat [W] and junction [°C] with the source full, and what it has above its output with the
    source empty [V]; `most_in_v` the highest input it sees. `sink_wanted_k_w` is the largest thermal
    resistance of a heat sink that keeps it cool [K/W], None where it needs none or none would do.
    """

    regulator: Regulator
    output_v: float
    row: RegulatorRow
    load_a: float
    heat_w: float
    junction_c: float
    room_v: float
    most_in_v: float
    sink_wanted_k_w: float | None


@lru_cache(maxsize=16)
def regulator_facts(feeding: Feeding) -> tuple[RegulatorFacts, ...]:
    """The regulators of a rig."""
    found = []
    for place, (each, asked) in enumerate(
        zip(feeding.supply.regulators, feeding.asked.regulators, strict=True)
    ):
        row = regulators()[each.type]
        at = [
            state(feeding, volt, way, full=full).regulators[place]
            for volt in feeding.source_v.values()
            for way in WAYS
            for full in (False, True)
            if is_on(each.powered, way)
        ]
        hottest = max(at, key=lambda one: one.heat_w)
        allowed = (MOST_JUNCTION_C - feeding.supply.air_c) / max(hottest.heat_w, 1e-9)
        sink = allowed - row.case_k_w if allowed < row.air_k_w and allowed > row.case_k_w else None
        found.append(
            RegulatorFacts(
                regulator=asked,
                output_v=each.output_v,
                row=row,
                load_a=max(one.load_a for one in at),
                heat_w=hottest.heat_w,
                junction_c=hottest.junction_c,
                room_v=min(one.input_v for one in at) - each.output_v,
                most_in_v=max(one.input_v for one in at),
                sink_wanted_k_w=sink,
            )
        )
    return tuple(found)


@record(kw_only=True)
class RelayFacts:
    """A relay: least voltage at the rig at which it has to pull in, what it needs [V], its coil's current at
    the nominal voltage [A], and the voltage that its driver sees when it is let go [V], None of a contact.
    """

    relay: Relay
    least_v: float
    needs_v: float
    coil_a: float
    let_go_v: float | None


def let_go_zener_v(feeding: Feeding) -> float:
    """The Zener diode that lets a coil go sooner [V]: by custom about the supply's voltage, of those sold."""
    return preferred(feeding.full_v, "E24")


@lru_cache(maxsize=16)
def relay_facts(feeding: Feeding) -> tuple[RelayFacts, ...]:
    """The relays of a rig."""
    found = []
    for each in feeding.supply.relays:
        least = min(
            state(feeding, volt, way, full=True).rig_v
            for way in WAYS
            if is_on(each.powered, way)
            for volt in feeding.source_v.values()
        )
        at = coil_a(each, feeding.nominal_v)
        highest = feeding.full_v
        let_go = {
            "none": let_go_v(coil_a(each, highest), each.coil_h) + highest,
            "diode": highest + _DIODE_V,
            "diode_and_zener": highest + let_go_zener_v(feeding) + _DIODE_V,
        }[each.suppressor]
        found.append(
            RelayFacts(
                relay=each,
                least_v=least,
                needs_v=each.coil_v * each.pull_in_share,
                coil_a=at,
                let_go_v=None if each.driven_by == "contact" else let_go,
            )
        )
    return tuple(found)


@record(kw_only=True)
class DecouplingFacts:
    """A stage's decoupling: its corner [Hz], what is left of hum and of speech on the supply [dB], the
    voltage that it costs [V], and the hum that stays on the supply of the stage [V].
    """

    name: str
    corner_hz: float
    hum_db: float
    speech_db: float
    lost_v: float
    hum_v: float


def ripple_left(feeding: Feeding, key: str) -> float:
    """How much of the source's ripple a consumer's supply has in receive, behind its regulator and its
    decoupling [-].
    """
    one = next((each for each in feeding.consumers if each.key == key), None)
    if one is None:
        return 1.0
    behind_db = 0.0
    if one.decoupling is not None:
        behind_db = next(each.hum_db for each in decoupling_facts(feeding) if each.name == one.name)
    return ripple_share(feeding, one.rail, "receive") * float(10 ** (behind_db / 20))


@lru_cache(maxsize=16)
def decoupling_facts(feeding: Feeding) -> tuple[DecouplingFacts, ...]:
    """The stages that have a decoupling."""
    found = []
    for one in feeding.consumers:
        if one.decoupling is None:
            continue
        way: Way = "receive" if one.on("receive") else "transmit"
        at = state(feeding, feeding.nominal_v, way, full=False)
        here = at.of(one.key)
        rail_v = at.rail_v(one.rail)
        ampere = 0.0 if here is None or here.ampere is None else here.ampere
        volt = rail_v if here is None else here.volt
        load = volt / ampere if ampere > 0 and volt > 0 else 1e9
        made, tones = one.decoupling, np.array([HUM_HZ, SPEECH_HZ])
        ohm, choke = made.resistor_ohm or 0.0, made.choke_h or 0.0
        # Against what passes without alternating current: the stage's resistance alone.
        left = decoupled(tones, ohm, choke, made.capacitor_f, load) * (1 + ohm / load)
        hum_db, speech_db = (20 * np.log10(left)).tolist()
        found.append(
            DecouplingFacts(
                name=one.name,
                corner_hz=corner_hz(ohm, choke, made.capacitor_f),
                hum_db=hum_db,
                speech_db=speech_db,
                lost_v=rail_v - volt,
                hum_v=feeding.ripple_v * ripple_share(feeding, one.rail, way) * float(left[0]),
            )
        )
    return tuple(found)
