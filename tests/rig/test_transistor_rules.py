"""Transistors that a stage asks too much of: their figures by another way, and another one that mends it."""

from math import pi, sqrt

import pytest

from core.circuits.active.large_signal import limits
from core.circuits.units import watts
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.transistors import OwnTransistor
from core.rig.amplifier_facts import amplifier_facts
from core.rig.analysis import Analysis
from core.rig.remedies.remedy import may_have, remedies
from core.rig.rules import inspect
from core.stages.amplifiers.design import design
from core.stages.amplifiers.stress import speeds_hz
from core.stages.steps import finished
from core.trade.devices import devices


def rig(tern, **asked):
    """The rig with such a stage in the place of its RF stage."""
    given = {"designed_at_hz": 14e6, "gain_db": 14.0, "topology": "feedback"} | asked
    made = BuiltAmplifier(id="rf_stage", name="Built", direction="receive", **given)
    return tern.with_stages(tuple(made if each.id == made.id else each for each in tern.stages))


def told(project, rule, stage="rf_stage"):
    return [each for each in inspect(Analysis(project)) if (each.rule, each.stage) == (rule, stage)]


#: What is asked, the rule that complains, and the figure that it is about of a transistor of the table.
CASES = {
    "breakdown": (
        {"topology": "feedback_transformer", "device": "2n5109", "current_a": 40e-3, "supply_v": 18.0},
        "transistor_volts",
        lambda row: row.most_v,
    ),
    "current": (
        {"device": "bc547", "current_a": 60e-3, "supply_v": 6.0},
        "transistor_current",
        lambda row: row.most_a,
    ),
    "heat": ({"device": "2n3904", "current_a": 50e-3}, "transistor_hot", lambda row: 0.7 * row.most_watt),
    "speed": (
        {"device": "2n2222a", "current_a": 4e-3, "designed_at_hz": 50e6, "gain_db": 8.0},
        "transistor_slow",
        lambda row: 5 * 50e6,
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_a_transistor_that_does_not_fit_is_told_and_another_one_mends_it(tern, case):
    asked, rule, limit = CASES[case]
    project = rig(tern, **asked)
    (finding,) = told(project, rule)
    now = devices()[asked["device"]]
    assert finding.limit == pytest.approx(limit(now))
    assert (finding.figure < finding.limit) == finding.at_least
    assert "Built" in finding.text
    assert may_have(finding)
    (edit,) = finished(remedies(Analysis(project), finding))
    ((path, name),) = edit.changes
    assert path == ("stages", "rf_stage", "device")
    assert edit.label == f"Build Built of {devices()[name].name}"
    mended = edit.on(project)
    assert not told(mended, rule)
    # And what was asked is still had, without another fault or caution.
    before = {(each.rule, each.stage) for each in inspect(Analysis(project))}
    brought = [each for each in inspect(Analysis(mended)) if (each.rule, each.stage) not in before]
    assert all(each.severity == "note" for each in brought), brought
    assert not told(mended, "amplifier_gain")


@pytest.mark.parametrize(
    ("topology", "device", "kind"),
    [
        ("common_gate", "2n3904", "jfet"),
        ("common_source", "j310", "mosfet"),
        ("three_transistors", "j310", "bipolar"),
        ("feedback", "no such thing", "bipolar"),
    ],
)
def test_a_kind_that_the_circuit_does_not_take_is_a_fault_with_an_edit(tern, topology, device, kind):
    project = rig(tern, topology=topology, device=device, current_a=10e-3)
    (fault,) = told(project, "transistor_kind")
    assert fault.severity == "fault"
    assert fault.path == ("stages", "rf_stage", "device")
    (edit,) = finished(remedies(Analysis(project), fault))
    mended = edit.on(project)
    assert devices()[mended.stage("rf_stage").device].kind == kind
    assert not told(mended, "transistor_kind")
    assert not told(mended, "filter_unsolved")


def test_a_pair_of_field_effect_transistors_is_told_too(tern):
    made = BilateralAmplifier(
        id="rf_stage",
        name="Pair",
        direction="receive",
        device="2n7000",
        current_a=13e-3,
        receive_gain_db=12.0,
    )
    project = tern.with_stages(tuple(made if each.id == made.id else each for each in tern.stages))
    (fault,) = told(project, "transistor_kind")
    (edit,) = finished(remedies(Analysis(project), fault))
    assert not told(edit.on(project), "transistor_kind")


@pytest.mark.parametrize(
    ("asked", "about"),
    [
        # 21 dB at 28 MHz of three slow transistors, of one at 4 mA, and 40 dB, which nobody gets of one.
        ({"topology": "three_transistors", "gain_db": 21.0, "designed_at_hz": 28e6}, "Build Built of 2N5109"),
        ({"gain_db": 22.0, "current_a": 4e-3, "device": "2n5109"}, "Give Built "),
        ({"gain_db": 40.0}, "Ask "),
    ],
)
def test_a_gain_that_cannot_be_had_is_mended_by_the_least_that_does(tern, asked, about):
    # Far down the receiver, so that what it then amplifies brings nothing else.
    given = {"topology": "feedback", "device": "2n3904", "current_a": 15e-3, "designed_at_hz": 14e6} | asked
    made = BuiltAmplifier(id="rf_stage", name="Built", direction="receive", in_path=False, **given)
    project = tern.with_stages(tuple(made if each.id == made.id else each for each in tern.stages))
    (fault,) = told(project, "gain_unreached")
    assert fault.severity == "fault"
    (edit,) = finished(remedies(Analysis(project), fault))
    assert edit.label.startswith(about)
    mended = edit.on(project)
    assert not told(mended, "gain_unreached")
    got = amplifier_facts(Analysis(mended), mended.stage("rf_stage"), "20m")
    assert got.figures.gain_db == pytest.approx(mended.stage("rf_stage").gain_db, abs=0.6)


def test_a_half_that_cannot_have_its_gain_names_its_field(tern):
    made = BilateralAmplifier(
        id="rf_stage", name="Pair", direction="receive", in_path=False, transmit_gain_db=38.0, current_a=13e-3
    )
    project = tern.with_stages(tuple(made if each.id == made.id else each for each in tern.stages))
    (fault,) = told(project, "gain_unreached")
    assert fault.path == ("stages", "rf_stage", "transmit_gain_db")
    (edit,) = finished(remedies(Analysis(project), fault))
    assert not told(edit.on(project), "gain_unreached")


def test_the_builders_own_transistor_is_taken_where_it_does_best(tern):
    """With the gain asked and less noise than any of the table."""
    quiet = OwnTransistor(name="Quiet", transition_hz=3e9, base_ohm=2.0, current_gain=300.0, most_watt=1.0)
    project = rig(tern, device="2n3904", current_a=50e-3).edited(("transistors",), (quiet,))
    (finding,) = told(project, "transistor_hot")
    (edit,) = finished(remedies(Analysis(project), finding))
    assert edit.label == "Build Built of Quiet"


def test_how_fast_a_transistor_is_at_its_current():
    """fT at rest: gm over 2π (Cπ + Cµ), with Cπ the diffusion charge's and the junction's; of a field-effect
    one over its gate's.
    """
    made = design(
        BuiltAmplifier(id="a", name="A", topology="feedback", device="2n5109", current_a=22e-3, gain_db=16.0)
    )
    device, gm = made.transistor.model, made.rest.transistors["Q1"].output_a / 0.025865
    charge = device.transit_s * gm + device.emitter_f + device.feedback_f
    assert speeds_hz(made)["Q1"] == pytest.approx(gm / (2 * pi * charge), rel=0.02)
    gate = design(
        BuiltAmplifier(id="a", name="A", topology="common_gate", device="j310", current_a=10e-3, gain_db=9.0)
    )
    gm = 2 * sqrt(35e-3 / 16 * gate.rest.transistors["Q1"].output_a)
    assert speeds_hz(gate)["Q1"] == pytest.approx(gm / (2 * pi * 7.5e-12), rel=0.08)


def test_what_a_transistor_takes_is_that_of_the_output_that_class_a_allows(tern):
    """Limited by current the peak is twice that at rest; the transformer has the load's volts twice."""
    project = rig(tern, **CASES["breakdown"][0])
    (finding,) = told(project, "transistor_volts")
    made = Analysis(project).design("rf_stage", "20m")
    first = limits(made.circuit, 14e6)[0]
    rest = made.rest.transistors["Q1"]
    swing_v = 2 * sqrt(2 * 50 * watts(first.output_dbm))
    # The emitter swings some tenth the other way round.
    assert finding.figure == pytest.approx(rest.output_v + swing_v, rel=0.08)
    current = rig(tern, **CASES["current"][0])
    (finding,) = told(current, "transistor_current")
    assert limits(Analysis(current).design("rf_stage", "20m").circuit, 14e6)[0].what == "current"
    at_rest = Analysis(current).design("rf_stage", "20m").rest.transistors["Q1"].output_a
    assert finding.figure == pytest.approx(2 * at_rest, rel=1e-6)


def test_the_samples_ask_nothing_of_their_transistors_that_these_do_not_bear(tern, muddle):
    for project in (tern, muddle):
        bad = [each for each in inspect(Analysis(project)) if each.rule.startswith("transistor_")]
        assert not [each for each in bad if each.rule != "transistor_on_hand"]
