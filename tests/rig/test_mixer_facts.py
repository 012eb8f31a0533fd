"""Mixers of circuits in a rig: what report and sheet tell, what levels count with, the carrier's balance."""

import re
from dataclasses import replace

import pytest

from core.rig.analysis import Analysis
from core.rig.figures.mixers import MIXER
from core.rig.mixer_facts import balance_db, mixer_facts, mixers_of, modulator
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from core.rig.rules.mixing.drive import mixer_drive
from core.rig.rules.transmit import carrier_suppression
from core.stages.kinds.table import kind_of
from core.stages.mixers.drive import at_drive, balance
from core.stages.outcome import Unsolved


def with_circuits(tern, **fields):
    """The sample whose mixers are computed of their circuits."""
    for each in tern.stages:
        if each.kind == "mixer":
            for name, value in {"figures_from": "circuit", **fields}.items():
                tern = tern.edited(("stages", each.id, name), value)
    return tern


def the_modulator(project):
    path = project.path("transmit")
    return next(each for each in path if kind_of(each).driver(each) == "carrier")


def test_levels_count_with_the_circuit_at_the_drive_it_gets(tern):
    rig = with_circuits(tern).edited(("vfo", "output_dbm"), 5.0)
    (block,) = [b for b in Analysis(rig).blocks("20m", "receive", 14.2e6) if b.stage == "mixer"]
    # Some hundredths of a decibel are lost in the windings' inductance and leakage, of drive and of signal.
    made = Analysis(rig).design("mixer", "20m")
    drive_lost, lost = made.drive_lost_db, made.signal_lost_db(14.2e6)
    assert 0.01 < drive_lost < 0.1
    assert 0.01 < lost < 0.1
    told = at_drive(rig.stage("mixer"), round(5.0 - drive_lost, 2))
    assert block.gain_db == pytest.approx(told.gain_db - lost)
    assert block.noise_figure_db == pytest.approx(told.noise_figure_db + lost)
    assert block.iip3_dbm == pytest.approx(told.iip3_dbm + lost)
    assert block.p1db_in_dbm == pytest.approx(told.p1db_in_dbm + lost)
    # A reading has them in it.
    read = rig.edited(("stages", "mixer", "gain_db"), -7.5)
    (block,) = [b for b in Analysis(read).blocks("20m", "receive", 14.2e6) if b.stage == "mixer"]
    assert block.gain_db == -7.5
    assert block.noise_figure_db == pytest.approx(told.noise_figure_db + lost)
    assert (block.input_ohm, block.output_ohm) == (told.input_ohm, told.output_ohm)
    # The same rig with typical figures knows nothing of its drive.
    plain = tern.edited(("vfo", "output_dbm"), 5.0)
    (usual,) = [b for b in Analysis(plain).blocks("20m", "receive", 14.2e6) if b.stage == "mixer"]
    assert usual.gain_db == -6.0


def test_less_drive_is_a_worse_receiver(tern):
    levels = {
        drive: Analysis(with_circuits(tern).edited(("vfo", "output_dbm"), drive)).receive("20m")
        for drive in (10.0, 1.0)
    }
    assert levels[1.0].noise_figure_db > levels[10.0].noise_figure_db + 1
    assert levels[1.0].noise_margin_db < levels[10.0].noise_margin_db - 1


def told(analysis):
    """What the sheet tells of the mixer, with its circuit or without."""
    sheet = build_sheet(analysis)
    (section,) = [each for each in (*sheet.filters, *sheet.plain) if each.title == "Mixer"]
    return dict(section.figures)


def test_report_and_sheet_tell_a_mixers_figures_alike(tern):
    analysis = Analysis(with_circuits(tern))
    data = report(analysis)
    row = next(each for each in data["mixers"] if each["stage"] == "Mixer")
    facts = mixer_facts(analysis, analysis.project.stage("mixer"), "20m")
    assert row["type"] == "four-diode ring"
    assert row["gain_db"] == facts.figures.gain_db
    assert row["figures_from"] == "its circuit"
    assert row["oscillator_leak_db"] == facts.figures.oscillator_leak_db != 40.0
    assert row["largest_a"] == facts.at.largest_a
    assert row["least_dbm"] == facts.drive.least_dbm
    text = f"{facts.figures.gain_db:.1f} dB".replace("-", "−")
    assert text in as_text(data)
    printed = told(analysis)
    assert printed["conversion gain"] == text
    assert "input impedance" in printed
    plain = told(Analysis(tern))
    assert "input impedance" not in plain
    assert plain["figures from"].startswith("of the type: gain, noise figure")


def test_the_report_tells_each_mixers_products_at_its_drive(tern):
    analysis = Analysis(with_circuits(tern))
    rows = [row for row in report(analysis)["mixer_products"] if row["stage"] == "Mixer"]
    assert [row["times"] for row in rows] == list(range(7))
    figures = analysis.mixer_figures("receive")
    for row in rows:
        for order in (1, 2, 3):
            told = float(figures.suppression_db(row["times"], order))
            assert row[f"order_{order}_db"] == pytest.approx(told, abs=1e-9)
    # Less drive holds less down, in the report too.
    starved = report(Analysis(with_circuits(tern).edited(("vfo", "output_dbm"), 1.0)))["mixer_products"]
    assert starved[1]["order_3_db"] < rows[1]["order_3_db"] - 3
    assert "MIXER PRODUCTS" in as_text(report(analysis))


def test_a_modulators_balance_is_that_of_its_circuit_with_the_rigs_own_speech(tern):
    rig = with_circuits(tern)
    analysis, stage = Analysis(rig), the_modulator(rig)
    made = modulator(analysis, "20m")
    place = rig.path("transmit").index(stage)
    audio = float(analysis.transmit("20m").level_dbm[place])
    assert made.stage is stage
    assert made.balance == balance(stage, rig.carrier.output_dbm, audio)
    assert balance_db(analysis, "20m") == made.balance.trimmed_db
    assert report(analysis)["carrier"][0]["carrier_suppression_db"] == pytest.approx(
        analysis.carriers[0].place.suppression_db + made.balance.trimmed_db
    )
    # A reading replaces the estimate; where figures are the type's, the carrier's own field counts.
    read = rig.edited(("stages", stage.id, "measured_balance_db"), 52.0)
    assert balance_db(Analysis(read), "20m") == 52.0
    assert balance_db(Analysis(tern), "20m") == tern.carrier.balance_db
    assert mixer_facts(analysis, rig.stage("mixer"), "20m").balance is None


_ADVICE = (
    ("by a potentiometer:", {"balance_trimmed": "resistance"}),
    ("by a potentiometer and a small trimmer capacitor:", {"balance_trimmed": "both"}),
    ("Match the modulator's devices by forward voltage:", {"matching": "matched"}),
)


def spoken_quieter(rig, by_db):
    """The rig with its dynamic microphone, which gives 5 mV, spoken into so much more quietly."""
    return rig.edited(("microphone", "peak_v"), 5e-3 * 10 ** (-by_db / 20))


@pytest.mark.parametrize("lost_db", range(12, 40, 4))
def test_what_is_advised_for_the_balance_mends_it(tern, lost_db):
    """The quieter the audio, the weaker the sidebands beside the same carrier."""
    rig = with_circuits(tern, balance_trimmed="not_at_all")
    stage = the_modulator(rig)
    rig = spoken_quieter(rig, lost_db)
    found = list(carrier_suppression(Analysis(rig)))
    assert found
    for each in found:
        assert each.path == ("stages", stage.id, "balance_trimmed")
        fields = next((fields for words, fields in _ADVICE if words in each.remedy), None)
        if "Match the modulator's devices and trim" in each.remedy:
            fields = {"balance_trimmed": "both", "matching": "matched"}
        if fields is None:
            assert each.remedy.startswith("Balance the modulator better, or move the carrier")
            continue
        better = rig
        for name, value in fields.items():
            better = better.edited(("stages", stage.id, name), value)
        gained = balance_db(Analysis(better), each.band) - balance_db(Analysis(rig), each.band)
        assert float(re.search(r"(\d+) dB more", each.remedy)[1]) == pytest.approx(gained, abs=0.51)
        assert not [f for f in carrier_suppression(Analysis(better)) if f.band == each.band]


def test_the_advice_grows_with_what_is_missing(tern):
    rig = with_circuits(tern, balance_trimmed="not_at_all")
    remedies = []
    for lost in (10.0, 24.0, 30.0, 60.0):
        quiet = spoken_quieter(rig, lost)
        remedies.append(next(f.remedy for f in carrier_suppression(Analysis(quiet))))
    assert len(set(remedies)) >= 3
    assert remedies[-1].startswith("Balance the modulator better, or move the carrier")


def test_a_mixer_out_of_the_path_has_no_drive_and_no_row(tern):
    rig = with_circuits(tern).edited(("stages", "mixer", "in_path"), False)
    found = mixer_facts(Analysis(rig), rig.stage("mixer"), "20m")
    assert isinstance(found, Unsolved)
    assert found.reason == "Mixer is switched out of the path; switch it in to see what drives it."
    assert "Mixer" not in {each.name for each in mixers_of(Analysis(rig))}


def test_starved_is_a_finding_in_the_circuits_own_terms(tern):
    rig = with_circuits(tern).edited(("vfo", "output_dbm"), 2.0)
    (found,) = [f for f in mixer_drive(Analysis(rig)) if f.stage == "mixer"]
    drive = next(each for each in Analysis(rig).drives if each.stage == "mixer")
    assert drive.delivered_dbm < drive.least_dbm < drive.wanted_dbm == found.limit
    enough = with_circuits(tern).edited(("vfo", "output_dbm"), drive.least_dbm)
    assert not [f for f in mixer_drive(Analysis(enough)) if f.stage == "mixer"]


def test_through_a_stage_that_lets_nothing_back_nothing_of_the_vfo_is_told_at_the_antenna(sample):
    """No level at all is no number."""
    at = next(figure for figure in MIXER if figure.key == "at_antenna_dbm")
    plain = next(each for each in mixers_of(Analysis(sample)) if each.at_antenna is not None)
    assert at.text(plain).endswith("dBm")
    silent = replace(plain, at_antenna=replace(plain.at_antenna, level_dbm=float("-inf")))
    assert at.get(silent) is None
