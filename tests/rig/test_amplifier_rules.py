"""Amplifiers of parts in a rig: levels, parts, sheet, findings and what is advised."""

import re

import pytest

from core.circuits.active.two_port import two_port
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.values.errors import DesignError
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import told as told_of
from core.rig.figures.parts import part_value
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.parts_list import parts_list
from core.rig.paper.report import report
from core.rig.rules import inspect
from core.rig.rules.amplifiers import amplifier_conditional, amplifier_gain
from core.rig.scattered import scatterable
from core.stages.amplifiers.figures import figures, stability
from core.stages.outcome import Unsolved


def with_parts(project, **fields):
    """The project with its RF stage built of parts."""
    made = BuiltAmplifier(id="rf_stage", name="RF stage", direction="receive", **fields)
    stages = tuple(made if stage.id == "rf_stage" else stage for stage in project.stages)
    return project.with_stages(stages)


def found(project, rule):
    return [each for each in inspect(Analysis(project)) if (each.rule, each.stage) == (rule, "rf_stage")]


def alone(project):
    """The rig without other amplifiers of transistors."""
    kept = tuple(s for s in project.stages if s.id == "rf_stage" or s.kind != "built_amplifier")
    return project.with_stages(kept)


def test_the_levels_count_with_the_circuit(tern):
    rig = with_parts(tern, gain_db=12.0, current_a=13e-3)
    analysis = Analysis(rig)
    (block,) = [each for each in analysis.blocks("20m", "receive", 14.2e6) if each.stage == "rf_stage"]
    got = figures(analysis.design("rf_stage", "20m"), 14.2e6)
    assert block.gain_db == got.gain_db
    assert block.noise_figure_db == got.noise_figure_db
    assert block.iip3_dbm == pytest.approx(got.oip3_dbm - got.gain_db)
    assert block.p1db_out_dbm == got.compression_dbm
    assert (block.input_ohm, block.output_ohm) == (got.input_ohm, got.output_ohm)
    assert block.reverse_db == got.reverse_db < -30
    # Diodes convert alike in both directions, and nobody knows what comes back through a pad's neighbour.
    (mixer,) = [each for each in analysis.blocks("20m", "receive", 14.2e6) if each.stage == "mixer"]
    assert mixer.reverse_db == mixer.gain_db
    # Higher up it has less gain, which no typed-in figure says.
    (higher,) = [each for each in analysis.blocks("12m", "receive", 24.9e6) if each.stage == "rf_stage"]
    assert higher.gain_db < block.gain_db - 0.3


def test_a_reading_takes_the_place_of_what_is_computed(tern):
    rig = with_parts(tern, gain_db=12.0, current_a=13e-3, measured_gain_db=9.5)
    (block,) = [b for b in Analysis(rig).blocks("20m", "receive", 14.2e6) if b.stage == "rf_stage"]
    assert block.gain_db == 9.5


def test_readings_of_noise_intercept_and_compression_count_in_the_levels_too(tern):
    plain = with_parts(tern, gain_db=12.0, current_a=13e-3)
    read = with_parts(
        tern,
        gain_db=12.0,
        current_a=13e-3,
        measured_noise_figure_db=9.0,
        measured_oip3_dbm=15.0,
        measured_compression_dbm=2.0,
    )
    # The circuit is the same one: only what it counts with is another.
    assert Analysis(read).design("rf_stage", "20m") is Analysis(plain).design("rf_stage", "20m")
    was, now = (
        next(b for b in Analysis(rig).blocks("20m", "receive", 14.2e6) if b.stage == "rf_stage")
        for rig in (plain, read)
    )
    assert (now.noise_figure_db, now.p1db_out_dbm) == (9.0, 2.0)
    assert now.iip3_dbm == pytest.approx(15.0 - was.gain_db)
    assert now.port.noise_figure_db(50.0)[0] == pytest.approx(9.0)
    assert now.port.gain_db(50.0, 50.0)[0] == pytest.approx(was.port.gain_db(50.0, 50.0)[0])
    before, after = (Analysis(rig).receive("20m", 14.2e6) for rig in (plain, read))
    assert after.noise_figure_db > before.noise_figure_db + 1
    assert after.iip3_dbm < before.iip3_dbm
    # And each is told beside what was computed.
    facts = amplifier_facts(Analysis(read), read.stage("rf_stage"), "20m")
    rows = {figure.title: figure.text(facts) for figure in told_of(facts)}
    assert rows["noise figure as measured"] == "9.0 dB"
    assert rows["intercept as measured"] == "15.0 dBm"
    assert rows["compression as measured"] == "2.0 dBm"
    assert rows["noise figure"] != "9.0 dB"
    plainly = amplifier_facts(Analysis(plain), plain.stage("rf_stage"), "20m")
    assert not [figure.title for figure in told_of(plainly) if "as measured" in figure.title]


def test_its_parts_are_on_the_sheet_and_in_the_list(tern):
    rig = with_parts(tern, topology="feedback", gain_db=12.0, current_a=20e-3)
    analysis = Analysis(rig)
    refs = {each.part.ref for each in analysis.parts if each.stage == "rf_stage"}
    assert {"C1", "RB1", "RB2", "RF", "CF", "Q1", "RD", "RE1", "CE", "LC", "C2"} == refs
    listed = {each.part.ref: each for each in parts_list(analysis) if each.stage == "rf_stage"}
    assert listed["C1"].kind == ""
    assert part_value(listed["Q1"].part.fitted, listed["Q1"].part.unit) == ""
    assert listed["Q1"].part.note == "2N3904"
    three = Analysis(with_parts(tern, topology="three_transistors", gain_db=12.0, current_a=13e-3)).parts
    refs = {each.part.ref for each in three if each.stage == "rf_stage"}
    assert {"Q1", "Q2", "Q3", "RE1", "RE2", "RE3"} <= refs
    assert "Q4" not in refs
    # A run can be made of it, by the limits of an amplifier.
    (tried,) = [each for each in scatterable(analysis) if each.stage == "rf_stage"]
    assert (tried.judging.of, tried.bands) == ("amplifier", ())
    (section,) = [each for each in build_sheet(analysis).filters if each.title.startswith("RF stage")]
    assert section.drawing is not None
    told, facts = dict(section.figures), amplifier_facts(analysis, rig.stage("rf_stage"), "20m")
    assert float(told["gain"].removesuffix(" dB")) == pytest.approx(facts.figures.gain_db, abs=0.05)
    # What to measure before a signal is put in: 20 mA asked, 12 V less the emitter's 2.4 V.
    ampere, volt, _ = told["Q1 at rest"].split(", ")
    assert float(ampere.removesuffix(" mA")) == pytest.approx(20, abs=1)
    assert float(volt.removesuffix(" V")) == pytest.approx(9.6, abs=0.2)
    (row,) = [each for each in report(analysis)["amplifiers"] if each["stage"] == "RF stage"]
    assert row["noise_figure_db"] == pytest.approx(facts.figures.noise_figure_db)
    assert row["supply_a"] == pytest.approx(facts.design.supply_a)
    # And what its parts do, those first that do most.
    does = [each for each in report(analysis)["amplifier_parts"] if each["stage"] == "RF stage"]
    told = sensitivities(facts)
    assert [each["ref"] for each in does] == [f"{each.ref} {each.what}".strip() for each in told[:8]]
    assert does[0]["intercept_db"] == pytest.approx(told[0].intercept_db)
    assert does[0]["compression_db"] == pytest.approx(told[0].compression_db)


def test_one_that_cannot_be_made_is_a_fault_with_its_reason(tern):
    (fault,) = found(with_parts(tern, topology="feedback", gain_db=35.0), "gain_unreached")
    assert fault.severity == "fault"
    assert fault.path == ("stages", "rf_stage", "gain_db")
    assert "cannot be had of this circuit" in fault.text
    analysis = Analysis(with_parts(tern, topology="feedback", gain_db=35.0))
    assert amplifier_facts(analysis, analysis.project.stage("rf_stage"), "20m").reason in fault.text


def test_a_hot_transistor_is_told_and_less_current_mends_it(tern):
    hot = with_parts(tern, topology="feedback", gain_db=12.0, current_a=60e-3)
    (told,) = found(hot, "transistor_hot")
    heat = Analysis(hot).design("rf_stage", "20m").rest.transistors["Q1"].watt
    assert told.figure == pytest.approx(heat)
    assert told.limit == pytest.approx(0.35)
    for remedied in (
        with_parts(tern, topology="feedback", gain_db=12.0, current_a=25e-3),
        with_parts(tern, topology="feedback", gain_db=12.0, current_a=60e-3, supply_v=6.0),
        with_parts(tern, topology="feedback", gain_db=12.0, current_a=60e-3, device="2n5109"),
    ):
        assert not found(remedied, "transistor_hot")


def test_a_follower_is_told_as_conditionally_stable_and_three_transistors_are_not(tern):
    follower = with_parts(tern, topology="emitter_follower", current_a=5e-3)
    (told,) = amplifier_conditional(Analysis(alone(follower)))
    assert told.severity == "note"
    assert told.figure < 1
    # Where µ is least over all that is looked at.
    megahertz = float(told.text.partition(" at ")[2].split(" MHz")[0])
    circuit = Analysis(follower).design("rf_stage", "20m").circuit
    _, mu = two_port(circuit, [megahertz * 1e6]).stability()
    assert mu[0] == pytest.approx(told.figure, rel=0.02)
    # To three digits.
    at_hz = stability(Analysis(follower).design("rf_stage", "20m")).at_hz
    assert megahertz * 1e6 == pytest.approx(at_hz, rel=0.005)
    three = with_parts(tern, gain_db=12.0, current_a=13e-3)
    assert list(amplifier_conditional(Analysis(alone(three)))) == []


def test_all_that_are_conditionally_stable_share_one_note_of_the_worst(tern):
    rig = with_parts(tern, topology="feedback_transformer", gain_db=16.0, current_a=15e-3)
    analysis = Analysis(rig)
    least = {
        stage.name: stability(analysis.design(stage.id, "20m")).least_mu
        for stage in rig.stages
        if stage.kind == "built_amplifier"
    }
    below = sorted((mu, name) for name, mu in least.items() if mu < 1)
    assert len(below) > 1
    (told,) = amplifier_conditional(analysis)
    assert told.figure == below[0][0]
    assert told.text.startswith(
        f"{below[0][1]} is stable with ordinary ends only: µ is {below[0][0]:.2f} at "
    )
    for _, name in below[1:]:
        assert name in told.text
    for name in set(least) - {name for _, name in below}:
        assert name not in told.text


def test_gain_of_real_transistors_ahead_of_the_mixer_lifts_band_noise_over_the_receivers(tern):
    """Some 10 dB ahead of the mixer cures a receiver too quiet for band noise; common practice, no source."""
    without = tern.stage_removed("rf_stage")
    cured = with_parts(tern, gain_db=10.0, current_a=13e-3)

    def margin(project):
        return Analysis(project).receive("12m").noise_margin_db

    assert margin(cured) > margin(without) + 1.0


def test_facts_of_what_is_no_amplifier_are_refused(tern):
    analysis = Analysis(tern)
    assert isinstance(amplifier_facts(analysis, tern.stage("ladder"), "20m"), Unsolved)


@pytest.mark.parametrize(("field", "value"), [("current_a", 5.0), ("supply_v", 1.0), ("system_ohm", 1.0)])
def test_wishes_have_limits(tern, field, value):
    with pytest.raises(DesignError):
        with_parts(tern).edited(("stages", "rf_stage", field), value)


def test_gain_that_a_circuit_has_not_is_told_and_less_asked_or_three_transistors_mend_it(tern):
    asked = {"gain_db": 16.0, "current_a": 15e-3, "designed_at_hz": 14.2e6}
    short = with_parts(tern, topology="common_gate", device="j310", **asked)
    (told,) = amplifier_gain(Analysis(short))
    assert told.figure == pytest.approx(figures(Analysis(short).design("rf_stage", "20m"), 14.2e6).gain_db)
    assert (told.limit, told.severity) == (16.0, "caution")
    assert told.figure < 11
    less = asked | {"gain_db": float(int(told.figure))}
    mended = with_parts(tern, topology="common_gate", device="j310", **less)
    assert not list(amplifier_gain(Analysis(mended)))
    assert not list(amplifier_gain(Analysis(with_parts(tern, **asked))))
    # A follower has what it has.
    follower = with_parts(tern, topology="source_follower", device="j310", **asked)
    assert not list(amplifier_gain(Analysis(follower)))


def test_stability_is_told_with_its_frequency_in_a_unit_that_suits(tern):
    made = with_parts(tern, topology="feedback_transformer", gain_db=16.0, current_a=15e-3)
    (told,) = amplifier_conditional(Analysis(alone(made)))
    assert re.search(r"µ is 0\.\d\d at \d+ kHz where 1 would do for any\.", told.text)
