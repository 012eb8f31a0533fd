"""Sweeps that typed readings name: brought in when the builder says so, and missed until then."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.files import save
from core.model.readings import readings_of
from core.rig.paper.report import as_text, report
from core.rig.rules import inspect
from tests.bags import with_table
from tests.published.test_crystals import sweep


@pytest.fixture
def swept_folder(tmp_path):
    """Two sweeps in a folder, and the table that names them and a third."""
    f, s21 = sweep(noise_db=40)
    rows = [f"{a:.1f};{20 * np.log10(abs(b)):.5f}" for a, b in zip(f, s21, strict=True)]
    for name in ("x1.csv", "x2.csv"):
        (tmp_path / name).write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    return tmp_path


TYPED = "label;file\nA;x1.csv\nB;x2.csv\nC;none.s2p"


def test_typed_readings_bring_their_sweeps_when_the_builder_says_so(
    qtbot, crystals_page, swept_folder, monkeypatch
):
    page, bench = crystals_page, crystals_page._bench
    save(bench.current, swept_folder / "rig.json")
    bench.open(swept_folder / "rig.json")
    assert not page.bring.isVisible()
    bench.edit(("crystal_batch", "method"), "sweep")
    page.refresh(bench)
    page.readings.setPlainText(TYPED)
    qtbot.waitUntil(lambda: bench.current.crystal_batch.readings == readings_of(TYPED))
    page.refresh(bench)
    assert all("Import sweeps…" in row[7] for row in page.table.texts())
    assert bench.current.crystal_batch.sweeps == ()
    asked = []
    monkeypatch.setattr(
        QFileDialog, "getExistingDirectory", lambda *words: asked.append(words[2]) or str(swept_folder)
    )
    before = bench.current
    qtbot.mouseClick(page.bring, Qt.MouseButton.LeftButton)
    assert asked == [str(swept_folder)], "the project's own folder is proposed"
    page.refresh(bench)
    assert [bool(row[2]) for row in page.table.texts()] == [True, True, False]
    assert "There is no file" in page.summary.text()
    assert "none.s2p" in page.summary.text()
    bench.undo()
    assert bench.current == before
    page.refresh(bench)
    assert "There is no file" not in page.summary.text()


def test_readings_just_typed_are_taken_along(qtbot, crystals_page, swept_folder, monkeypatch):
    page, bench = crystals_page, crystals_page._bench
    bench.edit(("crystal_batch", "method"), "sweep")
    page.refresh(bench)
    page.readings.setPlainText(TYPED)
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(swept_folder))
    page.bring.click()
    assert bench.current.crystal_batch.readings == readings_of(TYPED)
    assert [each.label for each in bench.current.crystal_batch.sweeps] == ["x1.csv", "x2.csv"]
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: "")
    page.bring.click()
    assert len(bench.current.crystal_batch.sweeps) == 2


def test_sweeps_that_are_missing_are_a_finding_that_leads_to_the_button(
    qtbot, tern, settings, swept_folder, monkeypatch
):
    bench = Workbench(with_table(tern.edited(("crystal_batch", "method"), "sweep"), TYPED))
    window = MainWindow(bench, settings)
    # As if saved, so that closing asks nothing.
    qtbot.addWidget(window, before_close_func=lambda w: w.bench.start(w.bench.current))
    window.show()
    (finding,) = [each for each in inspect(bench.analysis) if each.rule == "sweeps_not_imported"]
    assert finding.text == "The readings' sweeps are not in this project: x1.csv, x2.csv, none.s2p."
    assert finding.text in as_text(report(bench.analysis))
    bench.jump(finding.path)
    page = window.pages.current
    assert window.focusWidget() is page.bring
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(swept_folder))
    qtbot.keyClick(page.bring, Qt.Key.Key_Space)
    (finding,) = [each for each in inspect(bench.analysis) if each.rule == "sweeps_not_imported"]
    assert finding.text == "The readings' sweep is not in this project: none.s2p."
    bench.edit(("crystal_batch", "readings"), readings_of(TYPED.replace("\nC;none.s2p", "")))
    assert not [each for each in inspect(bench.analysis) if each.rule == "sweeps_not_imported"]
