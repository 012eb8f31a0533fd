"""The search for a remedy, in slices between which the window lives."""

from collections.abc import Iterator
from dataclasses import dataclass
from time import perf_counter

from PySide6.QtCore import QObject, QTimer, Signal

from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.remedies.remedy import remedies
from core.rig.rules import inspection

#: The search goes on for so long at a time, milliseconds; one step of it may take a little longer.
SLICE_MS = 10


@dataclass(frozen=True, slots=True)
class Tried:
    """What was sought and found: each edit with the design it leads to."""

    now: Analysis
    finding: Finding
    choices: tuple[tuple[Edit, Analysis], ...]


class Seeking(QObject):
    """One search at a time; a new one takes the place of the one before."""

    found = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps: Iterator[None] | None = None
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._go_on)

    @property
    def busy(self) -> bool:
        """Whether a search goes on."""
        return self._steps is not None

    def begin(self, analysis: Analysis, finding: Finding) -> None:
        """Look for what mends a finding; `found` is sent with a `Tried`."""
        self._steps = self._search(analysis, finding)
        self._timer.start()

    def _search(self, analysis: Analysis, finding: Finding) -> Iterator[None]:
        edits = yield from remedies(Analysis(analysis.project), finding)
        choices = tuple((edit, Analysis(edit.on(analysis.project))) for edit in edits)
        # Looked through here, what the edits do is told at once.
        for _, then in choices:
            yield from inspection(then)
        self._steps = None
        self.found.emit(Tried(analysis, finding, choices))

    def _go_on(self) -> None:
        steps, end = self._steps, perf_counter() + SLICE_MS / 1000
        if steps is None:
            return
        try:
            next(steps)
            while perf_counter() < end:
                next(steps)
        except StopIteration:
            return
        except Exception:
            self._steps = None
            raise
        self._timer.start()
