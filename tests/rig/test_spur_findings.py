"""Findings on spurs: limits, wording, and each remedy followed until its finding goes."""

import re

import pytest

from core.model.bands import Band
from core.model.stages.amplifiers import Amplifier
from core.rig.analysis import Analysis
from core.rig.paper.report import as_text, report
from core.rig.rules import inspect
from core.rig.start.new_rig import new_rig
from tests.made_up import with_typical_mixers

RESPONSES = ("response_near", "response_far", "response_crosses")


def found(project, rule, band):
    return [f for f in inspect(Analysis(project)) if f.rule == rule and f.band == band]


def forty_and_fifteen(if_hz):
    bands = (
        Band(name="40m", low_hz=7.05e6, high_hz=7.2e6, scheme="if_minus_vfo", sideband="lower"),
        Band(name="15m", low_hz=21.151e6, high_hz=21.45e6, scheme="sum", sideband="upper"),
    )
    return with_typical_mixers(new_rig(bands, if_hz))


def rejection(project, products, band):
    return next(-s.level_dbc for s in Analysis(project).spurs(band) if s.products == products)


@pytest.mark.parametrize(
    ("width_hz", "products", "rule", "severity"),
    [
        (320e3, "image", "image_rejection", "caution"),
        (370e3, "image", "image_rejection", "fault"),
        (450e3, "IF breakthrough", "if_breakthrough", "caution"),
        (370e3, "IF breakthrough", "if_breakthrough", None),
    ],
)
def test_rejection_is_judged_at_60_and_40_db(muddle, width_hz, products, rule, severity):
    rig = muddle.edited(("stages", "band_pass", "filters", 0, "bandwidth_hz"), width_hz)
    down = rejection(rig, products, "40m")
    # Near the limits, so that others would show.
    assert min(abs(down - 40), abs(down - 60)) < 3
    findings = found(rig, rule, "40m")
    assert [f.severity for f in findings] == ([severity] if severity else [])
    if findings:
        assert findings[0].text == f"On 40 m the {products} is only {down:.0f} dB down; 60 dB is wanted."


def test_the_wanted_input_is_no_image_however_far_the_carrier_stands_from_the_pass_band(muddle):
    rig = Analysis(
        muddle.edited(("stages", "ladder", "poles"), 2).edited(("carrier", "edge_suppression_db"), 60.0)
    )
    plan = rig.band_plan("40m")
    assert plan.carrier_hz - sum(rig.if_pass_band_hz) / 2 > 15e3
    assert [s.offset_low_hz for s in rig.spurs("40m") if s.products == "image"] == [
        pytest.approx(plan.image_high_hz - plan.dial_low_hz, abs=200e3)
    ]


def test_inputs_beside_the_dial_are_told_with_the_worst_first(muddle):
    (finding,) = found(muddle, "response_far", "20m")
    assert finding.severity == "caution"
    assert finding.text.startswith(
        f"On 20 m 3 other inputs are less than 60 dB down: "
        f"signal − 2 VFO {rejection(muddle, 'signal − 2 VFO', '20m'):.0f} dB down at 17.551 to"
    )
    (crossing,) = found(muddle, "response_crosses", "40m")
    assert "5 VFO − signal 20 dB down where the dial meets it at 7.136 MHz" in crossing.text


def test_no_more_than_three_are_named(muddle):
    rig = muddle.edited(("stages", "band_pass", "filters", 1, "bandwidth_hz"), 5e6)
    (finding,) = found(rig, "response_far", "20m")
    down = [
        s
        for s in Analysis(rig).spurs("20m")
        if s.kind == "receive" and s.level_dbc > -60 and s.products not in ("image", "IF breakthrough")
    ]
    assert len(down) > 4
    assert finding.text.count("dB down at") == 3
    assert finding.text.startswith("On 20 m ")
    assert " more." in finding.text


def test_another_resonator_and_a_narrower_band_pass_keep_them_out(muddle):
    here = ("stages", "band_pass", "filters", 1)
    more = muddle.edited((*here, "resonators"), 3)
    assert "3 other inputs" in found(muddle, "response_far", "20m")[0].text
    assert "another input is" in found(more, "response_far", "20m")[0].text
    assert not found(more.edited((*here, "bandwidth_hz"), 1.2e6), "response_far", "20m")


def test_an_input_too_near_for_a_filter_asks_for_another_if():
    bad = forty_and_fifteen(14e6)
    for band, name in (("40m", "3 VFO − signal"), ("15m", "5 VFO − signal")):
        (finding,) = found(bad, "response_near", band)
        assert finding.severity == "fault"
        assert name in finding.text
        assert finding.remedy.startswith("Move the IF")
        assert finding.path == ("if_hz",)
        # A narrower filter with another resonator, as far as one can be built, does not help.
        filters = bad.stage("band_pass").filters
        number = next(n for n, each in enumerate(filters) if band in each.bands)
        narrow = bad.edited(("stages", "band_pass", "filters", number, "resonators"), 3)
        assert found(narrow, "response_near", band)
    good = forty_and_fifteen(13.2e6)
    assert not [f for f in inspect(Analysis(good)) if f.rule in RESPONSES]


def test_what_crosses_the_dial_goes_when_the_if_moves(muddle):
    told = {(f.rule, f.subject) for f in inspect(Analysis(muddle))}
    assert ("response_crosses", "") in told
    assert ("birdie_crosses", "3 VFO, in the IF") in told
    assert ("transmit_crosses", "5 VFO − IF") in told
    moved = Analysis(muddle.edited(("if_hz",), 9e6))
    assert not [f for f in inspect(moved) if f.rule == "response_crosses"]
    assert not [f for f in inspect(moved) if f.rule == "birdie_crosses" and f.subject.startswith("3 VFO")]
    assert not [f for f in inspect(moved) if f.rule == "transmit_crosses" and f.subject.startswith("5 VFO")]


def test_a_helper_that_is_heard_is_told_and_the_chosen_one_is_not(tern):
    bad = tern.edited(("read_out", "helper_hz"), 8.192e6)
    heard = [f for f in inspect(Analysis(bad)) if "helper − VFO" in f.text and "meets" in f.text]
    assert {f.severity for f in heard} == {"caution"}
    assert any(
        f.text.startswith("5 × (helper − VFO) (order 5) meets the 20 m signal at 14.336") for f in heard
    )
    for finding in heard:
        assert finding.remedy.startswith("Leave the helper's crystal to be chosen")
        assert finding.path == ("read_out", "helper_hz")
    left = Analysis(bad.edited(heard[0].path, None))
    assert not [f for f in inspect(left) if f.stage == "read_out" and "meets" in f.text]
    assert not [s for band in ("20m", "12m") for s in left.spurs(band) if s.crosses]


def test_a_new_rig_takes_a_helper_with_a_band_pass_before_one_that_is_heard():
    # 4.9152 MHz wants a low-pass only and puts four times its difference on 7.104 MHz, 17 dB below S9.
    forty = Band(name="40m", low_hz=7.05e6, high_hz=7.2e6, scheme="if_minus_vfo", sideband="lower")
    rig = new_rig((forty,), 10.24e6)
    reading = Analysis(rig).read_out.of("40m").reading
    assert reading.arrangement == "helper"
    assert reading.birdies == 0
    assert not [f for f in inspect(Analysis(rig)) if f.stage == "read_out" and "meets" in f.text]


def test_a_helper_that_was_chosen_and_is_heard_is_told_to_be_another(tern):
    # It was told to be left to be chosen, which it was.
    rig = tern.edited(("read_out", "counter", "clock_hz"), 2.03e6)
    for finding in inspect(Analysis(rig)):
        if finding.stage == "read_out" and "meets" in finding.text:
            assert finding.remedy.startswith("Take another helper crystal, take a counter with another clock")
            break
    else:
        pytest.fail("no birdie of the read-out")


def test_a_clock_that_is_heard_goes_with_another_clock(tern):
    clock = ("read_out", "counter", "clock_hz")
    rig = Analysis(tern.edited(clock, 2.03e6))
    (finding,) = [f for f in inspect(rig) if "counter clock" in f.text]
    assert "another clock" in finding.remedy
    assert not [f for f in inspect(Analysis(tern.edited(clock, 4e6))) if "counter clock" in f.text]


def test_a_product_beside_the_signal_that_leaves_too_strong_is_a_fault(muddle):
    (finding,) = found(muddle, "transmit_product", "40m")
    loud = [s for s in Analysis(muddle).spurs("40m") if s.products == "VFO + IF" and s.kind == "transmit"]
    assert finding.severity == "fault"
    assert finding.text.startswith(f"VFO + IF leaves on 40 m at about −{-loud[0].level_dbc:.0f} dBc")
    narrow = muddle.edited(("stages", "band_pass", "filters", 0, "bandwidth_hz"), 200e3)
    assert not found(narrow, "transmit_product", "40m")


def test_the_same_thing_has_the_same_name_everywhere(muddle):
    analysis = Analysis(muddle)
    names = {(s.band, s.products) for band in ("40m", "20m") for s in analysis.spurs(band)}
    data = report(analysis)
    assert {(row["band"], row["products"]) for row in data["spurs"]} == names
    text = as_text(data)
    for finding in inspect(analysis):
        if finding.rule in ("birdie_crosses", "transmit_crosses"):
            name = finding.text.partition(" (order")[0]
            assert (finding.band, name) in names
            assert name in text


def test_what_the_filters_promise_beyond_the_wiring_is_told_as_such(tern):
    text = as_text(report(Analysis(tern)))
    image = next(line for line in text.splitlines() if line.startswith("20 m  receive   image"))
    assert "more than 100 dB down; wiring decides" in image
    row = next(r for r in report(Analysis(tern))["spurs"] if r["products"] == "image" and r["band"] == "20m")
    assert row["level_dbc"] < -100
    assert row["level"] == "more than 100 dB down; wiring decides"
    sixth = next(line for line in text.splitlines() if "6 VFO − signal" in line)
    assert f"−{rejection(tern, '6 VFO − signal', '20m'):.0f} dBc" in sixth


def test_much_gain_at_one_frequency_is_told(tern):
    gain = sum(
        stage.gain_db for stage in tern.path("receive") if stage.id in ("if_amplifier_1", "if_amplifier_2")
    )
    assert not [f for f in inspect(Analysis(tern)) if f.rule == "loop_gain"]
    block = Amplifier(id="if_amplifier_2", name="IF amplifier 2", direction="receive", gain_db=62.0)
    rig = Analysis(tern.edited(("stages", "if_amplifier_2"), block))
    (finding,) = [f for f in inspect(rig) if f.rule == "loop_gain" and f.subject == "if, receive"]
    more = gain + 62.0 - tern.stage("if_amplifier_2").gain_db
    assert finding.text.startswith(f"The receive path amplifies {more:.0f} dB at one frequency (IF)")


def test_a_knob_that_tunes_fast_is_told_and_reduction_helps(tern):
    reduction = ("vfo", "tank", "variable", "reduction")
    fast = found(tern.edited(reduction, 1.0), "vfo_fast", "")
    assert "A turn of the knob tunes up to" in fast[0].text
    assert "50 kHz is easy to set" in fast[0].text
    assert not found(tern.edited(reduction, 50.0), "vfo_fast", "")


def test_no_response_below_the_limit_reads_like_it(muddle, tern):
    seen = 0
    for project in (muddle, tern, muddle.edited(("if_hz",), 10.69e6), muddle.edited(("if_hz",), 10.71e6)):
        for finding in inspect(Analysis(project)):
            if finding.rule.startswith("response_"):
                for down in re.findall(r"([\d.]+) dB down", finding.text):
                    # The limit itself, "less than 60 dB down", stands in the sentence once.
                    seen += float(down) < 60
                assert len([d for d in re.findall(r"([\d.]+) dB down", finding.text) if d == "60"]) == 1
    assert seen >= 6
