"""Fields for words: a line, several lines, and a row of numbers."""

from collections.abc import Callable
from contextlib import suppress

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from app.style.marking import show_reason
from app.style.numbers import Style, number_text, read_number
from core.model.values.errors import DesignError
from core.model.values.notation import parse
from core.model.values.quantities import Unit


class TextField(QLineEdit):
    """A line of text; gives itself to the design on Enter or when the focus leaves."""

    marked = Signal(str)

    def __init__(self, apply: Callable[[str], str | None], help: str = "", parent: QWidget | None = None):
        super().__init__(parent)
        self._apply = apply
        self._help = help
        self._reason = ""
        self._value = ""
        self.setToolTip(help)
        self.returnPressed.connect(self.commit)

    def set_value(self, value: str) -> None:
        """Show the design's text, unless something is being typed."""
        self._value = value
        if self.hasFocus() and self.isModified() and not self._reason:
            return
        self._restore()

    def _restore(self) -> None:
        self._mark("")
        if self.text() != self._value:
            self.setText(self._value)
            self.setCursorPosition(0)
        self.setModified(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and (self.isModified() or self._reason):
            self._restore()
            event.accept()
        else:
            super().keyPressEvent(event)

    def commit(self) -> None:
        """Give the text to the design; what it refuses is marked."""
        if self.isModified():
            reason = self._apply(self.text())
            self._mark(reason or "")
            self.setModified(bool(reason))

    def _mark(self, reason: str) -> None:
        if reason != self._reason:
            self._reason = reason
            show_reason(self, reason, self._help)
            self.marked.emit(reason)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.commit()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and not self.isModified() and _is_history(event):
            event.ignore()
            return False
        return super().event(event)


class ValuesField(TextField):
    """Numbers of one unit with semicolons between them; a comma is a decimal comma.

    Bare numbers are read in the unit of the example that an empty field shows.
    """

    def __init__(
        self,
        apply: Callable[[tuple[float, ...]], str | None],
        unit: Unit,
        help: str = "",
        example: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(self._read, help, parent)
        self._give = apply
        self._unit = unit
        self._near: float | None = None
        with suppress(DesignError):
            self._near = parse(example.split(";")[0], unit.written)
        self.setPlaceholderText(example)

    def set_values(self, values: tuple[float, ...]) -> None:
        """Show the design's values."""
        self.set_value("; ".join(number_text(value, self._unit) for value in values))

    def _read(self, text: str) -> str | None:
        try:
            values = tuple(
                read_number(part, self._unit, Style(), self._near) for part in text.split(";") if part.strip()
            )
        except DesignError as error:
            return str(error)
        return self._give(values)


class NotesField(QPlainTextEdit):
    """Several lines of text; they go to the design when the focus leaves."""

    marked = Signal(str)

    def __init__(self, apply: Callable[[str], str | None], help: str = "", parent: QWidget | None = None):
        super().__init__(parent)
        self._apply = apply
        self._value = ""
        self.setToolTip(help)
        self.setTabChangesFocus(True)
        self.setFixedHeight(self.fontMetrics().lineSpacing() * 4 + 14)

    def set_value(self, value: str) -> None:
        """Show the design's text, unless something is being typed."""
        self._value = value
        if value != self.toPlainText() and not (self.hasFocus() and self.document().isModified()):
            self._restore()

    def _restore(self) -> None:
        self.setPlainText(self._value)
        self.document().setModified(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.document().isModified():
            self._restore()
            event.accept()
        else:
            super().keyPressEvent(event)

    def commit(self) -> None:
        """Give the text to the design."""
        if self.document().isModified():
            self.marked.emit(self._apply(self.toPlainText()) or "")
            self.document().setModified(False)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.commit()

    def event(self, event: QEvent) -> bool:
        untouched = not self.document().isModified()
        if event.type() == QEvent.Type.ShortcutOverride and untouched and _is_history(event):
            event.ignore()
            return False
        return super().event(event)


def _is_history(event: QEvent) -> bool:
    return isinstance(event, QKeyEvent) and (
        event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo)
    )
