"""Parts of the supply as they were built: in its figures, on paper and board, and from readings of it."""

import pytest

from core.model.files import dumps, loads
from core.model.supply.supply import Regulator
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from core.rig.log.expected import items
from core.rig.log.item import found
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.parts_list import parts_csv, parts_list
from core.rig.rules import inspect
from core.rig.sections.rig import sound_of
from core.rig.supply.consumers import feeding
from core.rig.supply.parts import decoupling_facts, regulator_facts
from core.rig.supply.polarity import chosen_way, fuse_facts
from core.rig.supply.soldered import supply_soldered
from core.rig.supply.state import running_a, state
from core.rig.supply.usual import with_usual_currents
from core.rig.workshop.test_points import points_of
from core.stages.outcome import Unsolved
from tests.audio_rig import with_audio
from tests.log_entries import entry, take, with_reading

SUPPLY, FIRST = ("supply", "as_built"), ("supply", "regulators", 0, "as_built")
DECOUPLED = ("supply", "loads", "Mic amplifier", "decoupling")


def fed(rig):
    return feeding(Analysis(rig))


def row_of(rig, ref):
    return next(each for each in supply_soldered(Analysis(rig)).parts if each.ref == ref)


def point(rig, key):
    return next(each for each in points_of(Analysis(rig)) if each.key == f"supply/{key}")


def test_a_regulators_output_as_read_is_that_of_its_rail(tern):
    rig = tern.edited(FIRST, {"regulator": 7.7})
    assert point(tern, "regulator:1").dc_v == 8.0
    assert point(rig, "regulator:1").dc_v == 7.7
    facts, before = regulator_facts(fed(rig))[0], regulator_facts(fed(tern))[0]
    assert facts.output_v == 7.7
    # Its room grows by what it gives less; what it loses does too, for each ampere.
    assert facts.room_v - before.room_v == pytest.approx(0.3, abs=2e-3)
    at = state(fed(rig), 13.8, "receive", full=False)
    (vfo,) = [each for each in at.fed if each.key == "vfo"]
    assert vfo.volt == 7.7
    # It is a regulator of 8 V still, on paper and for whoever asks whether such are made.
    assert (row_of(rig, "U1").type, row_of(rig, "U1").designed) == ("78L08", 8.0)
    assert not [each for each in inspect(Analysis(rig)) if each.rule == "regulator_wrong"]


def test_an_adjustable_one_gives_what_its_resistors_as_built_make(tern):
    """V = Vref (1 + R2/R1) + Iadj R2, with 1.25 V and 50 µA as the data sheets have them."""
    adjustable = Regulator(name="8 V", type="317", feeds=tern.supply.regulators[0].feeds)
    rig = tern.edited(("supply", "regulators", 0), adjustable)
    built = rig.edited(FIRST, {"adjust_upper": 240.0, "adjust_lower": 1500.0})
    gives = 1.25 * (1 + 1500 / 240) + 50e-6 * 1500
    assert point(built, "regulator:1").dc_v == pytest.approx(gives)
    assert regulator_facts(fed(built))[0].output_v == pytest.approx(gives)
    read = built.edited(FIRST, {"adjust_lower": 1500.0, "regulator": 8.9})
    assert point(read, "regulator:1").dc_v == 8.9
    assert row_of(built, "RB1").as_built == 1500.0
    assert row_of(built, "RB1").designed == pytest.approx(row_of(rig, "RB1").designed)


def test_a_fuse_as_built_decides_what_it_carries_and_when_it_opens(tern):
    rig = tern.edited(SUPPLY, {"fuse": 1.0})
    assert fuse_facts(fed(rig)).carries_a == pytest.approx(0.75)
    # A smaller one has more resistance, so that less arrives at the rig.
    assert fuse_facts(fed(rig)).cold_ohm > 1.5 * fuse_facts(fed(tern)).cold_ohm
    assert point(rig, "rig/receive").dc_v < point(tern, "rig/receive").dc_v
    small = next(each for each in inspect(Analysis(rig)) if each.rule == "fuse_small")
    mended = small.edits[0].on(rig)
    assert dict(mended.supply.as_built) == {}
    assert not [each for each in inspect(Analysis(mended)) if each.rule == "fuse_small"]


def test_a_decoupling_as_built_decides_what_hum_stays(muddle):
    rig = muddle.edited((*DECOUPLED, "as_built"), {"decoupling_capacitor": 10e-6})
    (before,), (after,) = decoupling_facts(fed(muddle)), decoupling_facts(fed(rig))
    # Far above its corner it lets through ten times as much; 100 Hz is less than that above it.
    assert after.corner_hz == pytest.approx(10 * before.corner_hz)
    assert before.hum_db < after.hum_db < before.hum_db + 20
    large = muddle.edited((*DECOUPLED, "as_built"), {"decoupling_resistor": 470.0})
    lost = decoupling_facts(fed(large))[0].lost_v / before.lost_v
    assert lost == pytest.approx(10, rel=0.2)


def test_what_is_heard_of_hum_follows_a_decoupling_as_built(sample):
    rig = with_audio(sample).edited(("station", "ripple_v"), 0.05)
    load = {"name": "Pre", "of": "preamplifier", "decoupling": {"capacitor_f": 470e-6}}
    rig = rig.edited(("supply", "loads"), (*rig.supply.loads, load))
    rig = rig.edited(("supply", "source", "type"), "regulated")
    built = rig.edited(("supply", "loads", "Pre", "decoupling", "as_built"), {"decoupling_capacitor": 1e-6})
    shares = [
        next(volt for stage, _, volt in sound_of(Analysis(each))[0].shares_v if stage == "preamplifier")
        for each in (rig, built)
    ]
    assert shares[1] > 5 * shares[0]


def test_a_mosfets_resistance_as_built_is_what_it_drops(tern):
    rig = tern.edited(("supply", "polarity", "scheme"), "p_mosfet")
    built = rig.edited(SUPPLY, {"polarity_mosfet": 0.5, "rail_switch:2": 1.5})
    way = chosen_way(fed(built))
    assert way.drop_v == pytest.approx(0.5 * running_a(fed(built)))
    assert way.drop_v > 5 * chosen_way(fed(rig)).drop_v
    (rail,) = [each for each in supply_soldered(Analysis(built)).switches if each.number == 2]
    assert rail.rest_lost_v == pytest.approx(1.5 * rail.rest_a)
    circuit = supply_soldered(Analysis(built)).on("transmit")
    joined = {
        b.part.ref: b.part.device.through[0][2] for b in circuit.branches if b.part.ref in ("QP", "QR2")
    }
    assert joined == {"QP": 0.5, "QR2": 1.5}


def test_it_stands_in_the_column_as_built_on_sheet_list_and_board(muddle):
    rig = muddle.edited(FIRST, {"regulator_output": 10e-6}).edited(SUPPLY, {"smoothing": 1e-3, "fuse": 10.0})
    rig = rig.edited(("supply", "relays", 0, "as_built"), {"relay_base": 5.6e3})
    wanted = {"CO1": 10e-6, "CF": 1e-3, "F": 10.0, "RK1": 5.6e3}
    for parts in (supply_soldered(Analysis(rig)).parts, build_sheet(Analysis(rig)).fed.parts):
        assert {row.ref: row.as_built for row in parts if row.as_built is not None} == wanted
    line = next(
        each
        for each in parts_csv(Analysis(rig)).splitlines()
        if each.startswith("Supply,") and ",CO1," in each
    )
    assert ",100000,100000,10000000,pF," in line
    # What is built wants nothing from the shop.
    assert next(each for each in parts_list(Analysis(rig)) if each.part.ref == "CO1").to_buy == 0
    values = {key.partition("#")[0]: text for key, text in board_of(Analysis(rig), "supply").values.items()}
    assert "10 µF" in values.values()
    assert "1 mF" in values.values()
    assert values["relay_base:1"] == "5.6 kΩ"


def test_it_goes_with_its_regulator_and_its_decoupling(tern, muddle):
    rig = tern.edited(("supply", "regulators", 1, "as_built"), {"regulator": 9.2})
    alone = rig.edited(("supply", "regulators"), rig.supply.regulators[1:])
    assert (row_of(alone, "U1").as_built, row_of(alone, "U1").type) == (9.2, "7809")
    assert loads(dumps(rig)) == rig
    assert '"regulator": 9.2' in dumps(rig)
    # Usual currents are put beside what was asked, not beside what was built.
    built = muddle.edited((*DECOUPLED, "as_built"), {"decoupling_capacitor": 10e-6})
    kept = next(each for each in with_usual_currents(fed(built)) if each.name == "Mic amplifier")
    assert kept.decoupling.capacitor_f == 100e-6


def test_what_the_supply_does_not_have_is_told(tern):
    rig = tern.edited(FIRST, {"adjust_upper": 240.0}).edited(SUPPLY, {"polarity_gate": 1e4})
    (told,) = [each for each in inspect(Analysis(rig)) if each.rule == "as_built_unused"]
    assert told.words == "The supply has as-built values for RP, RA, which it does not have now."
    assert fed(rig).supply.regulators[0].output_v == 8.0
    cleared = rig.edited(FIRST, {}).edited(SUPPLY, {})
    assert not [each for each in inspect(Analysis(cleared)) if each.rule == "as_built_unused"]


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ({"relay": 12.0}, "“K” is no part with a value"),
        ({"regulator": 80.0}, "the value of U cannot be 80 V"),
        ({"nonsense": 1.0}, "is no part with a value"),
    ],
)
def test_what_cannot_be_is_one_sentence(tern, value, reason):
    with pytest.raises(DesignError, match=reason):
        tern.edited(FIRST, value)


# -- from readings ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "text", "path", "key", "value"),
    [
        ("supply/regulator:1", "7.1 V", FIRST, "regulator", 7.1),
        ("supply/regulator_output:1", "10 µF", FIRST, "regulator_output", 10e-6),
        ("supply/smoothing", "1 mF", SUPPLY, "smoothing", 1e-3),
        ("supply/relay_base:1", "5.6k", ("supply", "relays", 0, "as_built"), "relay_base", 5600.0),
    ],
)
def test_a_reading_becomes_a_value_as_built(tern, code, text, path, key, value):
    made = with_reading(tern, code, text)
    assert entry(made, code).verdict == "out"
    after = take(made, code).on(made)
    assert dict(after.at(path)) == {key: value}
    if not code.endswith("smoothing"):
        assert entry(after, code).item.value == (
            value if code.endswith("regulator:1") else entry(made, code).item.value
        )


@pytest.mark.parametrize(
    ("code", "text"),
    [("supply/rail:2/transmit", "9 V"), ("supply/rig/transmit", "11 V"), ("supply/relay:1/transmit", "11 V")],
)
def test_a_voltage_that_is_read_is_expected_once_it_was_taken(tern, code, text):
    made = with_reading(tern, code, text)
    assert entry(made, code).verdict == "out"
    after = take(made, code).on(made)
    assert entry(after, code).verdict == "within"
    assert found(items(Analysis(after)), code).value == pytest.approx(float(text.split()[0]), abs=2e-2)


def test_what_no_part_of_the_supply_explains_is_told(tern):
    code = "supply/current/receive"
    refused = take(with_reading(tern, code, "2 A"), code)
    assert isinstance(refused, Unsolved)
    assert "read the current of each" in refused.reason
    high = take(with_reading(tern, "supply/rig/receive", "14.5 V"), "supply/rig/receive")
    assert isinstance(high, Unsolved)
    assert "read the supply itself too" in high.reason
    small = take(with_reading(tern, "supply/rail:4/transmit", "7 V"), "supply/rail:4/transmit")
    assert isinstance(small, Unsolved)
