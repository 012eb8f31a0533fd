"""Remedies as edits: each is followed on the whole rig, the finding goes, and no fault comes instead."""

import pytest

from core.model.stages.filters import LowPass
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.remedies.remedy import may_have, remedies
from core.rig.rules import inspect
from core.stages.kinds.table import kind_of
from core.stages.steps import finished


def stage(key, field):
    return ("stages", key, field)


def edited(rig, *changes):
    for path, value in changes:
        rig = rig.edited(path, value)
    return rig


def findings(rig, rule=None, bad=False):
    found = inspect(Analysis(rig))
    return [f for f in found if rule in (None, f.rule) and not (bad and f.severity == "note")]


#: What is done to the tern sample, the rule that then complains, and what its remedy is about.
CASES = {
    "too little gain": ([(stage("transmit_if", "gain_db"), 3.0)], "power_short", "Set the gain of"),
    "too much drive": (
        [(stage("transmit_if", "gain_db"), 14.0)],
        "overdriven",
        "Set the gain of Transmit IF",
    ),
    "splatter": (
        [(stage("power_amplifier", "oip3_dbm"), 43.5), (("station", "power_w"), 2.0)],
        "two_tone",
        "Set the gain of Mic amplifier",
    ),
    "strong neighbours": (
        [(stage("rf_stage", "gain_db"), 20.0), (("station", "environment"), "quiet_rural")],
        "third_order",
        "Set the gain of RF stage",
    ),
    "strong neighbours and no gain ahead": (
        [
            (stage("rf_stage", "in_path"), False),
            (stage("mixer", "figures_from"), "type"),
            (stage("mixer", "iip3_dbm"), -16.0),
            (stage("audio", "gain_db"), 80.0),
        ],
        "third_order",
        "Put a pad of",
    ),
    "little range": ([(stage("gain_control", "range_db"), 10.0)], "loud_audio", "Give"),
    "overload": ([(stage("if_amplifier_1", "gain_db"), 22.0)], "overload", "Set the gain of IF amplifier"),
    "no RF stage": (
        [
            (stage("rf_stage", "in_path"), False),
            (stage("if_amplifier_1", "gain_db"), 10.0),
            (("station", "environment"), "quiet_rural"),
        ],
        "noise_above_own",
        "Switch RF stage in",
    ),
    "a dead band": ([(stage("audio", "gain_db"), 27.0)], "noise_heard", "Set the gain of Audio power stage"),
    "noise on the image": ([], "image_noise", "Put RF stage before Band-pass"),
    "little drive": ([(("vfo", "output_dbm"), 0.0)], "mixer_drive", "Amplify the VFO"),
    "much drive": ([(("carrier", "output_dbm"), 17.0)], "mixer_drive", "Put a pad of"),
    "carrier": ([(("carrier", "balance_db"), 15.0)], "carrier_suppression", "Place the carrier where"),
    "heat": ([(stage("driver", "current_a"), 0.1)], "transistor_hot", "Give Driver"),
    "a fast dial": ([(("vfo", "tank", "variable", "reduction"), 1.0)], "vfo_fast", "Drive the tuning"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_remedy_followed_takes_its_finding_away_and_brings_no_fault(tern, case):
    changes, rule, about = CASES[case]
    rig = edited(tern, *changes)
    told = [f for f in findings(rig, rule) if f.severity != "note" or rule == "image_noise"]
    assert told, f"nothing is told of {case}"
    before = {(f.rule, f.stage) for f in findings(rig, bad=True)}
    for finding in told:
        assert may_have(finding)
        (edit,) = finished(remedies(Analysis(rig), finding))
        assert edit.label.startswith(about)
        mended = edit.on(rig)
        same = [
            f
            for f in findings(mended, rule, bad=finding.severity != "note")
            if f.stage == finding.stage and f.band in ("", finding.band)
        ]
        assert same == []
        assert {(f.rule, f.stage) for f in findings(mended, bad=True)} <= before


def test_the_least_that_suffices_is_taken(tern):
    """Some three decibels are wanting on the weaker band; a step less than what is advised is too little."""
    rig = tern.edited(stage("transmit_if", "gain_db"), 3.0)
    weak = next(f for f in findings(rig, "power_short") if f.band == "12m")
    (edit,) = finished(remedies(Analysis(rig), weak))
    ((path, gain_db),) = edit.changes
    assert rig.at(path) < gain_db < rig.at(path) + 6
    less = rig.edited(path, gain_db - 0.5)
    assert [f.band for f in findings(less, "power_short")] == ["12m"]


def test_nobody_is_told_to_build_an_amplifier_that_loses(tern):
    """Less gain in the only stage ahead does not suffice here, and −2.5 dB are no gain."""
    rig = edited(tern, (stage("mixer", "figures_from"), "type"), (stage("mixer", "iip3_dbm"), -16.0))
    strong = next(f for f in findings(rig, "third_order") if f.band == "20m")
    (edit,) = finished(remedies(Analysis(rig), strong))
    assert edit.label.startswith("Put a pad of")
    assert not [f for f in findings(edit.on(rig), "third_order") if f.band == "20m"]


def test_a_rig_without_an_rf_stage_gets_one_of_transistors(tern):
    rig = edited(
        tern.with_stages(tuple(s for s in tern.stages if s.id != "rf_stage")),
        (stage("if_amplifier_1", "gain_db"), 10.0),
        (("station", "environment"), "quiet_rural"),
    )
    (quiet,) = findings(rig, "noise_above_own", bad=True)
    (edit,) = finished(remedies(Analysis(rig), quiet))
    mended = edit.on(rig)
    assert mended.stage("rf_stage").kind == "built_amplifier"
    ids = [s.id for s in mended.path("receive")]
    assert ids.index("rf_stage") + 1 == ids.index("mixer")
    assert Analysis(mended).receive("12m").noise_margin_db >= rig.station.noise_margin_db


def test_a_receiver_without_a_volume_control_gets_one(muddle):
    (loud,) = findings(muddle, "loud_audio")
    (edit,) = finished(remedies(Analysis(muddle), loud))
    assert edit.label.startswith("Put a volume control of 60 dB before Audio amplifier")
    assert findings(edit.on(muddle), "loud_audio") == []


def test_filters_are_mended_as_edits(muddle):
    for rule, band in (("image_rejection", "40m"), ("if_breakthrough", "20m"), ("response_far", "20m")):
        (finding,) = [f for f in findings(muddle, rule) if f.band == band]
        (edit,) = finished(remedies(Analysis(muddle), finding))
        assert "Band-pass" in edit.label
        assert [f for f in findings(edit.on(muddle), rule) if f.band == band] == []


def test_a_transmitter_without_a_low_pass_gets_one(tern):
    bare = tern.with_stages(tuple(s for s in tern.stages if kind_of(s).role != "low_pass"))
    loud = [f for f in findings(bare, "harmonic_limit") if f.severity == "fault"]
    assert loud
    (edit,) = finished(remedies(Analysis(bare), loud[0]))
    assert isinstance(edit.on(bare).stages[0], LowPass)
    assert findings(edit.on(bare), "harmonic_limit", bad=True) == []


def test_what_a_rule_has_tried_itself_is_offered_as_it_is(muddle):
    (ends,) = findings(muddle, "ladder_ends")
    edits = finished(remedies(Analysis(muddle), ends))
    assert [edit.label for edit in edits] == [
        "Match its ends with a transformer",
        "Match its ends with an L-network",
    ]
    for edit in edits:
        assert findings(edit.on(muddle), "ladder_ends") == []


def test_what_is_bought_is_no_edit(tern):
    """Better crystals mend a ladder, but they have yet to be found."""
    rig = tern.edited((*stage("ladder", "crystal"), "quality_factor"), 30e3)
    named = [f for f in findings(rig) if f.rule.startswith("ladder") and "rystals with a Q" in f.remedy]
    assert named
    assert [f for f in named if f.edits] == []


def test_a_value_beyond_the_model_is_no_remedy(tern):
    edit = Edit("Ask 900 dB", ((stage("audio", "gain_db"), 900.0),))
    assert edit.tried_on(tern) is None


def test_nothing_is_offered_where_nothing_helps(tern):
    """No gain of one stage makes a hundred watts of this rig."""
    rig = tern.edited(("station", "power_w"), 100.0)
    for finding in findings(rig, "power_short"):
        assert finished(remedies(Analysis(rig), finding)) == ()
