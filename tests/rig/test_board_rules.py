"""Findings on boards and panels, and that each remedy makes its finding go."""

import pytest

from core.model.boards.board import Board, Fitting, Panel, Placed
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from core.rig.rules.bench import boards as rules


def put(project, *places, stage="driver", band=""):
    board = Board(stage=stage, band=band, places=tuple(Placed(key=k, x_m=x, y_m=y) for k, x, y in places))
    return project.edited(("boards",), (board,))


def found(project):
    analysis = Analysis(project)
    every = (rules.board_clashes, rules.long_leads, rules.panels)
    return {finding.rule: finding for rule in every for finding in rule(analysis)}


def test_what_is_placed_automatically_is_in_nobodys_way(sample, muddle):
    assert found(sample) == found(muddle) == {}


def test_a_part_put_on_another_is_told_and_placed_again(sample):
    before = board_of(Analysis(sample), "driver")
    at = next(b.place for b in before.plan.bodies if b.item.ref == "RB2")
    other = next(b.place for b in before.plan.bodies if b.item.ref == "C2")
    # C2 was moved too, and is in nobody's way: it stays.
    spoilt = put(sample, ("bias_upper", at.x_m, at.y_m), ("coupling:2", other.x_m, other.y_m + 0.5e-3))
    clash = found(spoilt)["board_clash"]
    assert clash.text.startswith("On the board of Driver: RB1 lies on RB2")
    assert clash.stage == "driver"
    mended = clash.edits[0].on(spoilt)
    assert "board_clash" not in found(mended)
    assert [each.key for each in mended.boards[0].places] == ["coupling:2"]


def test_a_long_lead_is_told_with_its_length_and_goes(sample):
    spoilt = put(sample, ("bypass", 0.06, 0.06))
    lead = found(spoilt)["long_lead"]
    longest = max(each.length_m for each in board_of(Analysis(spoilt), "driver").long_leads)
    assert lead.figure == pytest.approx(longest)
    assert f"a lead of CE is {1e3 * longest:.0f} mm long, where 15 mm is much" in lead.text
    assert found(lead.edits[0].on(spoilt)) == {}
    assert lead.edits[0].on(spoilt) == sample


def test_a_band_is_told_where_each_has_a_board(sample):
    spoilt = put(sample, ("end:1", 0.06, 0.06), stage="band_pass", band="12m")
    assert found(spoilt)["long_lead"].band == "12m"


def test_boards_of_what_is_gone_or_cannot_be_made_are_left_alone(sample):
    assert found(put(sample, ("bypass", 0.06, 0.06), stage="nobody")) == {}
    assert found(put(sample, ("bypass", 0.06, 0.06), stage="gain_control")) == {}
    assert found(put(sample, ("bypass", 0.06, 0.06), stage="whole board")) == {}


def test_fittings_in_each_others_way_are_told_and_the_proposed_panel_has_none(sample):
    panel = Panel(fittings=(Fitting(kind="bnc", label="one", x_m=0.02, y_m=0.03),) * 2)
    spoilt = sample.edited(("panels",), (panel,))
    clash = found(spoilt)["panel_clash"]
    assert clash.text == (
        "On the front panel: one (BNC socket) and one (BNC socket) are in each other's way."
    )
    assert found(clash.edits[0].on(spoilt)) == {}
