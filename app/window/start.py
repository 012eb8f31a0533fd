"""From nothing to the window on screen."""

import gc
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from app.state.libraries import load_the_rest
from app.state.mishaps import Mishaps
from app.state.recovery import Recovery
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.project import Project

#: The window is up, and what it shows computed, by then, milliseconds.
_AT_REST_MS = 200


def application(arguments: Sequence[str] = ()) -> QApplication:
    """The Qt application, made once; the look is drawn by Qt itself so that it is the same everywhere."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(["copperclad", *arguments])
    app.setStyle("Fusion")
    app.setApplicationName("Copperclad")
    app.setOrganizationName("Copperclad")
    app.setApplicationDisplayName("")
    return app


def open_window(project: Project, file: Path | None = None) -> int:
    """Show the window on a design and run until it is closed; returns the exit code.

    `file` is where the design came from; without one, saving asks for a name.
    """
    app = application()
    settings = Settings()
    bench = Workbench()
    bench.start(project, file)
    recovery = Recovery(bench)
    mishaps = Mishaps(recovery.write)
    mishaps.install()
    window = MainWindow(bench, settings, recovery)
    mishaps.tell(window.tell)
    recovery.told.connect(window.tell)
    if file is not None:
        settings.remember_file(file)
    window.show()
    QTimer.singleShot(_AT_REST_MS, window, partial(_rest, window))
    QTimer.singleShot(0, window, lambda: window.documents.recover(recovery))
    try:
        return app.exec()
    finally:
        mishaps.remove()


def _rest(window: MainWindow) -> None:
    """End the pause in garbage collection that the start began: what is loaded by now stays for good."""
    gc.freeze()
    gc.enable()
    load_the_rest(window)
