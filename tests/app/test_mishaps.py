"""Errors that nobody foresaw: saved first, logged, told in one sentence; the rest of the window goes on."""

import logging
import os
import subprocess
import sys
import threading

import pytest
from PySide6.QtCore import Qt, qWarning
from PySide6.QtWidgets import QApplication, QPushButton

from app.plots.spur_chart import SpurChart
from app.state import guard
from app.state.mishaps import Mishaps
from app.state.recovery import Recovery
from app.state.tasks import Failed, Tasks
from core.model import files
from core.model.values.errors import DesignError

pytestmark = pytest.mark.expects_log


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log" / "copperclad.log"


@pytest.fixture
def mishaps(window, bench, tmp_path, log):
    recovery = Recovery(bench, tmp_path / "recovery")
    mishaps = Mishaps(recovery.write, log)
    mishaps.tell(window.tell)
    mishaps.install()
    yield mishaps
    mishaps.remove()
    recovery.close()


def test_an_error_in_a_slot_saves_the_design_is_logged_and_told(window, bench, mishaps, log, qtbot, tmp_path):
    button = QPushButton("Break", window)
    button.clicked.connect(lambda: {}["C1"])
    button.show()
    bench.edit(("if_hz",), 9e6)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "KeyError: 'C1'" in window.statusBar().currentMessage())
    assert "\n" not in window.statusBar().currentMessage()
    assert "copperclad.log" in window.statusBar().currentMessage()
    assert "Traceback" in log.read_text()
    (copy,) = (tmp_path / "recovery").glob("*.json")
    assert files.load(copy).if_hz == 9e6, "written at once, not after a pause"


def test_the_same_error_again_and_again_is_logged_once(window, mishaps, log, qtbot):
    button = QPushButton("Break", window)
    button.clicked.connect(lambda: 1 / 0)
    button.show()
    for _ in range(50):
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert log.read_text().count("ZeroDivisionError") == 1


def test_an_error_of_a_thread_and_a_complaint_of_qt_are_logged(window, mishaps, log, qtbot, capfd):
    thread = threading.Thread(target=lambda: [].pop())
    thread.start()
    thread.join()
    qtbot.waitUntil(lambda: "IndexError" in window.statusBar().currentMessage())
    qWarning("a wire is loose")
    text = log.read_text()
    assert "IndexError: pop from empty list" in text
    assert "WARNING MainThread Qt: a wire is loose" in text
    assert "a wire is loose" in capfd.readouterr().err


def test_the_log_never_grows_beyond_its_size(mishaps, log):
    for number in range(300):
        logging.getLogger("copperclad").error("%d %s", number, "x" * 5000)
    sizes = [file.stat().st_size for file in log.parent.iterdir()]
    assert len(sizes) == 2
    assert max(sizes) < 262_000
    assert "299 x" in log.read_text()


def test_a_folder_that_takes_no_log_does_not_stop_the_program(tmp_path, capfd):
    (tmp_path / "file").write_text("")
    mishaps = Mishaps(lambda: None, tmp_path / "file" / "copperclad.log")
    logging.getLogger("copperclad").error("told on the terminal")
    mishaps.remove()
    assert "told on the terminal" in capfd.readouterr().err


def test_a_job_that_fails_gives_a_sentence_and_keeps_its_trace(qtbot, caplog):
    tasks, told = Tasks(), []

    def foreseen(job):
        raise DesignError("The ladder needs two poles; give it more.")

    tasks.start("a", lambda job: {}["C1"], told.append)
    tasks.start("b", foreseen, told.append)
    qtbot.waitUntil(lambda: len(told) == 2)
    assert Failed("The ladder needs two poles; give it more.") in told
    (other,) = [each for each in told if "ladder" not in each.reason]
    assert other.reason.startswith("This work broke off on an error of the program (KeyError: 'C1')")
    assert "KeyError: 'C1'" in caplog.text
    assert "Traceback" in caplog.text
    tasks.close()


def test_a_view_that_fails_says_so_and_leaves_the_others_alone(window, bench, qtbot, monkeypatch, caplog):
    healthy = SpurChart.refresh

    def refresh(chart, bench):
        if bench.current.if_hz == 9e6:
            raise ZeroDivisionError("float division by zero")
        healthy(chart, bench)

    monkeypatch.setattr(SpurChart, "refresh", refresh)
    page, field = window.pages.current, window.frequency_bar.intermediate
    before = window.signal_path.strip.shown
    heads = [window.findings.list.model().index(row, 0).data() for row in range(3)]

    def type_if(text):
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, text)
        qtbot.keyClick(field, Qt.Key.Key_Return)

    type_if("9 MHz")
    qtbot.waitUntil(lambda: bool(guard.failure(page.spurs)))
    assert "ZeroDivisionError: float division by zero" in guard.failure(page.spurs)
    assert page.spurs.grab().toImage() != page.levels.grab().toImage()
    for part in (page, page.plan, page.levels, window.signal_path, window.editor, window.findings):
        assert not guard.failure(part)
    assert window.signal_path.strip.shown != before
    model = window.findings.list.model()
    qtbot.waitUntil(lambda: [model.index(row, 0).data() for row in range(3)] != heads)
    assert "Traceback" in caplog.text
    type_if("19.6608 MHz")
    qtbot.waitUntil(lambda: not guard.failure(page.spurs))
    assert not any(child.isVisible() for child in page.spurs.findChildren(guard._Veil))


def test_a_whole_page_that_fails_lets_the_editor_follow(window, bench, qtbot, monkeypatch):
    window.pages.show_page("Read-out")
    QApplication.processEvents()
    page = window.pages.current
    healthy = type(page).refresh
    monkeypatch.setattr(type(page), "refresh", lambda *_: 1 / 0)
    bench.select(("stages", "mixer"))
    bench.edit(("stages", "mixer", "name"), "Other mixer")
    qtbot.waitUntil(lambda: window.editor.title.text() == "Other mixer")
    assert "ZeroDivisionError" in guard.failure(page)
    monkeypatch.setattr(type(page), "refresh", healthy)
    bench.edit(("stages", "mixer", "name"), "Third mixer")
    qtbot.waitUntil(lambda: not guard.failure(page))


def test_the_ladder_page_says_why_there_is_no_audio(window, bench, qtbot):
    bench.select(("stages", "ladder"))
    page = window.pages.show_page("Stage")
    QApplication.processEvents()
    strip = window.signal_path.strip
    strip.setFocus()
    qtbot.keyClick(strip, Qt.Key.Key_Space)
    assert not bench.current.stage("ladder").in_path
    QApplication.processEvents()
    reason = bench.analysis.carrier(bench.band_name).reason
    assert page.view.audio.sentence == reason
    bench.undo()
    QApplication.processEvents()
    assert page.view.audio.sentence == ""
    bench.edit(("stages", "ladder", "poles"), 2)
    bench.edit(("carrier", "edge_suppression_db"), 60.0)
    reason = bench.analysis.carrier(bench.band_name).reason
    qtbot.waitUntil(lambda: page.view.audio.sentence == reason)
    rules = window.findings.list.model()
    qtbot.waitUntil(lambda: any(reason in rules.index(row, 0).data() for row in range(rules.rowCount())))


PREVIEW = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtPrintSupport import QPrintPreviewDialog, QPrintPreviewWidget
from PySide6.QtWidgets import QApplication
from app.sheet.printing import preview
from core.model.files import load
from core.model.samples import sample_path

app = QApplication([])
seen = []

def look():
    (dialog,) = [w for w in app.topLevelWidgets() if isinstance(w, QPrintPreviewDialog)]
    pages = dialog.findChild(QPrintPreviewWidget).pageCount()
    if pages:
        seen.append(pages)
        dialog.reject()
    else:
        QTimer.singleShot(100, look)

QTimer.singleShot(100, look)
preview(load(sample_path()), "A4")
print(seen)
"""


def test_the_print_preview_shows_the_pages():
    # In a process of its own: a printer freed too early ends the process.
    done = subprocess.run([sys.executable, "-c", PREVIEW], capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr[-2000:]
    (pages,) = eval(done.stdout.strip().splitlines()[-1])
    assert pages >= 4


WHOLE = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox
from app.window.start import application, open_window
from core.model.files import load
from core.model.samples import sample_path

app = application()
QMessageBox.exec = lambda box: 0

def window():
    return next(w for w in app.topLevelWidgets() if hasattr(w, "bench"))

def edit():
    QTimer.singleShot(500, look)
    window().bench.edit(("name",), "Nearly lost")
    raise LookupError("a loose wire")

def look():
    print(window().statusBar().currentMessage())
    app.exit(3)

QTimer.singleShot(300, edit)
sys.exit(open_window(load(sample_path())))
"""


def test_the_program_as_it_is_started_saves_logs_and_tells(tmp_path):
    env = os.environ | {"XDG_DATA_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path / "settings")}
    done = subprocess.run([sys.executable, "-c", WHOLE], env=env, capture_output=True, text=True, timeout=600)
    assert done.returncode == 3, done.stderr[-2000:]
    assert "LookupError: a loose wire" in done.stdout
    assert "copperclad: Something broke off on an error of the program (LookupError" in done.stderr
    assert "Traceback" not in done.stderr
    (log,) = tmp_path.rglob("copperclad.log")
    assert "Traceback" in log.read_text()
    (copy,) = tmp_path.rglob("recovery/*.json")
    assert files.load(copy).name == "Nearly lost"
