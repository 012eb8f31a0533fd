"""The bench log: what is expected, and readings held against it."""

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.log.expected import items, value_of
from core.rig.log.item import Item, found, read_as
from core.rig.workshop.test_points import points_of
from tests.log_entries import entry, log_of, with_reading


@pytest.fixture(scope="module")
def known(sample):
    return items(Analysis(sample))


# -- what is expected ---------------------------------------------------------------------------------------


def test_every_item_has_a_place_and_a_code_of_its_own(known):
    assert len(known) > 300
    assert len({each.place for each in known}) == len({each.code for each in known}) == len(known)


def test_points_are_those_of_the_sheet_with_their_limits(sample, known):
    points = points_of(Analysis(sample))
    of = [each for each in known if each.about == "point"]
    assert len(of) == len(points)
    by_code = {each.code: each for each in of}
    for point in points:
        item = by_code[point.key]
        low, high = point.limits
        assert item.value - item.plus_minus == pytest.approx(low)
        assert item.value + item.plus_minus == pytest.approx(high)


def test_an_item_of_a_changed_rig_is_the_one_of_all_items(sample):
    other = Analysis(sample.edited(("stages", "ladder", "bandwidth_hz"), 2000.0))
    for item in items(other)[::7]:
        assert value_of(other, item) == item.value


# -- verdicts -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "verdict"),
    [("2.4 kHz", "within"), ("2,45k", "within"), ("3 kHz", "out"), ("1.5k", "out")],
)
def test_a_width_is_within_or_out(sample, text, verdict):
    code = "ladder/bandwidth_6db_hz/20m"
    made = with_reading(sample, code, text)
    assert entry(made, code).verdict == verdict


@pytest.mark.parametrize("off_hz", [-1000.0, 1000.0])
def test_a_ladder_a_kilohertz_beside_its_place_is_out_and_a_front_filter_is_not(sample, off_hz):
    # Half a percent of the IF would be fifty kilohertz, many times the width of the ladder.
    for code, verdict in (("ladder/centre_hz/20m", "out"), ("band_pass/centre_hz/20m", "within")):
        item = found(items(Analysis(sample)), code)
        made = with_reading(sample, code, f"{item.value + off_hz!r} Hz")
        assert entry(made, code).verdict == verdict, code


@pytest.mark.parametrize(
    ("key", "worse_db"),
    [("balance_db", -8.0), ("oip3_dbm", -4.0), ("compression_dbm", -4.0), ("iip3_dbm", -4.0)],
)
def test_better_than_expected_is_no_fault(sample, key, worse_db):
    item = next(each for each in items(Analysis(sample)) if each.key == key and each.value is not None)
    better = with_reading(sample, item.code, f"{item.value - worse_db!r} {item.unit}")
    assert entry(better, item.code).verdict == "within"
    worse = with_reading(sample, item.code, f"{item.value + worse_db!r} {item.unit}")
    assert entry(worse, item.code).verdict == "out"


def test_nobody_has_read_anything_at_first(sample):
    log = log_of(sample)
    assert {each.verdict for each in log.entries} == {"not yet measured"}
    assert log.whole.missing == log.whole.whole == len(log.entries) == sum(each.whole for each in log.stages)
    assert log.whole.words == f"0 of {log.whole.whole} within"


def test_the_last_reading_counts_for_progress(sample):
    code = "supply/rail"
    one = with_reading(sample, code, "9.1 V", note="battery was flat")
    two = with_reading(one, code, "13.5")
    before, after = log_of(one), log_of(two)
    assert (before.whole.within, before.whole.out) == (0, 1)
    assert (after.whole.within, after.whole.out) == (1, 0)
    assert before.whole.words == f"0 of {before.whole.whole} within, 1 out"
    lines = [each for each in after.entries if each.item.code == code]
    assert [each.verdict for each in lines] == ["out", "within"]
    assert lines[0].reading.note == "battery was flat"
    supply = next(each for each in after.stages if each.name == "Supply")
    assert supply.words == f"1 of {supply.whole} within"


def test_what_is_better_than_expected_is_no_fault(sample):
    for code, better, worse in (
        ("low_pass/served_loss_db/20m", "0 dB", "1.5 dB"),
        ("low_pass/served_return_loss_db/20m", "80 dB", "10 dB"),
        ("rig/output_w/transmit/20m", "90 W", "0.5 W"),
        ("vfo/covers_high_hz/20m", "5.9 MHz", "5.2 MHz"),
    ):
        assert entry(with_reading(sample, code, better), code).verdict == "within", code
        assert entry(with_reading(sample, code, worse), code).verdict == "out", code


@pytest.mark.parametrize(
    ("own", "verdict"), [("5 %", "out"), ("20 %", "within"), ("2 V", "within"), ("±0.5 V", "out")]
)
def test_a_tolerance_of_ones_own_counts_instead_of_the_usual_one(sample, own, verdict):
    made = with_reading(sample, "supply/rail", "12.1 V", plus_minus=own)
    assert entry(made, "supply/rail").verdict == verdict


# -- levels in volts and watts ------------------------------------------------------------------------------


def test_a_level_may_be_read_in_any_unit_of_a_level(known):
    item = next(
        each for each in known if each.key == "output" and each.way == "transmit" and each.load_ohm == 50
    )
    for text, dbm in (
        ("0 dBm", 0.0),
        ("1 mW", 0.0),
        ("223.6 mV", 0.0),
        ("0.6325 Vpp", 0.0),
        ("632.5 mV pp", 0.0),
        ("632,5 mVp-p", 0.0),
        ("5 W", 36.9897),
        ("-20", -20.0),
    ):
        value, unit = read_as(item, text)
        assert item.in_unit(value, unit) == pytest.approx(dbm, abs=2e-3), text


_LEVEL = Item(
    about="point",
    stage="x",
    name="X",
    key="output",
    words="output",
    unit="dBm",
    value=0.0,
    plus_minus=3.0,
    load_ohm=50.0,
)


@given(st.floats(1e-6, 100))
def test_volts_and_watts_agree_by_definition(volt):
    rms = _LEVEL.in_unit(volt, "V")
    assert _LEVEL.in_unit(volt**2 / 50, "W") == pytest.approx(rms, abs=1e-9)
    assert _LEVEL.in_unit(volt * 2 * sqrt(2), "V pp") == pytest.approx(rms, abs=1e-9)


@pytest.mark.parametrize(
    ("code", "text", "reason"),
    [
        ("supply/rail", "twelve", "is not a number"),
        ("supply/rail", "12 A", "is not a value in V"),
        ("supply/rail", "", "Nothing was typed"),
        ("vfo/output", "0 V", "cannot be told in dBm"),
        ("ladder/bandwidth_6db_hz/20m", "2.4 dB", "is not a value in Hz"),
    ],
)
def test_what_is_no_reading_is_one_sentence(sample, code, text, reason):
    with pytest.raises(DesignError, match=reason):
        with_reading(sample, code, text)


def test_an_unknown_code_tells_what_comes_near(known):
    with pytest.raises(DesignError, match="did you mean ladder/bandwidth_6db_hz/20m"):
        found(known, "ladder/bandwidth_6db/20m")
