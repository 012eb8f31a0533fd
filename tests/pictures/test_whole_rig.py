"""The whole rig's pictures as values, without a window: what is in them, and what is held alike."""

import numpy as np
import pytest

from app.pictures.figures import NO_CURVE, Curve
from app.pictures.rig import frequency_plan, level_diagram, spur_chart
from app.state.look import Look
from core.rig.analysis import Analysis

PICTURES = (frequency_plan.picture_of, spur_chart.picture_of, level_diagram.picture_of)
#: Stands on 20 m, where both samples work.
LOOK = Look("20m", "receive", 14.2e6)
SENT = Look("20m", "transmit", 14.2e6)


@pytest.mark.parametrize("picture_of", PICTURES)
@pytest.mark.parametrize("look", [LOOK, SENT])
def test_equal_designs_have_equal_pictures_and_others_have_not(tern, picture_of, look):
    first = picture_of(Analysis(tern), None, look)
    assert first == picture_of(Analysis(type(tern).model_validate(tern.model_dump())), None, look)
    assert first != picture_of(Analysis(tern.edited(("if_hz",), tern.if_hz + 500)), None, look)
    assert first != picture_of(Analysis(tern), Analysis(tern), look)


@pytest.mark.parametrize("picture_of", PICTURES)
def test_what_a_picture_does_not_show_leaves_it_alone(tern, picture_of):
    named = tern.edited(("name",), "Another name")
    assert picture_of(Analysis(tern), None, LOOK) == picture_of(Analysis(named), None, LOOK)


def test_the_plans_pass_band_follows_its_filter(tern):
    def box(project):
        analysis = Analysis(project)
        shapes = frequency_plan.picture_of(analysis, None, LOOK).shapes
        band = next(f for f in analysis.filters if f.kind == "band_pass" and "20m" in f.bands)
        (found,) = [s for s in shapes if s.fill == "pass_band" and s.points[0][1] == 1]
        return found.points[1][0] - found.points[0][0], band.figures.bandwidth_3db_hz / 1e6

    (path,) = [
        ("stages", stage.id, "filters", n, "bandwidth_hz")
        for stage in tern.stages
        if stage.kind == "band_pass"
        for n, each in enumerate(stage.filters)
        if "20m" in each.bands
    ]
    narrow, wide = tern, tern.edited(path, 1.5 * tern.at(path))
    assert box(narrow)[0] == pytest.approx(box(narrow)[1])
    assert box(wide)[0] == pytest.approx(box(wide)[1])
    assert box(wide)[0] > 1.2 * box(narrow)[0]


def test_the_held_plan_is_dashed_where_it_was(tern):
    moved = tern.edited(("if_hz",), tern.if_hz + 30e3)
    held = frequency_plan.picture_of(Analysis(moved), Analysis(tern), LOOK)
    dashed = [s for s in held.shapes if s.dashed]
    plan = Analysis(tern).band_plan("20m")
    middles = [sum(x for x, _ in s.points) / 4 for s in dashed if s.points[0][1] == 1]
    vfo, image = plan.vfo_low_hz + plan.vfo_high_hz, plan.image_low_hz + plan.image_high_hz
    assert middles == pytest.approx([vfo / 2e6, image / 2e6, plan.carrier_hz / 1e6])


def test_a_crossing_stands_where_the_product_is_heard(muddle):
    look = Look("40m", "receive", 7.1e6)
    picture = spur_chart.picture_of(Analysis(muddle), None, look)
    heard = [s for s in Analysis(muddle).spurs("40m") if s.crosses and s.kind != "transmit"]
    assert sorted(at for at, _ in picture.crossings) == pytest.approx(sorted(s.dial_hz / 1e6 for s in heard))
    # Each line goes from its distance at the lower end of the dial to the one at the upper end.
    ends = {tuple(np.round(pair, 6)) for line in picture.lines for pair in line.y.reshape(-1, 2)}
    assert {(round(s.offset_low_hz / 1e3, 6), round(s.offset_high_hz / 1e3, 6)) for s in heard} <= ends
    assert list(picture.dial.x) == [7.1, 7.1]


def test_every_level_has_one_strength_class(muddle):
    picture = spur_chart.picture_of(Analysis(muddle), None, Look("40m", "receive", 7.1e6))
    drawn = sum(line.x.size // 2 for line in picture.lines)
    near = [
        s
        for s in Analysis(muddle).spurs("40m")
        if s.kind != "transmit"
        and min(s.offset_low_hz, s.offset_high_hz) <= 1e3 * picture.reach_khz
        and max(s.offset_low_hz, s.offset_high_hz) >= -1e3 * picture.reach_khz
    ]
    assert drawn == len(near) > 0


@pytest.mark.parametrize("look", [LOOK, SENT])
def test_held_levels_are_the_held_designs_own_picture(tern, look):
    changed = Analysis(tern.edited(("stages", "ladder", "poles"), 4))
    alone = level_diagram.picture_of(Analysis(tern), None, look)
    both = level_diagram.picture_of(changed, Analysis(tern), look)
    assert both.held[0] == alone.signal != both.signal
    assert both.held[1] == (alone.own_noise if look.way == "receive" else NO_CURVE)


def test_the_selected_stage_is_marked_in_the_levels(tern):
    mixer = Look("20m", "receive", 14.2e6, ("stages", "mixer"))
    picture = level_diagram.picture_of(Analysis(tern), None, mixer)
    names = [block.stage for block in Analysis(tern).blocks("20m", "receive", 14.2e6)]
    assert set(picture.place.x) == {names.index("mixer") + 1.0}
    assert level_diagram.picture_of(Analysis(tern), None, LOOK).place == NO_CURVE


def test_an_empty_direction_is_a_sentence(tern):
    empty = Analysis(tern.with_stages(()))
    assert "No stage works in receive" in level_diagram.picture_of(empty, None, LOOK)


def test_curves_are_equal_when_all_their_points_are():
    one = Curve.over((0, 1, 2), (1, np.nan, 3))
    assert one == Curve.over((0, 1, 2), (1, np.nan, 3))
    assert one != Curve.over((0, 1, 2), (1, np.nan, 4))
    assert one != Curve.over((0, 1), (1, np.nan))
    assert one != (1, np.nan, 3)


def test_a_mixer_that_is_driven_well_wants_nothing(sample):
    """A decibel from the best drive but inside what will do: no finding tells of it, nor does the label."""
    said = [label.text for label in level_diagram.picture_of(Analysis(sample), None, LOOK).labels]
    assert [text for text in said if text.startswith(("VFO", "carrier"))] == ["VFO +7 dBm", "carrier +7 dBm"]
    starved = sample.edited(("vfo", "output_dbm"), -8.0)
    said = [label.text for label in level_diagram.picture_of(Analysis(starved), None, LOOK).labels]
    assert any(text.startswith("VFO +3 dBm, wants +8") for text in said)
