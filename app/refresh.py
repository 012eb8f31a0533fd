"""One refresh an event-loop turn, for the views that can be seen."""

from time import perf_counter

from PySide6.QtCore import QObject, QTimer, Signal

from app.guard import guarded
from app.view import View
from app.workbench import Workbench

#: How long findings may lag behind the plots, milliseconds.
SETTLE_MS = 60


class Refresher(QObject):
    """Joins all requests of one event-loop turn into one refresh of the visible views.

    Input events are served before the timer fires, so a dragged slider drops frames instead of queueing
    them; a hidden view does nothing until it is shown and then catches up once. Amid a gesture the plots
    come first and the findings settle a moment later.
    """

    #: Seconds the refresh took, painting not included.
    refreshed = Signal(float)

    def __init__(self, bench: Workbench, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._views: list[View] = []
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._soon)
        self._settling = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._settling.timeout.connect(self._settle)
        bench.changed.connect(self.request)

    def add(self, view: View) -> None:
        """Refresh this view from now on, whenever it is visible."""
        self._views.append(view)
        view.shown.connect(self.request)

    def request(self) -> None:
        """Refresh before the event loop rests; asking many times costs no more than once."""
        if not self._timer.isActive():
            self._timer.start()

    def now(self) -> None:
        """Refresh at once, findings and all."""
        self._timer.stop()
        self._settling.stop()
        self._refresh()

    def _soon(self) -> None:
        try:
            with self._bench.hurry():
                self._refresh()
        finally:
            if not self._settling.isActive():
                self._settling.start()

    def _settle(self) -> None:
        for view in self._views:
            if view.settles and view.isVisible():
                self._show(view)

    def _refresh(self) -> None:
        start = perf_counter()
        for view in self._views:
            if view.isVisible():
                self._show(view)
        self.refreshed.emit(perf_counter() - start)

    def _show(self, view: View) -> None:
        guarded(view, lambda: view.refresh(self._bench), view.restyle)

    def restyle(self) -> None:
        """Let every view take its colours again, and refresh."""
        for view in self._views:
            view.restyle()
        self.request()
