"""One refresh an event-loop turn, for the views that can be seen."""

from collections.abc import Callable, Iterator
from time import perf_counter

from PySide6.QtCore import QElapsedTimer, QEvent, QObject, QTimer, Signal
from PySide6.QtWidgets import QWidget

from app.state.guard import failure, guarded
from app.state.workbench import Workbench
from app.widgets.view import View
from core.model.project import Project

#: The hand rests when nothing changed for so long, milliseconds.
REST_MS = 60
#: How long findings may lag behind the first edit that they lack before they are looked for, milliseconds.
LATEST_MS = 300
#: Findings are looked for so long at a time, milliseconds; one step of a search may take a little longer.
SLICE_MS = 10
#: Designs looked through amid a gesture, each given up because of an edit, before one is waited for.
_GIVEN_UP = 3


class FirstPaint(QObject):
    """Tells once that a widget was painted: then its window is on screen, and what takes longer may begin."""

    #: Told a turn later, when all of the window is painted.
    done = Signal()

    def __init__(self, of: QWidget) -> None:
        super().__init__(of)
        of.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint:
            watched.removeEventFilter(self)
            QTimer.singleShot(0, self, self.done.emit)
        return False


class Refresher(QObject):
    """Joins all requests of one event-loop turn into one refresh of the visible views.

    Input events are served before the timer fires, so a dragged slider drops frames instead of queueing
    them; a hidden view does nothing until it is shown and then catches up once. Plots come at once
    (`View.refresh`); what else there is settles when the hand rests (`View.settle`), once the findings have
    been looked for in slices between which the window lives.
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
        self._rest.timeout.connect(self._rested)
        self._search: tuple[Project, Iterator[None]] | None = None
        self._given_up = 0
        self._slice = QTimer(self, singleShot=True, interval=0)
        self._slice.timeout.connect(self._look)
        self._unsettled = QElapsedTimer()
        self._waits = False
        bench.changed.connect(self.request)

    def add(self, view: View) -> None:
        """Refresh this view from now on, whenever it is visible."""
        self._views.append(view)
        view.shown.connect(self.request)

    def wait(self) -> None:
        """Refresh nothing before `begin`."""
        self._waits = True

    def begin(self) -> None:
        """Refresh now, and from now on."""
        self._waits = False
        self._soon()

    def request(self) -> None:
        """Refresh before the event loop rests; asking many times costs no more than once."""
        if not self._timer.isActive() and not self._waits:
            self._timer.start()

    def now(self) -> None:
        """Refresh at once, findings and all."""
        for timer in (self._timer, self._rest, self._slice):
            timer.stop()
        # A search that was broken off would hold the design that it was for.
        self._search = None
        self._refresh()
        self._settle()

    def _soon(self) -> None:
        if not self._rest.isActive() and not self._slice.isActive():
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

    def _rested(self) -> None:
        """The hand rests, or has moved for long enough: look for findings."""
        if not self._slice.isActive():
            self._given_up, self._search = 0, None
            self._slice.start()

    def _look(self) -> None:
        """A slice of the search for findings; the views settle when all was looked through."""
        project = self._bench.current
        if self._search is None:
            from core.rig.rules import inspection

            self._search = project, inspection(self._bench.analysis)
        sought, steps = self._search
        end = perf_counter() + SLICE_MS / 1000
        try:
            next(steps)
            while perf_counter() < end:
                next(steps)
        except StopIteration:
            self._search = None
            if sought is project or self._given_up == _GIVEN_UP:
                return self._settle()
            self._given_up += 1
        except Exception:
            # The views that ask for findings tell what fails there.
            self._search = None
            return self._settle()
        self._slice.start()

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
