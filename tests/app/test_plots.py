"""Plots show what the analysis says: the very arrays, and labels with the right words."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from app.pictures.figures import Label
from app.pictures.response import Mark
from app.pictures.stages import amplifier, front_filter
from app.plots import labels
from app.plots.base import Plot
from app.plots.frequency_plan import FrequencyPlanPlot
from app.plots.gain import GainPlot
from app.plots.level_diagram import LevelDiagram
from app.plots.response import ResponsePlot
from app.plots.spur_chart import SpurChart
from app.state.look import Look
from app.state.workbench import Workbench
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.analysis import Analysis


def shown(qtbot, plot, size=(700, 420)):
    qtbot.addWidget(plot)
    plot.resize(*size)
    plot.show()
    qtbot.waitExposed(plot)
    return plot


@pytest.fixture
def muddled(qapp, muddle):
    return Workbench(muddle)


def test_the_level_diagram_draws_the_receive_levels(qtbot, bench):
    plot = shown(qtbot, LevelDiagram())
    plot.refresh(bench)
    r = bench.analysis.receive("20m", bench.dial_hz)
    np.testing.assert_array_equal(plot.curves["own_noise"].getData()[1], r.own_noise_dbm)
    np.testing.assert_array_equal(plot.curves["signal"].getData()[1], r.s9_dbm)
    np.testing.assert_array_equal(plot.curves["band_noise"].getData()[1], r.band_noise_levels_dbm)
    plot.labels.place()
    assert {"S9", "band noise", "own noise"} <= set(plot.labels.texts)


def test_the_level_diagram_turns_round_in_transmit(qtbot, bench):
    plot = shown(qtbot, LevelDiagram())
    bench.look_at_way("transmit")
    plot.refresh(bench)
    t = bench.analysis.transmit("20m", bench.dial_hz)
    np.testing.assert_array_equal(plot.curves["signal"].getData()[1], t.level_dbm)
    assert plot.curves["own_noise"].getData()[0].size == 0
    plot.labels.place()
    assert any(text.endswith(" W") for text in plot.labels.texts)


def test_the_level_diagram_says_when_a_direction_is_empty(qtbot, bench):
    plot = shown(qtbot, LevelDiagram())
    bench.change(lambda p: p.with_stages(()), label="nothing left")
    plot.refresh(bench)
    assert "No stage works in receive" in plot.sentence


def test_a_held_design_stays_in_the_level_diagram(qtbot, bench):
    plot = shown(qtbot, LevelDiagram())
    before = bench.analysis.receive("20m", bench.dial_hz)
    bench.hold()
    bench.edit(("stages", "if_amplifier_1", "gain_db"), 3.0)
    plot.refresh(bench)
    np.testing.assert_array_equal(plot.held_curves[0].getData()[1], before.s9_dbm)
    now = bench.analysis.receive("20m", bench.dial_hz)
    np.testing.assert_array_equal(plot.curves["signal"].getData()[1], now.s9_dbm)


def test_the_spur_chart_marks_what_crosses_the_dial(qtbot, muddled):
    plot = shown(qtbot, SpurChart())
    plot.refresh(muddled)
    crossing = [s for s in muddled.analysis.spurs("40m") if s.crosses and s.kind != "transmit"]
    assert len(plot.marks.points()) == len(crossing)
    assert sorted(p.pos().x() for p in plot.marks.points()) == pytest.approx(
        sorted(s.dial_hz / 1e6 for s in crossing)
    )
    plot.labels.place()
    assert any("3 VFO, in the IF, order 3" in text for text in plot.labels.texts)


def test_the_spur_chart_shows_transmit_products_in_transmit(qtbot, muddled):
    plot = shown(qtbot, SpurChart())
    muddled.look_at_way("transmit")
    plot.refresh(muddled)
    plot.labels.place()
    assert any("5 VFO − IF, order 6" in text and "dBc" in text for text in plot.labels.texts)


def test_the_spur_chart_widens_until_something_comes_in(qtbot, bench):
    plot = shown(qtbot, SpurChart())
    plot.refresh(bench)
    offsets = [
        min(abs(s.offset_low_hz), abs(s.offset_high_hz)) / 1e3
        for s in bench.analysis.spurs("20m")
        if s.kind != "transmit"
    ]
    assert plot.reach_khz == next(r for r in (100.0, 400.0, 1500.0) if min(offsets) <= r)


def test_the_frequency_plan_has_a_lane_a_band_and_follows_the_if(qtbot, bench):
    plot = shown(qtbot, FrequencyPlanPlot(), (900, 360))
    plot.refresh(bench)
    first = plot.shapes.shapes
    plan = bench.analysis.band_plan("20m")
    middles = {round(sum(x for x, _ in s.points) / 4, 4) for s in first if s.edge == "vfo"}
    assert round((plan.vfo_low_hz + plan.vfo_high_hz) / 2e6, 4) in middles
    plot.labels.place()
    assert {"dial", "IF", "VFO", "image"} <= set(plot.labels.texts)
    bench.edit(("if_hz",), 19.68e6)
    plot.refresh(bench)
    assert plot.shapes.shapes != first


@pytest.mark.parametrize("size", [(620, 150), (900, 360)])
def test_names_in_the_frequency_plan_stay_in_their_lanes_and_off_its_marks(qtbot, bench, size):
    """A harmonic's name that fits nowhere is left out; before it lay on another band's marks."""
    plot = shown(qtbot, FrequencyPlanPlot(), size)
    plot.refresh(bench)
    plot.labels.place()
    assert {"dial", "IF", "VFO", "image", "2 VFO"} <= set(plot.labels.texts)
    assert drawn_under(plot) == []
    (_, (y0, y1)), high = plot.box.viewRange(), plot.box.rect().height()
    stood = [
        label for label, item in zip(plot.labels.wanted, plot.labels._pool, strict=False) if item.isVisible()
    ]
    for label, place in zip(stood, plot.labels.places, strict=True):
        lane = int(label.y)
        top, bottom = (y1 - (y1 - y0) * dots / high for dots in (place.top(), place.bottom()))
        assert lane - 1e-9 <= bottom < top <= lane + 1.05 + 1e-9, label.text


def test_a_plot_is_not_drawn_again_for_the_same_results(qtbot, bench):
    plot = shown(qtbot, FrequencyPlanPlot(), (900, 360))
    plot.refresh(bench)
    shapes = plot.shapes.shapes
    bench.edit(("stages", "driver", "gain_db"), 12.0)
    plot.refresh(bench)
    assert plot.shapes.shapes is shapes


def test_texts_are_placed_again_only_when_something_moved_that_can_be_seen(qtbot, monkeypatch):
    plot = shown(qtbot, Plot("x", "m", "y", "V"))
    line = plot.curve("curve")
    plot.labels.clear_of = (line,)
    plot.frame((0, 10), (0, 10), "line")
    fitted, placed = [], labels._fit
    monkeypatch.setattr(labels, "_fit", lambda label, *rest: fitted.append(label) or placed(label, *rest))

    def show(x, curve_at, text="here"):
        fitted.clear()
        line.setData(np.array([0.0, 10.0]), np.array([curve_at, curve_at]))
        plot.labels.show([Label(x, 5.0, text, "ink")])
        return len(fitted), plot.labels.places[0].left()

    dot = 10 / plot.box.rect().width()
    first, at = show(5.0, 9.0)
    assert first == 1
    assert show(5.0 + 0.01 * dot, 9.001) == (0, at)
    # The label moves, the curve comes to lie under it, the text or the range is another.
    assert show(5.0 + 3 * dot, 9.0) == (1, pytest.approx(at + 3, abs=0.01))
    assert show(5.0 + 3 * dot, 5.0)[0] == 1
    assert show(5.0 + 3 * dot, 5.0, "there")[0] == 1
    fitted.clear()
    plot.frame((0, 20), (0, 10), "line")
    assert len(fitted) == 1


def test_marks_are_set_only_when_they_differ(qtbot, bench, monkeypatch):
    plot = shown(qtbot, LevelDiagram())
    plot.refresh(bench)
    given, put = [], plot.drives.setData
    monkeypatch.setattr(plot.drives, "setData", lambda spots: given.append(spots) or put(spots))
    bench.edit(("station", "strongest_db"), 50.0)
    plot.refresh(bench)
    assert not given
    bench.edit(("stages", "vfo_buffer", "in_path"), False)
    bench.edit(("vfo", "output_dbm"), 3.0)
    plot.refresh(bench)
    assert len(given) == 1
    assert list(plot.drives.getData()[1]) == [spot.level_dbm for spot in plot.picture.spots]


def test_labels_never_lie_over_each_other(qtbot, qapp):
    plot = shown(qtbot, Plot("x", "m", "y", "V"))
    plot.frame((0, 1), (0, 1), "square")
    plot.labels.show([Label(0.5, 0.5, f"label {n}", "ink", importance=n) for n in range(30)])
    qapp.processEvents()
    # A text document has an empty margin of 4 pixels around its letters.
    boxes = [
        i.mapRectToScene(i.boundingRect()).adjusted(4, 4, -4, -4) for i in plot.labels._pool if i.isVisible()
    ]
    assert 2 <= len(boxes) < 30
    assert "label 29" in plot.labels.texts
    for n, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[n + 1 :])


def test_a_text_too_long_for_either_side_of_its_point_is_pushed_along(qtbot, qapp):
    plot = shown(qtbot, Plot("x", "m", "y", "V"), (330, 300))
    plot.frame((0, 1), (0, 1), "square")
    # It is longer than the room to the right, to the left, and about the point.
    text = "4 counter clock, on the image, order 4, loud"
    plot.labels.show([Label(0.4, 0.5, text, "ink", side="above_right")])
    qapp.processEvents()
    assert plot.labels.texts == (text,)
    (place,), area = plot.labels.places, plot.box.rect()
    assert 0 <= place.left() <= 0.4 * area.width() <= place.right() <= area.width()
    assert place.bottom() <= 0.5 * area.height()


def test_every_birdie_on_the_signal_is_named_in_a_narrow_chart(qtbot, qapp, bench):
    plot = shown(qtbot, SpurChart(), (390, 380))
    bench.edit(("if_hz",), 20.48e6)
    bench.edit(("bands", "12m", "low_hz"), 24.94e6)
    bench.look_at_band("12m")
    plot.refresh(bench)
    qapp.processEvents()
    crossing = [s for s in bench.analysis.spurs("12m") if s.crosses and s.kind != "transmit"]
    assert [s.products for s in crossing if s.level_dbc > -45] == ["4 counter clock, on the image"]
    (text,) = (
        each for each in plot.labels.texts if each.startswith("4 counter clock, on the image, order 4")
    )
    assert text.endswith(" dB on S9, moves as fast, the other way")


def test_a_zoom_of_ones_own_stays_until_another_picture(qtbot, qapp):
    plot = shown(qtbot, Plot("x", "m", "y", "V"))
    plot.frame((0, 1), (0, 1), "one")
    plot.box.setRange(xRange=(0.2, 0.4), padding=0)
    plot.box.sigRangeChangedManually.emit([True, True])
    plot.frame((0, 1.1), (0, 1), "one")
    assert plot.box.viewRange()[0] == pytest.approx([0.2, 0.4])
    plot.frame((0, 2), (0, 1), "other")
    assert plot.box.viewRange()[0] == pytest.approx([0, 2])


def test_a_response_that_passes_nothing_is_drawn_to_the_floor(qtbot, qapp):
    plot = shown(qtbot, ResponsePlot())
    x = np.linspace(1, 2, 5)
    plot.show_response(
        x, np.full(5, -np.inf), depth_db=80, key="k", marks=[Mark(1.5, 1.5, "IF", "intermediate")]
    )
    assert np.all(np.isfinite(plot.line.getData()[1]))
    assert "IF" in plot.labels.texts


def test_labels_keep_off_the_curve_where_another_side_is_free(qtbot):
    plot = ResponsePlot()
    qtbot.addWidget(plot)
    plot.resize(500, 300)
    plot.show()
    qtbot.waitExposed(plot)
    x = np.linspace(1, 2, 401)
    # A slope that rises to the right: above right of a point on it lies the slope itself.
    y = -60 + 55 * (x - 1)
    plot.show_response(x, y, depth_db=60, key="k", marks=[Mark(1.5, 1.5, "here", "dial", 5)])
    plot.labels.place()
    (text,) = plot.labels.places
    area, (x_range, y_range) = plot.box.rect(), plot.box.viewRange()
    across = (x - x_range[0]) / np.ptp(x_range) * area.width()
    down = (y_range[1] - y) / np.ptp(y_range) * area.height()
    inside = (across > text.left()) & (across < text.right())
    assert inside.any()
    assert not np.any((down[inside] > text.top()) & (down[inside] < text.bottom()))


def test_a_label_is_pushed_along_rather_than_put_over_a_curve(qtbot):
    plot = shown(qtbot, Plot("x", "m", "y", "V"))
    line = plot.curve("curve")
    plot.labels.clear_of = (line,)
    plot.frame((0, 10), (0, 10), "line")
    wanted = Label(0.3, 5, "a long name", "soft", side="right")
    plot.labels.show([wanted])
    (size,) = plot.labels.places
    area = plot.box.rect()
    # So close below the upper edge that no text stands above the line, and one beside its point lies over it.
    line_at = 0.7 * size.height()
    y = 10 * (1 - line_at / area.height())
    line.setData(np.array([0.0, 10.0]), np.array([y, y]))
    # Another label begins so close that only from the very edge there is room for it below the line.
    x = (size.width() + 3 - 5) * 10 / area.width()
    lower = y - 4 * 10 / area.height()
    other = Label(x, lower, "another", "soft", side="below_right", importance=9)
    plot.labels.show([replace(wanted, y=y), other])
    first, place = plot.labels.places
    assert not place.intersects(first)
    assert place.top() > line_at
    assert place.left() == 0


def drawn_under(plot, items=None):
    """What lies under the texts of a plot: text, and points of curves and marks with an edge inside it."""
    (x0, x1), (y0, y1) = plot.box.viewRange()
    area, found = plot.box.rect(), []
    outlines = (
        [np.array([*each.points, each.points[0]]) for each in plot.shapes.shapes if each.edge is not None]
        if hasattr(plot, "shapes")
        else []
    )
    curves = [np.stack(item.getData(), axis=1) for item in items or plot.labels.clear_of]
    for line in [each for each in (*curves, *outlines) if len(each)]:
        # Half a dot from point to point, whatever the slope.
        dots = (line - [x0, y1]) * [area.width() / (x1 - x0), area.height() / (y0 - y1)]
        ends = np.clip(dots, -50, 3000)
        steps = [np.linspace(a, b, 2 + int(2 * np.abs(b - a).max())) for a, b in pairwise(ends)]
        points = np.concatenate(steps)
        for text, place in zip(plot.labels.texts, plot.labels.places, strict=True):
            low, high = (place.left() + 4, place.top() + 4), (place.right() - 4, place.bottom() - 4)
            if np.any(np.all((points > low) & (points < high), axis=1)):
                found.append(text)
    return found


@pytest.mark.parametrize("size", [(385, 260), (420, 240), (700, 420)])
def test_the_names_in_a_wide_response_stand_above_its_marks(qtbot, tern, size):
    plot = shown(qtbot, ResponsePlot(), size)
    for band in ("20m", "12m"):
        look = Look(band, "receive", tern.band(band).high_hz, ("stages", "band_pass"))
        picture = front_filter.picture_of(Analysis(tern), None, look, tells="signals")
        plot.show_picture(picture.wide)
        plot.labels.place()
        assert {"dial", "IF", "VFO", "2 VFO", "image", "harmonic 2"} <= set(plot.labels.texts)
        assert drawn_under(plot) == []


@pytest.mark.parametrize("size", [(330, 170), (500, 260), (800, 400)])
@pytest.mark.parametrize("gain_db", [6.0, 12.0, 20.0])
def test_the_names_of_an_amplifiers_curves_stand_beside_them(qtbot, tern, size, gain_db):
    made = BuiltAmplifier(
        id="rf_stage", name="RF stage", direction="receive", current_a=13e-3, gain_db=gain_db
    )
    rig = tern.with_stages(tuple(made if stage.id == made.id else stage for stage in tern.stages))
    plot = shown(qtbot, GainPlot(), size)
    plot.show_picture(
        amplifier.picture_of(Analysis(rig), None, Look("20m", "receive", 14.2e6, ("stages", "rf_stage"))).gain
    )
    plot.labels.place()
    assert len(plot.labels.texts) == 3
    assert drawn_under(plot) == []


def test_a_product_is_named_where_the_dial_does_not_cross_it(qtbot, bench):
    plot = shown(qtbot, SpurChart(), (390, 300))
    band = bench.current.band("20m")
    for share in np.linspace(0, 1, 12):
        bench.turn_dial(band.low_hz + share * (band.high_hz - band.low_hz))
        plot.refresh(bench)
        plot.labels.place()
        assert len(plot.labels.texts) == 1
        assert drawn_under(plot, [*plot.lines, plot.dial_line]) == [], share


def test_a_text_in_a_crowd_moves_a_line_further_and_then_hides_the_least(qtbot):
    plot = shown(qtbot, Plot("x", "m", "y", "V"))
    many, one = plot.curve("curve"), plot.curve("curve")
    plot.labels.clear_of = (many, one)
    plot.frame((0, 10), (0, 10), "crowd")
    plot.labels.show([Label(5, 5, "name", "soft", side="above")])
    (size,), area = plot.labels.places, plot.box.rect()
    line = 10 * size.height() / area.height()
    x = np.linspace(0, 10, 200)
    near = 5 + line * np.array([-0.8, 0.2, 0.8])
    many.setData(np.concatenate([x] * 3), np.repeat(near, 200))
    plot.labels.place()
    (place,) = plot.labels.places
    assert drawn_under(plot) == []
    lowest = area.height() / 2 - place.bottom()
    assert size.height() < lowest < 2.5 * size.height(), "above, a line further"
    # Nothing is free any more, and below the point there is the least.
    dense = np.arange(-1.0, 11.0, 0.2 * line)
    dense = dense[(dense > 5 - 0.5 * line) | (dense < 5 - 3 * line)]
    many.setData(np.concatenate([x] * dense.size), np.repeat(dense, 200))
    one.setData([0.0, 10.0], [5 - 1.1 * line] * 2)
    plot.labels.place()
    (place,) = plot.labels.places
    assert place.top() > area.height() / 2
