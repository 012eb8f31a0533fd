"""The bench's pages: a bag of crystals and its place in the ladder, and scattered ladders."""

import re
import threading
from html import escape

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QPoint, Qt
from PySide6.QtGui import QTextCursor
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QFileDialog

from app.pages.crystals import CrystalsPage
from app.pages.read_out import ReadOutPage
from app.pages.tolerance import TolerancePage
from app.pages.whole_rig import WholeRigPage
from app.panels.birdie_panel import BirdiePanel
from app.stage_views.ladder import LadderView
from app.state.tasks import Tasks
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import tip
from core.model.bands import Band
from core.model.bench import Sweep
from core.model.files import load
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.values.notation import format_value
from core.rig.bag import bag_of
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.figures.parts import figure_of
from core.rig.start.new_rig import new_rig, with_band
from core.stages.crystals import crystal_sweep
from core.stages.crystals.crystals import LEAST_CAPACITANCE_RATIO
from core.stages.filters.asked_ladder import AskedLadder
from tests.bags import with_table
from tests.published.test_crystals import sweep


def test_the_crystals_page_works_the_samples_bag_out(crystals_page, tern):
    texts = crystals_page.table.texts()
    batch = crystal_bench.batch_of(tern.crystal_batch)
    assert len(texts) == len(batch)
    assert texts[0][2] == f"{batch[0].parameters.fs_hz / 1e6:.6f}"
    assert sorted(int(row[1]) for row in texts if row[1]) == list(range(1, 9))
    # Counted are those that were read; which of them are odd, and in what, is told beside.
    assert crystals_page.summary.text().startswith("20 crystals; ")
    assert "Far out: 14 (fs +21" in crystals_page.summary.text()
    heights = crystals_page.histogram.bars.opts["height"]
    assert sum(heights) == len([row for row in batch if row.parameters])


def test_typed_readings_are_taken_after_a_pause(qtbot, crystals_page):
    bench = crystals_page._bench
    crystals_page.readings.selectAll()
    for line in ("label;peak (MHz);bandwidth (Hz);loss (dB)", "a;19,66;4000;0,5", "b;19,66;0;1"):
        qtbot.keyClicks(crystals_page.readings, line)
        qtbot.keyClick(crystals_page.readings, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: len(bench.current.crystal_batch.readings) == 2)
    crystals_page.refresh(bench)
    texts = crystals_page.table.texts()
    assert [row[0] for row in texts] == ["a", "b"]
    assert "above zero" in texts[1][7]
    assert "wants 8 crystals" in crystals_page.summary.text()
    assert not crystals_page.fit.isEnabled()


def test_the_best_crystals_go_into_the_ladder_in_one_step(qtbot, crystals_page):
    bench = crystals_page._bench
    before = bench.current
    qtbot.mouseClick(crystals_page.fit, Qt.MouseButton.LeftButton)
    built = dict(bench.current.stage("ladder").as_built)
    assert {f"crystal:{n}" for n in range(1, 9)} <= set(built)
    assert "crystal:1.lm" in built
    bench.undo()
    assert bench.current == before


def test_an_outlier_does_not_flatten_the_histogram(crystals_page):
    crystals_page.histogram.labels.place()
    assert any("1 further above" in text for text in crystals_page.histogram.labels.texts)
    (low, high), _ = crystals_page.histogram.box.viewRange()
    assert high - low < 1000
    assert len(crystals_page.histogram.bars.opts["height"]) >= 4


def test_opening_a_table_of_sweeps_brings_them_into_the_project(qtbot, crystals_page, tmp_path, monkeypatch):
    f, s21 = sweep(noise_db=40)
    rows = [f"{a:.1f};{20 * np.log10(abs(b)):.5f}" for a, b in zip(f, s21, strict=True)]
    (tmp_path / "x.csv").write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    (tmp_path / "bag.csv").write_text("label;file\nA;x.csv\n")
    bench = crystals_page._bench
    before = bench.current
    name = str(tmp_path / "bag.csv")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (name, ""))
    bench.edit(("crystal_batch", "method"), "sweep")
    qtbot.mouseClick(crystals_page.open, Qt.MouseButton.LeftButton)
    (tmp_path / "x.csv").unlink()
    crystals_page.refresh(bench)
    (row,) = crystals_page.table.texts()
    assert " ± " in row[3]
    tip = crystals_page.table.item(0, 2).toolTip()
    assert all(f"{name} " in tip for name in ("fs", "Lm", "Cm", "Rm", "C0", "Q"))
    bench.undo()
    bench.undo()
    assert bench.current == before


def test_a_large_bag_is_read_placed_and_written_out_in_turns(qtbot, crystals_page, monkeypatch):
    bench, table = crystals_page._bench, crystals_page.table
    monkeypatch.setattr("app.pages.crystal_table._SLICE_S", 0.0)
    head, *lines = crystal_bench.table_text(bench.current.crystal_batch).splitlines()
    bag = [f"{n};{lines[n % len(lines)].split(';', 1)[1]}" for n in range(600)]
    bench.edit(("crystal_batch",), with_table(bench.current, "\n".join([head, *bag])).crystal_batch)
    crystals_page.refresh(bench)
    # Read, and nothing can be done with it before the places are found.
    assert not crystals_page.fit.isEnabled()
    qtbot.waitUntil(lambda: table.rowCount() == 600)
    assert crystals_page.fit.isEnabled()

    def written():
        return sum(table.item(row, 2) is not None for row in range(600))

    assert 80 <= written() < 200, "a screenful at once"
    # Another order meanwhile loses no row, nor does another IF.
    crystals_page.order.buttons[1].click()
    bench.edit(("if_hz",), bench.current.if_hz + 100)
    crystals_page.refresh(bench)
    qtbot.waitUntil(lambda: written() == 600)
    qtbot.waitUntil(lambda: not table._slice.isActive())
    shown = [[table.item(row, column).text() for column in range(8)] for row in range(600)]
    assert sorted(row[0] for row in shown) == sorted(map(str, range(600)))
    assert [row[1] for row in shown[:9]] == [*map(str, range(1, 9)), ""]
    assert all(float(row[2]) > 19 for row in shown)


def test_every_method_is_read_whole_in_its_box(qtbot, crystals_page):
    box = crystals_page.form.findChild(QComboBox, "method")
    widest = max(box.fontMetrics().horizontalAdvance(box.itemText(n)) for n in range(box.count()))
    assert widest + 32 <= box.width()


def test_a_table_that_is_none_is_a_sentence(qtbot, crystals_page):
    bench = crystals_page._bench
    bench.edit(("crystal_batch",), with_table(bench.current, "what is this").crystal_batch)
    crystals_page.refresh(bench)
    assert "lacks the column" in crystals_page.summary.text()
    bench.edit(("crystal_batch",), with_table(bench.current, "").crystal_batch)
    crystals_page.refresh(bench)
    assert "Paste a table" in crystals_page.summary.text()


def bag_page(qtbot, nine):
    """Thirty crystals of other make, 7.8 kHz below the IF; three are dead."""
    rng = np.random.default_rng(5)
    rows = []
    for n in range(1, 31):
        rm, lm = (100.0 if n in (7, 17, 23) else 13.6), 23.4e-3 * (1 + rng.uniform(-0.02, 0.02))
        peak = 9e6 - 7.8e3 + rng.normal(0, 60)
        width, loss = (100 + rm) / (2 * np.pi * lm), 20 * np.log10(1 + rm / 100)
        rows.append(f"Q{n};{peak / 1e6:.6f};{width:.1f};{loss:.3f}".replace(".", ","))
    table = "\n".join(["label;peak (MHz);bandwidth (Hz);loss (dB)", *rows])
    bench = Workbench(with_table(nine, table))
    page = CrystalsPage(bench)
    qtbot.addWidget(page)
    page.resize(700, 700)
    page.show()
    page.refresh(bench)
    return page, bench


@pytest.fixture
def bag(qtbot, qapp, nine):
    return bag_page(qtbot, nine)


@pytest.fixture(scope="module")
def nine():
    bands = (Band(name="20m", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"),)
    return new_rig(bands, 9e6, "Nine")


def row_of(page, label):
    return next(n for n, row in enumerate(page.table.texts()) if row[0] == label)


def click_tick(qtbot, page, label):
    table = page.table
    item = table.item(row_of(page, label), 0)
    table.scrollToItem(item)
    spot = table.visualItemRect(item)
    where = QPoint(spot.left() + 12, spot.center().y())
    qtbot.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=where)


def test_a_crystal_is_ticked_out_and_stays_out(qtbot, bag):
    page, bench = bag
    before = bench.current
    chosen = next(row[0] for row in page.table.texts() if row[1] == "1")
    click_tick(qtbot, page, chosen)
    assert bench.current.crystal_batch.left_out == (chosen,)
    page.refresh(bench)
    row = page.table.texts()[row_of(page, chosen)]
    assert row[1] == ""
    assert page.table.item(row_of(page, chosen), 0).checkState() == Qt.CheckState.Unchecked
    assert "29 crystals, 1 left out" in page.summary.text()
    qtbot.mouseClick(page.fit, Qt.MouseButton.LeftButton)
    built = dict(bench.current.stage("ladder").as_built)
    out = next(row for row in bag_of(bench.analysis).rows if row.label == chosen).parameters
    assert out.fs_hz not in built.values()
    # Another reading more, and it is still out.
    page.readings.moveCursor(QTextCursor.MoveOperation.End)
    qtbot.keyClick(page.readings, Qt.Key.Key_Return)
    qtbot.keyClicks(page.readings, "Q31;8,992200;781,1;1,1")
    bench.settling.emit()
    page.refresh(bench)
    assert len(page.table.texts()) == 31
    assert page.table.item(row_of(page, chosen), 0).checkState() == Qt.CheckState.Unchecked
    for _ in range(3):
        bench.undo()
    assert bench.current == before


def test_a_crystal_is_ticked_by_the_keyboard(qtbot, bag):
    page, bench = bag
    page.table.setFocus()
    page.table.setCurrentCell(2, 3)
    qtbot.keyClick(page.table, Qt.Key.Key_Space)
    assert bench.current.crystal_batch.left_out == ("Q3",)
    page.refresh(bench)
    qtbot.keyClick(page.table, Qt.Key.Key_Down)
    qtbot.keyClick(page.table, Qt.Key.Key_Space)
    assert bench.current.crystal_batch.left_out == ("Q3", "Q4")
    page.refresh(bench)
    qtbot.keyClick(page.table, Qt.Key.Key_Space)
    assert bench.current.crystal_batch.left_out == ("Q3",)


def test_a_tick_that_the_design_refuses_is_taken_back(qtbot, bag):
    page, bench = bag
    bench.edit(("crystal_batch", "left_out"), tuple(f"other {n}" for n in range(1000)))
    page.refresh(bench)
    before = bench.current
    said = []
    bench.refused.connect(said.append)
    click_tick(qtbot, page, "Q3")
    assert bench.current is before
    assert len(said) == 1
    assert page.table.item(row_of(page, "Q3"), 0).checkState() == Qt.CheckState.Checked


def test_dead_crystals_are_marked_in_their_rows_and_read_whole(bag):
    page, _ = bag
    remarks = {row[0]: row[-1] for row in page.table.texts()}
    dead = {label: remark for label, remark in remarks.items() if remark}
    assert set(dead) == {"Q7", "Q17", "Q23"}
    assert all(remark.startswith("Q only 1") and remark.endswith(" % of usual") for remark in dead.values())
    row = row_of(page, "Q17")
    place = page.table.remark_rect(row)
    assert place.width() >= page.table.fontMetrics().horizontalAdvance(dead["Q17"])
    top = page.table.rowViewportPosition(row)
    assert top + page.table.line <= place.top()
    assert place.bottom() < top + page.table.rowHeight(row)
    assert page.table.rowHeight(row_of(page, "Q1")) == page.table.line
    assert page.table.item(row_of(page, "Q7"), 0).foreground() == palette.brush("caution")


def test_the_crystals_can_stand_in_the_order_of_the_ladder(qtbot, bag):
    page, _ = bag
    assert [row[0] for row in page.table.texts()][:3] == ["Q1", "Q2", "Q3"]
    qtbot.mouseClick(page.order.buttons[1], Qt.MouseButton.LeftButton)
    assert [row[1] for row in page.table.texts()][:9] == [str(n) for n in range(1, 9)] + [""]
    ticks = [page.table.item(n, 0) for n in range(30)]
    assert all(item.data(Qt.ItemDataRole.UserRole) == item.text() for item in ticks)


def test_the_responses_of_the_choices_stand_side_by_side(qtbot, bag):
    page, bench = bag
    ladder = bench.analysis.ladder
    expected = crystals_in_ladder.place(
        bag_of(bench.analysis).rows, AskedLadder(ladder, bench.current.if_hz)
    ).figures
    rows = page.choices.texts()
    assert [row[0] for row in rows] == ["this choice", "by frequency alone", "the closest, sorted"]
    assert [row[1] for row in rows] == [f"{each.loss_db:.1f} dB" for each in expected]
    qtbot.mouseClick(page.fit, Qt.MouseButton.LeftButton)
    built = bench.analysis.filter_figures(ladder.id, "20m")
    assert rows[0][1] == f"{built.insertion_loss_db:.1f} dB"
    assert float(rows[0][3].removesuffix(" kHz")) == pytest.approx(built.bandwidth_3db_hz / 1e3, rel=0.01)


def test_the_ladder_is_designed_for_the_crystals_in_one_step(qtbot, bag):
    page, bench = bag
    before = bench.current
    qtbot.mouseClick(page.fit, Qt.MouseButton.LeftButton)
    page.refresh(bench)
    assert "Lm 23.4 mH, not 18 mH; 7.8 kHz below" in page.summary.text()
    merely_put_in = bench.analysis.filter_figures("ladder", "20m")
    qtbot.mouseClick(page.design, Qt.MouseButton.LeftButton)
    page.refresh(bench)
    assert "design it for these" not in page.summary.text()
    crystal = bench.analysis.ladder.crystal
    assert crystal.motional_inductance_h == pytest.approx(23.4e-3, rel=0.02)
    assert bench.current.if_hz == pytest.approx(9e6 - 7.8e3, abs=100)
    found = bench.analysis.filter_figures("ladder", "20m")
    asked = bench.analysis.ladder.bandwidth_hz
    assert abs(found.bandwidth_6db_hz - asked) < abs(merely_put_in.bandwidth_6db_hz - asked) / 2
    bench.undo()
    bench.undo()
    assert bench.current == before


def test_the_curve_is_seen_where_the_crystals_are(qtbot, bag):
    """7.8 kHz below the nominal IF the picture around the pass-band was empty."""
    page, bench = bag
    bench.select(("stages", "ladder"))
    view = LadderView()
    qtbot.addWidget(view)
    view.resize(900, 600)
    view.show()
    qtbot.mouseClick(page.fit, Qt.MouseButton.LeftButton)
    assert view.refresh(bench) == ""
    x, y = view.near.line.getData()
    (left, right), (bottom, top) = view.near.box.viewRange()
    peak = x[np.nanargmax(y)]
    assert left + 0.25 * (right - left) < peak < right - 0.25 * (right - left)
    assert bottom < np.nanmax(y) < top


def test_the_header_row_need_not_be_typed(qtbot, bag):
    page, bench = bag
    assert page.head.isHidden(), "there is one"
    bench.edit(("crystal_batch",), with_table(bench.current, "").crystal_batch)
    page.refresh(bench)
    qtbot.mouseClick(page.head, Qt.MouseButton.LeftButton)
    page.refresh(bench)
    assert page.readings.toPlainText() == "label;peak (Hz);bandwidth (Hz);loss (dB)\n"
    assert page.head.isHidden()
    qtbot.keyClicks(page.readings, "a;8992200;781;1,1")
    bench.settling.emit()
    page.refresh(bench)
    assert page.table.texts()[0][2].startswith("8.99220")


def test_only_the_fields_of_the_method_are_shown(bag):
    page, bench = bag
    for method, hidden, shown in (
        ("bandwidth", "sweep_zero", "c0_f"),
        ("sweep", "capacitor_f", "sweep_resistances"),
        ("series_capacitor", "source_ohm", "oscillator_load_f"),
    ):
        bench.edit(("crystal_batch", "method"), method)
        page.refresh(bench)
        assert page.form.field_at((hidden,)).isHidden()
        assert not page.form.field_at((shown,)).isHidden()


def test_the_intervals_are_told_with_and_without_the_fixture(bag):
    page, _ = bag
    told = page.table.item(0, 3).toolTip()
    assert "at worst with a fixture off by 5 % in its resistances, 0.1 dB" in told
    p = bag_of(page._bench.analysis).rows[0].parameters
    rm = dict(p.whole_spread)["rm_ohm"]
    assert f"Rm {format_value(p.rm_ohm, 'Ω', 4)} ± {format_value(rm, 'Ω', 2)}" in told
    assert rm == pytest.approx(2.0, abs=0.1), "0.1 dB of 113.6 ohm is 1.3, 5 % of 13.6 is 0.7"


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


def test_a_c0_that_nobody_measured_is_doubted_once_for_the_whole_bag(crystals_page, tern):
    bench = Workbench(tern)
    rows = "\n".join(f"{n};{9.0 + n * 20e-6:.6f};1900;1.2" for n in range(12))
    bench.edit(("crystal_batch", "c0_f"), 3.5e-12)
    table = f"label;peak (MHz);bandwidth (Hz);loss (dB)\n{rows}"
    bench.edit(("crystal_batch",), with_table(bench.current, table).crystal_batch)
    crystals_page.refresh(bench)
    batch = crystal_bench.batch_of(bench.current.crystal_batch)
    most = max(LEAST_CAPACITANCE_RATIO * row.parameters.cm_f for row in batch)
    assert most > 3.5e-12
    said = f"12 of 12 crystals have a Cm that wants a C0 of {format_value(most, 'F', 2)} or more; measure C0"
    assert crystals_page.summary.text().count(said) == 1
    assert not any("C0" in row[-1] for row in crystals_page.table.texts())
    # Followed.
    bench.edit(("crystal_batch", "c0_f"), 1.05 * most)
    crystals_page.refresh(bench)
    assert "wants a C0" not in crystals_page.summary.text()


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


# What is typed stays, as values where it is one and as typed where not


def reopened(bench, tmp_path, qtbot):
    """The Crystals page of the design saved and opened anew."""
    bench.save(tmp_path / "rig.json")
    again = Workbench(load(tmp_path / "rig.json"))
    page = CrystalsPage(again)
    qtbot.addWidget(page)
    page.show()
    page.refresh(again)
    return page, again


def type_in(qtbot, page, text):
    page.readings.setFocus()
    page.readings.selectAll()
    qtbot.keyClick(page.readings, Qt.Key.Key_Delete)
    for line in text.splitlines(keepends=True):
        qtbot.keyClicks(page.readings, line.rstrip("\n"))
        if line.endswith("\n"):
            qtbot.keyClick(page.readings, Qt.Key.Key_Return)
    page._bench.settling.emit()
    page.refresh(page._bench)


def test_a_row_with_a_typing_error_outlives_saving(qtbot, bag, tmp_path):
    page, bench = bag
    typed = "label;peak (MHz);loss (dB);bandwidth (Hz);Bag\na;8,9922;o,9;781;Anna\nb;8,9923;1,1;790;\n"
    type_in(qtbot, page, typed)
    assert page.readings.toPlainText() == typed, "the text stays as typed"
    reason = page.table.texts()[0][7]
    assert "“o,9” is not a number" in reason
    page, again = reopened(bench, tmp_path, qtbot)
    assert page.readings.toPlainText() == (
        "label;peak (MHz);bandwidth (Hz);loss (dB);bag\na;8.9922;781;o,9;Anna\nb;8.9923;790;1.1;\n"
    )
    assert page.table.texts()[0][7] == reason
    type_in(qtbot, page, page.readings.toPlainText().replace("o,9", "0,9"))
    first = again.current.crystal_batch.readings[0]
    assert (first.loss_db, first.as_typed("bag")) == (0.9, "Anna")
    assert page.table.texts()[0][2].startswith("8.9922")


def test_a_text_that_is_no_table_yet_outlives_saving(qtbot, bag, tmp_path):
    page, bench = bag
    before = bench.current
    type_in(qtbot, page, "a;8,9922;781;1,1")
    assert "lacks the column label" in page.summary.text()
    page, again = reopened(bench, tmp_path, qtbot)
    assert page.readings.toPlainText() == "a;8,9922;781;1,1"
    assert again.current.crystal_batch.readings == ()
    assert "lacks the column label" in page.summary.text()
    qtbot.mouseClick(page.head, Qt.MouseButton.LeftButton)
    (reading,) = again.current.crystal_batch.readings
    assert (reading.label, reading.loss_db, again.current.crystal_batch.draft) == ("a", 1.1, "")
    bench.undo()
    assert bench.current == before, "one step"


def test_a_header_half_typed_loses_no_sweep(qtbot, tern, qapp):
    f, s21 = sweep(noise_db=40)
    swept = Sweep.checked(
        label="x", f_hz=tuple(f.tolist()), s21_db=tuple((20 * np.log10(np.abs(s21))).tolist())
    )
    rig = with_table(tern.edited(("crystal_batch", "method"), "sweep"), "label;file\nA;x\n")
    bench = Workbench(rig.edited(("crystal_batch", "sweeps"), (swept,)))
    page = CrystalsPage(bench)
    qtbot.addWidget(page)
    page.show()
    page.refresh(bench)
    lm = page.table.texts()[0][3]
    assert " ± " in lm
    type_in(qtbot, page, "labe;file\nA;x\n")
    assert page.table.rowCount() == 0
    type_in(qtbot, page, "label;file\nA;x\n")
    assert page.table.texts()[0][3] == lm


def test_readings_of_another_method_are_kept_and_the_columns_wanted_are_told(qtbot, bag):
    page, bench = bag
    before, text = bench.current.crystal_batch.readings, page.readings.toPlainText()
    bench.edit(("crystal_batch", "method"), "series_capacitor")
    page.refresh(bench)
    assert (
        "No reading has anything in the column without; the first row must name label, without, with."
        in page.summary.text()
    )
    assert page.head.isHidden(), "a second header would be a crystal"
    bench.edit(("crystal_batch", "method"), "bandwidth")
    page.refresh(bench)
    assert (bench.current.crystal_batch.readings, page.readings.toPlainText()) == (before, text)
    assert page.table.rowCount() == 30


def test_a_bag_of_sweeps_is_fitted_beside_the_window(qtbot, tern, qapp, monkeypatch):
    threads, fit = [], crystal_sweep.from_sweep

    def noted(label, *rest, **more):
        # The words on the method work with crystals of their own.
        if label.isdigit():
            threads.append(threading.current_thread() is threading.main_thread())
        return fit(label, *rest, **more)

    monkeypatch.setattr(crystal_sweep, "from_sweep", noted)
    f, s21 = sweep(801, noise_db=40)
    swept = [
        Sweep.checked(
            label=f"x{n}", f_hz=tuple((f + n).tolist()), s21_db=tuple((20 * np.log10(abs(s21))).tolist())
        )
        for n in range(12)
    ]
    table = "label;file\n" + "".join(f"{n};x{n}\n" for n in range(12))
    rig = with_table(tern.edited(("crystal_batch", "method"), "sweep"), table)
    bench = Workbench(rig.edited(("crystal_batch", "sweeps"), tuple(swept)))
    page = CrystalsPage(bench)
    qtbot.addWidget(page)
    page.show()
    page.refresh(bench)
    assert page.summary.text() == "Fitting 12 sweeps…"
    assert (page.table.rowCount(), page.fit.isEnabled()) == (0, False)
    assert page.readings.toPlainText() == table
    bench.edit(("if_hz",), 9.0001e6)
    page.refresh(bench)
    qtbot.waitUntil(lambda: page.table.rowCount() == 12)
    assert threads == [False] * 12, "once each, and never on the window's thread"
    assert page.table.texts()[11][3].startswith("16")
    assert page.fit.isEnabled()
    bench.edit(("crystal_batch", "left_out"), ("3",))
    page.refresh(bench)
    assert page.table.rowCount() == 12, "at once, for all is known"


def of_four_bands(project):
    for name, low_hz in (("17m", 18.11e6), ("15m", 21.15e6)):
        band = Band(name=name, low_hz=low_hz, high_hz=low_hz + 50e3, scheme=project.bands[0].scheme)
        project = with_band(project, band)
    return project


def test_four_bands_of_a_read_out_can_be_read_on_a_small_screen(sample, on_screen):
    page = on_screen(ReadOutPage(Workbench(of_four_bands(sample))), 630, 820)
    page.refresh(page._bench)
    QCoreApplication.processEvents()
    assert page.plan.isVisible()
    assert page.plan.geometry().bottom() < page.switching.geometry().top()
    assert page.switching.height() >= page.switching.heightForWidth(page.switching.width())


def test_the_birdie_finders_fields_keep_their_height(sample, on_screen):
    bench = Workbench(of_four_bands(sample))
    page = on_screen(WholeRigPage(bench), 630, 360)
    page.looks.buttons[1].click()
    page.refresh(bench)
    panel = page.findChild(BirdiePanel)
    panel.sentence.setText("None of the rig's own products lies within 10 kHz of that. " * 4)
    QCoreApplication.processEvents()
    for field in (panel.heard, panel.here, panel.moves, panel.direction):
        assert field.height() >= field.sizeHint().height() - 2
