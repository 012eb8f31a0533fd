"""Types on hand for those asked for: told where a circuit can be made of them, taken where all is as good."""

import pytest

from core.model.notebook.junk_box import CoreOnHand, DiodeOnHand, JunkBox, TransistorOnHand
from core.rig.analysis import Analysis
from core.rig.paper.parts_list import parts_list
from core.rig.remedies.remedy import may_have, remedies
from core.rig.rules import inspect
from core.stages.steps import finished


def with_box(rig, *parts, first=True):
    return rig.edited(("junk_box",), JunkBox(first=first, parts=parts))


def notes(project, stage):
    return [f for f in inspect(Analysis(project)) if f.rule == "type_on_hand" and f.stage == stage]


def taken(project, note):
    """What is offered to be taken; the rig with the first, None where nothing is as good."""
    edits = finished(remedies(Analysis(project), note))
    return edits[0].on(project) if edits else None


@pytest.mark.parametrize(
    ("stage", "parts", "told", "path", "value"),
    [
        (
            "mixer",
            (CoreOnHand(core="FT50-43", count=2),),
            "Mixer is wound on FT37-43, of which 2 are wanted there and 0 left on hand",
            ("stages", "mixer", "core"),
            "FT50-43",
        ),
        (
            "detector",
            (DiodeOnHand(device="BAT54", count=4),),
            "Detector, modulator is asked for with 1N5711, of which 4 are wanted there and 0 left on hand",
            ("stages", "detector", "diode"),
            "bat54",
        ),
        (
            "microphone_amplifier",
            (TransistorOnHand(device="BC547", count=2),),
            "Mic amplifier is asked for with 2N3904, of which 2 are wanted",
            ("stages", "microphone_amplifier", "device"),
            "bc547",
        ),
        (
            "vfo",
            (TransistorOnHand(device="2n3819"),),
            "VFO is asked for with J310, of which 1 are wanted",
            ("vfo", "tank", "feedback", "device"),
            "2n3819",
        ),
        (
            "carrier",
            (TransistorOnHand(device="2N2222A", count=1), TransistorOnHand(device="2N3904", count=30)),
            "",
            (),
            "",
        ),
    ],
    ids=["core", "diodes", "audio", "VFO", "what is asked for is there"],
)
def test_what_does_as_well_is_taken_and_the_note_goes(sample, stage, parts, told, path, value):
    rig = with_box(sample, *parts)
    found = notes(rig, stage)
    if not told:
        assert not found
        return
    note = next(each for each in found if each.path == path)
    assert note.text.startswith(told)
    assert may_have(note)
    after = taken(rig, note)
    assert after.at(path) == value
    assert not [each for each in notes(after, stage) if each.path == path]
    # Every piece of it is now on hand, and no band is heard or sent worse.
    types = {name.casefold() for name in (value, getattr(parts[0], "device", ""))}
    mine = [p for p in parts_list(Analysis(after)) if p.stage == stage and p.part.type.casefold() in types]
    if "core" not in path:
        assert len(mine) == parts[0].count
        assert all(each.to_buy == 0 for each in mine)
    for band in ("20m", "12m"):
        was, now = Analysis(sample).receive(band), Analysis(after).receive(band)
        assert now.noise_figure_db < was.noise_figure_db + 0.31
        assert now.gain_db > was.gain_db - 1.01


def test_what_would_make_the_rig_worse_is_not_taken(sample):
    """Its circuit can be made, so that it is told; of several the first of the box is not the best."""
    slow = DiodeOnHand(device="1N4148", count=4)
    rig = with_box(sample, slow)
    (note,) = (each for each in notes(rig, "detector") if each.path[-1] == "diode")
    assert "1N4148" in note.text
    assert taken(rig, note) is None
    worse = Analysis(rig.edited(("stages", "detector", "diode"), "1n4148"))
    assert worse.receive("20m").iip3_dbm < Analysis(rig).receive("20m").iip3_dbm - 4
    both = with_box(sample, slow, DiodeOnHand(device="BAT54", count=4))
    (note,) = (each for each in notes(both, "detector") if each.path[-1] == "diode")
    assert taken(both, note).stage("detector").diode == "bat54"


@pytest.mark.parametrize(
    ("parts", "first"),
    [
        ((CoreOnHand(core="FT50-43", count=1),), True),
        ((CoreOnHand(core="FT50-43", count=9),), False),
        ((CoreOnHand(core="FT50-43", count=9), CoreOnHand(core="ft37-43", count=4)), True),
        ((CoreOnHand(core="T50-6", count=9),), True),
        ((TransistorOnHand(device="J310", count=9),), True),
        ((), True),
    ],
    ids=["too few", "switch off", "those asked for are there", "iron for ferrite", "another kind", "empty"],
)
def test_nothing_is_told_without_need(sample, parts, first):
    assert not notes(with_box(sample, *parts, first=first), "mixer")


def test_what_is_there_is_given_out_in_the_order_of_the_path(sample):
    """Two cores of the four: the mixer has them, the modulator has not."""
    rig = with_box(sample, CoreOnHand(core="FT37-43", count=2), CoreOnHand(core="FT50-43", count=2))
    assert not notes(rig, "mixer")
    assert [each.path[-1] for each in notes(rig, "detector")] == ["core"]
