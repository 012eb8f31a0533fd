"""Readings taken into the design, and what becomes of them in files and under other names."""

import pytest

from core.model.files import dumps, loads
from core.model.notebook.bench_log import LogReading, Photograph
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.analysis import Analysis
from core.rig.log.expected import items
from core.stages.outcome import Unsolved
from tests.log_entries import entry, log_of, take, with_reading

IF_1 = ("stages", "if_amplifier_1")


@pytest.mark.parametrize(
    ("code", "text", "path"),
    [
        ("supply/rail", "12.6 V", ("station", "supply_v")),
        ("vfo/output", "3 dBm", ("vfo", "output_dbm")),
        ("if_amplifier_1/gain_db", "13.5 dB", ("stages", "if_amplifier_1", "measured_gain_db")),
        (
            "if_amplifier_1/noise_figure_db",
            "5.5 dB",
            (*IF_1, "measured_noise_figure_db"),
        ),
        ("if_amplifier_1/oip3_dbm", "24 dBm", (*IF_1, "measured_oip3_dbm")),
        ("if_amplifier_1/compression_dbm", "9 dBm", (*IF_1, "measured_compression_dbm")),
        ("mixer/gain_db", "-7.1 dB", ("stages", "mixer", "gain_db")),
    ],
)
def test_a_reading_takes_the_place_of_a_figure(sample, code, text, path):
    made = with_reading(sample, code, text)
    edit = take(made, code)
    after = edit.on(made)
    value = after.log[-1].value
    assert after.at(path) == pytest.approx(value)
    # What is expected is now what was read, and the levels behind it move.
    assert entry(after, code).verdict == "within"
    assert Analysis(after).receive("20m") != Analysis(made).receive("20m") or path[0] == "station"


def test_a_part_becomes_as_built(sample):
    part = next(
        each
        for each in items(Analysis(sample))
        if each.about == "part" and each.stage == "band_pass" and each.words == "C1"
    )
    made = with_reading(sample, part.code, "51 pF")
    after = take(made, part.code).on(made)
    row = next(each for each in Analysis(after).circuits if each.stage == "band_pass")
    assert dict(after.at((*row.path, "as_built")))[part.key] == pytest.approx(51e-12)
    tuned = next(
        each for each in items(Analysis(sample)) if each.stage == "vfo" and each.words.startswith("C")
    )
    made = with_reading(sample, tuned.code, f"{1.02 * tuned.value!r} F")
    found_edit = take(made, tuned.code)
    assert not isinstance(found_edit, Unsolved)
    assert Analysis(found_edit.on(made)).tank is not Analysis(made).tank


def test_a_stages_gain_follows_from_two_levels(sample):
    log = log_of(sample)
    here = next(each for each in log.along("receive", "20m") if each.stage == "if_amplifier_1")
    before = log.along("receive", "20m")[log.along("receive", "20m").index(here) - 1]
    made = with_reading(sample, here.code, "-50 dBm")
    lacking = take(made, here.code)
    assert isinstance(lacking, Unsolved)
    assert before.title in lacking.reason
    both = with_reading(made, before.code, "-64 dBm")
    after = take(both, here.code).on(both)
    assert after.stage("if_amplifier_1").measured_gain_db == pytest.approx(14.0)


def test_what_nothing_is_stated_of_stays_a_reading(sample):
    code = "ladder/bandwidth_6db_hz/20m"
    refused = take(with_reading(sample, code, "2 kHz"), code)
    assert isinstance(refused, Unsolved)
    assert "it follows from parts" in refused.reason


# -- files, renames -----------------------------------------------------------------------------------------


def test_readings_and_photographs_are_kept_in_the_file(sample):
    made = with_reading(sample, "supply/rail", "13.5 V", plus_minus="5 %", note="lab supply")
    photograph = Photograph(name="board.jpg", digest="0" * 64, stage="ladder", caption="as soldered")
    made = made.edited(("photographs",), (photograph,))
    assert loads(dumps(made)) == made


def test_readings_go_with_their_band_and_their_stage(sample):
    made = with_reading(sample, "ladder/bandwidth_6db_hz/20m", "2.4 kHz")
    made = with_reading(made, "vfo/covers_low_hz/12m", "5.2 MHz")
    made = with_reading(made, "supply/rail", "13 V")
    photograph = Photograph(name="board.jpg", digest="0" * 64, stage="ladder")
    made = made.edited(("photographs",), (photograph,))
    renamed = made.edited(("bands", "20m", "name"), "home")
    assert [each.band for each in renamed.log] == ["home", "12m", ""]
    assert log_of(renamed).whole.within + log_of(renamed).whole.out == 3
    gone = renamed.band_removed("12m")
    assert [each.key for each in gone.log] == ["bandwidth_6db_hz", "rail"]
    without = gone.stage_removed("ladder")
    assert [each.key for each in without.log] == ["rail"]
    assert without.photographs[0].stage == ""


def test_a_switched_parts_reading_goes_with_its_band():
    reading = LogReading(about="part", stage="vfo", key="shift:20m", value=1e-11, unit="F")
    assert reading.with_bands_named({"20m": "40m"}).key == "shift:40m"
    assert reading.with_bands_named({"20m": ""}) is None
    assert reading.with_bands_named({"12m": "10m"}) is reading


def test_a_reading_of_what_is_gone_is_kept_and_told(sample):
    amplifier = BuiltAmplifier(id="extra", name="Extra")
    with_extra = sample.with_stages((amplifier, *sample.stages))
    made = with_reading(with_extra, "extra/gain_db", "14 dB")
    other = made.edited(("stages", "extra", "in_path"), True).edited(("log", 0, "key"), "no_such_figure")
    line = next(each for each in log_of(other).entries if each.reading)
    assert line.verdict == "no longer expected"
    assert line.item.name == "Extra"
    assert line.read == "14.0 dB"
