"""A search in slices between which the window lives."""

from time import perf_counter
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from core.stages.steps import Steps

#: The search goes on for so long at a time, milliseconds; one step of it may take a little longer.
SLICE_MS = 10


class Seeking(QObject):
    """One search at a time; a new one takes the place of the one before."""

    #: What the search returned.
    found = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps: Steps[Any] | None = None
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._go_on)

    @property
    def busy(self) -> bool:
        """Whether a search goes on."""
        return self._steps is not None

    def begin(self, steps: Steps[Any]) -> None:
        """Take these steps, a slice a turn of the event loop."""
        self._steps = steps
        self._timer.start()

    def _go_on(self) -> None:
        steps, end = self._steps, perf_counter() + SLICE_MS / 1000
        if steps is None:
            return
        try:
            next(steps)
            while perf_counter() < end:
                next(steps)
        except StopIteration as ended:
            self._steps = None
            self.found.emit(ended.value)
        except Exception:
            self._steps = None
            raise
        else:
            self._timer.start()
