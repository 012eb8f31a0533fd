"""Supplies against standards, wire tables, data sheets and common practice, the source beside each check."""

import pytest

from core.circuits.supply.protection import (
    HALF_WAVE_S,
    diode_bears_a,
    fault_a,
    forward_v,
    longest_s,
)
from core.circuits.supply.wiring import corner_hz, decoupled, lead_ohm, let_go_v, open_contact_db
from core.model.supply.source import Fuse, Lead, Polarity, Source
from core.model.supply.supply import Load, Regulator, Relay, Supply
from core.rig.supply.consumers import Feeding
from core.rig.supply.parts import regulator_facts, relay_facts
from core.rig.supply.polarity import backwards, fuse_facts
from core.rig.supply.state import polarity_drop_v
from core.trade.supply.feeding import fuse_types, fuses, polarity_diodes, regulators, wires
from tests.feedings import feeding_of


@pytest.mark.parametrize(
    ("gauge", "ohm_km"),
    # ASTM B258 and the wire tables made of it, annealed copper at 20 °C.
    [(10, 3.277), (12, 5.211), (14, 8.286), (16, 13.17), (18, 20.95), (20, 33.31), (22, 52.96), (24, 84.22)],
)
def test_wires_of_the_american_gauge(gauge, ohm_km):
    assert lead_ohm(500.0, gauge) == pytest.approx(ohm_km, rel=2e-3)


def test_a_wire_has_a_tenth_of_the_resistance_ten_numbers_up():
    """Ten gauge numbers are a factor of 10 in area to 1.5 % (ASTM B258: 92^(20/39) = 10.16)."""
    assert lead_ohm(1.0, 20) / lead_ohm(1.0, 10) == pytest.approx(92 ** (20 / 39))


def test_glass_fuses_come_in_the_series_of_ten():
    """IEC 60127: 1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10 A, powers of 10^(1/10) rounded."""
    ratings = [each.rated_a for each in fuses()["glass_fast"] if 1 <= each.rated_a <= 10]
    assert ratings == [1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0]
    for place, rated in enumerate(ratings):
        assert rated == pytest.approx(10 ** (place / 10), rel=0.01)


def test_blade_fuses_come_in_the_ratings_of_the_road():
    """ISO 8820-3: 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30 A."""
    ratings = [each.rated_a for each in fuses()["blade"]]
    assert ratings == [2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0]


@pytest.mark.parametrize(
    ("type_", "multiple", "most_s"),
    # IEC 60127-2: fast, 4 x within 300 ms and 10 x within 20 ms; time-lag, 10 x within 300 ms. ISO 8820-3:
    # 200 % within 5 s, 350 % within 0.5 s, 600 % within 0.1 s.
    [
        ("glass_fast", 4.0, 0.3),
        ("glass_fast", 10.0, 0.02),
        ("glass_slow", 10.0, 0.3),
        ("blade", 2.0, 5.0),
        ("blade", 3.5, 0.5),
        ("blade", 6.0, 0.1),
    ],
)
def test_how_long_a_fuse_may_take(type_, multiple, most_s):
    longest = fuse_types()[type_].longest
    assert longest_s(multiple * 3.0, 3.0, longest) == pytest.approx(most_s)


def test_below_what_the_standard_promises_no_fuse_opens_with_certainty():
    assert longest_s(2.0 * 3.0, 3.0, fuse_types()["glass_fast"].longest) is None
    assert longest_s(1.1 * 3.0, 3.0, fuse_types()["blade"].longest) is None


@pytest.mark.parametrize("type_", ["glass_fast", "glass_slow", "blade"])
def test_no_fuse_of_the_table_melts_later_than_its_standard_allows(type_):
    """Beyond the last point of the limits I²t stays: the table's melting integral must lie below it."""
    multiple, time = fuse_types()[type_].longest[-1]
    for row in fuses()[type_]:
        assert row.melting_a2s < (multiple * row.rated_a) ** 2 * time


def test_a_rectifiers_surge_as_its_data_sheet_has_it():
    """A 1 A rectifier of the common kind survives 30 A for half a wave of 60 Hz, which is 3.7 A²s."""
    steady = diode_bears_a(30.0, 1.0, HALF_WAVE_S)
    assert steady**2 * HALF_WAVE_S == pytest.approx(3.7, abs=0.06)
    # For a tenth of that time √10 as much, for a hundred cycles about a third, and never less than for ever.
    assert diode_bears_a(30.0, 1.0, HALF_WAVE_S / 10) == pytest.approx(steady * 10**0.5)
    assert diode_bears_a(30.0, 1.0, 100 * HALF_WAVE_S) == pytest.approx(steady / 10**0.5)
    assert diode_bears_a(30.0, 1.0, 1e9) == 1.0


def test_rectifiers_forward_voltages():
    """0.95 V at 1 A for the 1 A rectifier, 0.475 V at 3 A for the 3 A Schottky (makers' typical curves)."""
    for name, ampere, volt in (("1n4001", 1.0, 0.95), ("1n5822", 3.0, 0.475), ("1n5822", 2.5, 0.45)):
        row = polarity_diodes()[name]
        found = forward_v(ampere, (row.low_v, row.low_a), (row.high_v, row.high_a))
        assert found == pytest.approx(volt, abs=0.02)


# -- wrong polarity: 2.5 A through a Schottky diode, through a MOSFET of 20 mΩ, and a diode across --------


def test_a_schottky_diode_a_mosfet_and_a_diode_across_at_two_and_a_half_amperes():
    """0.45 V and 1.125 W; 50 mV and 0.125 W; no drop: power is voltage times current."""
    drop = polarity_drop_v(Polarity(scheme="series_diode", diode="1n5822"), 2.5)
    assert drop * 2.5 == pytest.approx(1.125, rel=0.05)
    drop = polarity_drop_v(Polarity(scheme="p_mosfet", mosfet="irf4905"), 2.5)
    assert drop == pytest.approx(0.05)
    assert drop * 2.5 == pytest.approx(0.125)
    assert polarity_drop_v(Polarity(scheme="shunt_diode"), 2.5) == 0.0


def rows(**supply) -> dict:
    made = feeding_of(Supply(**supply), load_a=1.5)
    return {each.scheme: each for each in backwards(made)}


def test_a_diode_across_with_a_fuse_saves_a_rig_once():
    """Common practice: an anti-parallel diode with a fuse saves a rig once. It takes a diode for it."""
    large = rows(fuse=Fuse(rated_a=3.0), polarity=Polarity(diode="6a4"))["shunt_diode"].outcome
    assert large.safe
    assert large.fault_a < large.bears_a
    small = rows(fuse=Fuse(rated_a=10.0), polarity=Polarity(diode="1n4001"))["shunt_diode"].outcome
    assert not small.safe
    assert small.fault_a > small.bears_a
    bare = rows(fuse=None, polarity=Polarity(diode="6a4"))["shunt_diode"].outcome
    assert not bare.safe
    assert bare.opens_s is None


def test_a_diode_across_behind_a_limited_supply_is_cooked_and_no_fuse_opens():
    """2 A into a diode for 1 A with a fuse of 3 A: less than a blade fuse opens at (135 %)."""
    source = Source(type="regulated", limit_a=2.0)
    found = rows(source=source, fuse=Fuse(rated_a=3.0), polarity=Polarity(diode="1n4001"))["shunt_diode"]
    assert found.outcome.opens_s is None
    assert found.outcome.fault_a == pytest.approx(2.0)
    assert not found.outcome.safe


def test_what_flows_backwards_is_what_resistance_leaves():
    assert fault_a(12.8, 0.1, 0.8, None) == pytest.approx(120.0)
    assert fault_a(12.8, 0.1, 0.8, 5.0) == 5.0


# -- regulators ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("input_v", "output_v", "load_a", "watt"),
    # P = (Vin − Vout) I, 13.8 → 8 V at 100 mA; at 15.87 V; 13.8 → 12 V at half an ampere.
    [(13.8, 8.0, 0.1, 0.58), (15.87, 8.0, 0.1, 0.787), (13.8, 12.0, 0.5, 0.90)],
)
def test_heat_of_a_linear_regulator(input_v, output_v, load_a, watt):
    found = regulator_facts(regulated(input_v, output_v, load_a, type_="low_drop"))[0]
    own = regulators()["low_drop"].own_a * input_v
    assert found.heat_w - own == pytest.approx(watt, rel=5e-3)
    assert found.junction_c == pytest.approx(40 + regulators()["low_drop"].air_k_w * found.heat_w)


def regulated(input_v, output_v, load_a, type_="78") -> Feeding:
    return feeding_of(
        Supply(
            source=Source(type="regulated", internal_ohm=0.0),
            lead=Lead(length_m=0.01, gauge=8, contacts_ohm=0.0),
            fuse=Fuse(rated_a=30.0),
            regulators=(Regulator(name="rail", type=type_, output_v=output_v, feeds=("load",)),),
        ),
        load_a=load_a,
        nominal_v=input_v,
    )


def test_eight_volts_hold_at_the_low_end_of_a_mobile_supply_and_twelve_do_not():
    """13.8 V ± 15 % reaches down to 11.73 V: 8 V out leave 3.73 V, a 12 V regulator is out of regulation."""
    eight, twelve = (regulator_facts(regulated(11.73, volt, 0.05))[0] for volt in (8.0, 12.0))
    assert eight.room_v == pytest.approx(3.73, abs=2e-3)
    assert eight.room_v > eight.row.drop_out_v
    assert twelve.room_v < 0


# -- fuse for a ten watt rig --------------------------------------------------------------------------------


def test_a_fuse_for_ten_watts():
    """10 W at half efficiency draw 1.449 A; at three quarters of its rating that wants a blade fuse of 2 A,
    and of 3 A as soon as the rest of the rig draws 0.1 A.
    """
    plain = fuse_facts(feeding_of(Supply(), load_a=1.449))
    assert plain.proposed_a == 2.0
    assert fuse_facts(feeding_of(Supply(), load_a=1.549)).proposed_a == 3.0
    glass = Supply(fuse=Fuse(type="glass_slow", rated_a=5.0))
    assert fuse_facts(feeding_of(glass, load_a=1.449)).proposed_a == 2.0
    assert fuse_facts(feeding_of(glass, load_a=1.6)).proposed_a == 2.5


def test_a_lead_that_is_too_thin_allows_no_fuse():
    thin = fuse_facts(feeding_of(Supply(lead=Lead(gauge=28, length_m=0.1)), load_a=1.449))
    assert thin.wire_a == wires()[28].bears_a
    assert thin.proposed_a is None


# -- coils that are let go ----------------------------------------------------------------------------------


def test_a_coil_that_is_let_go_without_a_diode_kills_its_transistor():
    """Common practice; all of the coil's energy L I²/2 in its stray capacitance, C V²/2."""
    volt = let_go_v(40e-3, 0.3)
    assert 0.5 * 100e-12 * volt**2 == pytest.approx(0.5 * 0.3 * 40e-3**2)
    assert volt > 1000
    for suppressor, lives in (("none", False), ("diode", True), ("diode_and_zener", True)):
        supply = Supply(relays=(Relay(suppressor=suppressor),))
        facts = relay_facts(feeding_of(supply, load_a=0.1))[0]
        assert (facts.let_go_v <= facts.relay.driver_bears_v) is lives
    held = relay_facts(feeding_of(Supply(relays=(Relay(),)), load_a=0.1))[0]
    # A diode holds it 0.7 V above the supply.
    assert held.let_go_v == pytest.approx(14.4 + 0.7)


# -- decoupling and open contacts ---------------------------------------------------------------------------


def test_a_resistor_and_a_capacitor_at_their_corner():
    """−3.01 dB at 1/(2π R C), and 20 dB a decade beyond."""
    corner = corner_hz(100.0, 0.0, 47e-6)
    assert corner == pytest.approx(33.86, abs=0.01)
    left = decoupled([corner, 100 * corner], 100.0, 0.0, 47e-6, 1e9)
    assert left[0] == pytest.approx(0.5**0.5, rel=1e-6)
    assert left[1] == pytest.approx(0.01, rel=1e-3)


def test_a_choke_and_a_capacitor_leave_more_than_all_at_their_resonance():
    """|1/(1 − w²LC + jwL/R)| is R √(C/L) there."""
    corner = corner_hz(0.0, 100e-6, 10e-6)
    found = decoupled([corner], 0.0, 100e-6, 10e-6, 200.0)[0]
    assert found == pytest.approx(200.0 * (10e-6 / 100e-6) ** 0.5, rel=1e-9)


def test_an_open_contact_of_a_picofarad_keeps_forty_decibels_at_fourteen_megahertz():
    """|Z| = 11.2 kΩ at 14.2 MHz between two 50 Ω: 20 log (11208/100) = 41.0 dB."""
    assert open_contact_db(1e-12, 14.2e6) == pytest.approx(41.0, abs=0.02)
    assert open_contact_db(1e-12, 28.4e6) == pytest.approx(41.0 - 6.02, abs=0.02)


def test_a_lamp_is_drawn_at_any_voltage_as_typed():
    assert Load(name="Lamp", receive_a=0.02).receive_a == 0.02
