"""The colours of the window: chosen, or as the system has them, and changed in steps."""

from collections.abc import Iterator

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QWidget

from app.state.settings import Settings, ThemeChoice
from app.style import palette
from app.window.refresh import Refresher


class Colours(QObject):
    """Keeps a window in the colours that the settings ask for."""

    def __init__(self, settings: Settings, refresher: Refresher, window: QWidget) -> None:
        super().__init__(window)
        self._settings, self._refresher, self._window = settings, refresher, window
        self._steps: Iterator[None] = iter(())
        self._next = QTimer(self, singleShot=True, interval=0)
        self._next.timeout.connect(self._step)
        if self._theme() != palette.theme() or not _application().styleSheet():
            self._steps = palette.steps(_application(), self._theme())
            for _ in range(palette.BEFORE_SHEET):
                next(self._steps)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._system_changed)

    def dress(self) -> None:
        """Put the style sheet on the window that was built meanwhile: beneath one, each widget would measure
        itself anew whenever it is put into another.
        """
        for _ in self._steps:
            pass

    def choose(self, choice: ThemeChoice) -> None:
        """Change the colours, now and for the next time."""
        self._settings.theme = choice
        # Nothing is painted half in the one and half in the other.
        self._window.setUpdatesEnabled(False)
        self._steps = palette.steps(_application(), self._theme())
        self._next.start()

    def _step(self) -> None:
        """A step of the change, and a turn of the window's life after each."""
        if next(self._steps, "done") is None:
            self._next.start()
        else:
            self._window.setUpdatesEnabled(True)
            self._refresher.restyle()

    def _theme(self) -> palette.Theme:
        """The colours chosen, or those that the system has."""
        if self._settings.theme != "system":
            return self._settings.theme
        return "dark" if QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark else "light"

    def _system_changed(self) -> None:
        if self._settings.theme == "system":
            self.choose("system")


def _application() -> QApplication:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    return app
