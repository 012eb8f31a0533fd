"""Parts of the supply's circuit and what its rails carry, each worked out beside the program."""

from math import exp, inf

import pytest

from core.circuits.circuit import GROUND, THERMAL_V
from core.model.supply.supply import Decoupling, Load
from core.rig.analysis import Analysis
from core.rig.supply.by_table import diode_of
from core.rig.supply.rails import RIG
from core.rig.supply.soldered import supply_soldered
from core.rig.supply.state import fuse_ohm, state
from core.trade.supply.feeding import fuses, polarity_diodes

WAYS = ("receive", "transmit")


def made_of(rig):
    return supply_soldered(Analysis(rig))


@pytest.mark.parametrize("name", polarity_diodes())
def test_a_diode_passes_through_both_points_of_its_data_sheet(name):
    row = polarity_diodes()[name]
    diode = diode_of(row)
    for volt, ampere in ((row.low_v, row.low_a), (row.high_v, row.high_a)):
        assert diode.saturation_a * exp(volt / (diode.ideality * THERMAL_V)) == pytest.approx(ampere)


def test_without_a_fuse_there_is_no_resistance_of_one(tern):
    fuse = tern.supply.fuse
    (row,) = [each for each in fuses()[fuse.type] if each.rated_a == fuse.rated_a]
    assert fuse_ohm(tern.supply) == row.cold_ohm > 0
    assert fuse_ohm(tern.supply.edited(("fuse",), None)) == 0.0


def test_each_scheme_against_wrong_polarity_has_its_parts_and_no_others(tern):
    polarity = ("supply", "polarity")

    def soldered(scheme, **more):
        rig = tern.edited((*polarity, "scheme"), scheme)
        for name, value in more.items():
            rig = rig.edited((*polarity, name), value)
        made = made_of(rig)
        return {b.part.role: b.nodes for b in made.branches if b.part.role.startswith("polarity_")}, made

    assert soldered("none")[0] == {}
    assert soldered("shunt_diode")[0] == {"polarity_diode": (GROUND, RIG)}
    (series,) = soldered("series_diode")[0].values()
    assert series[1] == RIG
    assert series[0] not in (GROUND, RIG)
    bare, made = soldered("p_mosfet", gate_clamped=False)
    assert set(bare) == {"polarity_mosfet", "polarity_gate"}
    (gate,) = made.parts_of("polarity_gate", None)
    clamped, made = soldered("p_mosfet", gate_clamped=True)
    assert set(clamped) == {*bare, "polarity_zener"}
    # A Zener diode conducts when the supply is more than the gate bears: its resistor lets enough flow.
    assert made.parts_of("polarity_gate", None)[0].fitted == gate.fitted / 10


def test_a_small_rails_transistor_gets_a_twentieth_of_its_current_and_no_less_than_half_a_milliampere(tern):
    made = made_of(tern)
    (small,) = [each for each in made.switches if each.by == "pnp"]
    assert small.ampere == pytest.approx(10.87e-3, rel=0.01)
    (row,) = made.parts_of("rail_control", small.number)
    assert row.designed == pytest.approx((9.0 - 0.7) / (small.ampere / 20), rel=1e-3)
    assert made.parts_of("rail_switch", small.number)[0].type == "2N3906"
    ours = ("rail_switch", small.number)
    (switch,) = [b for b in made.on("transmit").branches if (b.part.role, b.part.which) == ours]
    # It drops 0.15 V at what it carries.
    ((_, _, ohm),) = switch.part.device.through
    assert ohm * small.ampere == pytest.approx(0.15)
    assert small.lost_v == 0.15
    little = Load(name="Mic amplifier", of="microphone_amplifier", transmit_a=2e-3)
    less = made_of(tern.edited(("supply", "loads"), (*tern.supply.loads, little)))
    (small,) = [each for each in less.switches if each.by == "pnp"]
    assert small.ampere == pytest.approx(2e-3)
    (row,) = less.parts_of("rail_control", small.number)
    assert row.designed == pytest.approx((9.0 - 0.7) / 0.5e-3, rel=1e-3)


def test_a_rail_carries_what_hangs_on_it_and_the_regulators_behind_it(tern):
    rig = tern.edited(("supply", "regulators", 0, "powered"), "transmit")
    made = made_of(rig)
    of = made.feeding
    rails = {each.node: each for each in made.switches}
    assert set(rails) == {"rig receive", "rig transmit", "9 V receive", "9 V transmit"}
    for full in (True, False):
        told = {name: each.ampere if full else each.rest_a for name, each in rails.items()}
        at = {way: state(of, of.nominal_v, way, full=full) for way in WAYS}

        def carried(rail, way, at=at):
            fed = [at[way].of(one.key) for one in of.consumers if one.rail == rail and sum(one.powered) == 1]
            return sum(each.ampere for each in fed if each is not None)

        for way in WAYS:
            assert told[f"9 V {way}"] == pytest.approx(carried("9 V", way))
        assert told["rig receive"] == pytest.approx(carried("", "receive"))
        (behind,) = [each for each in at["transmit"].regulators if each.regulator.name == "8 V"]
        assert behind.own_a > 1e-3
        wanted = carried("", "transmit") + behind.load_a + behind.own_a
        assert told["rig transmit"] == pytest.approx(wanted)


@pytest.mark.parametrize("way", WAYS)
def test_a_rail_that_is_off_is_held_at_nothing_and_who_is_unfed_takes_nothing(tern, way):
    made = made_of(tern)
    circuit = made.on(way)
    volts = {rail.node: rail.volt for rail in circuit.rails}
    for rail in made.switches:
        assert volts[rail.node] == (volts[rail.source] if rail.way == way else 0.0)
    assert volts["8 V"] == 8.0
    _, *loads = circuit.ports
    number = WAYS.index(way)
    assert len(loads) == len(made.hanging)
    for port, each in zip(loads, made.hanging, strict=True):
        fed = each.ampere[number]
        assert port.ohm == (each.volt[number] / fed if fed else inf)
    assert {port.ohm == inf for port in loads} == {True, False}


@pytest.mark.parametrize(
    ("decoupling", "between"),
    [
        (Decoupling(), {"resistor": ("rig transmit", "fed")}),
        (Decoupling(resistor_ohm=None, choke_h=1e-4), {"choke": ("rig transmit", "fed")}),
        (
            Decoupling(choke_h=1e-4),
            {"choke": ("rig transmit", "choke"), "resistor": ("choke", "fed")},
        ),
    ],
)
def test_a_stages_decoupling_stands_in_a_row(muddle, decoupling, between):
    told = next(each for each in muddle.supply.loads if each.decoupling is not None)
    others = tuple(each for each in muddle.supply.loads if each is not told)
    rig = muddle.edited(("supply", "loads"), (*others, told.edited(("decoupling",), decoupling)))
    made = made_of(rig)
    (name,) = [one.name for one in made.feeding.consumers if one.decoupling is not None]

    def short(node):
        return node.removeprefix(f"{name} ")

    found = {
        kind: tuple(map(short, b.nodes))
        for kind in ("choke", "resistor")
        for b in made.of_role(f"decoupling_{kind}")
    }
    assert found == between
    (capacitor,) = made.of_role("decoupling_capacitor")
    assert tuple(map(short, capacitor.nodes)) == ("fed", GROUND)
    assert capacitor.part.value == decoupling.capacitor_f
    assert made.drawn_in("decoupling") == 1
    assert made.drawn_in("feeds") == 1 + len(rig.supply.regulators)
