"""The line at the foot of the window: what happened, how long it took, and where the design is kept."""

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QStatusBar

from app.state.workbench import Workbench
from app.style.plain import Text

#: How long a sentence stays, milliseconds.
_SENTENCE_MS = 8000
#: A refresh is painted within this time, milliseconds; only then is told how long both took.
_PAINTED_MS = 50


class StatusLine(QStatusBar):
    """A sentence for a while on the left, the design's file on the right."""

    def __init__(self) -> None:
        super().__init__()
        self.speed, self.file = Text(), Text()
        self._spent_s = 0.0
        self._painted = QTimer(self, singleShot=True, interval=_PAINTED_MS)
        self._painted.timeout.connect(self.tell_speed)
        self.addWidget(self.speed)
        self.addPermanentWidget(self.file)
        self.setSizeGripEnabled(False)

    def tell(self, sentence: str) -> None:
        """Show a sentence for a while."""
        self.showMessage(sentence, _SENTENCE_MS)

    def show_file(self, bench: Workbench) -> None:
        """Show where the design is kept, and whether all of it is."""
        name = bench.file.name if bench.file else "not in a file yet"
        state = "changed since it was saved" if bench.dirty else "saved"
        text = f"{name} · {state}" if bench.file else name
        if self.file.text() != text:
            self.file.setText(text)

    @property
    def counting(self) -> bool:
        """Whether what a refresh asked for is still being painted."""
        return self._painted.isActive()

    def refreshed(self, seconds: float) -> None:
        """A refresh took so long; what it asked for is painted next."""
        self._spent_s = seconds
        if not self.counting:
            self._painted.start()

    def painted(self, seconds: float) -> None:
        """Painting took so long besides."""
        self._spent_s += seconds

    def tell_speed(self) -> None:
        """Show how long the last refresh took with all its painting."""
        self.speed.setText(f"Recalculated and drawn in {1000 * self._spent_s:.0f} ms")
