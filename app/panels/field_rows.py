"""The rows of an editor: a field of a model with its label, for every kind of plain value."""

from abc import ABC, abstractmethod
from collections.abc import Hashable
from functools import lru_cache
from typing import Any, Protocol, get_args

from pydantic.fields import FieldInfo
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QGridLayout, QVBoxLayout, QWidget

from app.pictures.panels.form import FormPicture
from app.style import words
from app.style.numbers import Style
from app.style.plain import Text, on_button
from app.widgets.choice_box import ChoiceBox
from app.widgets.number_field import NumberField, tooltip_of
from app.widgets.text_field import NotesField, TextField, ValuesField
from core.model.bands import Band
from core.model.stages.tank import TuningPoint, points_of, points_text
from core.model.values.base import Path
from core.model.values.errors import DesignError
from core.model.values.quantities import Unit, usual_of
from core.trade.cores import Mix, cores

#: Texts longer than this get several lines.
_LONG_TEXT = 1000


class Host(Protocol):
    """The editor that a row stands in."""

    grid: QGridLayout

    @property
    def picture(self) -> FormPicture:
        """What the editor shows."""

    def edit(self, name: str, value: Any, gesture: Hashable | None = None) -> str | None:
        """Give a field's value to the design; returns why it was refused, or None."""

    def say_reason(self, field: QWidget, reason: str) -> None:
        """Tell why a field is wrong."""


class Row(ABC):
    """One field of a form: its label and its widget."""

    label: QWidget | None = None
    #: Hidden, because the model's other fields leave it nothing to say.
    idle = False

    def __init__(self, form: Host, name: str, field: FieldInfo) -> None:
        self.form, self.name, self.field = form, name, field
        self.title = field.title or name
        self.widget: QWidget = self.make()
        self.widget.setObjectName(name)
        if not self.widget.accessibleName():
            self.widget.setAccessibleName(self.title)
        self.widget.setAccessibleDescription(field.description or "")
        self.place()

    @abstractmethod
    def make(self) -> QWidget:
        """The widget in which the field is typed or chosen."""

    @abstractmethod
    def show_value(self, value: Any) -> None:
        """Show the value that the design has."""

    def place(self) -> None:
        """Put label and widget side by side."""
        grid, row = self.form.grid, self.form.grid.rowCount()
        label = self.label = Text(self.title)
        label.setWordWrap(True)
        label.setToolTip(tooltip_of(self.field))
        label.setBuddy(self.widget)
        if isinstance(self.widget, NotesField):
            grid.addWidget(label, row, 0, 1, 2)
            row += 1
            grid.addWidget(self.widget, row, 0, 1, 2)
        else:
            tall = self.widget.layout() is not None
            grid.addWidget(label, row, 0, Qt.AlignmentFlag.AlignTop if tall else Qt.AlignmentFlag(0))
            grid.addWidget(self.widget, row, 1)

    def show_row(self, on: bool) -> None:
        """Show the field with its label, or hide both."""
        for part in (self.widget, self.label):
            if part is not None and part.isHidden() == on:
                part.setVisible(on)

    def place_wide(self) -> None:
        """Put the widget over the whole width."""
        self.form.grid.addWidget(self.widget, self.form.grid.rowCount(), 0, 1, 2)

    def say_reason(self, reason: str) -> None:
        self.form.say_reason(self.widget, reason)

    def apply(self, value: Any, gesture: Hashable | None = None) -> str | None:
        return self.form.edit(self.name, value, gesture)

    def choose(self, value: Any) -> None:
        """Give what was clicked to the design; when that refuses it, the widget shows what it was before."""
        if self.apply(value) is not None:
            self.show_value(getattr(self.form.picture.model, self.name))

    def field_at(self, path: Path) -> QWidget | None:
        return self.widget


class NumberRow(Row):
    widget: NumberField

    def make(self) -> QWidget:
        whole = self.field.annotation is int
        field = NumberField.for_field(
            self.field, self.apply, style=Style(places=0, whole=True) if whole else Style()
        )
        field.marked.connect(self.say_reason)
        return field

    def show_value(self, value: float | None) -> None:
        self.widget.set_value(value)


class OfferedRow(Row):
    """A choice among what is offered at present."""

    widget: ChoiceBox

    @abstractmethod
    def offered(self, value: str) -> tuple[tuple[str, str], ...]:
        """Values with what is shown for them, with the present value among them."""

    def make(self) -> QWidget:
        self._offered: tuple[tuple[str, str], ...] = ()
        box = ChoiceBox()
        box.setToolTip(tooltip_of(self.field))
        box.activated.connect(lambda index: self.choose(box.itemData(index)))
        return box

    def show_value(self, value: str) -> None:
        offered = self.offered(value)
        if offered != self._offered:
            self._offered = offered
            self.widget.clear()
            for key, spelled in offered:
                self.widget.addItem(spelled, key)
        index = self.widget.findData(value)
        if index != self.widget.currentIndex():
            self.widget.setCurrentIndex(index)


class ChoiceRow(OfferedRow):
    """A choice of the model."""

    def offered(self, value: str) -> tuple[tuple[str, str], ...]:
        return _choices(get_args(self.field.annotation), self.name)


@lru_cache(maxsize=256)
def _choices(values: tuple[str, ...], name: str) -> tuple[tuple[str, str], ...]:
    return tuple((value, words.choice(value, name)) for value in values)


class TransistorRow(OfferedRow):
    """A choice among the table's transistors and the builder's own; a name of neither stays in sight."""

    def offered(self, value: str) -> tuple[tuple[str, str], ...]:
        known = self.form.picture.transistors
        return known if value in dict(known) else ((value, f"{value} (unknown)"), *known)


class CoreRow(OfferedRow):
    """A choice among the table's cores, or none; a name that the table has not stays in sight."""

    def offered(self, value: str) -> tuple[tuple[str, str], ...]:
        known = _cores()
        return known if value in dict(known) else (*known, (value, f"{value} (unknown)"))


@lru_cache(maxsize=1)
def _cores() -> tuple[tuple[str, str], ...]:
    named = ((name, f"{name}, {_range(core.of)}") for name, core in cores().items())
    return ("", "no core chosen"), *named


def _range(mix: Mix) -> str:
    """Where coils on a material have their best Q, in megahertz; ferrite is for chokes and transformers, of
    which nobody asks for that.
    """
    if mix.family == "ferrite":
        return "ferrite"
    return f"{mix.low_hz / 1e6:g} to {mix.high_hz / 1e6:g} MHz"


class SwitchRow(Row):
    widget: QCheckBox

    def make(self) -> QWidget:
        box = QCheckBox(self.title)
        box.setToolTip(tooltip_of(self.field))
        box.clicked.connect(self.choose)
        return box

    def place(self) -> None:
        self.place_wide()

    def show_value(self, value: bool) -> None:
        self.widget.setChecked(value)


class TextRow(Row):
    widget: TextField | NotesField

    def make(self) -> QWidget:
        longest = max((getattr(item, "max_length", 0) or 0 for item in self.field.metadata), default=0)
        made = NotesField if longest > _LONG_TEXT else TextField
        field = made(self.apply, tooltip_of(self.field))
        field.marked.connect(self.say_reason)
        return field

    def show_value(self, value: str) -> None:
        # A band's name is shown as everywhere else; typed either way it is the same one.
        self.widget.set_value(words.band(value) if isinstance(self.form.picture.model, Band) else value)


class ValuesRow(Row):
    widget: ValuesField

    def make(self) -> QWidget:
        unit = unit_of_members(self.field)
        assert unit is not None  # what this row is chosen for
        field = ValuesField(self.apply, unit, tooltip_of(self.field), usual_of(self.field))
        field.marked.connect(self.say_reason)
        return field

    def show_value(self, value: tuple[float, ...]) -> None:
        self.widget.set_values(value)


class PointsRow(Row):
    """A measured table in one line, as pairs."""

    widget: TextField

    def make(self) -> QWidget:
        field = TextField(self._read, tooltip_of(self.field))
        field.setPlaceholderText(usual_of(self.field))
        field.marked.connect(self.say_reason)
        return field

    def _read(self, text: str) -> str | None:
        try:
            return self.apply(points_of(text))
        except DesignError as error:
            return str(error)

    def show_value(self, value: tuple[TuningPoint, ...]) -> None:
        self.widget.set_value(points_text(value))


class BoxesRow(Row):
    """Check boxes, one for each that may be chosen; a choice that is gone stays in sight."""

    def make(self) -> QWidget:
        self._boxes: dict[str, QCheckBox] = {}
        made = QWidget()
        row = QVBoxLayout(made)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        made.setToolTip(tooltip_of(self.field))
        return made

    @abstractmethod
    def offered(self) -> dict[str, str]:
        """What may be chosen, by its key, as it is spelled."""

    def show_value(self, value: tuple[str, ...]) -> None:
        spelled = self.offered()
        spelled |= {key: key for key in value if key not in spelled}
        shown = {key: box.accessibleName() for key, box in self._boxes.items()}
        if shown != {key: self._told(text) for key, text in spelled.items()}:
            self._make_boxes(spelled)
        for key, box in self._boxes.items():
            box.setChecked(key in value)

    def _told(self, text: str) -> str:
        return f"{self.title} {text}"

    def _make_boxes(self, spelled: dict[str, str]) -> None:
        """A box for each; those that are there take other texts."""
        layout = self.widget.layout()
        assert layout is not None
        boxes = list(self._boxes.values())
        for box in boxes[len(spelled) :]:
            layout.removeWidget(box)
            box.setParent(None)
            box.deleteLater()
        for _ in range(len(spelled) - len(boxes)):
            box = QCheckBox()
            box.clicked.connect(self._clicked)
            layout.addWidget(box)
            box.show()
            boxes.append(box)
        self._boxes = dict(zip(spelled, boxes, strict=False))
        for key, text in spelled.items():
            self._boxes[key].setText(on_button(text))
            self._boxes[key].setAccessibleName(self._told(text))
        if self._boxes:
            self.widget.setFocusProxy(next(iter(self._boxes.values())))

    def _clicked(self) -> None:
        self.choose(tuple(key for key, box in self._boxes.items() if box.isChecked()))


class BandsRow(BoxesRow):
    """Bands of the rig."""

    def offered(self) -> dict[str, str]:
        return {name: words.band(name) for name in self.form.picture.bands}


class FeedsRow(BoxesRow):
    """Those who can hang on a regulator."""

    def offered(self) -> dict[str, str]:
        return dict(self.form.picture.fed)


class FedRow(OfferedRow):
    """One of those who are fed, or none of them; one that is gone stays in sight."""

    def offered(self, value: str) -> tuple[tuple[str, str], ...]:
        known = (("", "no stage"), *self.form.picture.fed)
        return known if value in dict(known) else (*known, (value, f"{value} (gone)"))


def unit_of_members(field: FieldInfo) -> Unit | None:
    """The unit of the numbers in a row of them."""
    member = get_args(field.annotation)[0]
    return next((item for item in get_args(member) if isinstance(item, Unit)), None)
