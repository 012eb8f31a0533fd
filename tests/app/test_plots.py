"""Plots show what the analysis says: the very arrays, and labels with the right words."""

from dataclasses import replace

import numpy as np
import pytest

from app.pictures.figures import Label
from app.pictures.response import Mark
from app.plots.base import Plot
from app.plots.frequency_plan import FrequencyPlanPlot
from app.plots.level_diagram import LevelDiagram
from app.plots.response import ResponsePlot
from app.plots.spur_chart import SpurChart
from app.state.workbench import Workbench


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


def test_a_plot_is_not_drawn_again_for_the_same_results(qtbot, bench):
    plot = shown(qtbot, FrequencyPlanPlot(), (900, 360))
    plot.refresh(bench)
    shapes = plot.shapes.shapes
    bench.edit(("stages", "driver", "gain_db"), 12.0)
    plot.refresh(bench)
    assert plot.shapes.shapes is shapes


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
    other = Label(x, lower, "another", "soft", side="below_right", importance=9, fixed=True)
    plot.labels.show([replace(wanted, y=y), other])
    first, place = plot.labels.places
    assert not place.intersects(first)
    assert place.top() > line_at
    assert place.left() == 0
