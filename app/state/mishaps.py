"""What went wrong without anybody having foreseen it: into the log, one sentence to the builder."""

import logging
import sys
import threading
from collections.abc import Callable
from logging.handlers import RotatingFileHandler
from pathlib import Path
from time import monotonic
from types import TracebackType
from typing import Any

from PySide6.QtCore import (
    QMessageLogContext,
    QObject,
    QStandardPaths,
    Qt,
    QtMsgType,
    Signal,
    qInstallMessageHandler,
)

from core.model.values.errors import CopperError

LOG = logging.getLogger("copperclad")
#: The log and one earlier file of the same size are all that is kept, bytes.
LOG_BYTES = 256_000
#: The same fault again within so long is neither logged nor told again: painting may fail 60 times a second.
AGAIN_AFTER_S = 10.0

_LEVELS = {
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


def data_folder() -> Path:
    """Where this user's programs keep what they note for themselves."""
    place = QStandardPaths.StandardLocation
    return Path(QStandardPaths.writableLocation(place.AppLocalDataLocation))


def log_file() -> Path:
    """The log of this program."""
    return data_folder() / "copperclad.log"


def sentence_of(error: BaseException, what: str) -> str:
    """What to tell the builder of an error: a foreseen one speaks for itself, another is in the log.

    `what` begins the sentence and says what did not work.
    """
    if isinstance(error, CopperError):
        return str(error)
    why = f"an error of the program ({named(error)})"
    return f"{what} on {why}; the design is unharmed, {log_file()} tells more."


def named(error: BaseException) -> str:
    """Kind and text of an error, in one line."""
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text[:120]}" if text else type(error).__name__


class Mishaps(QObject):
    """Catches what nobody caught, on the GUI thread and on others, and what Qt itself complains of.

    The design is saved first (`rescue`), then the trace is logged, then one sentence is told.
    """

    #: A sentence for the status line; arrives on the GUI thread, never amid the painting that failed.
    told = Signal(str)

    def __init__(
        self, rescue: Callable[[], object], file: Path | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._rescue = rescue
        self._last: dict[tuple[object, ...], float] = {}
        self._former: tuple[Any, ...] = ()
        self._handler = _handler(file or log_file())
        LOG.addHandler(self._handler)
        LOG.propagate = False

    def install(self) -> None:
        """Catch from now on, until `remove`."""
        qt = qInstallMessageHandler(self._qt_says)
        self._former = (sys.excepthook, threading.excepthook, sys.unraisablehook, qt)
        sys.excepthook = self._uncaught
        threading.excepthook = lambda args: self._uncaught(args.exc_type, args.exc_value, args.exc_traceback)
        sys.unraisablehook = lambda args: self._uncaught(args.exc_type, args.exc_value, args.exc_traceback)

    def remove(self) -> None:
        """Leave everything as it was before `install`."""
        if self._former:
            sys.excepthook, threading.excepthook, sys.unraisablehook, qt = self._former
            qInstallMessageHandler(qt)
            self._former = ()
        LOG.removeHandler(self._handler)
        LOG.propagate = True
        self._handler.close()

    def tell(self, slot: Callable[[str], object]) -> None:
        """Give the sentences to `slot`."""
        self.told.connect(slot, Qt.ConnectionType.QueuedConnection)

    def _uncaught(
        self,
        kind: type[BaseException],
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error or kind(), trace)
            return
        try:
            self._rescue()
        except Exception as second:
            LOG.error("The design could not be rescued", exc_info=second)
        error = error or kind()
        if self._is_news(kind, _place(trace)):
            LOG.error("Uncaught", exc_info=(kind, error, trace))
            sentence = sentence_of(error, "Something broke off")
            self.told.emit(sentence)
            if sys.stderr is not None:
                print(f"copperclad: {sentence}", file=sys.stderr)

    def _qt_says(self, mode: QtMsgType, context: QMessageLogContext, text: str) -> None:
        level = _LEVELS.get(mode, logging.DEBUG)
        if mode == QtMsgType.QtFatalMsg:
            # Qt ends the process when this returns.
            self._rescue()
        if level > logging.DEBUG and self._is_news(mode, text):
            LOG.log(level, "Qt: %s", text)
        if sys.stderr is not None:
            print(text, file=sys.stderr)

    def _is_news(self, *what: object) -> bool:
        now = monotonic()
        news = now - self._last.get(what, -AGAIN_AFTER_S) >= AGAIN_AFTER_S
        if news:
            # Old ones go, so that endless different ones cannot pile up.
            self._last = {key: at for key, at in self._last.items() if now - at < AGAIN_AFTER_S}
            self._last[what] = now
        return news


def _handler(file: Path) -> logging.Handler:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = RotatingFileHandler(
            file, maxBytes=LOG_BYTES, backupCount=1, encoding="utf-8", errors="replace"
        )
    except OSError:
        # No place for a log: the terminal, if there is one, is told instead.
        handler = logging.NullHandler() if sys.stderr is None else logging.StreamHandler()
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(threadName)s %(message)s"))
    return handler


def _place(trace: TracebackType | None) -> object:
    """File and line in which an error arose."""
    if trace is None:
        return None
    while trace.tb_next is not None:
        trace = trace.tb_next
    return trace.tb_frame.f_code.co_filename, trace.tb_lineno
