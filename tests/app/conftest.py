"""What the window's tests share: the sample on a bench, and settings that touch nobody's own."""

import os
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QStandardPaths
from PySide6.QtWidgets import QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from app.pages.crystals import CrystalsPage
from app.panels.editor_panel import EditorPanel
from app.panels.frequency_bar import FrequencyBar
from app.state.libraries import load_next
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.bands import Band
from core.model.project import Project
from core.rig.start.new_rig import new_rig
from tests.bags import with_table
from tests.made_up import with_power_block

# Tests act on widgets that nobody needs to see.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


class Patient(QtBot):
    """Waits as long as a slow machine may need; where things work, that costs nothing."""

    def waitUntil(self, callback, *, timeout=120_000):
        super().waitUntil(callback, timeout=timeout)

    def waitSignal(self, signal, *, timeout=120_000, **how):
        return super().waitSignal(signal, timeout=timeout, **how)

    def waitExposed(self, widget, *, timeout=120_000):
        return super().waitExposed(widget, timeout=timeout)


@pytest.fixture
def qtbot(qapp, request) -> Patient:
    return Patient(request)


@pytest.fixture(autouse=True, scope="session")
def _nobodys_own_files():
    QStandardPaths.setTestModeEnabled(True)


@pytest.fixture(autouse=True, scope="session")
def _libraries_are_loaded():
    """As after the window's first second."""
    while load_next():
        pass


@pytest.fixture(autouse=True)
def _nothing_outlives_a_test(qapp):
    yield
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture(autouse=True)
def _nothing_is_logged(request, caplog):
    """What the program catches and logs by itself must fail a test that does not expect it."""
    yield
    if "expects_log" not in request.keywords:
        records = [each for when in ("setup", "call") for each in caplog.get_records(when)]
        assert [each.getMessage() for each in records if each.name == "copperclad"] == []


@pytest.fixture(scope="session")
def rig() -> Project:
    """A rig for 20 m and 12 m around 19.6608 MHz."""
    bands = (
        Band(name="20m", low_hz=14.1e6, high_hz=14.35e6, scheme="if_minus_vfo"),
        Band(name="12m", low_hz=24.93e6, high_hz=24.99e6, scheme="sum"),
    )
    made = with_power_block(new_rig(bands, 19.6608e6, "Tern 20/12"))
    # A power amplifier of typed-in figures, and mixers that are typical of their type: 50 ohm at every port,
    # and content with 7 dBm.
    for mixer in ("mixer", "detector"):
        made = made.edited(("stages", mixer, "figures_from"), "type")
    return made


@pytest.fixture
def bench(qapp, rig: Project) -> Workbench:
    return Workbench(rig)


@pytest.fixture
def settings(qapp, tmp_path: Path) -> Settings:
    return Settings(tmp_path / "settings.ini")


@pytest.fixture
def on_screen(qtbot):
    """Puts a widget on the screen in a size, and gives it back."""

    def put(widget, width, height):
        qtbot.addWidget(widget)
        widget.resize(width, height)
        widget.show()
        qtbot.waitExposed(widget)
        return widget

    return put


@pytest.fixture
def window(bench, settings, qtbot) -> MainWindow:
    """The whole window with the bench's design on the screen."""
    window = MainWindow(bench, settings)
    # As if saved, so that closing asks nothing.
    qtbot.addWidget(window, before_close_func=lambda w: w.bench.start(w.bench.current))
    window.resize(1280, 720)
    window.show()
    qtbot.waitExposed(window)
    QApplication.processEvents()
    return window


@pytest.fixture
def bar(bench, on_screen) -> FrequencyBar:
    """The frequency bar, which follows the bench."""
    view = on_screen(FrequencyBar(bench), 1280, 80)
    bench.changed.connect(lambda: view.refresh(bench))
    view.refresh(bench)
    return view


@pytest.fixture
def panel(bench, on_screen) -> EditorPanel:
    """The panel with the editor of what is selected, on the bench's design."""
    panel = on_screen(EditorPanel(bench), 330, 700)
    panel.refresh(bench)
    return panel


@pytest.fixture
def crystals_page(tern, qapp, on_screen) -> CrystalsPage:
    """The page of crystals with the sample's bag, on a bench of its own."""
    bench = Workbench(tern)
    page = on_screen(CrystalsPage(bench), 900, 700)
    page.refresh(bench)
    return page


@pytest.fixture(scope="session")
def nine() -> Project:
    """A new rig for 20 m around 9 MHz."""
    return new_rig((Band(name="20m", low_hz=14.1e6, high_hz=14.35e6, scheme="sum"),), 9e6, "Nine")


@pytest.fixture
def bag(qtbot, qapp, nine) -> tuple[CrystalsPage, Workbench]:
    """The page with thirty crystals of other make, 7.8 kHz below the IF, three dead, and its bench."""
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


class Answers:
    """Presses a button of each question by its text, and keeps what was asked."""

    def __init__(self) -> None:
        self.press: list[str] = []
        self.asked: list[str] = []

    def exec(self, box):
        self.asked.append(f"{box.text()} {box.informativeText()}")
        if self.press:
            wanted = self.press.pop(0)
            next(button for button in box.buttons() if button.text().replace("&", "") == wanted).click()
        return 0


@pytest.fixture
def answers(monkeypatch) -> Answers:
    """Answers every question that the program asks."""
    answers = Answers()
    monkeypatch.setattr(QMessageBox, "exec", lambda box: answers.exec(box))
    return answers
