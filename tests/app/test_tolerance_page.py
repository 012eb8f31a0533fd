"""The page of tolerance runs: corridors, widths and verdicts, and limits that follow the design."""

import re
from html import escape

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.pages.tolerance import TolerancePage
from app.state.tasks import Tasks
from app.style.plain import tip
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.rig.figures.parts import figure_of


@pytest.fixture
def tolerance_page(bench, on_screen):
    tasks = Tasks()
    page = on_screen(TolerancePage(bench, tasks), 900, 700)
    page.refresh(bench)
    yield page
    tasks.close()


def test_a_tolerance_run_draws_corridor_widths_and_verdict(qtbot, tolerance_page, bench):
    assert "press" in tolerance_page.envelope.sentence
    bench.edit(("scatter", "trials"), 200)
    qtbot.mouseClick(tolerance_page.start, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    run = tolerance_page.result
    assert run.of("width").size == 200
    shown = [each for each in tolerance_page.figures if each.isVisibleTo(tolerance_page)]
    for plot, values in zip(shown, map(run.of, ("width", "ripple", "loss")), strict=True):
        assert sum(plot.bars.opts["height"]) == np.isfinite(values).sum()
        assert not plot.sentence
    np.testing.assert_allclose(tolerance_page.envelope.nominal.getData()[1], -run.nominal_db)
    assert "of 200 filters keep every limit" in tolerance_page.verdict.text()
    assert "comes most from" in tolerance_page.verdict.text()
    # Every figure tells what it is when it is pointed at.
    shown = [each for each in tolerance_page.cards if each.isVisibleTo(tolerance_page)]
    for card, measured in zip(shown, tolerance_page.result.measured, strict=True):
        assert card.heading.toolTip() == tip(figure_of(measured).tip)
        assert escape(measured.what) in tolerance_page.verdict.toolTip()
    # Parts are named as a builder knows them.
    assert not re.search(r"X\d+\.", tolerance_page.verdict.text())
    assert re.search(r"(Lm|C0|Q) of X\d", tolerance_page.verdict.text())


def test_limits_are_judged_anew_and_an_old_run_says_that_it_is_old(qtbot, tolerance_page, bench):
    bench.edit(("scatter", "trials"), 100)
    tolerance_page.run()
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    bench.edit(("scatter", "loss_db"), 0.01)
    tolerance_page.refresh(bench)
    assert tolerance_page.verdict.text().startswith("0 of 100")
    assert not tolerance_page.figures[2].kept.shapes, "no filter keeps this limit"
    assert tolerance_page.figures[1].kept.shapes
    assert "earlier" not in tolerance_page.verdict.text()
    bench.edit(("stages", "ladder", "poles"), 6)
    tolerance_page.refresh(bench)
    assert "earlier design" in tolerance_page.verdict.text()


def test_a_low_pass_is_not_asked_how_crystals_scatter(qtbot, tolerance_page):
    def asked(name):
        return tolerance_page.form.field_at((name,)).isVisibleTo(tolerance_page)

    box = tolerance_page.choice
    for index in range(box.count()):
        box.setCurrentIndex(index)
        box.activated.emit(index)
        ladder = "Ladder" in box.itemText(index)
        for name in ("crystal_hz", "q_spread", "width_low_hz"):
            assert asked(name) == ladder, box.itemText(index)
        amplifier = not re.match("Ladder|Band-pass|Low-pass", box.itemText(index))
        for name in ("resistor_tolerance", "transistor_share", "gain_within_db"):
            assert asked(name) == amplifier, box.itemText(index)
        assert asked("coupling_tolerance") != amplifier
        assert asked("capacitor_tolerance")
    assert box.count() > 3


def test_the_tolerance_pictures_scroll_in_a_small_window(qtbot, tolerance_page):
    tolerance_page.resize(620, 380)
    QTest.qWait(20)
    shown = [each for each in tolerance_page.figures if each.isVisibleTo(tolerance_page)]
    assert len(shown) == 3
    for plot in (tolerance_page.envelope, *shown):
        assert plot.height() >= 100
        assert plot.width() >= 130


def test_a_tolerance_run_can_be_given_up(qtbot, tolerance_page, bench):
    bench.edit(("scatter", "trials"), 20_000)
    tolerance_page.run()
    assert tolerance_page.stop.isEnabled()
    qtbot.mouseClick(tolerance_page.stop, Qt.MouseButton.LeftButton)
    assert not tolerance_page.stop.isEnabled()
    qtbot.wait(300)
    assert tolerance_page.result is None


def test_a_tolerance_run_without_anything_to_try_is_a_sentence(tolerance_page, bench):
    kinds = ("ladder", "band_pass", "low_pass", "built_amplifier", "bilateral_amplifier")
    for stage in [s.id for s in bench.current.stages if s.kind in kinds]:
        bench.change(lambda p, stage=stage: p.stage_removed(stage), label="no filter")
    tolerance_page.refresh(bench)
    tolerance_page.run()
    assert "no filter or amplifier of parts in the rig" in tolerance_page.envelope.sentence


def _choose(qtbot, box, text):
    """Go to a row of a box by the arrow keys."""
    box.setFocus()
    steps = box.findText(text) - box.currentIndex()
    for _ in range(abs(steps)):
        qtbot.keyClick(box, Qt.Key.Key_Down if steps > 0 else Qt.Key.Key_Up)


def test_an_amplifier_has_its_run_with_a_wanted_window_of_gain(qtbot, tolerance_page, bench):
    """Gain, match, current and intercept of scattered parts; the window typed changes what is kept alone."""
    box, form = tolerance_page.choice, tolerance_page.form
    bench.edit(("scatter", "trials"), 100)
    _choose(qtbot, box, "RF stage")
    qtbot.mouseClick(tolerance_page.start, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    run = tolerance_page.result
    shown = [each.isVisibleTo(tolerance_page) for each in tolerance_page.cards]
    assert shown == [True] * 4
    assert [each.key for each in run.measured] == ["gain", "match", "current", "intercept"]
    for plot, measured in zip(tolerance_page.figures, run.measured, strict=True):
        assert sum(plot.bars.opts["height"]) == 100
        assert measured.title in plot.getPlotItem().getAxis("bottom").labelText
        assert plot.getPlotItem().getAxis("left").labelText == "amplifiers"
    assert tolerance_page.corridor.heading.text() == "Nine amplifiers in ten lie in the corridor"
    lines = tolerance_page.verdict.text().splitlines()
    assert re.match(r"(All|\d+) of 100 amplifiers keep every limit\.", lines[0])
    low, high = np.percentile(run.of("gain"), [5, 95])
    assert lines[1] == f"Gain {low:.3g} to {high:.3g} dB in nine of ten."
    assert re.search(r"scatter of the gain comes most from R\w+ \d+ %", lines[-1])
    # A window of gain around what is asked, typed.
    asked = bench.current.stage("rf_stage").gain_db
    field = form.field_at(("gain_within_db",))
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "0.1 dB")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    tolerance_page.refresh(bench)
    assert bench.current.scatter.gain_within_db == 0.1
    kept = np.abs(run.of("gain") - asked) <= 0.1
    told = int(tolerance_page.verdict.text().partition(" of")[0])
    assert told <= kept.sum() < 100
    assert tolerance_page.result is run
    assert "earlier" not in tolerance_page.verdict.text()
    # Closer resistors are another run.
    bench.edit(("scatter", "resistor_tolerance"), 0.01)
    tolerance_page.refresh(bench)
    assert "earlier design or scatter" in tolerance_page.verdict.text()


def test_the_stage_selected_on_the_path_is_the_one_that_is_offered(qtbot, tolerance_page, bench):
    box, form = tolerance_page.choice, tolerance_page.form
    assert box.currentText() == "Ladder filter"
    bench.edit(("scatter", "trials"), 50)
    qtbot.mouseClick(tolerance_page.start, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    ladder = tolerance_page.result
    names = {stage.id: stage.name for stage in bench.current.stages}

    def select(stage):
        bench.select(("stages", stage))
        tolerance_page.refresh(bench)

    (amplifier, *_) = (s.id for s in bench.current.stages if s.kind == "built_amplifier")
    select(amplifier)
    assert box.currentText() == names[amplifier]
    assert form.field_at(("gain_within_db",)).isVisibleTo(tolerance_page)
    assert tolerance_page.result is None
    assert "Nothing tried yet" in tolerance_page.envelope.sentence
    # Of a switched filter the one on the band looked at.
    bench.look_at_band("12m")
    select("low_pass")
    assert box.currentText() == "Low-pass, 12\u00a0m"
    # What cannot be tried leaves the choice, which holds against the path until another stage is selected.
    (mixer, *_) = (s.id for s in bench.current.stages if s.kind == "mixer")
    select(mixer)
    assert box.currentText() == "Low-pass, 12\u00a0m"
    _choose(qtbot, box, "Ladder filter")
    tolerance_page.refresh(bench)
    assert box.currentText() == "Ladder filter"
    assert tolerance_page.result is ladder, "a run is kept while another one is looked at"


def test_of_a_bilateral_pair_the_half_of_the_direction_looked_at_is_offered(tolerance_page, bench):
    pair = BilateralAmplifier(id="pair", name="Pair", direction="both", designed_at_hz=bench.current.if_hz)
    bench.change(lambda p: p.stage_inserted(9, pair), label="a pair")
    bench.look_at_way("transmit")
    bench.select(("stages", pair.id))
    tolerance_page.refresh(bench)
    assert tolerance_page.choice.currentText() == "Pair in transmit"


def test_a_page_just_made_tries_the_ladder(qtbot, bench):
    tasks = Tasks()
    page = TolerancePage(bench, tasks)
    qtbot.addWidget(page)
    bench.edit(("scatter", "trials"), 50)
    page.run()
    qtbot.waitUntil(lambda: page.result is not None)
    assert page.choice.currentText() == "Ladder filter"
    tasks.close()


@pytest.mark.parametrize(
    ("filter", "figure"),
    [("Band-pass, 20\u00a0m", "worst loss on the dial"), ("Low-pass, 12\u00a0m", "worst return loss")],
)
def test_front_filters_have_runs_too(qtbot, tolerance_page, bench, filter, figure):
    bench.edit(("scatter", "trials"), 100)
    box = tolerance_page.choice
    assert filter in [box.itemText(n) for n in range(box.count())]
    box.setFocus()
    while box.currentText() != filter:
        qtbot.keyClick(box, Qt.Key.Key_Down if box.findText(filter) > box.currentIndex() else Qt.Key.Key_Up)
    qtbot.mouseClick(tolerance_page.start, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    run = tolerance_page.result
    assert run.measured[0].title == figure
    assert figure in tolerance_page.figures[0].getPlotItem().getAxis("bottom").labelText
    assert f"{figure[:1].upper()}{figure[1:]}" in tolerance_page.cards[0].heading.text()
    assert "comes most from" in tolerance_page.verdict.text()


def test_limits_follow_the_design_until_they_are_typed(qtbot, tolerance_page, bench):
    """A 500 Hz ladder of five poles is not judged by the width of speech."""
    bench.edit(("scatter", "trials"), 100)
    bench.edit(("scatter", "crystal_hz"), 5.0)
    for field, value in (("poles", 5), ("bandwidth_hz", 500.0)):
        bench.edit(("stages", "ladder", field), value)
    tolerance_page.refresh(bench)
    tolerance_page.run()
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    followed = int(tolerance_page.verdict.text().split(" of")[0])
    assert followed > 20
    bench.edit(("scatter", "width_low_hz"), 2200.0)
    tolerance_page.refresh(bench)
    assert tolerance_page.verdict.text().startswith("0 of 100")
