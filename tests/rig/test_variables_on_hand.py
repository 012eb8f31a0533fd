"""Trimmers and tuning capacitors on hand for those asked for: told where oscillators still go with them."""

import pytest

from core.model.notebook.junk_box import JunkBox, VariableOnHand
from core.rig.analysis import Analysis
from core.rig.paper.parts_list import parts_list
from core.rig.rules.bench.variables_on_hand import variable_on_hand


def with_box(rig, *ranges_pf, first=True):
    parts = (VariableOnHand(low_f=1e-12 * low, high_f=1e-12 * high, count=n) for low, high, n in ranges_pf)
    return rig.edited(("junk_box",), JunkBox(first=first, parts=tuple(parts)))


def notes(rig):
    return {each.path: each for each in variable_on_hand(Analysis(rig)) if each is not None}


CARRIER, HELPER = ("carrier", "trimmer_high_f"), ("read_out", "helper", "trimmer_high_f")
TRIMMER, TUNING = ("vfo", "tank", "trimmer", "high_f"), ("vfo", "tank", "variable", "high_f")


@pytest.mark.parametrize("path", [CARRIER, HELPER, TRIMMER])
def test_a_trimmer_on_hand_is_taken_and_the_oscillator_goes_where_it_went(sample, path):
    rig = with_box(sample, (4, 40, 3))
    note = notes(rig)[path]
    asked_pf = "3 pF to 30 pF" if path is TRIMMER else "5 pF to 60 pF"
    assert f"is asked for from {asked_pf}, of which none is on hand" in note.text
    (edit,) = note.edits
    after = edit.on(rig)
    assert after.at(path) == 40e-12
    assert path not in notes(after)
    stage = {"carrier": "carrier", "read_out": "helper", "vfo": "vfo"}[path[0]]
    mine = [p for p in parts_list(Analysis(after)) if p.stage == stage and p.part.trimmer_f is not None]
    assert any(each.trimmer_on_hand for each in mine)
    assert not any(p.trimmer_on_hand for p in parts_list(Analysis(rig)) if p.stage == stage)
    analysis = Analysis(after)
    if stage == "vfo":
        assert all(each.covers for each in analysis.tank.ranges)
    else:
        made = analysis.oscillator(stage).design
        assert all(abs(place.off_hz) < 2 and place.margin > 3.8 for place in made.places)


def test_a_tuning_capacitor_on_hand_covers_every_band_with_hardly_more_drift(sample):
    rig = with_box(sample, (10, 365, 1))
    note = notes(rig)[TUNING]
    after = note.edits[0].on(rig)
    assert (after.vfo.tank.variable.low_f, after.vfo.tank.variable.high_f) == (10e-12, 365e-12)
    was, now = Analysis(rig), Analysis(after)
    assert all(each.covers for each in now.tank.ranges)
    drifts = [
        max(d.worst_hz_per_k for band in rig.bands for d in each.vfo_on(band.name).drift)
        for each in (was, now)
    ]
    assert drifts[1] <= 1.2 * drifts[0]
    tuning = next(p for p in parts_list(now) if p.stage == "vfo" and p.part.role == "tuning")
    assert (tuning.on_hand, tuning.to_buy) == (1, 0)
    # Nobody sets a picofarad with it.
    assert set(notes(rig)) == {TUNING}


@pytest.mark.parametrize(
    ("ranges", "first"),
    [
        (((4, 40, 9),), False),
        (((2, 6, 9),), True),
        (((3, 60, 9), (9, 105, 1)), True),
        ((), True),
    ],
    ids=["switch off", "too narrow", "what is asked for is there", "empty"],
)
def test_nothing_is_told_where_nothing_is_won(sample, ranges, first):
    assert not {TRIMMER, CARRIER, HELPER} & set(notes(with_box(sample, *ranges, first=first)))
