"""From the microphone to the antenna: levels, two tones, drive wanted, gain within one box, by hand."""

from math import hypot, log10

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.active.two_port import cascade, of_ladder, two_port
from core.model.stages.audio import Microphone
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.levels import BLOCK_TRANSMIT, TRANSMIT, block_on, sent
from core.rig.levels.blocks import Block
from core.rig.levels.transmit import (
    compressed_dbm,
    microphone_levels,
    straight_dbm,
    transmit,
    two_tones,
)
from core.rig.paper.report import report
from core.rig.rules import inspect
from core.rig.rules.amplifiers import too_much_gain_at_one_frequency
from core.rig.rules.transmit import microphone_loaded
from core.rig.rules.transmit import two_tones as two_tone_rule
from core.rig.sections.rig import SECTIONS


def stage(name, gain_db, oip3_dbm=None, p1db=None, kind="amplifier"):
    return Block(
        stage=name,
        name=name,
        kind=kind,
        zone="rf",
        gain_db=gain_db,
        noise_figure_db=3.0,
        iip3_dbm=None if oip3_dbm is None else oip3_dbm - gain_db,
        p1db_out_dbm=p1db,
    )


@pytest.mark.parametrize(
    ("kind", "fields", "told_v", "told_dbm"),
    [
        # 5 mV behind 600 ohm on 1 kohm: 3.125 mV, 9.77 nW; 20 mV behind 2.2 kohm: 6.25 mV, 39.1 nW.
        ("dynamic", {"input_ohm": 1e3, "inductance_h": 1e-12}, 3.125e-3, -50.10),
        # The same behind 50 mH, 314 ohm: |1600 + j314| = 1630.5 ohm, 3.0665 mV.
        ("dynamic", {"input_ohm": 1e3, "inductance_h": 50e-3}, 3.0665e-3, -50.27),
        ("electret", {"input_ohm": 1e3}, 6.25e-3, -44.08),
        # On 2.2 kohm it is halved: 10 mV, 45.5 nW.
        ("electret", {}, 10e-3, -43.42),
        # 50 mV behind a capacitor of 100 kohm with a loss of 2 kohm: |3 − j100| kohm on 1 kohm leave
        # 0.49978 mV, |1002 − j100| kohm on 1 Mohm 49.653 mV.
        ("crystal", {"input_ohm": 1e3}, 0.49978e-3, -66.02),
        ("crystal", {"input_ohm": 1e6}, 49.653e-3, -56.08),
        # Values of one's own: 2 mV behind 200 ohm on 200 ohm.
        (
            "dynamic",
            {"peak_v": 2e-3, "source_ohm": 200.0, "input_ohm": 200.0, "inductance_h": 1e-12},
            1e-3,
            -53.01,
        ),
    ],
)
def test_a_microphone_by_its_type(kind, fields, told_v, told_dbm):
    microphone = Microphone(type=kind, **fields)
    found = microphone_levels(microphone)
    assert found.input_v == pytest.approx(told_v, rel=1e-4)
    assert found.level_dbm == pytest.approx(told_dbm, abs=0.01)
    assert not found.computed
    assert speech_dbm(microphone) == found.level_dbm


def speech_dbm(microphone):
    """Speech peaks at the input of a transmitter."""
    return transmit((), "20m", 14.2e6, microphone, 5.0).level_dbm[0]


def test_a_level_typed_in_counts_as_it_is():
    assert speech_dbm(Microphone(peak_dbm=-47.0, peak_v=1.0)) == -47.0
    assert microphone_levels(Microphone()) is None


@given(st.floats(-60, 60), st.floats(-40, 60))
def test_the_curve_of_compression_turned_round(straight, p1db):
    given_dbm = compressed_dbm(straight, p1db)
    back = straight_dbm(given_dbm, p1db)
    # Deep in saturation many inputs give the same output.
    if straight < p1db + 10:
        assert back == pytest.approx(straight, abs=1e-6)


def test_mismatch_counts_in_transmit_as_in_receive(tern):
    """From the modulator to the mixer: the row of two-ports between their impedances, solved by itself."""
    analysis, f = Analysis(tern), [0.0]
    f[0] = analysis.carrier("20m").signal_hz(1000.0)
    t = analysis.transmit("20m", 14.225e6)
    at = {block.stage: n for n, block in enumerate(t.blocks)}
    row = [two_port(analysis.design("modulator_buffer", "20m").circuit, f)]
    row.append(of_ladder(analysis.design("ladder", "20m").network.reversed(), f))
    row.append(two_port(analysis.design("transmit_if", "20m").circuit, f))
    modulator, mixer = t.blocks[at["detector"]], t.blocks[at["mixer"]]
    whole = cascade(row).gain_db(modulator.output_ohm, mixer.input_ohm)[0]
    between = t.blocks[at["detector"] + 1 : at["mixer"]]
    assert len(between) == 3
    # Amplifiers are taken to be the same over a hundredth of the frequency.
    assert sum(block.gain_db for block in between) == pytest.approx(whole, abs=0.03)
    alone = sum(block.gain_db for block in analysis.blocks("20m", "transmit", 14.225e6))
    assert abs(sum(block.gain_db for block in t.blocks) - alone) > 0.1


def test_what_no_drive_gives_is_none():
    # The most is 2.165 dB above compression.
    assert straight_dbm(32.2, 30.0) is None
    assert straight_dbm(32.1, 30.0) > 39


def test_the_drive_that_the_wanted_power_asks_for():
    blocks = (stage("driver", 20.0), stage("PA", 16.0, p1db=37.0, kind="power_amplifier"), stage("pad", -1.0))
    t = transmit(blocks, "20m", 14.2e6, Microphone(peak_dbm=1.0), 3.9811)  # 36 dBm wanted, 37 behind the PA
    # 37 dBm is its compression: 38 dBm by gain alone, 22 dBm into it, 2 dBm into the driver.
    assert t.wanted_dbm == pytest.approx((2.0, 22.0, 37.0, 36.0), abs=1e-3)
    again = transmit(blocks, "20m", 14.2e6, Microphone(peak_dbm=t.wanted_dbm[0]), 3.9811)
    assert again.output_w == pytest.approx(3.9811, rel=1e-6)
    # 10 W are more than it has to give; what stands behind it is known all the same.
    t = transmit(blocks, "20m", 14.2e6, Microphone(peak_dbm=1.0), 10.0)
    assert t.wanted_dbm[:2] == (None, None)
    assert t.wanted_dbm[2:] == pytest.approx((41.0, 40.0))


def test_two_tones_are_the_cascade_of_output_intercepts():
    """1/OIP3 = 1/(OIP3a Gb) + 1/OIP3b in mW; products 2 (OIP3 − tone) below a tone."""
    blocks = (stage("a", 10.0, oip3_dbm=20.0), stage("b", 15.0, oip3_dbm=30.0))
    peaks = (-10.0, 5.0)
    whole = -10 * log10(10 ** (-(20.0 + 15.0) / 10) + 10 ** (-30.0 / 10))
    found = two_tones(blocks, peaks)
    tone = 5.0 - 20 * log10(2)
    assert found.antenna_dbc == pytest.approx(-2 * (whole - tone), abs=1e-9)
    assert found.shares_dbc == pytest.approx((-2 * (20 - (-10 - 6.0206)), -2 * (30 - tone)), abs=1e-3)
    assert found.worst == 1
    assert two_tones((stage("x", 3.0),), (0.0,)).antenna_dbc is None


def test_a_power_amplifiers_products_are_not_told_below_30_decibels():
    chain = (stage("driver", 10.0, oip3_dbm=40.0), stage("PA", 15.0, oip3_dbm=60.0, kind="power_amplifier"))
    found = two_tones(chain, (10.0, 25.0))
    # 2 (60 − 19) = 82 dB by the intercept, which no real one keeps.
    assert found.shares_dbc[1] == pytest.approx(-82.04, abs=0.01)
    assert found.antenna_dbc == -30.0
    # What drives it is computed.
    assert found.driving_dbc == pytest.approx(2 * (10 - 6.0206 - 40), abs=0.01)
    assert two_tones(chain, (25.0, 40.0)).antenna_dbc == pytest.approx(-30.0)
    assert two_tones(chain, (35.0, 50.0)).antenna_dbc > -24


def spoken_louder(rig, by_db):
    """The dynamic microphone of the rig, which gives 5 mV, spoken into louder."""
    return rig.edited(("microphone", "peak_v"), 5e-3 * 10 ** (by_db / 20))


def test_too_strong_products_are_told_and_less_drive_mends_them(tern):
    loud = spoken_louder(tern, 12.0)
    (told, *_) = two_tone_rule(Analysis(loud))
    assert told.figure > told.limit == -24.0
    assert told.stage == "power_amplifier"
    assert not list(two_tone_rule(Analysis(tern)))
    less = float(told.remedy.split("down by ")[1].split(" dB")[0])
    turned = spoken_louder(tern, 12.0 - less)
    assert not [each for each in two_tone_rule(Analysis(turned)) if each.band == told.band]
    # A decibel less does not do.
    turned = spoken_louder(tern, 12.0 - less + 1)
    assert [each for each in two_tone_rule(Analysis(turned)) if each.band == told.band]
    # The other one: an amplifier that has the intercept.
    strong = loud.edited(("stages", "power_amplifier", "oip3_dbm"), 58.0)
    assert not list(two_tone_rule(Analysis(strong)))


def test_a_crystal_microphone_on_a_low_input_is_told_and_a_high_one_mends_it(muddle):
    rig = muddle.edited(("microphone", "type"), "crystal")
    (told,) = microphone_loaded(Analysis(rig))
    # The crystal is a capacitor with a loss: |4.2 − j100| kohm to 2.2 kohm.
    assert told.figure == pytest.approx(20 * log10(hypot(4.2, 100) / 2.2), abs=1e-6)
    assert "input of 2.2 kΩ takes 33.2 dB" in told.text
    assert "input of 100 kΩ or more" in told.remedy
    assert not list(microphone_loaded(Analysis(rig.edited(("microphone", "input_ohm"), 100e3))))
    for kind in ("dynamic", "electret"):
        assert not list(microphone_loaded(Analysis(muddle.edited(("microphone", "type"), kind))))
    assert not list(microphone_loaded(Analysis(muddle)))


def test_the_report_tells_microphone_and_loops(tern):
    analysis = Analysis(tern.edited(("microphone", "type"), "electret"))
    data = report(analysis)
    (row,) = data["microphone"]
    # 20 mV behind 2.2 kohm into what the amplifier's circuit shows.
    into = analysis.microphone.input_impedance
    watt = abs(20e-3 * into / (2200 + into)) ** 2 * (1 / into).real
    assert row["level_dbm"] == pytest.approx(10 * log10(watt / 1e-3), abs=0.01)
    rows = {(r["way"], r["band"], r["zone"]): r for r in data["loop_gain"]}
    assert len(rows) == 8
    blocks = Analysis(tern).blocks("12m", "transmit", tern.band("12m").centre_hz)
    gain = sum(b.gain_db for b in blocks if b.stage in ("pre_driver", "driver", "power_amplifier"))
    assert rows["transmit", "12m", "rf"]["gain_db"] == pytest.approx(gain)
    assert rows["transmit", "12m", "rf"]["loop_db"] == pytest.approx(gain - 60.0)
    typed_in = tern.edited(("microphone", "type"), "level")
    assert report(Analysis(typed_in))["microphone"] == []


def test_isolation_is_what_is_typed_in_and_the_worst_band_counts(tern):
    # 60 dB leave something, if no 10 dB everywhere.
    assert {each.rule for each in too_much_gain_at_one_frequency(Analysis(tern))} == {"loop_margin"}
    open_board = tern.edited(("station", "stray_isolation_db"), 40.0)
    found = list(too_much_gain_at_one_frequency(Analysis(open_board)))
    told = {each.subject: each for each in found if each.rule == "loop_gain"}
    assert set(told) == {"rf, transmit"}
    # In receive no 10 dB are left.
    assert {each.subject for each in found if each.rule == "loop_margin"} == {"if, receive"}
    gains = [each.gain_db for each in Analysis(tern).loops() if (each.way, each.zone) == ("transmit", "rf")]
    assert told["rf, transmit"].figure == max(gains)
    assert told["rf, transmit"].limit == 40.0
    # Screens, said so, mend it.
    assert not list(
        too_much_gain_at_one_frequency(Analysis(tern.edited(("station", "stray_isolation_db"), 80.0)))
    )


def test_a_stages_table_tells_the_drive_it_wants_beside_what_it_has(tern):
    analysis = Analysis(tern)
    place = [block.stage for block in analysis.blocks("20m", "transmit", 14.2e6)].index("driver")
    of, table = block_on(analysis, place, "20m", "transmit", 14.2e6), keyed(BLOCK_TRANSMIT)
    has, wants = (table[key].get(of) for key in ("input_dbm", "wanted_dbm"))
    # What it has is what it wants for the power that comes out.
    same = Analysis(tern.edited(("station", "power_w"), analysis.transmit("20m", 14.2e6).output_w))
    assert table["wanted_dbm"].get(block_on(same, place, "20m", "transmit", 14.2e6)) == pytest.approx(has)
    more = Analysis(tern.edited(("station", "power_w"), 3.0))
    assert table["wanted_dbm"].get(block_on(more, place, "20m", "transmit", 14.2e6)) < has - 1.5
    assert wants == of.transmit.wanted_dbm[place]
    assert table["share_dbc"].get(of) == pytest.approx(of.transmit.two_tones.shares_dbc[place])
    assert keyed(TRANSMIT)["imd_dbc"].text(sent(analysis, "20m")).endswith(" dBc")
    assert keyed(TRANSMIT)["most_imd"].text(sent(analysis, "20m")) == "Power amplifier"
    assert {"microphone", "loop_gain"} <= {section.key for section in SECTIONS}
    assert not [each for each in inspect(analysis) if each.rule in ("two_tone", "microphone_loaded")]


def test_a_loop_that_is_nearly_one_is_told_with_what_is_left(tern):
    """49 dB of gain in 50 dB of isolation howls at the next warm day."""
    worst = max(
        each.gain_db for each in Analysis(tern).loops() if (each.way, each.zone) == ("transmit", "rf")
    )
    for left_db, rules in ((1.0, ["loop_margin"]), (9.5, ["loop_margin"]), (10.5, []), (-1.0, ["loop_gain"])):
        boxed = tern.edited(("station", "stray_isolation_db"), worst + left_db)
        told = [
            each for each in too_much_gain_at_one_frequency(Analysis(boxed)) if each.subject == "rf, transmit"
        ]
        assert [each.rule for each in told] == rules
        if rules == ["loop_margin"]:
            assert told[0].figure == pytest.approx(left_db)
            assert told[0].severity == "note"
