"""The field every number is typed into."""

import re
from collections.abc import Callable, Hashable
from decimal import Decimal
from html import escape
from itertools import count

from annotated_types import Ge, Gt, Le, Lt
from pydantic.fields import FieldInfo
from PySide6.QtCore import QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QWheelEvent
from PySide6.QtWidgets import QLineEdit, QToolTip, QWidget

from app.style.marking import show_reason
from app.style.numbers import (
    FREELY,
    NO_LIMITS,
    NO_UNIT,
    NUMBER,
    THIN,
    Span,
    Style,
    grouped,
    number_text,
    read_number,
    unit_shown,
)
from core.model.values.errors import DesignError
from core.model.values.notation import is_bare, parse
from core.model.values.quantities import Unit, unit_of, usual_of

#: Gives a value to the design; returns None, or the reason why the design stays as it was.
Apply = Callable[[float | None, Hashable | None], str | None]

#: A longer hint would be cut off in the field; the tooltip has the whole sentence.
_HINT_LENGTH = 16
_gestures = count()
#: What a bare number in an empty field is near to, where nothing usual is declared.
_NEAR = {"Hz": 10e6, "F": 100e-12, "H": 2e-6, "Ω": 100.0, "W": 1.0, "V": 10.0, "m": 1.0, "s": 1.0, "A": 0.01}
_QUANTITY = re.compile(r"(\d[\d.,]*) (?:to [\d.,]+ )?([pnµmkMG]?)(Hz|F|H|Ω|W|V|A|m|s)\b")


class NumberField(QLineEdit):
    """A number with its unit; the last valid value stays until a new one is valid.

    Takes what a builder writes (`14.1 MHz`, `4k7`, a decimal comma). A bare number is read in the unit
    shown, or as `notation.parse_near` says; what is read otherwise is told while it is typed. Up and Down
    step the digit at the cursor, the wheel too, but only with the focus. While something is being typed,
    nothing from outside changes the text. Escape brings the valid text back.
    """

    #: The text was found wrong (one sentence), or right again (empty).
    marked = Signal(str)
    #: How a bare number being typed is understood, where that is not the unit shown; else empty.
    told = Signal(str)
    #: A step was refused (one sentence); the text is as it was.
    refused = Signal(str)

    def __init__(
        self,
        apply: Apply,
        unit: Unit = NO_UNIT,
        *,
        style: Style = FREELY,
        optional: bool = False,
        nearest: float | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """`nearest` is what an empty field's bare numbers are read near to."""
        super().__init__(parent)
        self._apply = apply
        self._unit = unit
        self._style = style
        self._optional = optional
        self._value: float | None = None
        self._nearest = nearest
        self._reason = ""
        self._help = ""
        self._name = "This field"
        self._limits: Span = NO_LIMITS
        self._gesture: Hashable = next(_gestures)
        self.setClearButtonEnabled(False)
        self.textEdited.connect(self._typing)
        self.returnPressed.connect(self.commit)

    @classmethod
    def for_field(
        cls, field: FieldInfo, apply: Apply, *, style: Style = FREELY, parent: QWidget | None = None
    ) -> "NumberField":
        """A number field with unit, limits and tooltip from the model's declaration."""
        optional = type(None) in getattr(field.annotation, "__args__", ())
        made = cls(apply, unit_of(field) or NO_UNIT, style=style, optional=optional, parent=parent)
        made.declare(field)
        return made

    def declare(self, field: FieldInfo) -> None:
        """Take name, tooltip, placeholder and limits from a declaration."""
        self._name = field.title or "This field"
        self._help = tooltip_of(field)
        self._limits = _limits_of(field)
        self._nearest = usual_value(field) if self._nearest is None else self._nearest
        self.setToolTip(self._help)
        self.setAccessibleName(self._name)
        self.setAccessibleDescription(field.description or "")
        if self._optional:
            self.setPlaceholderText(when_empty(field))

    @property
    def value(self) -> float | None:
        """The last valid value."""
        return self._value

    @property
    def reason(self) -> str:
        """Why the text is wrong; empty when it is right."""
        return self._reason

    def set_value(self, value: float | None) -> None:
        """Show the design's value, unless something is being typed or it is shown already."""
        if value == self._value:
            return
        self._value = value
        if self.hasFocus() and self.isModified():
            return
        self._mark("")
        self._write()

    def replace(self, value: float | None) -> None:
        """Show a value in place of whatever was typed."""
        self._value = value
        self.setModified(False)
        self._mark("")
        self._write()

    def commit(self) -> bool:
        """Read the text and give it to the design. False when it is wrong; it is marked then."""
        if not self.isModified():
            return not self._reason
        try:
            value = self._parsed(self.text())
        except DesignError as error:
            self._mark(str(error))
            return False
        return self._give(value, None)

    def _give(self, value: float | None, gesture: Hashable | None) -> bool:
        before, self._value = self._value, value
        reason = self._apply(value, gesture) if value != before else None
        if reason:
            self._value = before
            reading = self._reading(value)
            self._mark(f"{reason} {reading}." if reading else reason)
            return False
        self._mark("")
        self.setModified(False)
        if gesture is None:
            self._gesture = next(_gestures)
            self._write()
        return True

    def _parsed(self, text: str) -> float | None:
        text = text.strip()
        if not text:
            if self._optional:
                return None
            raise DesignError(f"{self._name} cannot be empty; type a value such as {self._shown()}.")
        value = read_number(text, self._unit, self._style, self._near, self._limits)
        if self._style.whole and value != int(value):
            raise DesignError(f"{self._name} is a whole number; {text} is not.")
        return value

    @property
    def _near(self) -> float | None:
        """The value whose unit a bare number is read in: the one in the field, or what is usual."""
        return self._value or self._nearest or (_NEAR.get(self._unit.symbol) if self._unit.scaled else None)

    def _reading(self, value: float | None) -> str:
        """How a bare number was understood, where that is not the unit the field shows; else empty."""
        text, near = self.text().strip(), self._near
        if not value or not near or not is_bare(text):
            return ""
        shown = unit_shown(near, self._unit, self._style)
        if not shown or parse(f"{text} {shown}", self._unit.written) == value:
            return ""
        return f"“{text}” is read as {number_text(value, self._unit)}"

    def _shown(self) -> str:
        return "" if self._value is None else number_text(self._value, self._unit, self._style)

    def _write(self) -> None:
        text = self._shown()
        if text != self.text():
            place = self.cursorPosition()
            self.setText(text)
            self.setCursorPosition(place if self.hasFocus() else 0)
        self.setModified(False)

    def _typing(self) -> None:
        if self._reason:
            self._mark("")
        try:
            reading = self._reading(self._parsed(self.text()))
        except DesignError:
            reading = ""
        # What is understood otherwise than the unit on show would say is told before it is taken.
        self.told.emit(reading)
        if reading:
            QToolTip.showText(self.mapToGlobal(QPoint(0, self.height())), reading, self)
        elif QToolTip.isVisible():
            QToolTip.hideText()

    def _mark(self, reason: str) -> None:
        if reason == self._reason:
            return
        self._reason = reason
        show_reason(self, reason, self._help)
        self.marked.emit(reason)

    # Stepping digits

    def step(self, steps: int) -> None:
        """Step the digit at the cursor (the one behind it, or the last one) and carry."""
        if self.isReadOnly() or (self.isModified() and not self.commit()):
            return
        match = NUMBER.match(self.text())
        if not match:
            return
        sign, whole, point, decimals, rest = (group or "" for group in match.groups())
        digits = sign + whole + point + decimals
        place = min(self.cursorPosition(), len(digits.rstrip()) - 1)
        while place < len(digits) - 1 and not digits[place].isdigit():
            place += 1
        right = len(digits) - place
        head = len(sign + whole)
        if place < head:
            exponent = sum(c.isdigit() for c in digits[place + 1 : head])
        else:
            exponent = -sum(c.isdigit() for c in digits[head : place + 1])
        number = Decimal(
            (sign.strip().replace("−", "-") + whole + "." + decimals).replace(" ", "").replace(THIN, "")
            or "0"
        )
        number += steps * Decimal(1).scaleb(exponent)
        places = sum(c.isdigit() for c in decimals)
        text = grouped(f"{number:.{places}f}".replace("-", "−"))
        try:
            value = parse(text + rest, self._unit.written)
        except DesignError as error:
            self._mark(str(error))
            return
        before = self.text()
        self.setText(text + rest)
        self.setCursorPosition(max(len(text) - right, 0))
        if not self._give(value, ("step", self._gesture)):
            reason, place = self._reason, self.cursorPosition()
            self.setText(before)
            self.setCursorPosition(place)
            # The step was refused; what stands in the field is right.
            self._mark("")
            self.refused.emit(reason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Up: 1,
            Qt.Key.Key_Down: -1,
            Qt.Key.Key_PageUp: 10,
            Qt.Key.Key_PageDown: -10,
        }.get(Qt.Key(event.key()))
        if steps is not None:
            self.step(steps)
            event.accept()
        elif event.key() == Qt.Key.Key_Escape and (self.isModified() or self._reason):
            self._mark("")
            self._write()
            event.accept()
        else:
            super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            self.step(1 if event.angleDelta().y() > 0 else -1)
            event.accept()
        else:
            event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self._gesture = next(_gestures)
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() == Qt.FocusReason.PopupFocusReason:
            return
        if self.commit():
            self._write()

    def event(self, event: QEvent) -> bool:
        # With nothing half typed, undo and redo mean the design's, not the text's.
        if event.type() == QEvent.Type.ShortcutOverride and not self.isModified():
            assert isinstance(event, QKeyEvent)
            if event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo):
                event.ignore()
                return False
        return super().event(event)


def tooltip_of(field: FieldInfo) -> str:
    """What the field is, its unit, and what is usual, as rich text."""
    unit = unit_of(field)
    lines = [f"<b>{escape(field.title or '')}</b>", escape(field.description or "")]
    if unit is not None:
        plain = "A share, in per cent" if unit.per_cent else "A plain number"
        lines.append(f"Unit: {escape(unit.symbol)}" if unit.symbol != "-" else plain)
    if usual_of(field):
        lines.append(f"Usually {escape(usual_of(field))}")
    return "".join(f"<p>{line}</p>" for line in lines if line)


def usual_value(field: FieldInfo) -> float | None:
    """A value that is usual for a field, of its own unit; None when nothing of the kind is declared."""
    unit = unit_of(field)
    for number, prefix, symbol in _QUANTITY.findall(usual_of(field)):
        if unit is not None and symbol == unit.symbol:
            return parse(f"{number} {prefix}{symbol}", symbol)
    return None


def when_empty(field: FieldInfo) -> str:
    """What an empty field stands for: the words behind `empty:` in its description, else `computed`."""
    _, found, words = (field.description or "").partition("empty: ")
    words = words.rstrip(".")
    return words if found and len(words) <= _HINT_LENGTH else "computed"


def _limits_of(field: FieldInfo) -> tuple[float, float]:
    low, high = float("-inf"), float("inf")
    items = list(field.metadata)
    for option in getattr(field.annotation, "__args__", ()):
        items.extend(getattr(option, "__metadata__", ()))
    for item in items:
        if isinstance(item, (Ge, Gt)):
            low = max(low, float(item.ge if isinstance(item, Ge) else item.gt))  # type: ignore[arg-type]
        elif isinstance(item, (Le, Lt)):
            high = min(high, float(item.le if isinstance(item, Le) else item.lt))  # type: ignore[arg-type]
    return low, high
