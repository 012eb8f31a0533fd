"""Readings of crystals as typed: what is typed stays, as values where it is one and as typed where not."""

import threading

import numpy as np
from PySide6.QtCore import Qt

from app.pages.crystals import CrystalsPage
from app.state.workbench import Workbench
from core.model.bench import Sweep
from core.model.files import load
from core.stages.crystals import crystal_sweep
from tests.bags import with_table
from tests.published.test_crystals import sweep


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
