"""Edits against what mixers leave and see: each is tried on the whole rig, and the finding goes."""

import pytest

from core.rig.analysis import Analysis
from core.rig.mixer_facts import balance_db
from core.rig.remedies.remedy import remedies
from core.rig.rules import inspect
from core.stages.steps import finished


def told(rig, rule=None):
    return [f for f in inspect(Analysis(rig)) if f.severity != "note" and rule in (None, f.rule)]


def mended(rig, finding):
    """The label of the edit and the rig with it, which has lost the finding and got no other."""
    (edit,) = finished(remedies(Analysis(rig), finding))
    changed = edit.on(rig)
    about = {(f.rule, f.stage, f.band) for f in told(changed)}
    assert (finding.rule, finding.stage, finding.band) not in about
    assert {each[:2] for each in about} <= {(f.rule, f.stage) for f in told(rig)}
    return edit.label, changed


@pytest.mark.parametrize(
    ("quieter_db", "about"),
    [
        (24.0, "Trim the modulator's balance by a potentiometer"),
        (34.0, "Trim the modulator's balance by a potentiometer and a small trimmer capacitor"),
    ],
)
def test_a_carrier_is_mended_at_the_modulator_first(sample, quieter_db, about):
    """Speech so quiet that an untrimmed balance does not suffice; the edit is what the remedy says."""
    rig = sample.edited(("microphone", "peak_v"), 5e-3 * 10 ** (-quieter_db / 20)).edited(
        ("stages", "detector", "balance_trimmed"), "not_at_all"
    )
    found = next(f for f in told(rig, "carrier_suppression") if f.band == "20m")
    label, changed = mended(rig, found)
    assert label == about
    assert found.remedy.startswith(f"{label}: ")
    gained = balance_db(Analysis(changed), "20m") - balance_db(Analysis(rig), "20m")
    assert f"{gained:.0f} dB more" in found.remedy


def test_a_mixer_that_sees_the_ladder_gets_what_hides_it(sample, muddle):
    bare = sample.edited(("stages", "if_amplifier_1", "topology"), "feedback")
    (found,) = told(bare, "mixer_termination")
    label, changed = mended(bare, found)
    assert label == "Build IF amplifier 1 of three transistors"
    assert changed.stage("if_amplifier_1").topology == "three_transistors"
    typed = muddle.edited(("stages", "if_amplifier_1", "reverse_isolation_db"), 30.0)
    (found,) = told(typed, "mixer_termination")
    label, changed = mended(typed, found)
    assert label == "Put a pad of 2 dB before IF amplifier 1"
    ids = [stage.id for stage in changed.path("receive")]
    assert ids.index("pad") == ids.index("if_amplifier_1") - 1


def test_a_loop_with_too_much_gain_gets_less(muddle):
    (found,) = told(muddle, "loop_gain")
    label, changed = mended(muddle, found)
    assert label.startswith("Set the gain of IF amplifier")

    def most(rig):
        return max(
            each.box_db for each in Analysis(rig).loops() if (each.way, each.zone) == ("receive", "if")
        )

    assert most(muddle) > 0 >= most(changed)
    # A stage that lets back more than it has is told whether or not the box howls too.
    typed = muddle.edited(("stages", "if_amplifier_2", "reverse_isolation_db"), 30.0)
    assert [f.stage for f in told(typed, "stage_lets_back")] == ["if_amplifier_2"]


def test_a_product_that_leaves_gets_a_sharper_band_pass(muddle):
    (found,) = [f for f in told(muddle, "transmit_product") if f.band == "40m"]
    label, changed = mended(muddle, found)
    assert label == "Give Band-pass 3 resonators on 40 m"
    levels = {s.products: s.level_dbc for s in Analysis(changed).spurs("40m", "transmit") if not s.crosses}
    assert levels.get("VFO + IF", -200.0) < -43
