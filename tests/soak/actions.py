"""What a builder may do in the window, by chance: click, type and press keys on every page.

A session is a window of its own with a seed of its own; `--seed N --count M` does the first M actions of
session N again. Dialogs are closed as Escape does, menus give one of their entries.
"""

import gc
import logging
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

from tests.soak.outcome import Outcome

DONE, SLOW, LEFT = "done", "done, over 0.2 s", "a closed window leaves widgets behind"
FINE = frozenset({DONE, SLOW})
#: Actions in one window.
SESSION = 400
#: One action in so many is undone and done again for comparison.
_UNDO_EVERY = 12

_TYPED = (
    "14.1 MHz", "14,1M", "14100k", "4k7", "2n2", "0", "-1", "1", "2", "5", "7", "50", "100", "470", "0.5",
    "20", "9 MHz", "10.7M", "19.6608 MHz", "30k", "200 MHz", "1e", "1e300", "1e-300", "nan", "inf", "", " ",
    "abc", "9" * 400, "3 dB", "40", "12 V", "2,4k", "1 u", "<b>x</b>", "20&12", "-6", "3.3n", "120p", "80m",
)  # fmt: skip
_LINES = (
    "label;peak (MHz);bandwidth (Hz);loss (dB)",
    "a;19,66;400;0,5",
    "b;19,6601;420;0,6",
    "c;0;0;0",
    "x,y,z",
    "label,file",
    "",
)
#: Keys of the window and of the signal path.
_KEYS = (
    "Ctrl+Z", "Ctrl+Shift+Z", "Ctrl+H", "Ctrl+B", "Ctrl+T", "Ctrl+R", "Ctrl+I", "Ctrl+L", "F6", "Tab",
    "Shift+Tab", "Escape", "Return", "Space", "Left", "Right", "Up", "Down", "Home", "End", "Insert",
    "Ctrl+D", "Del", "Ctrl+Left", "Ctrl+Right", "PgUp", "PgDown", "Alt+1", "Alt+2", "Alt+3", "Alt+4",
    "Alt+5", "Alt+6", "Alt+7",
)  # fmt: skip


def cases(count: int, seed: int) -> Iterator[Outcome]:
    """Sessions `seed`, `seed` + 1 and so on, until `count` actions are done."""
    tally = _Tally()
    done = 0
    try:
        while done < count:
            many = min(SESSION, count - done)
            yield from session(seed, many, tally)
            done += many
            seed += 1
    finally:
        print(tally)


class _Tally:
    """How long actions took and what was left of their windows."""

    def __init__(self) -> None:
        self.took: list[float] = []
        self.slowest: list[tuple[float, str]] = []
        self.undone = 0
        self.rss: list[float] = []
        self.widgets: list[int] = []

    def note(self, took: float, what: str) -> None:
        self.took.append(took)
        self.slowest = sorted([*self.slowest, (took, what)], reverse=True)[:8]

    def __str__(self) -> str:
        took = sorted(self.took)
        lines = [
            f"median {1e3 * took[len(took) // 2]:.0f} ms, {sum(t > 0.2 for t in took)} over 200 ms; "
            f"{self.undone} undone and done again",
            f"widgets left after each session: {self.widgets}",
            f"resident memory after each session, MB: {[round(each) for each in self.rss]}",
            *(f"slowest: {1e3 * t:.0f} ms {what}" for t, what in self.slowest),
        ]
        return "\n".join(lines)


def session(seed: int, count: int, tally: _Tally | None = None) -> Iterator[Outcome]:
    """The first `count` actions of one window; one outcome more when it leaves widgets behind."""
    from PySide6.QtCore import QCoreApplication, QEvent, QStandardPaths
    from PySide6.QtWidgets import QApplication

    from app.state.settings import Settings
    from app.state.workbench import Workbench
    from app.window.main_window import MainWindow
    from app.window.start import application
    from core.model.files import load
    from core.model.samples import sample_path

    QStandardPaths.setTestModeEnabled(True)
    application()
    tally = tally or _Tally()
    chance = Random(seed)
    with tempfile.TemporaryDirectory() as folder, _Watch() as watch, _no_questions():
        widgets = len(QApplication.allWidgets())
        bench = Workbench(load(sample_path(chance.choice(("tern-20-12", "muddle-40-20")))))
        window = MainWindow(bench, Settings(Path(folder) / "settings.ini"))
        window.resize(1280, 720)
        window.show()
        QApplication.processEvents()
        for number in range(1, count + 1):
            before, start = bench.current, time.perf_counter()
            what = _act(window, chance)
            QApplication.processEvents()
            took = time.perf_counter() - start
            tally.note(took, what)
            wrong = watch.taken()
            if not wrong and bench.current is not before and chance.random() < 1 / _UNDO_EVERY:
                tally.undone += 1
                wrong = _undone(bench, before)
            again = f"python -m tests.soak actions --seed {seed} --count {number}  ({what})"
            yield Outcome(wrong or (SLOW if took > 0.2 else DONE), again)
        bench.start(bench.current)
        window.close()
        window.deleteLater()
        for _ in range(3):
            QApplication.processEvents()
            QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        del window
        gc.collect()
        tally.widgets.append(len(QApplication.allWidgets()))
        tally.rss.append(_resident_mb())
        if tally.widgets[-1] > widgets:
            yield Outcome(LEFT, f"python -m tests.soak actions --seed {seed} --count {count}")


def _undone(bench: Any, before: Any) -> str:
    """What is wrong with one undo and one redo; empty when they lead back and forth."""
    if bench.history.undo_label is None:
        return ""  # Another design was put on the bench; its history begins there.
    bench.settling.emit()  # What waits for a pause in typing would be an edit between undo and redo.
    after = bench.current
    bench.undo()
    back = bench.current
    bench.redo()
    # Several edits of one gesture are one step, so undo may go back further than one action.
    if bench.current != after:
        return "redo leads elsewhere"
    return "" if back != after else "undo changes nothing"


def _act(window: Any, chance: Random) -> str:
    """One action; returns what it was."""
    from PySide6.QtCore import QPoint, Qt
    from PySide6.QtGui import QKeySequence
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import (
        QAbstractButton,
        QAbstractItemView,
        QApplication,
        QComboBox,
        QGraphicsView,
        QLineEdit,
        QMenu,
        QPlainTextEdit,
        QSlider,
        QWidget,
    )  # fmt: skip

    kind = chance.choices(
        (
            "key",
            "page",
            "select",
            "line",
            "text",
            "choose",
            "press",
            "cell",
            "slide",
            "plot",
            "menu",
            "size",
        ),
        (8, 4, 5, 10, 2, 5, 8, 3, 3, 2, 3, 1),
    )[0]

    def one(of: type, *, top: QWidget = window) -> Any:
        found = [w for w in top.findChildren(of) if w.isVisible() and w.isEnabled()]
        return chance.choice(found) if found else None

    def keys(widget: QWidget, sequence: str) -> None:
        combination = QKeySequence(sequence)[0]
        QTest.keyClick(widget, combination.key(), combination.keyboardModifiers())

    def place_in(widget: QWidget) -> QPoint:
        return QPoint(chance.randrange(max(1, widget.width())), chance.randrange(max(1, widget.height())))

    if kind == "key":
        sequence = chance.choice(_KEYS)
        keys(QApplication.focusWidget() or window, sequence)
        return f"key {sequence}"
    if kind == "page":
        tabs = window.pages.tabs
        index = chance.randrange(tabs.count())
        QTest.mouseClick(tabs, Qt.MouseButton.LeftButton, pos=tabs.tabRect(index).center())
        return f"page {tabs.tabText(index)}"
    if kind == "select":
        strip = window.signal_path.strip
        QTest.mouseClick(strip.viewport(), Qt.MouseButton.LeftButton, pos=place_in(strip.viewport()))
        sequence = chance.choice(
            ("Left", "Right", "Down", "Up", "Space", "Insert", "Ctrl+D", "Del", "Return")
        )
        keys(strip, sequence)
        return f"signal path, {sequence}"
    if kind == "line":
        field = one(QLineEdit)
        if field is None:
            return "no field"
        field.setFocus()
        field.selectAll()
        text = chance.choice(_TYPED)
        QTest.keyClicks(field, text)
        sequence = chance.choice(("Return", "Tab", "Escape", "Up", "PgDown", ""))
        if sequence:
            keys(field, sequence)
        return f"{field.accessibleName()}: {text[:20]!r} {sequence}"
    if kind == "text":
        text = one(QPlainTextEdit)
        if text is None:
            return "no text"
        text.setFocus()
        if chance.random() < 0.5:
            text.selectAll()
        line = chance.choice(_LINES)
        QTest.keyClicks(text, line)
        QTest.keyClick(text, Qt.Key.Key_Return)
        return f"{text.accessibleName()}: {line!r}"
    if kind == "choose":
        box = one(QComboBox)
        if box is None:
            return "no choice"
        box.setFocus()
        sequence = chance.choice(("Up", "Down", "Home", "End"))
        keys(box, sequence)
        # A key alone only shows another entry; a click or Enter takes it.
        box.activated.emit(box.currentIndex())
        return f"{box.accessibleName()}, {sequence}"
    if kind == "press":
        button = one(QAbstractButton)
        if button is None:
            return "no button"
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
        return f"button {button.accessibleName() or button.text()!r}"
    if kind == "cell":
        view = one(QAbstractItemView)
        if view is None or view.model() is None or not view.model().rowCount():
            return "no table"
        index = view.model().index(chance.randrange(view.model().rowCount()), 0)
        index = index.siblingAtColumn(3) if index.siblingAtColumn(3).isValid() else index
        view.scrollTo(index, QAbstractItemView.ScrollHint.EnsureVisible)
        act = chance.choice((QTest.mouseClick, QTest.mouseDClick))
        act(view.viewport(), Qt.MouseButton.LeftButton, pos=view.visualRect(index).center())
        editor = QApplication.focusWidget()
        if isinstance(editor, QLineEdit) and view.isAncestorOf(editor):
            text = chance.choice(_TYPED)
            editor.selectAll()
            QTest.keyClicks(editor, text)
            keys(editor, chance.choice(("Return", "Escape", "Tab")))
            return f"cell {index.row()}: {text[:20]!r}"
        return f"{type(view).__name__} row {index.row()}"
    if kind == "slide":
        slider = one(QSlider) or window.frequency_bar.dial_slider
        start, end = place_in(slider), place_in(slider)
        QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=start)
        for step in range(1, 6):
            QTest.mouseMove(slider, start + (end - start) * step / 5)
            QApplication.processEvents()
        QTest.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=end)
        return f"slider {slider.accessibleName()}"
    if kind == "plot":
        view = one(QGraphicsView)
        if view is None:
            return "no plot"
        QTest.mouseMove(view.viewport(), place_in(view.viewport()))
        act = chance.choice((QTest.mouseClick, QTest.mouseDClick))
        act(view.viewport(), Qt.MouseButton.LeftButton, pos=place_in(view.viewport()))
        return f"plot {type(view).__name__}"
    if kind == "menu":
        # Not by QAction.menu(): its wrapper takes the menu from the window that made it.
        menus = {menu.menuAction(): menu for menu in window.menuBar().findChildren(QMenu)}
        menu = menus[chance.choice(window.menuBar().actions())]
        menu.aboutToShow.emit()
        entries = [each for each in _entries(menu, menus) if each.isEnabled() and each.text() != "Quit"]
        entry = chance.choice(entries)
        entry.trigger()
        return f"menu {entry.text()}"
    window.resize(chance.randrange(720, 1600), chance.randrange(440, 1000))
    return "another size"


def _entries(menu: Any, menus: dict[Any, Any]) -> list[Any]:
    found = []
    for action in menu.actions():
        inner = menus.get(action)
        if inner is not None:
            inner.aboutToShow.emit()
            found += _entries(inner, menus)
        elif not action.isSeparator():
            found.append(action)
    return found


class _Watch:
    """Collects what was raised, also what the program caught and logged by itself."""

    def __init__(self) -> None:
        self._seen: list[str] = []
        self._handler = logging.Handler(logging.ERROR)
        self._handler.emit = self._logged  # type: ignore[method-assign]

    def __enter__(self) -> "_Watch":
        self._former = sys.excepthook
        sys.excepthook = lambda kind, error, trace: self._seen.append(_place(kind, trace))
        logging.getLogger("copperclad").addHandler(self._handler)
        return self

    def __exit__(self, *_: object) -> None:
        sys.excepthook = self._former
        logging.getLogger("copperclad").removeHandler(self._handler)

    def _logged(self, record: logging.LogRecord) -> None:
        if record.exc_info and record.exc_info[0] is not None:
            self._seen.append(_place(record.exc_info[0], record.exc_info[2]))
        else:
            self._seen.append(record.getMessage())

    def taken(self) -> str:
        """What was raised since this was last asked; empty for nothing."""
        seen, self._seen = self._seen, []
        return seen[0] if seen else ""


def _place(kind: type[BaseException], trace: Any) -> str:
    frames = traceback.extract_tb(trace)
    own = [f for f in frames if "/core/" in f.filename.replace("\\", "/") or "/app/" in f.filename] or frames
    return f"{kind.__name__} at {Path(own[-1].filename).name}:{own[-1].lineno}" if own else kind.__name__


class _no_questions:  # noqa: N801
    """Dialogs end as by Escape."""

    def __init__(self) -> None:
        self._former: list[tuple[Any, str, Any]] = []

    def __enter__(self) -> None:
        from PySide6.QtPrintSupport import QPrintDialog, QPrintPreviewDialog
        from PySide6.QtWidgets import QDialog, QFileDialog, QMessageBox

        nothing: Callable[..., Any] = lambda *_: 0  # noqa: E731
        for owner in (QDialog, QMessageBox, QPrintDialog, QPrintPreviewDialog):
            self._put(owner, "exec", nothing)
        for name in ("getOpenFileName", "getSaveFileName"):
            self._put(QFileDialog, name, staticmethod(lambda *_: ("", "")))
        self._put(QFileDialog, "getExistingDirectory", staticmethod(lambda *_: ""))

    def _put(self, owner: Any, name: str, value: Any) -> None:
        self._former.append((owner, name, getattr(owner, name)))
        setattr(owner, name, value)

    def __exit__(self, *_: object) -> None:
        for owner, name, value in reversed(self._former):
            setattr(owner, name, value)


def _resident_mb() -> float:
    try:
        pages = int(Path("/proc/self/statm").read_text().split()[1])
    except (OSError, IndexError):
        return float("nan")  # Only Linux tells it here.
    return pages * 4096 / 1e6
