"""Measured curves as readings of the bench log: verdict, progress, causes, for stages of every kind."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits.active.two_port import two_port
from core.model.files import dumps, load, loads
from core.model.measured import MeasuredCurve
from core.model.samples import sample_path
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.built import measured
from core.rig.built.verdict import verdict_of
from core.rig.log.bench_log import bench_log
from core.rig.log.causes import causes_of_all, causes_of_curve
from core.rig.log.told import log_report, log_text
from core.rig.paper.report import report
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.gain import over
from tests.published.reference import scattering
from tests.published.test_measured_curves import otherwise, value_of


@pytest.fixture(scope="module")
def tern():
    return Analysis(load(sample_path()))


def of(analysis, stage, f, db, way="receive", **fields):
    """A curve of a stage as it is kept."""
    band, way = measured.bound_to(analysis, stage, "20m", way)
    made = {"stage": stage, "band": band, "way": way, "f_hz": tuple(f.tolist()), "s21_db": tuple(db.tolist())}
    return MeasuredCurve.checked(**made | fields)


def filter_curve(analysis, stage="low_pass", **shares):
    """A curve by scikit-rf of a filter with parts off by shares."""
    design = analysis.filter_design(stage, "20m")
    values = {ref: (1 + share) * value_of(design, ref) for ref, share in shares.items()}
    f = np.linspace(*design.span_hz, 201)
    s = scattering(otherwise(design.network, values), f)
    return of(analysis, stage, f, 20 * np.log10(np.abs(s[:, 1, 0])), label="swept.s2p", date="2026-11-26")


def swept(analysis, *curves):
    project = analysis.project
    for each in curves:
        project = measured.with_curve(Analysis(project), each)
    return Analysis(project)


@pytest.mark.parametrize("stage", ["low_pass", "band_pass", "ladder"])
def test_the_curve_of_the_design_itself_is_within(tern, stage):
    found = verdict_of(tern, filter_curve(tern, stage))
    assert found.within
    bounded = [each for each in found.offs if each.high < np.inf]
    assert len(bounded) >= 2
    assert all(abs(each.off) < 0.05 * max(each.high, 1.0) for each in bounded)


def test_a_wrong_part_puts_it_out_with_its_cause_and_counts_in_the_progress(tern):
    good, bad = filter_curve(tern, "band_pass"), filter_curve(tern, L2=-0.25)
    before, log = bench_log(tern), bench_log(swept(tern, good, bad))
    assert (log.whole.within, log.whole.out) == (before.whole.within + 1, before.whole.out + 1)
    assert log.whole.whole == before.whole.whole + 2
    names = {each.name: each for each in log.stages}
    assert names["Low-pass"].out == 1
    assert [(each.name, each.verdict) for each in log.curves] == [
        ("Band-pass", "within"),
        ("Low-pass", "out"),
    ]
    analysis = swept(tern, good, bad)
    assert causes_of_curve(analysis, log.curves[0]).words == ""
    assert causes_of_curve(analysis, log.curves[1]).words.startswith("L2 is about 25 % low; ")
    why = causes_of_all(analysis, log)
    text = log_text(log, why, missing=False)
    assert "out      Low-pass: measured curve, 20 m, 2026-11-26: " in text
    assert "L2 is about 25 % low" in text
    told = log_report(log, why, missing=False)["curves"]
    assert [each["verdict"] for each in told] == ["within", "out"]
    assert told[1]["why"].startswith("L2 is about 25 % low")
    assert [each["verdict"] for each in report(analysis)["measured"]] == ["out", "within"]


def test_it_follows_the_design(tern):
    analysis = swept(tern, filter_curve(tern))
    wider = Analysis(analysis.project.edited(("stages", "low_pass", "filters", 0, "cutoff_hz"), 25e6))
    assert bench_log(analysis).curves[0].verdict == "within"
    assert bench_log(wider).curves[0].verdict == "out"
    # Taken as built it is what was measured.
    bad = swept(tern, filter_curve(tern, L2=-0.25))
    built = Analysis(measured.with_fitted(bad, "low_pass", "20m"))
    assert bench_log(built).curves[0].verdict == "within"


def test_a_fixture_of_other_resistances_counts(tern):
    design = tern.filter_design("low_pass", "20m")
    f = np.linspace(*design.span_hz, 201)
    db = 20 * np.log10(
        np.abs(scattering(replace(design.network, source_ohm=200.0, load_ohm=200.0), f)[:, 1, 0])
    )
    curve = of(tern, "low_pass", f, db)
    assert not verdict_of(tern, curve).within
    assert verdict_of(tern, curve.edited(("source_ohm",), 200.0).edited(("load_ohm",), 200.0)).within


def test_an_amplifiers_curve_is_judged_by_its_circuit(tern):
    f = np.geomspace(1.1e6, 55e6, 201)
    circuit = tern.design("rf_stage", "20m").circuit
    db = two_port(circuit, f).gain_db(50.0, 50.0)
    assert verdict_of(tern, of(tern, "rf_stage", f, db + 0.6)).within
    found = verdict_of(tern, of(tern, "rf_stage", f, db - 2.0))
    assert not found.within
    assert found.words.startswith("gain up to 2.0 dB less, at ")


def test_both_directions_of_a_pair_have_curves_of_their_own(tern):
    pair = BilateralAmplifier(id="pair", name="Pair", direction="both", designed_at_hz=tern.project.if_hz)
    analysis = Analysis(tern.project.edited(("stages",), (*tern.project.stages, pair)))
    f = np.geomspace(1.1e6, 55e6, 101)
    curves = []
    for way, off in (("receive", 0.0), ("transmit", -3.0)):
        db = two_port(analysis.design("pair", "20m").on(way).circuit, f).gain_db(50.0, 50.0)
        curves.append(of(analysis, "pair", f, db + off, way))
    analysis = swept(analysis, *curves)
    assert [(each.curve.way, each.verdict) for each in bench_log(analysis).curves] == [
        ("receive", "within"),
        ("transmit", "out"),
    ]
    assert measured.curve_of(analysis, "pair", "20m", "transmit") == curves[1]
    assert measured.without_curve(analysis, "pair", "20m", "transmit").measured == (curves[0],)
    assert loads(dumps(analysis.project)).measured == tuple(curves)
    # A fit of one half moves parts of the pair.
    told = measured.told(analysis, "pair", "20m", "transmit")
    assert told
    assert "no parts are fitted" not in told


def test_a_power_amplifiers_curve_is_held_against_its_gain_at_full_drive(tern):
    f = np.linspace(13e6, 26e6, 101)
    gain_db = over(tern.design("power_amplifier", "20m"), tuple(f.tolist())).gain_db
    assert verdict_of(tern, of(tern, "power_amplifier", f, gain_db + 0.5)).within
    assert not verdict_of(tern, of(tern, "power_amplifier", f, gain_db - 1.5)).within


def test_an_audio_amplifiers_edges_are_judged(tern):
    f = np.geomspace(25.0, 19e3, 201)
    circuit = tern.design("preamplifier", "20m").circuit
    db = two_port(circuit, f).gain_db(*(port.ohm for port in circuit.ports))
    found = verdict_of(tern, of(tern, "preamplifier", f, db))
    assert found.within
    assert len(found.offs) == 3
    # A coupling capacitor of a third of its value: the lower edge rises.
    higher = np.interp(f / 2, f, db)
    worse = verdict_of(tern, of(tern, "preamplifier", f, np.where(f < 1000, higher, db)))
    assert [each.what for each in worse.offs if not each.within][-1] == "lower edge (−6 dB)"


def test_a_stage_of_figures_only_is_held_against_the_gain_it_counts_with(tern):
    gain_db = next(each for each in tern.blocks("20m", "receive", 14.1e6) if each.stage == "mixer").gain_db
    f = np.linspace(13e6, 15e6, 101)
    assert verdict_of(tern, of(tern, "mixer", f, np.full(101, gain_db + 0.4))).within
    found = verdict_of(tern, of(tern, "mixer", f, np.full(101, gain_db - 4.0)))
    assert found.words.startswith("gain up to 4.0 dB less, at 14.1 MHz")
    analysis = swept(tern, of(tern, "mixer", f, np.full(101, gain_db - 4.0)))
    (curve,) = bench_log(analysis).curves
    assert "read the levels and voltages" in causes_of_curve(analysis, curve).words


def test_what_cannot_be_judged_says_why_and_counts_for_nothing(tern):
    f = np.linspace(20e6, 21e6, 101)
    short = of(tern, "mixer", f, np.full(101, -6.0))
    found = verdict_of(tern, short)
    assert isinstance(found, Unsolved)
    assert "is known from 14.1 MHz to 14.35 MHz" in found.reason
    analysis = swept(tern, short, of(tern, "ladder", f, np.full(101, -3.0)))
    log = bench_log(analysis)
    assert [each.verdict for each in log.curves] == ["no longer expected"] * 2
    assert log.whole == bench_log(tern).whole
    assert "sweep from 19.65" in log.curves[1].words


def test_a_curve_belongs_to_what_the_rig_has(tern):
    with pytest.raises(DesignError, match="has no filter for 40"):
        measured.bound_to(tern, "low_pass", "40m", "receive")
