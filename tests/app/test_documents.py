"""Files: what is typed is flushed before the design leaves, and another's work in the file is not lost."""

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QPushButton,
)

from app.state.project_file import ProjectFile
from app.state.recovery import Recovery
from app.state.workbench import Workbench
from core.model import files
from core.model.readings import readings_of
from core.rig.supply.soldered import supply_soldered
from tests.app.acting import menu_action, type_if

HEAD = "label;peak (MHz);bandwidth (Hz);loss (dB)"


@pytest.fixture
def typed(window, qtbot):
    """Readings typed a moment ago on the Crystals page, not yet taken."""
    page = window.pages.show_page("Crystals")
    QApplication.processEvents()
    page.readings.setFocus()
    page.readings.selectAll()
    for line in (HEAD, "a;19,66;400;0,5"):
        qtbot.keyClicks(page.readings, line)
        qtbot.keyClick(page.readings, Qt.Key.Key_Return)
    assert page._timer.isActive()
    return f"{HEAD}\na;19,66;400;0,5\n"


def test_readings_typed_a_moment_ago_are_saved(window, bench, typed, qtbot, tmp_path):
    bench._file = ProjectFile(tmp_path / "rig.json")
    qtbot.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    assert files.load(tmp_path / "rig.json").crystal_batch.readings == readings_of(typed)
    assert not bench.dirty


def test_readings_typed_a_moment_ago_are_asked_about_at_closing(window, bench, typed, answers, tmp_path):
    bench._file = ProjectFile(tmp_path / "rig.json")
    answers.press = ["Save"]
    assert window.close()
    assert "changes that are not in its file" in answers.asked[0]
    assert files.load(tmp_path / "rig.json").crystal_batch.readings == readings_of(typed)


def test_undo_takes_the_readings_back_and_redo_brings_them_again(window, bench, typed):
    before = bench.current
    menu_action(window, "Undo").setEnabled(True)
    menu_action(window, "Undo").trigger()
    assert bench.current == before
    assert bench.history.redo_label is not None
    menu_action(window, "Redo").trigger()
    assert bench.current.crystal_batch.readings == readings_of(typed)


def test_readings_never_land_in_the_next_project(
    window, bench, typed, answers, rig, tmp_path, monkeypatch, qtbot
):
    other = tmp_path / "other.json"
    files.save(rig.edited(("name",), "Other"), other)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(other), ""))
    answers.press = ["Give them up"]
    menu_action(window, "Open…").trigger()
    assert len(answers.asked) == 1, "the readings are unsaved work"
    qtbot.wait(500)
    assert bench.current == files.load(other)


def test_a_held_design_has_the_readings(window, bench, typed):
    menu_action(window, "Hold the design").trigger()
    assert bench.held.crystal_batch.readings == readings_of(typed)


@pytest.mark.parametrize(
    "action", ["Print the build sheet…", "Print preview…", "Build sheet as PDF…", "Parts list"]
)
def test_paper_and_exports_have_the_readings(window, bench, typed, action, monkeypatch):
    monkeypatch.setattr("app.sheet.printing.print_sheet", lambda *_: True)
    monkeypatch.setattr("app.sheet.printing.preview", lambda *_: None)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    menu_action(window, action).trigger()
    assert bench.current.crystal_batch.readings == readings_of(typed)


def test_leaving_the_page_takes_the_readings(window, bench, typed):
    window.pages.show_page("Whole rig")
    assert bench.current.crystal_batch.readings == readings_of(typed)


def test_a_number_half_typed_is_printed_too(window, bench, qtbot, monkeypatch):
    monkeypatch.setattr("app.sheet.printing.preview", lambda *_: None)
    field = window.frequency_bar.intermediate
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "9 MHz")
    menu_action(window, "Print preview…").trigger()
    assert bench.current.if_hz == 9e6


# Two windows, or a program that writes the file


@pytest.fixture
def shared(window, bench, rig, tmp_path):
    """The design's file, in which somebody else has put “Theirs” since; here it is called “Mine”."""
    file = tmp_path / "rig.json"
    bench.save(file)
    files.save(rig.edited(("name",), "Theirs"), file)
    bench.edit(("name",), "Mine")
    return file


def save(window):
    menu_action(window, "Save").trigger()


def test_nothing_is_asked_while_nobody_else_writes(window, bench, tmp_path, answers):
    bench.save(tmp_path / "rig.json")
    for name in ("First", "Second"):
        bench.edit(("name",), name)
        save(window)
    bench.open(tmp_path / "rig.json")
    bench.edit(("name",), "Third")
    save(window)
    assert answers.asked == []
    assert files.load(tmp_path / "rig.json").name == "Third"
    assert files.load(tmp_path / "rig.json.bak").name == "Second"


def test_staying_changes_nothing(window, bench, shared, answers):
    answers.press = ["Stay here"]
    save(window)
    assert "rig.json was changed by another window or program" in answers.asked[0]
    assert files.load(shared).name == "Theirs"
    assert bench.current.name == "Mine"
    assert bench.dirty


def test_keeping_mine_keeps_theirs_as_the_previous_version(window, bench, shared, answers):
    answers.press = ["Keep mine"]
    save(window)
    assert files.load(shared).name == "Mine"
    assert files.load(shared.with_name("rig.json.bak")).name == "Theirs"
    assert not bench.dirty
    bench.edit(("name",), "Mine again")
    save(window)
    assert len(answers.asked) == 1


def test_opening_theirs_is_one_step_of_undo(window, bench, shared, answers):
    answers.press = ["Open theirs"]
    save(window)
    assert bench.current.name == "Theirs"
    assert not bench.dirty
    menu_action(window, "Undo").trigger()
    assert bench.current.name == "Mine"
    assert bench.dirty
    save(window)
    assert len(answers.asked) == 1, "what the file holds is known now"
    assert files.load(shared).name == "Mine"


def test_theirs_that_cannot_be_read_changes_nothing(window, bench, shared, answers):
    shared.write_text("{")
    answers.press = ["Open theirs"]
    save(window)
    assert "rig.json" in answers.asked[1]
    assert bench.current.name == "Mine"
    assert shared.read_text() == "{"


def test_mine_goes_under_another_name(window, bench, shared, answers, tmp_path, monkeypatch):
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "mine.json"), ""))
    answers.press = ["Save mine under another name…"]
    save(window)
    assert files.load(shared).name == "Theirs"
    assert files.load(tmp_path / "mine.json").name == "Mine"
    assert bench.file == tmp_path / "mine.json"


def test_closing_asks_too(window, bench, shared, answers):
    answers.press = ["Save", "Stay here"]
    assert not window.close()
    assert files.load(shared).name == "Theirs"
    assert bench.current.name == "Mine"


def test_a_file_removed_outside_is_simply_written_again(window, bench, shared, answers):
    shared.unlink()
    save(window)
    assert answers.asked == []
    assert files.load(shared).name == "Mine"


def test_a_bands_button_pressed_while_its_new_name_is_typed(window, bench, qtbot):
    bench.select(())
    QApplication.processEvents()
    field = window.editor.form.field_at(("bands", 0, "name"))
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "80m")
    button = window.frequency_bar.findChild(QPushButton, "20m")
    field.commit()  # as the press does when it takes the focus
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert bench.band_name == "80m"


def test_save_as_then_save_then_open(window, bench, settings, qtbot, tmp_path, monkeypatch, answers):
    file = tmp_path / "bench rig"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(file), ""))
    qtbot.keyClick(type_if(window, qtbot, "19.7 MHz"), Qt.Key.Key_Return)
    assert window.isWindowModified()
    menu_action(window, "Save").trigger()
    saved = file.with_suffix(".json")
    assert files.load(saved) == bench.current
    assert not window.isWindowModified()
    assert settings.recent[0] == saved
    type_if(window, qtbot, "19.8 MHz")
    menu_action(window, "Save").trigger()
    assert files.load(saved).if_hz == 19.8e6, "what is half typed is saved too"
    bench.edit(("if_hz",), 9e6)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(saved), ""))
    answers.press = ["Give them up"]
    menu_action(window, "Open…").trigger()
    assert bench.current.if_hz == 19.8e6
    assert bench.history.undo_label is None
    assert saved.name in window.status.file.text()


def test_a_bad_file_is_told_and_the_design_stays(window, bench, tmp_path, monkeypatch, answers):
    bad = tmp_path / "bad.json"
    bad.write_text('{"schema_version": 2, "if_hz": NaN}')
    before = bench.current
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(bad), ""))
    menu_action(window, "Open…").trigger()
    assert len(answers.asked) == 1
    assert "bad.json" in answers.asked[0]
    assert bench.current is before


def test_a_folder_that_refuses_is_told_and_the_design_stays(window, bench, tmp_path, monkeypatch, answers):
    bench.edit(("if_hz",), 9e6)
    missing = tmp_path / "nowhere" / "rig.json"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(missing), ""))
    menu_action(window, "Save as…").trigger()
    assert len(answers.asked) == 1
    assert bench.dirty
    assert bench.file is None


@pytest.mark.parametrize(
    ("button", "closed", "saved"),
    [("Save", True, True), ("Give them up", True, False), ("Stay here", False, False)],
)
def test_unsaved_changes_are_asked_about(window, bench, tmp_path, answers, button, closed, saved):
    bench.save(tmp_path / "rig.json")
    bench.edit(("if_hz",), 9e6)
    answers.press = [button]
    assert window.close() is closed
    assert bench.current.name in answers.asked[0]
    assert (files.load(tmp_path / "rig.json").if_hz == 9e6) is saved


def test_nothing_changed_nothing_asked(window, answers):
    assert window.close()
    assert answers.asked == []


def drop(window, url):
    data = QMimeData()
    data.setUrls([url])
    buttons, keys = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(QPoint(9, 9), Qt.DropAction.CopyAction, data, buttons, keys)
    enter.ignore()
    QApplication.sendEvent(window, enter)
    if not enter.isAccepted():
        return False
    QApplication.sendEvent(window, QDropEvent(QPointF(9, 9), Qt.DropAction.CopyAction, data, buttons, keys))
    return True


def test_a_file_dropped_on_the_window_is_opened(window, bench, rig, tmp_path):
    file = tmp_path / "dropped.json"
    files.save(rig.edited(("name",), "Dropped"), file)
    assert drop(window, QUrl.fromLocalFile(str(file)))
    assert bench.current.name == "Dropped"
    assert not drop(window, QUrl("https://example.org/rig.json"))


def test_unsaved_work_of_a_crash_is_offered(window, bench, rig, tmp_path, answers, qapp):
    lost = Workbench(rig)
    crashed = Recovery(lost, tmp_path)
    lost.edit(("name",), "Nearly lost")
    crashed.write()
    crashed._lock.unlock()
    recovery = Recovery(bench, tmp_path)
    answers.press = ["Bring it back"]
    window.documents.recover(recovery)
    assert "Nearly lost" in answers.asked[0]
    assert bench.current.name == "Nearly lost"
    assert bench.dirty
    assert recovery.leftovers() == ()


def test_the_parts_list_is_written_as_csv(window, bench, tmp_path, monkeypatch):
    target = tmp_path / "parts.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
    menu_action(window, "Parts list").trigger()
    lines = target.read_text().splitlines()
    # The supply's too.
    fed = supply_soldered(bench.analysis)
    assert len(lines) == 1 + len(bench.analysis.parts) + len(fed.parts)
    assert lines[0].startswith("stage,bands,part")
    assert window.statusBar().currentMessage() == f"Parts list written to {target}"
