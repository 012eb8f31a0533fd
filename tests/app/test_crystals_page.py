"""The page of crystals: a bag, read from a table, sorted out, and its place in the ladder."""

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QTextCursor
from PySide6.QtWidgets import QComboBox, QFileDialog

from app.stage_views.ladder import LadderView
from app.state.workbench import Workbench
from app.style import palette
from core.model.values.notation import format_value
from core.rig.bag import bag_of
from core.rig.bench import crystal_bench, crystals_in_ladder
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


def test_dialogs_begin_beside_the_rigs_file_and_before_it_has_one_at_home(
    crystals_page, qtbot, tmp_path, monkeypatch
):
    """Not where the program happened to be started."""
    asked = []
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda _, title, start, kinds: asked.append(Path(start)) or ("", "")
    )
    bench = crystals_page._bench
    assert bench.file is None
    crystals_page.save.click()
    bench.save(tmp_path / "rig.json")
    crystals_page.save.click()
    assert [each.parent for each in asked] == [Path.home(), tmp_path]
