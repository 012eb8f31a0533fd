"""A transistor on hand in the place of the one asked for."""

import pytest

from core.model.notebook.junk_box import JunkBox, TransistorOnHand
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.amplifier_facts import amplifier_facts
from core.rig.analysis import Analysis
from core.rig.rules import inspect


def rig(tern, stage, *on_hand, first=True):
    box = JunkBox(first=first, parts=tuple(TransistorOnHand(device=name, count=n) for name, n in on_hand))
    return tern.with_stages((stage, *tern.stages)).edited(("junk_box",), box)


def found(project, stage="built"):
    return [
        each
        for each in inspect(Analysis(project))
        if each.rule == "transistor_on_hand" and each.stage == stage
    ]


FAST = BuiltAmplifier(id="built", name="Built", device="2n5109", designed_at_hz=9e6, gain_db=16.0)


def test_one_that_does_as_well_is_offered_and_taking_it_ends_the_note(tern):
    project = rig(tern, FAST, ("2N3904", 9))
    (note,) = found(project)
    assert note.text.startswith("Built is asked for with 2N5109, of which 3 are wanted and 0 on hand; 2N3904")
    (edit,) = note.edits
    taken = edit.on(project)
    assert taken.stage("built").device == "2n3904"
    assert not found(taken)
    before, after = (amplifier_facts(Analysis(each), each.stage("built"), "20m") for each in (project, taken))
    assert after.figures.gain_db == pytest.approx(before.figures.gain_db, abs=1.0)
    assert after.figures.noise_figure_db <= before.figures.noise_figure_db + 1.0
    assert after.figures.oip3_dbm >= before.figures.oip3_dbm - 3.0


def test_it_is_chosen_by_what_it_does_and_not_by_its_place_in_the_drawer(tern):
    # Its gain is the nearest, but it makes twice the noise; a JFET is no bipolar transistor.
    low = FAST.edited(("topology",), "feedback")
    fast, slow = (
        amplifier_facts(Analysis(rig(tern, each)), each, "20m").figures
        for each in (low, low.edited(("device",), "bc547"))
    )
    assert abs(slow.gain_db - fast.gain_db) < 0.1
    assert slow.noise_figure_db > fast.noise_figure_db + 2.0
    assert not found(rig(tern, low, ("BC547", 9), ("J310", 9)))
    (note,) = found(rig(tern, low, ("BC547", 9), ("2N3904", 9)))
    assert "2N3904, which is on hand, does as well" in note.text


@pytest.mark.parametrize(
    ("on_hand", "first"),
    [((("2N3904", 2),), True), ((("2N3904", 9),), False), ((("2N3904", 9), ("2n5109", 3)), True), ((), True)],
    ids=["too few", "switch off", "the one asked for is there", "an empty box"],
)
def test_nothing_is_said_without_need(tern, on_hand, first):
    assert not found(rig(tern, FAST, *on_hand, first=first))


def test_a_bilateral_pair_is_looked_at_both_ways(tern):
    pair = BilateralAmplifier(id="built", name="Built", device="2n5109")
    (note,) = found(rig(tern, pair, ("2N3904", 9)))
    assert note.limit == 6
    assert not found(rig(tern, pair, ("2N3904", 5)))
