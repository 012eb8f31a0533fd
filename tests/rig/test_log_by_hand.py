"""What a log tells and how far readings may be off, each worked out beside the program."""

from dataclasses import replace

import numpy as np
import pytest

from core.model.measured import MeasuredCurve
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.log import knobs
from core.rig.log.curves import swept
from core.rig.log.expected import items
from core.rig.log.figures_read import usual_tolerance
from core.rig.log.item import Item, found
from core.rig.log.knobs import Cause, Knob, device_causes, knobs_of
from core.rig.log.readings_table import readings_in
from core.stages.outcome import Unsolved


@pytest.fixture(scope="module")
def known(sample):
    return items(Analysis(sample))


def cause(**fields):
    return Cause(**{"stage": "ladder", "ref": "C3", "unit": "F", "off": 0.0, "times": 1.0} | fields)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (
            cause(taken=390e-12, wanted=343.2e-12, off=-0.12),
            "C3 at 343 pF instead of 390 pF (−12 %)",
        ),
        (cause(taken=390e-12, wanted=391.6e-12, off=0.0041), "C3 at 392 pF instead of 390 pF (+0.4 %)"),
        (cause(taken=390e-12, wanted=393.7e-12, off=0.0095), "C3 at 394 pF instead of 390 pF (+1 %)"),
        (cause(ref="X2", taken=9e6, wanted=9e6 + 150, unit="Hz"), "X2 resonates 150 Hz higher"),
        (cause(ref="X2", taken=9e6, wanted=9e6 - 87, unit="Hz"), "X2 resonates 87 Hz lower"),
        (
            cause(ref="Q1, its current gain,", taken=1.0, wanted=0.6, unit="", off=-0.4),
            "Q1, its current gain, at 0.6 times what it is taken for",
        ),
    ],
)
def test_a_cause_in_words(told, words):
    assert told.words == words


def test_what_is_taken_in_has_no_more_digits_than_anybody_measures(sample, known):
    """A resonance to nine of them, as hertz of a crystal count, and any other value to four."""
    analysis, item = Analysis(sample), found(known, "ladder/bandwidth_6db_hz/20m")
    crystal = Knob(ref="X1", taken=19.6608e6, unit="Hz", share=1e-5, path=("if_hz",))
    told = crystal.cause(item, analysis, 12.3456e-6)
    assert told.edit.changes == ((("if_hz",), 19661042.7),)
    assert told.times == pytest.approx(1.23456)
    width = Knob(ref="width", taken=2400.0, unit="", share=0.1, path=("stages", "ladder", "bandwidth_hz"))
    told = width.cause(item, analysis, -0.123456)
    assert told.edit.changes == ((("stages", "ladder", "bandwidth_hz"), 2104.0),)
    assert told.wanted == pytest.approx(2400.0 * (1 - 0.123456))


def test_of_several_shares_that_explain_a_reading_the_nearest_to_none_is_told():
    """Half is as far from once as twice is; between two points along a line."""
    times = np.array([0.3, 0.5, 1.0, 1.2])
    assert knobs._reaches(times, np.array([0.0, 4.0, 4.0, 0.0]), 2.0) == pytest.approx(1.1)
    assert knobs._reaches(times, np.array([4.0, 0.0, 0.0, 0.4]), 1.0) == pytest.approx(0.45)
    assert knobs._reaches(times, np.array([0.0, 4.0, 4.0, 4.0]), 5.0) is None


def test_a_level_is_explained_by_gains_and_a_voltage_by_bias_and_supply(sample, known):
    analysis = Analysis(sample)
    level = found(known, "if_amplifier_1/output/receive/20m")
    volt = found(known, "if_amplifier_1/transistor:1.collector")
    gain = found(known, "if_amplifier_1/gain_db")
    by_gain = {each.ref: each for each in device_causes(analysis, gain, 0.0, -0.02)}
    assert by_gain
    assert all("its current gain" in ref for ref in by_gain)
    assert {each.ref: each for each in device_causes(analysis, level, 0.0, -0.02)} == by_gain
    # Less gain of a transistor makes less of the stage.
    assert all(each.off < 0 for each in by_gain.values())
    (least, *_) = sorted(abs(each.off) for each in by_gain.values())
    told = {each.ref: each for each in device_causes(analysis, gain, 0.0, -0.01)}
    assert min(abs(each.off) for each in told.values()) == pytest.approx(least / 2)
    fed = [each for each in knobs_of(analysis, volt) if each.ref == "its supply"]
    assert [(each.taken, each.share, each.taken_in) for each in fed] == [
        (sample.stage("if_amplifier_1").supply_v, pytest.approx(0.1), False)
    ]
    for item in (level, gain):
        assert "its supply" not in [each.ref for each in knobs_of(analysis, item)]
    assert len(knobs_of(analysis, gain)) == len(knobs_of(analysis, volt)) - 1


def test_how_far_figures_may_be_off(sample, known):
    """A filter's centre by half a percent, a ladder's by a fifth of its width; powers by more than gains."""
    analysis = Analysis(sample)
    centres = {each.code: each for each in known if each.key == "centre_hz"}
    widths = {
        row.stage: row.figures.bandwidth_3db_hz
        for row in analysis.filters
        if not isinstance(row.figures, Unsolved)
    }
    ladder, front = centres["ladder/centre_hz/20m"], centres["band_pass/centre_hz/20m"]
    assert ladder.plus_minus == pytest.approx(0.2 * widths["ladder"])
    assert ladder.plus_minus < 0.005 * ladder.value
    assert front.plus_minus == pytest.approx(0.005 * front.value)
    for key, unit, value, wanted in (
        ("oip3_dbm", "dBm", 20.0, 3.0),
        ("gain_db", "dB", 20.0, 1.0),
        ("carrier_suppression_db", "dB", 50.0, 6.0),
        ("frequency_hz", "Hz", 9e6, 50.0),
        ("high_hz", "Hz", 3000.0, 600.0),
        ("bandwidth_6db_hz", "Hz", -2400.0, 240.0),
        ("output_w", "W", 8.0, 2.0),
        ("warm_up", "Hz/K", -30.0, 30.0),
        ("swr", "-", 1.5, 0.3),
    ):
        assert usual_tolerance(key, unit, value) == pytest.approx(wanted), key


def test_both_ends_of_a_range_are_read_and_what_a_rig_is_brought_up_by_is_sought(known):
    by_code = {each.code: each for each in known}
    assert by_code["vfo/covers_low_hz/20m"].words == "covered, low end"
    assert by_code["vfo/covers_high_hz/20m"].words == "covered, high end"
    assert by_code["vfo/covers_low_hz/20m"].value < by_code["vfo/covers_high_hz/20m"].value
    sought = {
        stage: {each.key for each in known if (each.about, each.stage) == ("figure", stage) and each.sought}
        for stage in ("ladder", "band_pass", "low_pass", "if_amplifier_1", "detector", "vfo", "")
    }
    assert sought == {
        "ladder": {"bandwidth_6db_hz", "ripple_db", "insertion_loss_db"},
        "band_pass": {"centre_hz", "bandwidth_3db_hz", "served_loss_db"},
        "low_pass": {"bandwidth_3db_hz", "served_loss_db", "served_return_loss_db"},
        "if_amplifier_1": {"gain_db"},
        "detector": {"balance_db"},
        "vfo": {"covers_low_hz", "covers_high_hz"},
        "": {"mds_dbm", "output_w", "worst_harmonic_dbc"},
    }


def test_a_reading_of_an_amplifiers_gain_is_what_is_expected_of_it(sample):
    read = sample.edited(("stages", "if_amplifier_1", "measured_gain_db"), 14.2)
    item = found(items(Analysis(read)), "if_amplifier_1/gain_db")
    assert item.value == 14.2
    assert found(items(Analysis(sample)), "if_amplifier_1/gain_db").value == pytest.approx(15.97, abs=0.01)


def test_a_curve_of_a_stage_that_is_gone_is_left_out(sample):
    curves = [
        MeasuredCurve(stage=stage, f_hz=(1e6, 2e6, 3e6), s21_db=(-3.0, -2.0, -3.0))
        for stage in ("gone", "ladder")
    ]
    rig = sample.edited(("measured",), tuple(curves))
    assert [(each.number, each.curve.stage) for each in swept(Analysis(rig))] == [(1, "ladder")]


def test_a_value_is_written_in_the_unit_that_it_was_read_in(known):
    level = found(known, "if_amplifier_1/output/receive/20m")
    assert level.text(2.4567, "V pp") == "2.46 V pp"
    assert level.text(-20.26) == "−20.3 dBm"
    assert level.text(None) == "—"
    carrier = found(known, "carrier/frequency_hz/20m")
    assert carrier.figure is not None
    # As the figure is written everywhere, and another unit as that unit is.
    assert carrier.text(19660983.7) == carrier.figure.written(19660983.7)
    assert found(known, "power_amplifier/gain_db/20m").text(0.1234567, "V") == "123.5 mV"
    plain = Item(
        about="part", stage="x", name="X", key="c", words="C1", unit="Hz", value=9e6, plus_minus=100.0
    )
    assert plain.text(9000123.4) == "9.00012 MHz"
    assert replace(plain, unit="F", value=1e-10).text(1.23456e-10) == "123.5 pF"
    assert (plain.spread_text(123.4), level.spread_text(1.26)) == ("120 Hz", "1.3 dB")


def test_only_a_level_may_be_read_in_volts(known):
    gain = found(known, "if_amplifier_1/gain_db")
    with pytest.raises(DesignError, match="is read in dB and not in V"):
        gain.in_unit(0.5, "V")
    level = found(known, "if_amplifier_1/output/receive/20m")
    with pytest.raises(DesignError, match="is read in dBm and not in Hz"):
        level.in_unit(0.5, "Hz")


def test_lines_of_a_table_without_a_reading_are_left_out_and_without_a_date_are_of_today(known):
    text = "\n".join(
        (
            "code;reading;date",
            "if_amplifier_1/gain_db;15,1;2026-05-17",
            "ladder/ripple_db/20m;;",
            "ladder/ripple_db/12m;1,3;",
        )
    )
    read = readings_in(text, known, "2026-11-26")
    assert [(each.stage, each.value, each.date) for each in read] == [
        ("if_amplifier_1", 15.1, "2026-05-17"),
        ("ladder", 1.3, "2026-11-26"),
    ]
