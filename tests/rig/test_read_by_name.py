"""Figures of audio stages and power amplifiers in the bench log: by their names, with causes, and taken."""

import pytest

from core.rig.analysis import Analysis
from core.rig.audio.facts import audio_facts
from core.rig.log.bench_log import bench_log
from core.rig.log.expected import items, value_of
from core.rig.power.facts import power_facts
from core.rig.sections.rig import speech_on
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.working import working
from tests.audio_rig import with_audio
from tests.log_entries import entry, spoilt, take, why, with_reading

PA = "power_amplifier"


@pytest.fixture(scope="module")
def rig(sample):
    return with_audio(sample, power={"topology": "complementary", "gain_db": 30.0})


@pytest.fixture(scope="module")
def known(rig):
    return {each.code: each for each in items(Analysis(rig))}


def test_figures_of_audio_stages_are_read_by_their_names(rig, known):
    for stage in ("preamplifier", "audio", "microphone_amplifier"):
        facts = audio_facts(Analysis(rig), rig.stage(stage), "20m")
        assert not isinstance(facts, Unsolved)
        assert known[f"{stage}/voltage_gain_db"].value == facts.figures.gain_db
        assert known[f"{stage}/low_hz"].value == facts.figures.low_hz
        assert known[f"{stage}/output_v"].value == facts.figures.output_v
        assert known[f"{stage}/most_v"].value == facts.at.most_v
    # Only a power stage has power in its load, and only a pair hands over.
    assert known["audio/output_w"].value == pytest.approx(known["audio/output_v"].value ** 2 / 8)
    assert known["audio/quiet_distortion"].unit == "%"
    assert "preamplifier/output_w" not in known
    low, high = next(
        each.corners_hz for each in speech_on(Analysis(rig)) if (each.way, each.band) == ("transmit", "20m")
    )
    assert known["rig/low_6db_hz/transmit/20m"].value == low
    assert known["rig/high_6db_hz/transmit/20m"].value == high


def test_figures_of_a_power_amplifier_are_read_by_their_names(rig, known):
    facts = power_facts(Analysis(rig), rig.stage(PA))
    full = working(facts.design).output
    assert known[f"{PA}/idle_a"].value == facts.design.idle_a
    assert known[f"{PA}/supply_a"].value == full.mean_a
    assert known[f"{PA}/efficiency"].value == pytest.approx(100 * full.carrier.efficiency)
    for on in facts.bands:
        assert known[f"{PA}/gain_db/{on.band}"].value == on.gain_db
        assert known[f"{PA}/drive_w/{on.band}"].value == on.drive_w
        assert known[f"{PA}/swr/{on.band}"].value == float(on.there.swr[0])


def test_an_item_alone_is_the_one_among_all(rig, known):
    analysis = Analysis(rig)
    stages = ("preamplifier", "audio", PA)
    for each in known.values():
        if each.about == "figure" and each.stage in stages:
            assert value_of(analysis, each) == each.value, each.code


@pytest.mark.parametrize(
    ("code", "within", "out"),
    [
        ("audio/output_w", "2 W", "100 mW"),
        ("audio/quiet_distortion", "0.3 %", "9 %"),
        ("audio/supply_gain_db", "-60 dB", "-5 dB"),
        ("audio/voltage_gain_db", "30 dB", "33 dB"),
        ("rig/loudest_db_spl/receive", "93 dB", "80"),
        (f"{PA}/efficiency", "60 %", "20 %"),
        (f"{PA}/most_w/20m", "15 W", "5 W"),
        (f"{PA}/swr/12m", "1.1", "3"),
        (f"{PA}/supply_a", "1,1 A", "1.8 A"),
    ],
)
def test_only_the_bad_side_is_out(rig, code, within, out):
    assert entry(with_reading(rig, code, within), code).verdict == "within"
    assert entry(with_reading(rig, code, out), code).verdict == "out"


@pytest.mark.parametrize(
    ("stage", "key", "factor", "code"),
    [
        ("preamplifier", "high_cut", 1.5, "preamplifier/high_hz"),
        (PA, "bias_lower", 1.05, f"{PA}/idle_a"),
    ],
)
def test_the_part_that_is_off_is_a_cause_and_others_explain_it_too(rig, known, stage, key, factor, code):
    value = value_of(Analysis(spoilt(rig, stage, key, factor)), known[code])
    told = why(with_reading(rig, code, f"{value!r}", plus_minus="0.001 %"), code)
    parts = next(row.design.parts for row in Analysis(rig).circuits if row.stage == stage)
    keys = {part.ref: part.key for part in parts}
    mine = next(each for each in told.causes if keys.get(each.ref) == key)
    assert 1 + mine.off == pytest.approx(factor, rel=0.03)
    assert [each.times for each in told.causes] == sorted(each.times for each in told.causes)
    for each in told.causes:
        if each.unit:
            again = value_of(Analysis(spoilt(rig, stage, keys[each.ref], 1 + each.off)), known[code])
            assert again == pytest.approx(value, abs=0.04 * abs(value - known[code].value)), each


def test_causes_of_a_small_reading_go_by_the_circuits_sensitivities(rig, known):
    """To the first order a part must be off by what is missed over what a share of it does."""
    code, item, missed_db = "preamplifier/voltage_gain_db", known["preamplifier/voltage_gain_db"], -0.2
    told = why(with_reading(rig, code, f"{item.value + missed_db!r} dB", plus_minus="0.01 dB"), code)
    parts = next(row.design.parts for row in Analysis(rig).circuits if row.stage == "preamplifier")
    keys = {part.ref: part.key for part in parts}
    small = [each for each in told.causes if each.unit and abs(each.off) < 0.1]
    assert len(small) >= 2
    for each in small:
        up, down = (
            value_of(Analysis(spoilt(rig, "preamplifier", keys[each.ref], share)), item)
            for share in (1.005, 0.995)
        )
        assert each.off == pytest.approx(missed_db / ((up - down) / 0.01), rel=0.1), each


def test_a_power_amplifiers_gain_is_taken_into_the_design(rig):
    code = f"{PA}/gain_db/20m"
    made = with_reading(rig, code, "12 dB")
    assert entry(made, code).verdict == "out"
    after = take(made, code).on(made)
    assert after.stage(PA).measured_gain_db == 12.0
    assert entry(after, code).verdict == "within"
    assert Analysis(after).transmit("20m").output_w < Analysis(made).transmit("20m").output_w


def test_what_is_asked_of_a_circuit_is_not_changed_by_a_level_read_behind_it(rig):
    along = bench_log(Analysis(rig)).along("receive", "20m")
    place = next(n for n, each in enumerate(along) if each.stage == "preamplifier")
    before, here = along[place - 1], along[place]
    made = with_reading(rig, before.code, f"{before.value!r} dBm")
    made = with_reading(made, here.code, f"{here.value - 6!r} dBm")
    refused = take(made, here.code)
    assert isinstance(refused, Unsolved)
    assert "Take a part as built" in refused.reason
