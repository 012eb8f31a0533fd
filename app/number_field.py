"""The field every number is typed into."""

import re
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from itertools import count
from math import log10

from annotated_types import Ge, Gt, Le, Lt
from pydantic.fields import FieldInfo
from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QWheelEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from app.marking import show_reason
from core.model.errors import DesignError
from core.model.notation import parse
from core.model.quantities import Unit, unit_of, usual_of

#: Gives a value to the design; returns None, or the reason why the design stays as it was.
Apply = Callable[[float | None, Hashable | None], str | None]

NO_UNIT = Unit("-")
_PREFIXES = {9: "G", 6: "M", 3: "k", 0: "", -3: "m", -6: "µ", -9: "n", -12: "p", -15: "f"}
#: Between groups of digits.
THIN = "\u202f"
_DIGITS = rf"\d(?:[\d {THIN}]*\d)?"
_NUMBER = re.compile(rf"^(\s*[+\-−]?)({_DIGITS})(?:([.,])({_DIGITS})?)?(.*)$")
_BARE = re.compile(rf"^\s*[+\-−]?[\d {THIN}]*[.,]?[\d {THIN}]*\s*$")
#: A longer hint would be cut off in the field; the tooltip has the whole sentence.
_HINT_LENGTH = 16
_gestures = count()


@dataclass(frozen=True, slots=True)
class Style:
    """How a field writes its number.

    `places` fixes the decimals and `exponent` the prefix (6 for MHz), so that every digit is there to be
    stepped; by default the prefix follows the value and idle zeros are left out.
    """

    places: int | None = None
    exponent: int | None = None
    whole: bool = False


def number_text(value: float, unit: Unit, style: Style = Style()) -> str:
    """Write `value` so that parsing the text gives it back (to ten digits, or to the style's places)."""
    exponent = style.exponent
    if exponent is None:
        exponent = 0
        if unit.scaled and value:
            # Nobody writes millihertz, and the notation reads a small m before Hz as mega.
            least = 0 if unit.symbol == "Hz" else -15
            exponent = min(max(3 * int(log10(abs(value) * (1 + 1e-12)) // 3), least), 9)
    number = Decimal(repr(float(value))).scaleb(-exponent)
    if style.places is not None:
        text = f"{number:.{style.places}f}"
    else:
        text = f"{Decimal(f'{number:.9e}'):f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return _grouped(text.replace("-", "−")) + _suffix(unit, exponent)


def _suffix(unit: Unit, exponent: int) -> str:
    symbol = "" if unit.symbol == "-" else unit.symbol
    prefixed = _PREFIXES[exponent] + symbol
    return f" {prefixed}" if prefixed else ""


def _grouped(text: str) -> str:
    """Decimals in groups of three, and thousands from five digits on."""
    whole, point, decimals = text.partition(".")
    sign = whole[:1] if whole[:1] == "−" else ""
    digits = whole.removeprefix("−")
    if len(digits) > 4:
        head = len(digits) % 3
        groups = [digits[:head]] if head else []
        digits = THIN.join(groups + [digits[i : i + 3] for i in range(head, len(digits), 3)])
    decimals = THIN.join(decimals[i : i + 3] for i in range(0, len(decimals), 3))
    return sign + digits + point + decimals


class NumberField(QLineEdit):
    """A number with its unit; the last valid value stays until a new one is valid.

    Takes what a builder writes (`14.1 MHz`, `4k7`, a decimal comma). A bare number is read in the unit
    shown, or in the plain unit when that is nearer to the present value. Up and Down step the digit at
    the cursor, the wheel too, but only with the focus. While something is being typed, nothing from
    outside changes the text. Escape brings the valid text back.
    """

    #: The text was found wrong (one sentence), or right again (empty).
    marked = Signal(str)

    def __init__(
        self,
        apply: Apply,
        unit: Unit = NO_UNIT,
        *,
        style: Style = Style(),
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
        self._limits: tuple[float, float] = (float("-inf"), float("inf"))
        self._gesture: Hashable = next(_gestures)
        self.setClearButtonEnabled(False)
        self.textEdited.connect(self._typing)
        self.returnPressed.connect(self.commit)

    @classmethod
    def for_field(
        cls, field: FieldInfo, apply: Apply, *, style: Style = Style(), parent: QWidget | None = None
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

    def set_hint(self, text: str) -> None:
        """Say in the empty field what stands in for the missing value."""
        if text != self.placeholderText():
            self.setPlaceholderText(text)

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
            self._mark(reason)
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
        symbol = "" if self._unit.symbol == "-" else self._unit.symbol
        value = parse(text, symbol)
        near = self._value or self._nearest
        if self._unit.scaled and near and _BARE.match(text):
            shown = _NUMBER.match(number_text(near, self._unit, self._style))
            as_shown = parse(text + shown.group(5), symbol) if shown else value
            if self._is_nearer(as_shown, value, near):
                value = as_shown
        if self._style.whole and value != int(value):
            raise DesignError(f"{self._name} is a whole number; {text} is not.")
        return value

    def _is_nearer(self, one: float, other: float, near: float) -> bool:
        low, high = self._limits
        if not low <= one <= high or not one or not other:
            return not one
        return abs(log10(abs(one / near))) <= abs(log10(abs(other / near)))

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
        match = _NUMBER.match(self.text())
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
        text = _grouped(f"{number:.{places}f}".replace("-", "−"))
        try:
            value = parse(text + rest, "" if self._unit.symbol == "-" else self._unit.symbol)
        except DesignError as error:
            self._mark(str(error))
            return
        before = self.text()
        self.setText(text + rest)
        self.setCursorPosition(max(len(text) - right, 0))
        if not self._give(value, ("step", self._gesture)):
            place = self.cursorPosition()
            self.setText(before)
            self.setCursorPosition(place)

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
        lines.append(f"Unit: {escape(unit.symbol)}" if unit.symbol != "-" else "A plain number")
    if usual_of(field):
        lines.append(f"Usually {escape(usual_of(field))}")
    return "".join(f"<p>{line}</p>" for line in lines if line)


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
