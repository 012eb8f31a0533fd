"""Parts put on a board by hand: where they lie, what they clash with, and what becomes of their places."""

import pytest

from core.model.boards.board import Board, Placed
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from core.rig.board.checks import LONGEST_M, misjoined


def moved(project, stage, key, x_m, y_m, band="", turn=0):
    places = (Placed(key=key, x_m=x_m, y_m=y_m, turned=turn),)
    return project.edited(("boards",), (Board(stage=stage, band=band, places=places),))


def test_what_is_put_by_hand_lies_there_and_clashes_are_told(sample):
    before = board_of(Analysis(sample), "driver")
    at = next(b.place for b in before.plan.bodies if b.item.ref == "RB2")
    board = board_of(Analysis(moved(sample, "driver", "bias_upper", at.x_m, at.y_m, turn=1)), "driver")
    body = next(b for b in board.plan.bodies if b.item.ref == "RB1")
    assert (body.place.x_m, body.place.y_m) == (at.x_m, at.y_m)
    assert board.plan.by_hand == {"bias_upper"}
    assert "RB1 lies on RB2; move one of them." in [each.sentence for each in board.clashes]
    # Everything else lies as it did.
    rest = {b.item.key: b.place for b in board.plan.bodies if b.item.key != "bias_upper"}
    assert rest == {b.item.key: b.place for b in before.plan.bodies if b.item.key != "bias_upper"}


def test_a_part_far_away_has_a_lead_too_long(sample):
    board = board_of(Analysis(moved(sample, "driver", "bias_lower", 0.02, 0.09)), "driver")
    found = [each for each in board.long_leads if each.ref == "RB2"]
    assert found[0].length_m > LONGEST_M
    assert "mm long, 15 mm at most" in found[0].sentence


def test_a_lead_to_ground_on_an_island_is_read_as_joined(sample):
    """The meter's view: a part to ground put on another node's island joins that node to ground."""
    before = board_of(Analysis(sample), "driver")
    island = next(i for i in before.plan.islands if i.node == "x")
    key = next(k for k in (i.key for i in before.plan.islands) if k == island.key)
    other = next(i for i in before.plan.islands if i.node == "in")
    board = board_of(Analysis(moved(sample, "driver", key, *other.box.middle)), "driver")
    told = misjoined(board.plan, board.items)
    assert any("in" in sentence and "x" in sentence and "joined" in sentence for sentence in told)
    assert any(each.kind == "islands" for each in board.clashes)


def test_places_survive_another_name_of_the_band_and_go_with_their_stage(sample):
    project = moved(sample, "band_pass", "end:1", 0.01, 0.02, band="20m")
    renamed = project.edited(("bands", "20m", "name"), "twenty")
    assert board_of(Analysis(renamed), "band_pass", "twenty").plan.by_hand == {"end:1"}
    assert renamed.stage_removed("band_pass").boards == ()
    assert project.band_removed("20m").boards == ()


def test_what_was_put_by_hand_is_found_again_by_its_part_when_nodes_are_numbered_anew(sample):
    """An island is known by a lead that lands there: another pole before it numbers every node anew."""
    before = board_of(Analysis(sample), "ladder")
    island = next(i for i in before.plan.islands if i.key == "crystal:2.2")
    project = moved(sample, "ladder", island.key, 0.05, -0.02)
    more = project.edited(("stages", "ladder", "poles"), 6)
    after = board_of(Analysis(more), "ladder")
    held = next(i for i in after.plan.islands if i.key == "crystal:2.2")
    assert held.box.middle == pytest.approx((0.05, -0.02))
