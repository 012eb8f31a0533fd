"""The drive of mixers that is too little or too much, and buffers that are asked too much: what is told, and
that each remedy, tried on the sample with its buffers of parts, changes the drive itself.
"""

from math import sqrt

import pytest

from core.circuits.units import watts
from core.model.stages.amplifiers import Amplifier, Attenuator
from core.rig.analysis import Analysis
from core.rig.levels.oscillator_drive import driven
from core.rig.paper.report import as_text, report
from core.rig.remedies.remedy import may_have, remedies
from core.rig.rules import inspect
from core.rig.rules.mixing.drive import buffer_overdriven, buffer_ratings, mixer_drive
from core.stages.amplifiers.stress import peaks
from core.stages.steps import finished

LEVEL = ("vfo", "output_dbm")


def buffer(field):
    return ("stages", "vfo_buffer", field)


def edited(rig, *changes):
    for path, value in changes:
        rig = rig.edited(path, value)
    return rig


def with_pad(rig, loss_db):
    pad = Attenuator(id="vfo_pad", name="VFO pad", direction="vfo", loss_db=loss_db)
    return rig.with_stages((*rig.stages, pad))


def mended(rig, rule):
    """The one finding of a rule, the label of its edit, and the rig with that."""
    (finding,) = rule(Analysis(rig))
    assert may_have(finding)
    (edit,) = finished(remedies(Analysis(rig), finding))
    changed = edit.on(rig)
    told = {(f.rule, f.stage) for f in inspect(Analysis(changed)) if f.severity != "note"}
    assert (finding.rule, finding.stage) not in told
    return finding, edit.label, changed


@pytest.mark.parametrize(
    ("make", "about", "advice"),
    [
        (
            lambda rig: edited(rig, (LEVEL, -7.0)),
            "Set the gain of VFO buffer to",
            "Give VFO buffer 4 dB more gain",
        ),
        (
            lambda rig: edited(rig, (LEVEL, -14.0)),
            "Set the gain of VFO buffer to",
            "Give VFO buffer 11 dB more gain",
        ),
        (lambda rig: with_pad(rig, 6.0), "Leave VFO pad out", "Take 6 dB out of VFO pad"),
        (lambda rig: with_pad(edited(rig, (LEVEL, 1.0)), 12.0), "Give VFO pad", "Take 10 dB out of VFO pad"),
        # Without current for it gain alone brings nothing.
        (
            lambda rig: edited(rig, (buffer("current_a"), 6e-3)),
            "Give VFO buffer",
            "and more current where it compresses",
        ),
    ],
)
def test_too_little_drive_is_mended_by_what_makes_the_drive(sample, make, about, advice):
    rig = make(sample)
    finding, label, changed = mended(rig, mixer_drive)
    assert finding.stage == "mixer"
    assert finding.path[:2] == (
        "stages",
        rig.stages[-1].id if rig.stages[-1].id == "vfo_pad" else "vfo_buffer",
    )
    assert label.startswith(about)
    assert advice in finding.remedy
    drive = next(each for each in Analysis(changed).drives if each.stage == "mixer")
    assert drive.suits
    assert drive.delivered_dbm > driven(rig, "vfo").delivered_dbm + 1
    # Oscillator and mixer are as they were.
    assert changed.vfo == rig.vfo
    assert changed.stage("mixer") == rig.stage("mixer")


def test_where_nothing_stands_an_amplifier_is_put(sample):
    bare = sample.with_stages(tuple(s for s in sample.stages if s.direction != "vfo"))
    finding, label, changed = mended(bare, mixer_drive)
    assert finding.remedy.startswith("Buffer the oscillator")
    assert label == "Amplify the VFO"
    assert changed.vfo.amplifier_gain_db == pytest.approx(finding.limit - finding.figure)


def test_a_gain_that_is_read_is_not_asked_to_be_another(sample):
    """Of a follower gain follows from the current: another amplifier is put."""
    rig = edited(sample, (buffer("topology"), "emitter_follower"))
    _, label, changed = mended(rig, mixer_drive)
    assert driven(changed, "vfo").delivered_dbm > driven(rig, "vfo").delivered_dbm + 5
    assert label


@pytest.mark.parametrize(
    ("make", "about", "advice"),
    [
        (
            lambda rig: edited(rig, (LEVEL, 4.0)),
            "Set the gain of VFO buffer to 7 dB",
            "Take 3 dB of gain out of",
        ),
        (
            lambda rig: edited(
                rig.with_stages(tuple(s for s in rig.stages if s.direction != "vfo")), (LEVEL, 13.0)
            ),
            "Put a pad of 6 dB behind the VFO",
            "Put a pad of 5 dB behind",
        ),
    ],
)
def test_too_much_drive_is_mended_by_less_of_it(sample, make, about, advice):
    rig = make(sample)
    finding, label, changed = mended(rig, mixer_drive)
    assert label == about
    assert finding.remedy.startswith(advice)
    assert driven(changed, "vfo").delivered_dbm < driven(rig, "vfo").delivered_dbm - 1
    assert changed.vfo == rig.vfo


# -- a buffer that is asked too much -----------------------------------------------------------------------


def test_a_buffer_beyond_class_a_is_told_with_what_runs_out(sample):
    (step,) = driven(edited(sample, (LEVEL, 4.0)), "vfo").steps
    assert step.over_db == pytest.approx(4.0 + step.gain_db - 1 - step.p1db_dbm)
    (told,) = buffer_overdriven(Analysis(edited(sample, (LEVEL, 4.0))))
    assert told.figure == step.over_db
    assert told.text == (
        "VFO buffer is driven 4.5 dB beyond its compression: by its gain it would give 14.7 dBm, and at 9.2 "
        "dBm it has lost 1 dB, where Q1 runs out of current."
    )
    # A tenth of a decibel below its compression nothing is told, as much above it is.
    edge = 4.0 - step.over_db
    assert not list(buffer_overdriven(Analysis(edited(sample, (LEVEL, edge - 0.1)))))
    assert list(buffer_overdriven(Analysis(edited(sample, (LEVEL, edge + 0.1)))))


@pytest.mark.parametrize(
    ("level_dbm", "current_a", "about"),
    [
        # Enough for the mixer: less gain, or a pad where the circuit has no less.
        (4.0, 20e-3, "Set the gain of VFO buffer to 5 dB"),
        (8.0, 20e-3, "Put a pad of 9 dB before VFO buffer"),
        # Too little for it: more current.
        (-3.0, 6e-3, "Give VFO buffer 15 mA"),
    ],
)
def test_a_buffer_beyond_class_a_is_brought_back(sample, level_dbm, current_a, about):
    rig = edited(sample, (LEVEL, level_dbm), (buffer("current_a"), current_a))
    _, label, changed = mended(rig, buffer_overdriven)
    assert label == about
    assert all(step.over_db <= 0 for step in driven(changed, "vfo").steps)
    assert next(each for each in Analysis(changed).drives if each.stage == "mixer").suits


def test_a_block_that_compresses_wants_one_that_gives_more(sample):
    block = Amplifier(id="vfo_buffer", name="VFO buffer", direction="vfo", gain_db=10.5, p1db_dbm=3.0)
    rig = sample.with_stages(tuple(block if s.id == "vfo_buffer" else s for s in sample.stages))
    (told,) = buffer_overdriven(Analysis(rig))
    assert told.text.endswith("at 3.0 dBm it has lost 1 dB.")
    _, label, changed = mended(rig, buffer_overdriven)
    assert label == "Take an amplifier for VFO buffer that gives 7 dBm"
    assert next(each for each in Analysis(changed).drives if each.stage == "mixer").suits


def test_a_transistor_sees_its_rest_and_the_swing_of_its_output(sample):
    """With a choke the collector swings as the output does, the root of 2 x 50 ohm x P more than at rest, and
    the emitter a little against it, by its part of the gain of some 10 dB.
    """
    analysis = Analysis(sample)
    made = analysis.design("vfo_buffer", "20m")
    rest = made.rest.transistors["Q1"]
    seen = {each.what: each for each in peaks(made, 5.4e6, 7.0)}
    swing = sqrt(2 * 50 * watts(7.0))
    assert swing < seen["voltage"].peak - abs(rest.output_v) < 1.35 * swing
    assert seen["current"].peak > rest.output_a + swing / 60
    assert (seen["voltage"].most, seen["current"].most) == (40, 0.2)


def test_a_transistor_beyond_its_ratings_is_a_fault_and_mended(sample):
    rig = edited(sample, (LEVEL, 14.0), (buffer("current_a"), 0.15))
    told = list(buffer_ratings(Analysis(rig)))
    assert [f.subject for f in told] == ["Q1, current"]
    assert told[0].text == "Q1 of VFO buffer sees 270 mA at the peaks of its swing; it bears 200 mA."
    _, label, changed = mended(rig, buffer_ratings)
    assert label.startswith(("Give VFO buffer", "Make VFO buffer"))
    assert not list(buffer_ratings(Analysis(changed)))
    assert not list(buffer_ratings(Analysis(sample)))


def test_the_report_tells_what_stands_behind_each_oscillator(sample):
    rows = report(Analysis(sample))["behind_oscillators"]
    assert [(row["oscillator"], row["stage"]) for row in rows] == [
        ("VFO", "VFO buffer"),
        ("carrier oscillator", "Carrier buffer"),
    ]
    (step,) = driven(sample, "vfo").steps
    assert rows[0]["output_dbm"] == step.output_dbm
    assert rows[0]["in_hand_db"] == pytest.approx(-step.over_db)
    told = as_text(report(Analysis(with_pad(sample, 3.0))))
    assert "VFO pad" in told
    assert "BEHIND OSCILLATORS" in told
