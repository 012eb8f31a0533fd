"""Long work off the GUI thread: one slot a kind of job, the latest wins, errors come back as values."""

from collections.abc import Callable
from threading import Event
from time import monotonic
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal

from app.state.mishaps import LOG, sentence_of
from core.model.values.errors import CopperError
from core.record import record

#: Least time between two reports of progress, seconds.
REPORT_EVERY_S = 0.1


@record
class Failed:
    """A job that ended in an error; `reason` is one sentence."""

    reason: str


class Job:
    """What a running job may ask and tell. `cancelled` is polled between chunks of work."""

    def __init__(self, report: Callable[[float], None]) -> None:
        self._cancel = Event()
        self._report = report
        self._last = 0.0

    @property
    def cancelled(self) -> bool:
        """Whether nobody waits for the answer any more."""
        return self._cancel.is_set()

    def progress(self, fraction: float) -> None:
        """Tell how much is done, 0 to 1; cheap to call often."""
        now = monotonic()
        if now - self._last >= REPORT_EVERY_S and not self.cancelled:
            self._last = now
            self._report(fraction)

    def cancel(self) -> None:
        """Give up."""
        self._cancel.set()


class _Run(QRunnable):
    def __init__(self, work: Callable[[Job], Any], job: Job, answer: Callable[[Any], None]) -> None:
        super().__init__()
        self._work, self._job, self._answer = work, job, answer

    def run(self) -> None:
        try:
            result = None if self._job.cancelled else self._work(self._job)
        except Exception as error:  # The thread's border: whatever went wrong must reach the builder as text.
            if not isinstance(error, CopperError):
                LOG.exception("A job failed")
            result = Failed(sentence_of(error, "This work broke off"))
        self._answer(result)


class Tasks(QObject):
    """Runs jobs in Qt's thread pool. The work must spend its time inside NumPy, where Python's lock is free.

    A job gets frozen input only. A new job of the same kind cancels the one before, whose answer is
    dropped. Answers and progress arrive on the GUI thread.
    """

    _answered = Signal(str, object, object)
    _progressed = Signal(str, object, float)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._running: dict[str, tuple[Job, Callable[[Any], None], Callable[[float], None] | None]] = {}
        self._answered.connect(self._finish)
        self._progressed.connect(self._tell)

    def start(
        self,
        kind: str,
        work: Callable[[Job], Any],
        done: Callable[[Any], None],
        progress: Callable[[float], None] | None = None,
    ) -> None:
        """Run `work(job)` off the GUI thread and give its result, or `Failed`, to `done`."""
        self.cancel(kind)
        job = Job(lambda fraction: self._progressed.emit(kind, job, fraction))
        self._running[kind] = (job, done, progress)
        self._pool.start(_Run(work, job, lambda result: self._answered.emit(kind, job, result)))

    def cancel(self, kind: str) -> None:
        """Drop the job of this kind, if one runs."""
        running = self._running.pop(kind, None)
        if running:
            running[0].cancel()

    def running(self, kind: str) -> bool:
        """Whether an answer of this kind is awaited."""
        return kind in self._running

    def close(self) -> None:
        """Cancel everything and wait for the threads."""
        for kind in tuple(self._running):
            self.cancel(kind)
        self._pool.waitForDone()

    def _finish(self, kind: str, job: Job, result: Any) -> None:
        running = self._running.get(kind)
        if running and running[0] is job:
            del self._running[kind]
            running[1](result)

    def _tell(self, kind: str, job: Job, fraction: float) -> None:
        running = self._running.get(kind)
        if running and running[0] is job and running[2]:
            running[2](fraction)
