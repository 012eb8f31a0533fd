"""A view that fails says so in its place and leaves the others alone."""

from collections.abc import Callable
from weakref import WeakKeyDictionary

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QWidget

from app.state.mishaps import LOG, named
from app.style import palette
from app.style.plain import Text


def guarded(view: QWidget, refresh: Callable[[], object], forget: Callable[[], object]) -> bool:
    """Run a view's `refresh`. False when it failed: a sentence then covers the view until it succeeds again.

    A view remembers what it shows before it has drawn it, so after a failure it must `forget` that and
    draw everything anew.
    """
    veil = _veils.get(view)
    try:
        if veil is not None:
            forget()
        refresh()
    except Exception as error:
        reason = named(error)
        if veil is None:
            veil = _veils[view] = _Veil(view)
        if veil.reason != reason:
            LOG.exception("%s cannot be shown", type(view).__name__)
        veil.say(reason)
        return False
    if veil is not None:
        del _veils[view]
        veil.hide()
        veil.deleteLater()
    return True


def failure(view: QWidget) -> str:
    """The sentence that covers a view; empty when it shows what it should."""
    veil = _veils.get(view)
    return "" if veil is None else veil.text()


class _Veil(Text):
    """The sentence over a view that failed."""

    def __init__(self, view: QWidget) -> None:
        super().__init__("", view)
        self.reason = ""
        self.setWordWrap(True)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setAutoFillBackground(True)
        self.setMargin(12)
        view.installEventFilter(self)

    def say(self, reason: str) -> None:
        self.reason = reason
        self.setText(
            f"This part cannot show the design ({reason}); undo the last edit or change it. "
            "The rest of the window is right, and the log tells more."
        )
        self.setPalette(palette.qt_palette(palette.roles()))
        self._cover()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.Resize, QEvent.Type.ChildAdded):
            self._cover()
        return False

    def _cover(self) -> None:
        view = self.parentWidget()
        if view is not None:
            self.setGeometry(view.rect())
            self.show()
            self.raise_()


_veils: WeakKeyDictionary[QWidget, _Veil] = WeakKeyDictionary()
