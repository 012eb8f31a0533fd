"""Trimmers on hand in a band-pass: taken where they reach as far as tolerances ask, and are easy to set."""

import pytest

from core.model.notebook.junk_box import JunkBox, VariableOnHand
from core.rig.analysis import Analysis
from core.rig.paper.parts_list import parts_list

#: A middle one that does, one that reaches too little, and one in which a hair's breadth is too much.
GOOD, NARROW, WIDE = (4e-12, 34e-12), (4e-12, 10e-12), (10e-12, 365e-12)


def trimmed(rig, *ranges, count=9):
    """The trimmed capacitors of the band-pass on 20 m with trimmers of these ranges in the box."""
    parts = tuple(VariableOnHand(low_f=low, high_f=high, count=count) for low, high in ranges)
    analysis = Analysis(rig.edited(("junk_box",), JunkBox(first=True, parts=parts)))
    made = analysis.design("band_pass", "20m")
    return [row for row in made.parts if row.trimmer_f is not None]


def reaches(row, trimmer_f):
    """Whether it can be set a tenth to both sides: five per cent for the core and five for capacitors."""
    fixed, (low, high) = sum(row.pieces), trimmer_f
    return fixed + low <= 0.9 * row.fitted and fixed + high >= 1.1 * row.fitted


def test_one_that_reaches_is_taken_and_others_are_not(tern):
    rows = trimmed(tern, NARROW, GOOD, WIDE)
    assert len(rows) == 3
    assert [row.trimmer_f for row in rows] == [GOOD] * 3
    assert all(reaches(row, GOOD) for row in rows)
    # Simply taking the one whose middle is nearest to what would be bought leaves it short of its reach.
    assert not any(reaches(row, NARROW) for row in trimmed(tern))


@pytest.mark.parametrize(
    ("ranges", "count"), [((), 9), ((NARROW, WIDE), 9), ((GOOD,), 2)], ids=["none", "unfit", "too few"]
)
def test_else_they_are_bought_as_without_a_box(tern, ranges, count):
    bought = [(row.trimmer_f, row.pieces) for row in trimmed(tern)]
    assert [(row.trimmer_f, row.pieces) for row in trimmed(tern, *ranges, count=count)] == bought
    assert bought[0][0] == (5e-12, 30e-12)


def test_the_response_stays_what_it_was(tern):
    assert [row.fitted for row in trimmed(tern, GOOD)] == [row.fitted for row in trimmed(tern)]


def test_the_parts_list_counts_them_as_on_hand(tern):
    box = JunkBox(first=True, parts=(VariableOnHand(low_f=GOOD[0], high_f=GOOD[1], count=9),))
    listed = [each for each in parts_list(Analysis(tern.edited(("junk_box",), box))) if each.part.trimmer_f]
    assert [each.trimmer_on_hand for each in listed if each.stage == "band_pass"] == [True] * 6
