"""The bench's pages: a bag of crystals and its place in the ladder, and scattered ladders."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QFileDialog

from app.pages.crystals import CrystalsPage
from app.pages.tolerance import TolerancePage
from app.tasks import Tasks
from app.workbench import Workbench
from core.rig import crystal_bench
from tests.published.test_crystals import sweep


@pytest.fixture
def crystals_page(qtbot, tern, qapp):
    bench = Workbench(tern)
    page = CrystalsPage(bench)
    qtbot.addWidget(page)
    page.resize(900, 700)
    page.show()
    page.refresh(bench)
    return page


def test_the_crystals_page_works_the_samples_bag_out(crystals_page, tern):
    texts = crystals_page.table.texts()
    batch = crystal_bench.batch_of(tern.crystal_batch)
    assert len(texts) == len(batch)
    assert texts[0][1] == f"{batch[0].parameters.fs_hz / 1e6:.6f} MHz"
    assert sorted(int(row[6]) for row in texts if row[6]) == list(range(1, 9))
    assert "Far out: 14" in crystals_page.summary.text()
    heights = crystals_page.bars.opts["height"]
    assert sum(heights) == len([row for row in batch if row.parameters])


def test_typed_readings_are_taken_after_a_pause(qtbot, crystals_page):
    bench = crystals_page._bench
    crystals_page.readings.selectAll()
    for line in ("label;peak (MHz);bandwidth (Hz);loss (dB)", "a;19,66;4000;0,5", "b;19,66;0;1"):
        qtbot.keyClicks(crystals_page.readings, line)
        qtbot.keyClick(crystals_page.readings, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bench.current.crystal_batch.table.endswith("0;1\n"))
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
    assert {f"X{n}" for n in range(1, 9)} <= set(built)
    assert "X1.lm" in built
    bench.undo()
    assert bench.current == before


def test_an_outlier_does_not_flatten_the_histogram(crystals_page):
    crystals_page.histogram.labels.place()
    assert any("1 further above" in text for text in crystals_page.histogram.labels.texts)
    (low, high), _ = crystals_page.histogram.box.viewRange()
    assert high - low < 1000
    assert len(crystals_page.bars.opts["height"]) >= 4


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
    assert " ± " in row[2]
    tip = crystals_page.table.item(0, 2).toolTip()
    assert all(f"{name} " in tip for name in ("fs", "Lm", "Cm", "Rm", "C0", "Q"))
    bench.undo()
    bench.undo()
    assert bench.current == before


def test_every_method_is_read_whole_in_its_box(qtbot, crystals_page):
    box = crystals_page.form.findChild(QComboBox, "method")
    widest = max(box.fontMetrics().horizontalAdvance(box.itemText(n)) for n in range(box.count()))
    assert widest + 32 <= box.width()


def test_a_table_that_is_none_is_a_sentence(qtbot, crystals_page):
    bench = crystals_page._bench
    bench.edit(("crystal_batch", "table"), "what is this")
    crystals_page.refresh(bench)
    assert "lacks the column" in crystals_page.summary.text()
    bench.edit(("crystal_batch", "table"), "")
    crystals_page.refresh(bench)
    assert "Paste a table" in crystals_page.summary.text()


@pytest.fixture
def tolerance_page(qtbot, bench):
    tasks = Tasks()
    page = TolerancePage(bench, tasks)
    qtbot.addWidget(page)
    page.resize(900, 700)
    page.show()
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
    for plot, values in zip(tolerance_page.figures, map(run.of, ("width", "ripple", "loss")), strict=True):
        assert sum(plot.bars.opts["height"]) == np.isfinite(values).sum()
        assert not plot.sentence
    np.testing.assert_allclose(tolerance_page.nominal.getData()[1], -run.nominal_db)
    assert "of 200 filters keep every limit" in tolerance_page.verdict.text()
    assert "comes most from" in tolerance_page.verdict.text()


def test_limits_are_judged_anew_and_an_old_run_says_that_it_is_old(qtbot, tolerance_page, bench):
    bench.edit(("scatter", "trials"), 100)
    tolerance_page.run()
    qtbot.waitUntil(lambda: tolerance_page.result is not None)
    bench.edit(("scatter", "loss_db"), 0.01)
    tolerance_page.refresh(bench)
    assert tolerance_page.verdict.text().startswith("0 % of 100")
    assert not tolerance_page.figures[2].kept.shapes, "no filter keeps this limit"
    assert tolerance_page.figures[1].kept.shapes
    assert "earlier" not in tolerance_page.verdict.text()
    bench.edit(("stages", "ladder", "poles"), 6)
    tolerance_page.refresh(bench)
    assert "earlier design" in tolerance_page.verdict.text()


def test_the_tolerance_pictures_scroll_in_a_small_window(qtbot, tolerance_page):
    tolerance_page.resize(620, 380)
    QTest.qWait(20)
    for plot in (
        tolerance_page.envelope,
        *tolerance_page.figures,
    ):
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


def test_a_tolerance_run_without_any_filter_is_a_sentence(tolerance_page, bench):
    for stage in [s.id for s in bench.current.stages if s.kind in ("ladder", "band_pass", "low_pass")]:
        bench.change(lambda p, stage=stage: p.stage_removed(stage), label="no filter")
    tolerance_page.refresh(bench)
    tolerance_page.run()
    assert "no filter in the rig" in tolerance_page.envelope.sentence


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
    followed = int(tolerance_page.verdict.text().split(" %")[0])
    assert followed > 20
    bench.edit(("scatter", "width_low_hz"), 2200.0)
    tolerance_page.refresh(bench)
    assert tolerance_page.verdict.text().startswith("0 % of 100")
