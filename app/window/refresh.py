"""One refresh an event-loop turn, for the views that can be seen."""

from collections.abc import Callable
from time import perf_counter

from PySide6.QtCore import QElapsedTimer, QObject, QTimer, Signal

from app.state.guard import failure, guarded
from app.state.workbench import Workbench
from app.widgets.view import View

#: The hand rests when nothing changed for so long, milliseconds.
REST_MS = 60
#: How long findings may lag behind the first edit that they lack, milliseconds.
LATEST_MS = 300


class Refresher(QObject):
    """Joins all requests of one event-loop turn into one refresh of the visible views.

    Input events are served before the timer fires, so a dragged slider drops frames instead of queueing
    them; a hidden view does nothing until it is shown and then catches up once. Plots come at once
    (`View.refresh`); what else there is settles when the hand rests (`View.settle`).
    """

    #: Seconds the refresh took, painting not included.
    refreshed = Signal(float)

    def __init__(self, bench: Workbench, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._views: list[View] = []
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._soon)
        self._rest = QTimer(self, singleShot=True)
        self._rest.timeout.connect(self._settle)
        self._unsettled = QElapsedTimer()
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
        self._rest.stop()
        self._refresh()
        self._settle()

    def _soon(self) -> None:
        if not self._rest.isActive():
            self._unsettled.start()
        try:
            self._refresh()
        finally:
            left_ms = LATEST_MS - self._unsettled.elapsed()
            self._rest.start(max(0, min(REST_MS, left_ms)))

    def _refresh(self) -> None:
        start = perf_counter()
        for view in self._views:
            if view.isVisible():
                self._show(view, view.refresh)
        self.refreshed.emit(perf_counter() - start)

    def _settle(self) -> None:
        for view in self._views:
            if view.isVisible():
                self._show(view, view.settle)

    def _show(self, view: View, phase: Callable[[Workbench], object]) -> None:
        # A view that failed is right again only when both phases succeed.
        phases = (view.refresh, view.settle) if failure(view) else (phase,)
        guarded(view, lambda: [each(self._bench) for each in phases], view.restyle)

    def restyle(self) -> None:
        """Let every view take its colours again, and refresh."""
        for view in self._views:
            view.restyle()
        self.request()
