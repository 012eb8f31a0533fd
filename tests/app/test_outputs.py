"""What the window writes beside projects, and settings that are no file."""

import csv
import io
import os

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QFileDialog

from app.commands.screens import render
from app.pages.crystals import CrystalsPage
from app.sheet.preview import saved_as_pdf
from app.state.documents import Documents
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.files import load, save
from core.model.values.errors import FileError
from core.rig.paper.parts_list import parts_csv
from tests.odd_files import odd_files


@pytest.fixture
def over(tern, tmp_path, monkeypatch):
    """A project that the builder names as the file to write to, and what is said."""
    file = tmp_path / "rig.json"
    save(tern, file)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(file), ""))
    said: list[str] = []
    monkeypatch.setattr(Documents, "say", lambda _self, _title, sentence: said.append(sentence))
    return file, said


def test_no_output_of_the_window_wipes_a_project_out(over, tern, settings, qtbot):
    file, said = over
    window = MainWindow(Workbench(tern), settings)
    qtbot.addWidget(window)
    window.outputs.save_pdf()
    window.outputs.save_parts()
    said.append(saved_as_pdf(tern, file, "A4"))
    page = CrystalsPage(Workbench(tern))
    qtbot.addWidget(page)
    page.save.click()
    said.append(page.summary.text())
    assert len(said) == 4
    assert all(
        sentence.endswith("is a project and would be lost; write to another file.") for sentence in said
    )
    assert load(file) == tern


def test_the_window_lives_while_the_sheet_is_written(muddle, tmp_path, monkeypatch, settings, qtbot):
    file, sweeps = tmp_path / "sheet.pdf", []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(file), ""))
    monkeypatch.setattr("app.sheet.pages.fit_sweeps", lambda batch: iter((0.3, 0.6, 1.0)))
    window = MainWindow(Workbench(muddle), settings)
    qtbot.addWidget(window)
    turns = QTimer(window, interval=0)
    turns.timeout.connect(lambda: sweeps.append(file.exists()))
    turns.start()
    window.outputs.save_pdf()
    turns.stop()
    # Three sweeps, and the sheet's own steps and pages.
    assert len(sweeps) > 10
    assert not any(sweeps), "it is written in the end, whole"
    assert "written to" in window.statusBar().currentMessage()


def test_a_spreadsheet_computes_nothing_out_of_a_name(tern, qapp):
    rig = tern.edited(("bands", 0, "name"), "=1+1")
    for n, sign in enumerate("=+-@"):
        rig = rig.edited(("stages", n, "name"), f"{sign}cmd|x")
    rows = list(csv.DictReader(io.StringIO(parts_csv(Workbench(rig).analysis))))
    assert not [cell for row in rows for cell in row.values() if cell.startswith(("=", "+", "@"))]
    assert any(row["bands"].startswith("'=1+1") for row in rows)
    assert all(float(row["designed"]) > 0 for row in rows)


def test_settings_that_are_no_file_are_forgotten(tmp_path, qapp):
    with odd_files(tmp_path, ".ini") as places:
        for place in places:
            settings = Settings(place)
            settings.theme = "dark"
            settings.remember_file(tmp_path / "rig.json")
            assert settings.theme == "dark"
            assert settings.recent == (tmp_path / "rig.json",)
            assert Settings(place).recent == ()
    (tmp_path / "huge.ini").write_bytes(b"[General]\ntheme=dark\n" + b"#" * 1_000_000)
    assert Settings(tmp_path / "huge.ini").theme == "system"
    kept = Settings(tmp_path / "good.ini")
    kept.theme = "dark"
    kept._store.sync()
    assert Settings(tmp_path / "good.ini").theme == "dark"


def test_a_picture_does_not_replace_a_pipe(tern, tmp_path, qapp, monkeypatch):
    if not hasattr(os, "mkfifo"):
        return
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    os.mkfifo(tmp_path / "whole-rig-receive-light.png")
    with pytest.raises(FileError, match="is a pipe or a device"):
        render(tern, tmp_path)
