"""What a rig draws, from what, and in which order it is switched: by hand, by property, and whole rigs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.supply.wiring import lead_ohm
from core.model.files import dumps, loads
from core.model.stages.amplifiers import PowerAmplifier
from core.model.supply.source import Fuse, Lead, Polarity, Source
from core.model.supply.supply import Decoupling, Load, Regulator, Relay, Sequence, Supply
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.report import as_text, report
from core.rig.start.new_rig import new_rig
from core.rig.supply.consumers import Current, feeding
from core.rig.supply.parts import decoupling_facts, regulator_facts, relay_facts
from core.rig.supply.polarity import backwards, fuse_facts, lead_facts
from core.rig.supply.sequence import switching
from core.rig.supply.state import battery_life, running_a, state, totals
from core.rig.supply.table import switching_table, tree
from core.rig.supply.works import works
from core.stages.kinds.draw import rest_a
from tests.feedings import consumer, feeding_of

PLAIN = Supply(
    source=Source(internal_ohm=0.1),
    lead=Lead(length_m=1.0, gauge=16, contacts_ohm=0.05),
    fuse=Fuse(type="blade", rated_a=5.0),
)


def test_voltage_at_the_rig_is_what_the_loop_leaves():
    """2 A through 0.1 Ω of source, 26.35 mΩ of lead, 50 mΩ of contacts and 18 mΩ of fuse."""
    made = feeding_of(PLAIN, load_a=2.0)
    at = state(made, 12.0, "receive", full=False)
    assert at.total_a == pytest.approx(2.0)
    assert at.rig_v == pytest.approx(12.0 - 2.0 * (0.1 + lead_ohm(1.0, 16) + 0.05 + 0.018), abs=1e-5)


def test_a_resistor_as_load_makes_a_divider():
    """A current in proportion to the voltage is a resistor: 12 V over 6 Ω and the loop."""
    resistor = Current((6.0, 12.0), (1.0, 2.0), (1.0, 2.0))
    one = consumer(receive=resistor, transmit=resistor)
    at = state(feeding_of(PLAIN, consumers=(one,)), 12.0, "transmit", full=True)
    loop = 0.1 + lead_ohm(1.0, 16) + 0.05 + 0.018
    assert at.rig_v == pytest.approx(12.0 * 6.0 / (6.0 + loop), rel=1e-6)


@given(
    st.floats(0, 3),
    st.floats(0, 3),
    st.floats(8, 16),
    st.sampled_from(["none", "shunt_diode", "series_diode", "p_mosfet"]),
)
def test_what_the_source_gives_is_what_everybody_takes(rest_a, full_a, volt, scheme):
    supply = PLAIN.edited(("polarity", "scheme"), scheme).edited(
        ("regulators",), (Regulator(name="r", type="78", feeds=("b",)),)
    )
    supply = supply.edited(("relays",), (Relay(),))
    made = feeding_of(
        supply,
        consumers=(consumer("a", rest_a=rest_a, full_a=full_a), consumer("b", rest_a=0.05, rail="r")),
    )
    for way in ("receive", "transmit"):
        at = state(made, volt, way, full=True)
        fed = sum(each.ampere for each in at.fed)
        own = sum(each.own_a for each in at.regulators) + sum(ampere for _, ampere in at.coils_a)
        assert at.total_a == pytest.approx(fed + own, rel=1e-9)
        assert 0 <= at.rig_v <= volt
        # More voltage at the source, more at the rig.
        assert state(made, volt + 1, way, full=True).rig_v > at.rig_v


@given(st.floats(0.001, 100.0), st.floats(0.1, 20.0), st.floats(6, 16))
def test_however_much_the_source_gives_way_voltage_and_current_agree(ohm, load_a, volt):
    """A load in proportion to the voltage is a resistor, whose divider has one voltage."""
    resistor = Current((6.0, 12.0), (load_a / 2, load_a), (load_a / 2, load_a))
    supply = Supply(source=Source(internal_ohm=ohm), lead=Lead(length_m=0.01, gauge=8, contacts_ohm=0))
    supply = supply.edited(("fuse",), None)
    made = feeding_of(supply, consumers=(consumer(receive=resistor, transmit=resistor),))
    at = state(made, volt, "receive", full=False)
    load = 12.0 / load_a
    assert at.rig_v == pytest.approx(volt * load / (load + ohm + lead_ohm(0.01, 8)), rel=1e-4, abs=1e-5)


def test_a_load_that_draws_more_the_less_it_gets_holds_at_the_higher_voltage_or_not_at_all():
    """12 W from 12 V behind 1 Ω: v² − 12 v + 12 = 0 holds at 10.9 V; 48 W hold nowhere, so that what is left
    is the divider with what the load is below 1 V, 1/48 Ω.
    """
    volts = tuple(0.25 * n for n in range(4, 80))
    for watt, expected in ((12.0, 6 + 24**0.5), (48.0, 12 / 49)):
        power = Current(volts, tuple(watt / v for v in volts), tuple(watt / v for v in volts))
        supply = Supply(source=Source(internal_ohm=1.0), lead=Lead(length_m=0.01, gauge=8, contacts_ohm=0))
        supply = supply.edited(("fuse",), None)
        made = feeding_of(supply, consumers=(consumer(receive=power, transmit=power),))
        at = state(made, 12.0, "receive", full=False)
        assert at.rig_v == pytest.approx(expected, abs=0.02)


def test_hours_on_a_battery():
    """0.2 A in receive; at 1 A full and 0.4 A rest in transmit speech draws 0.4 + 0.4 x 0.6 = 0.64 A; a fifth
    of the time: 0.288 A, and 80 % of 7 Ah last 19.4 hours.
    """
    hear = consumer("hear", rest_a=0.2, works=(True, False))
    send = consumer("send", rest_a=0.4, full_a=1.0, works=(False, True))
    life = battery_life(feeding_of(Supply(), consumers=(hear, send)))
    assert life.transmit_a == pytest.approx(0.64)
    assert life.mean_a == pytest.approx(0.288)
    assert life.hours == pytest.approx(5.6 / 0.288)
    assert life.receive_hours == pytest.approx(5.6 / 0.2)
    assert battery_life(feeding_of(Supply(source=Source(type="mains")), load_a=1.0)) is None


def test_a_regulator_drops_out_and_holds_no_longer():
    supply = Supply(regulators=(Regulator(name="r", type="78", output_v=8.0, feeds=("load",)),), fuse=None)
    made = feeding_of(supply, load_a=0.05)
    held, lost = (state(made, volt, "receive", full=False).regulators[0] for volt in (10.2, 9.0))
    assert held.holds
    assert held.output_v == 8.0
    assert not lost.holds
    assert lost.output_v == pytest.approx(lost.input_v - 2.0)


def test_the_sink_that_is_wanted_keeps_it_at_a_hundred_degrees():
    regulator = Regulator(name="r", type="78", output_v=5.0, feeds=("load",))
    bare = feeding_of(Supply(regulators=(regulator,)), load_a=0.3)
    wanted = regulator_facts(bare)[0].sink_wanted_k_w
    assert regulator_facts(bare)[0].junction_c > 150
    cooled = Supply(regulators=(regulator.edited(("sink_k_w",), wanted),))
    assert regulator_facts(feeding_of(cooled, load_a=0.3))[0].junction_c == pytest.approx(100.0)


def test_the_lead_that_is_proposed_is_the_thinnest_that_does():
    made = feeding_of(PLAIN.edited(("lead", "length_m"), 4.0), load_a=3.0)
    facts = lead_facts(made)
    assert facts.proposed is not None
    assert 3.0 * lead_ohm(4.0, facts.proposed) <= 0.04 * 13.8 < 3.0 * lead_ohm(4.0, facts.proposed + 2)


@given(st.floats(0.05, 12), st.sampled_from(["blade", "glass_fast", "glass_slow"]), st.integers(8, 24))
def test_a_fuse_that_is_proposed_carries_the_rig_and_spares_the_lead(load_a, type_, gauge):
    supply = Supply(fuse=Fuse(type=type_), lead=Lead(gauge=gauge, length_m=0.1))
    facts = fuse_facts(feeding_of(supply, load_a=load_a))
    if facts.proposed_a is not None:
        assert facts.running_a <= 0.75 * facts.proposed_a
        assert facts.proposed_a <= facts.wire_a


def test_hum_behind_a_decoupling():
    """0.5 V of hum at 100 Hz through 100 Ω and 47 µF, 33.9 Hz of corner: 0.5/√(1 + 2.953²)."""
    one = consumer(rest_a=1e-6, decoupling=Decoupling(resistor_ohm=100.0, capacitor_f=47e-6))
    supply = Supply(source=Source(type="mains"))
    found = decoupling_facts(feeding_of(supply, ripple_v=0.5, consumers=(one,)))[0]
    assert found.hum_v == pytest.approx(0.5 / (1 + 2.953**2) ** 0.5, rel=1e-3)
    assert found.hum_db == pytest.approx(-9.88, abs=0.01)


# -- receive to transmit and back ---------------------------------------------------------------------------


def sequence(relay=None, sends_dbm=37.0, **delays):
    relays = (Relay(operate_s=8e-3, release_s=6e-3),) if relay is None else relay
    supply = Supply(relays=relays, sequence=Sequence(**delays))
    return switching(feeding_of(supply, load_a=0.1, sends_dbm=sends_dbm))


def test_power_comes_after_the_relay_and_goes_before_it():
    made = sequence(transmit_s=20e-3, antenna_back_s=10e-3, fall_s=3e-3)
    assert made.early_s == pytest.approx(-12e-3)
    assert made.late_s == pytest.approx(-7e-3)
    # 5 W less the open contact.
    assert made.at_receiver_dbm == pytest.approx(37.0 - made.isolation_db)


def test_power_before_the_relay_reaches_the_receiver_whole():
    assert sequence(transmit_s=4e-3).at_receiver_dbm == 37.0
    assert sequence(transmit_s=8.1e-3).at_receiver_dbm < 0
    # Let go at once, the contact is back after 6 ms; power that falls in 20 ms is still there.
    assert sequence(antenna_back_s=0.0, fall_s=20e-3).at_receiver_dbm == 37.0
    assert sequence(antenna_back_s=0.0, fall_s=5e-3).at_receiver_dbm < 0


def test_one_relay_for_antenna_and_supplies_switches_both_at_once():
    made = sequence(relay=(Relay(switches="antenna_and_supplies"),))
    assert made.early_s == 0.0
    assert made.late_s == pytest.approx(3e-3)


def test_a_relay_for_the_supplies_adds_its_own_time():
    antenna, contacts = Relay(), Relay(name="Supplies", switches="supplies", operate_s=5e-3)
    assert sequence(relay=(antenna, contacts), transmit_s=10e-3).power_s == pytest.approx(15e-3)


def test_a_coil_that_rests_in_transmit_changes_its_times():
    relay = Relay(powered="receive", operate_s=12e-3, release_s=4e-3)
    assert sequence(relay=(relay,)).settled_s == pytest.approx(4e-3)


def test_lanes_tell_the_same_as_the_events():
    made = sequence()
    lanes = {lane.name: lane.on for lane in made.lanes}
    down = {each.what: each.after_s for each in made.events if each.key == "down"}
    assert lanes["antenna at transmitter"][0][0] == down["antenna at the transmitter"]
    assert lanes["power"][0][0] == down["transmitter has its supply, power can come"]
    up = {each.what: each.after_s for each in made.events if each.key == "up"}
    assert lanes["power"][0][1] - made.key_up_s == pytest.approx(up["power gone"])
    assert lanes["receiver heard"][1][0] - made.key_up_s == pytest.approx(up["receiver heard again"])


# -- whole rigs ---------------------------------------------------------------------------------------------


def test_an_old_file_has_no_supply_and_is_written_as_it_was(tern):
    old = tern.edited(("supply",), None)
    assert loads(dumps(old)) == old
    assert feeding(Analysis(old)) is None
    assert switching_table(Analysis(old)) == ()
    assert works(Analysis(old)) is None
    assert report(Analysis(old))["switching"] == []


def test_every_field_of_a_supply_is_kept_in_its_file(tern):
    lamp = Load(name="Lamp", receive_a=0.02, decoupling=Decoupling(resistor_ohm=None, choke_h=1e-4))
    rig = tern.edited(("supply", "loads"), (*tern.supply.loads, lamp)).edited(("supply", "fuse"), None)
    assert loads(dumps(rig)) == rig
    assert loads(dumps(rig)).supply.loads[-1].decoupling.choke_h == 1e-4


def test_the_samples_currents_add_up(tern):
    """Every stage's current as its circuit has it at the voltage that it gets, and all of them together."""
    made = feeding(Analysis(tern))
    rows = {row.name: row for row in switching_table(Analysis(tern))}
    at = state(made, made.nominal_v, "receive", full=False)
    assert sum(row.receive_a for row in rows.values()) == pytest.approx(at.total_a)
    amplifier = Analysis(tern).design("if_amplifier_1", "20m")
    # Made for 12 V, it draws what its own circuit does on what is left of 13.8 V.
    assert rows["IF amplifier 1"].receive_a == pytest.approx(rest_a(amplifier, at.rig_v), rel=1e-3)
    assert rows["IF amplifier 1"].receive_a > 1.15 * amplifier.supply_a
    assert rows["IF amplifier 1"].transmit_a == 0.0
    assert rows["Power amplifier"].receive_a == 0.0
    # 8 W at half efficiency from 13.6 V.
    assert rows["Power amplifier"].full_a == pytest.approx(8 / 0.5 / 13.63, rel=0.01)
    assert rows["VFO"].rail == "8 V"


def test_who_is_fed_when(tern):
    rows = {row.name: row for row in switching_table(Analysis(tern))}
    for name, on in (
        ("RF stage", (True, False)),
        ("Driver", (False, True)),
        ("VFO", (True, True)),
        ("Read-out", (True, True)),
        ("Antenna relay", (False, True)),
    ):
        assert (rows[name].in_receive, rows[name].in_transmit) == on
    assert "Band-pass" not in rows


def test_everybody_hangs_somewhere_in_the_tree(tern):
    made = feeding(Analysis(tern))

    def names(node):
        return [node.name, *(name for each in node.feeds for name in names(each))]

    found = names(tree(made))
    assert [found.count(each.name) for each in made.consumers] == [1] * len(made.consumers)
    rig = tree(made).feeds[0].feeds[0].feeds[0]
    assert rig.place == "rig"
    # What a rail gives is what hangs on it takes.
    assert rig.receive_a == pytest.approx(sum(each.receive_a for each in rig.feeds))
    assert rig.full_a == pytest.approx(sum(each.full_a for each in rig.feeds))
    regulator = rig.feeds[0]
    assert regulator.receive_a == pytest.approx(sum(each.receive_a for each in regulator.feeds) + 4e-3)


def test_what_still_works_as_the_battery_goes_down(tern):
    found = works(Analysis(tern))
    by_name = {each.name: each for each in found.ranges}
    assert by_name["8 V"].least_v == pytest.approx(9.7)
    assert by_name["Antenna relay"].least_v == pytest.approx(9.0)
    assert found.estimated
    # By the square of the voltage: 8 W at 13.8 V.
    place = int(abs(found.volt - 13.8).argmin())
    assert found.power_w[place] == pytest.approx(8 * (found.volt[place] / 13.8) ** 2)
    receive, transmit = found.lines
    assert receive[1] == pytest.approx(totals(feeding(Analysis(tern)))[0].receive_v)
    assert transmit[1] < 11.5


def test_typed_currents_take_the_place_of_the_circuits(tern):
    loads_ = (*tern.supply.loads, Load(name="IF", of="if_amplifier_1", receive_a=0.1))
    rows = {r.name: r for r in switching_table(Analysis(tern.edited(("supply", "loads"), loads_)))}
    assert rows["IF amplifier 1"].receive_a == 0.1
    assert rows["IF amplifier 1"].origin == "typed"


def test_a_stage_that_goes_takes_its_supply_with_it(tern):
    rig = tern.edited(("supply", "regulators", 0, "feeds"), ("vfo", "audio"))
    gone = rig.stage_removed("audio")
    assert gone.supply.regulators[0].feeds == ("vfo",)
    assert not [each for each in gone.supply.loads if each.of == "audio"]
    assert tern.stage_removed("mixer").supply is tern.supply


def test_names_of_two_relays_must_differ(tern):
    with pytest.raises(DesignError, match="share the name Antenna relay of a relay"):
        tern.edited(("supply", "relays"), (Relay(), Relay()))


def test_a_battery_is_not_empty_above_full():
    with pytest.raises(DesignError, match="lowest voltage must lie below"):
        Source.checked(full_v=12.0, empty_v=13.0)


def test_a_new_rig_is_fed_without_a_word_of_caution(tern):
    from core.rig.rules import inspect

    rig = new_rig(tern.bands, tern.if_hz)
    assert rig.supply.fuse.rated_a == fuse_facts(feeding(Analysis(rig))).proposed_a
    told = [f for f in inspect(Analysis(rig)) if f.stage == "supply"]
    assert [f.rule for f in told] == ["source_safety"]
    assert not [each for each in feeding(Analysis(rig)).consumers if each.origin == "unknown"]


def test_turning_the_if_asks_for_nothing_anew(tern):
    """What the supply's figures hang on does not change with it, so that they are the very same objects."""
    made = feeding(Analysis(tern))
    turned = feeding(Analysis(tern.edited(("if_hz",), tern.if_hz + 50.0)))
    assert turned == made
    assert totals(turned) is totals(made)
    assert backwards(turned) is backwards(made)
    assert running_a(turned) == running_a(made)


def test_report_and_text_tell_the_same(tern):
    data = report(Analysis(tern))
    text = as_text(data)
    total = totals(feeding(Analysis(tern)))[1]
    assert data["supply"][1]["receive_a"] == total.receive_a
    assert data["polarity"][1]["safe"] is True
    for heading in ("SWITCHING", "SUPPLY", "BATTERY", "FUSE", "POLARITY", "REGULATORS", "RELAYS", "SEQUENCE"):
        assert f"\n{heading}\n" in text
    assert "the fuse opens within" in text
    assert f"{1e3 * total.receive_a:.0f} mA" in text


def test_power_of_an_amplifier_that_tells_it_is_told(tern, monkeypatch):
    from core.rig.supply import works as module

    class Row:
        role = "power_amplifier"

        @staticmethod
        def largest_w(stage, around, volt):
            return 2.0 * volt

    monkeypatch.setattr(
        module, "kind_of", lambda stage: Row if isinstance(stage, PowerAmplifier) else kind(stage)
    )
    found = works(Analysis(tern))
    assert not found.estimated
    assert found.power_w == pytest.approx(2.0 * found.volt)


def kind(stage):
    from core.stages.kinds.table import kind_of

    return kind_of(stage)


def test_polarity_fields_follow_the_scheme():
    assert Polarity(scheme="none").idle_fields == {"diode", "mosfet", "gate_clamped"}
    assert Polarity(scheme="p_mosfet").idle_fields == {"diode"}
    assert Source(type="battery").idle_fields == {"limit_a"}


def test_a_relay_is_held_by_what_the_battery_has_left(tern):
    facts = relay_facts(feeding(Analysis(tern)))[0]
    assert facts.least_v == pytest.approx(totals(feeding(Analysis(tern)))[2].transmit_v)
    assert facts.needs_v == 9.0
