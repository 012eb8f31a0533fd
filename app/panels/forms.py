"""Editors made from the model's own fields; no form is written by hand."""

from collections.abc import Collection, Hashable
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.state.workbench import Workbench
from app.style import words
from app.style.plain import Text, on_button
from app.widgets.choice_box import ChoiceBox
from app.widgets.number_field import NumberField, Style, tooltip_of
from app.widgets.reason_line import ReasonLine
from app.widgets.text_field import NotesField, TextField, ValuesField
from core.model.bands import Band
from core.model.values.base import Model, Path
from core.model.values.quantities import Unit, unit_of, usual_of

#: Keys and versions are the file's business; as-built values stand in the parts table, curves in plots.
_HIDDEN = frozenset({"id", "kind", "schema_version", "as_built", "stages", "sweeps", "left_out"})
#: What every stage or filter has.
_COMMON = frozenset({"name", "direction", "in_path", "bands"})
#: Texts longer than this get several lines.
_LONG_TEXT = 1000


class Form(QWidget):
    """The editor of one model, for any model of the same type.

    It is made once a type. `show_model` sets only the values that differ and makes no widgets, except
    where the bands' names themselves changed.
    """

    def __init__(
        self,
        model: type[Model],
        bench: Workbench,
        *,
        without: frozenset[str] = frozenset(),
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.bench = bench
        self.path: Path = ()
        self._shown: Model | None = None
        self._band = ""
        self._rows: dict[str, _Row] = {}
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setHorizontalSpacing(10)
        self.grid.setVerticalSpacing(5)
        self.grid.setColumnStretch(0, 1)
        self.grid.setColumnStretch(1, 1)
        for name, field in model.model_fields.items():
            if name in _HIDDEN or name in without:
                continue
            self._rows[name] = _row_kind(name, field)(self, name, field)

    def show_model(self, model: Model, path: Path) -> None:
        """Show `model`, which stands at `path` of the design."""
        band = self.bench.band_name
        if model is self._shown and path == self.path and band == self._band:
            return
        self.path, self._shown, self._band = path, model, band
        idle = model.idle_fields
        for name, row in self._rows.items():
            row.show_value(getattr(model, name))
            if row.label is not None and (name in idle) != row.idle:
                row.idle = name in idle
                row.show_row(not row.idle)

    def show_only(self, names: Collection[str]) -> None:
        """Show the rows of these fields, hide the others."""
        for name, row in self._rows.items():
            row.show_row(name in names)

    @property
    def model(self) -> Model | None:
        """What is shown."""
        return self._shown

    def first_field(self) -> QWidget | None:
        """The first field that is the model's own, not one that every stage has."""
        names = [name for name in self._rows if name not in _COMMON]
        return self.field_at((names[0], 0)) if names else None

    def edit(self, name: str, value: Any, gesture: Hashable | None = None) -> str | None:
        """Give a value to the design; returns why it was refused, or None."""
        reason = self.bench.edit((*self.path, name), value, gesture)
        if reason is None:
            self._forget_shown()
        return reason

    def _forget_shown(self) -> None:
        """The field shows its new value already, so no form above it shows the model it last was given."""
        form: QWidget | None = self
        while form is not None:
            if isinstance(form, Form):
                form._shown = None
            form = form.parentWidget()

    def say_reason(self, field: QWidget, reason: str) -> None:
        """Tell why a field is wrong, at the foot of what the form scrolls in, so that no field moves."""
        form: QWidget | None = self
        host: QWidget = self
        while form is not None:
            if isinstance(form, Form):
                host = form
            elif isinstance(form, QScrollArea):
                host = form
                break
            form = form.parentWidget()
        line = host.findChild(ReasonLine, options=Qt.FindChildOption.FindDirectChildrenOnly)
        (line or ReasonLine(host)).say(field, reason)

    def field_at(self, path: Path) -> QWidget | None:
        """The widget for the place `path` below this form's own; None when there is none."""
        if not path or path[0] not in self._rows:
            return None
        return self._rows[str(path[0])].field_at(path[1:])


class _Row:
    """One field of a form: its label and its widget."""

    label: QWidget | None = None
    #: Hidden, because the model's other fields leave it nothing to say.
    idle = False

    def __init__(self, form: Form, name: str, field: FieldInfo) -> None:
        self.form, self.name, self.field = form, name, field
        self.title = field.title or name
        self.widget: QWidget = self.make()
        self.widget.setObjectName(name)
        if not self.widget.accessibleName():
            self.widget.setAccessibleName(self.title)
        self.widget.setAccessibleDescription(field.description or "")
        self.place()

    def make(self) -> QWidget:
        raise NotImplementedError

    def show_value(self, value: Any) -> None:
        raise NotImplementedError

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

    def field_at(self, path: Path) -> QWidget | None:
        return self.widget


class _NumberRow(_Row):
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


class _ChoiceRow(_Row):
    widget: ChoiceBox

    def make(self) -> QWidget:
        box = ChoiceBox()
        for value in get_args(self.field.annotation):
            box.addItem(words.choice(value, self.name), value)
        box.setToolTip(tooltip_of(self.field))
        box.activated.connect(lambda index: self._chosen(box.itemData(index)))
        return box

    def _chosen(self, value: str) -> None:
        if self.apply(value) is not None:
            self.show_value(self.form.bench.current.at((*self.form.path, self.name)))

    def show_value(self, value: str) -> None:
        index = self.widget.findData(value)
        if index != self.widget.currentIndex():
            self.widget.setCurrentIndex(index)


class _SwitchRow(_Row):
    widget: QCheckBox

    def make(self) -> QWidget:
        box = QCheckBox(self.title)
        box.setToolTip(tooltip_of(self.field))
        box.clicked.connect(lambda on: self.apply(on))
        return box

    def place(self) -> None:
        self.place_wide()

    def show_value(self, value: bool) -> None:
        self.widget.setChecked(value)


class _TextRow(_Row):
    widget: TextField | NotesField

    def make(self) -> QWidget:
        longest = max((getattr(item, "max_length", 0) or 0 for item in self.field.metadata), default=0)
        made = NotesField if longest > _LONG_TEXT else TextField
        field = made(self.apply, tooltip_of(self.field))
        field.marked.connect(self.say_reason)
        return field

    def show_value(self, value: str) -> None:
        # A band's name is shown as everywhere else; typed either way it is the same one.
        self.widget.set_value(words.band(value) if isinstance(self.form.model, Band) else value)


class _ValuesRow(_Row):
    widget: ValuesField

    def make(self) -> QWidget:
        unit = _unit_of_members(self.field)
        assert unit is not None  # what this row is chosen for
        field = ValuesField(self.apply, unit, tooltip_of(self.field), usual_of(self.field))
        field.marked.connect(self.say_reason)
        return field

    def show_value(self, value: tuple[float, ...]) -> None:
        self.widget.set_values(value)


class _BandsRow(_Row):
    """Check boxes, one a band of the rig."""

    def make(self) -> QWidget:
        self._boxes: dict[str, QCheckBox] = {}
        made = QWidget()
        row = QVBoxLayout(made)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        made.setToolTip(tooltip_of(self.field))
        return made

    def show_value(self, value: tuple[str, ...]) -> None:
        names = [band.name for band in self.form.bench.current.bands]
        names += [name for name in value if name not in names]
        if list(self._boxes) != names:
            self._make_boxes(names)
        for name, box in self._boxes.items():
            box.setChecked(name in value)

    def _make_boxes(self, names: list[str]) -> None:
        layout = self.widget.layout()
        assert layout is not None
        for box in self._boxes.values():
            layout.removeWidget(box)
            box.deleteLater()
        self._boxes = {}
        for name in names:
            box = QCheckBox(on_button(words.band(name)))
            box.setAccessibleName(f"{self.title} {words.band(name)}")
            box.clicked.connect(self._clicked)
            layout.addWidget(box)
            box.show()
            self._boxes[name] = box
        if self._boxes:
            self.widget.setFocusProxy(next(iter(self._boxes.values())))

    def _clicked(self) -> None:
        self.apply(tuple(name for name, box in self._boxes.items() if box.isChecked()))


class _NestedRow(_Row):
    """A model inside the model, under its own heading; an optional one can be ticked away."""

    def make(self) -> QWidget:
        options = [option for option in _options(self.field.annotation) if option is not NoneType]
        self._model: type[Model] = options[0]
        self._optional = NoneType in _options(self.field.annotation)
        self._kept: Model | None = None
        self._inner = Form(self._model, self.form.bench)
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 6, 0, 0)
        column.setSpacing(5)
        if self._optional:
            self._box = QCheckBox(self.title)
            self._box.setToolTip(tooltip_of(self.field))
            self._box.clicked.connect(self._ticked)
            column.addWidget(self._box)
        else:
            column.addWidget(heading(self.title, tooltip_of(self.field)))
        column.addWidget(self._inner)
        return made

    def place(self) -> None:
        self.place_wide()

    def _ticked(self, on: bool) -> None:
        self.apply((self._kept or self._model()) if on else None)

    def show_value(self, value: Model | None) -> None:
        if self._optional:
            self._box.setChecked(value is not None)
        self._inner.setVisible(value is not None)
        if value is not None:
            self._kept = value
            self._inner.show_model(value, (*self.form.path, self.name))

    def field_at(self, path: Path) -> QWidget | None:
        if self._optional and (not path or self._inner.isHidden()):
            return self._box
        return self._inner.field_at(path) or self._inner.first_field()


class _MembersRow(_Row):
    """A row of models of which one belongs to the band looked at, such as the filters of a stage."""

    def make(self) -> QWidget:
        self._model: type[Model] = get_args(self.field.annotation)[0]
        self._inner = Form(self._model, self.form.bench)
        self._heading = heading("", tooltip_of(self.field))
        self._none = Text()
        self._none.setWordWrap(True)
        self._add = QPushButton()
        self._add.clicked.connect(self._added)
        self._remove = QPushButton()
        self._remove.clicked.connect(self._removed)
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 6, 0, 0)
        column.setSpacing(5)
        for part in (self._heading, self._none, self._inner):
            column.addWidget(part)
        buttons = QHBoxLayout()
        buttons.addWidget(self._add)
        buttons.addWidget(self._remove)
        buttons.addStretch()
        column.addLayout(buttons)
        return made

    def place(self) -> None:
        self.place_wide()

    @property
    def _serves(self) -> bool:
        """Whether the members name the bands they serve; else they are the bands themselves."""
        return "bands" in self._model.model_fields

    def show_value(self, value: tuple[Model, ...]) -> None:
        self._members = value
        band = self.form.bench.band_name
        self._place = next((n for n, member in enumerate(value) if belongs_to(member, band)), None)
        spelled = words.band(band)
        self._heading.setText(f"{'Filter for' if self._serves else 'Band'} {spelled}")
        self._none.setText(f"No filter of this stage serves {spelled}; add one, or let another serve it too.")
        self._none.setVisible(self._place is None)
        self._inner.setVisible(self._place is not None)
        self._add.setText(on_button(f"Add a filter for {spelled}"))
        self._add.setVisible(self._serves and self._place is None)
        self._remove.setText("Remove this filter")
        self._remove.setVisible(self._serves and self._place is not None and len(value) > 1)
        if self._place is not None:
            self._inner.show_model(value[self._place], (*self.form.path, self.name, self._place))

    def _added(self) -> None:
        like = self._members[0] if self._members else self._model()
        fresh = like.edited(("bands",), (self.form.bench.band_name,))
        for name in ("as_built", "centre_hz", "cutoff_hz"):
            if name in self._model.model_fields:
                fresh = fresh.edited((name,), self._model.model_fields[name].default)
        self.apply((*self._members, fresh))

    def _removed(self) -> None:
        self.apply(tuple(m for n, m in enumerate(self._members) if n != self._place))

    def field_at(self, path: Path) -> QWidget | None:
        # The first step is the member, which the band looked at has chosen.
        if self._place is None:
            return self._add
        return self._inner.field_at(path[1:]) or self._inner.first_field()


def heading(text: str, help: str = "") -> QLabel:
    """The heading of a group of fields."""
    label = Text(text)
    label.setProperty("look", "title")
    label.setToolTip(help)
    return label


def belongs_to(member: Model, band: str) -> bool:
    """Whether a member of a row (a filter, a band) is the one for this band."""
    return band in getattr(member, "bands", ()) or getattr(member, "name", None) == band


def _row_kind(name: str, field: FieldInfo) -> type[_Row]:
    """How a field is edited, from its declared type."""
    annotation = field.annotation
    options = _options(annotation)
    if get_origin(annotation) is tuple:
        member = get_args(annotation)[0]
        if isinstance(member, type) and issubclass(member, Model):
            return _MembersRow
        if name == "bands":
            return _BandsRow
        if _unit_of_members(field) is not None:
            return _ValuesRow
    elif unit_of(field) is not None or annotation is int:
        return _NumberRow
    elif get_origin(annotation) is Literal:
        return _ChoiceRow
    elif annotation is bool:
        return _SwitchRow
    elif annotation is str:
        return _TextRow
    elif any(isinstance(option, type) and issubclass(option, Model) for option in options):
        return _NestedRow
    raise TypeError(f"No editor is known for the field {name} of type {annotation}.")


def _unit_of_members(field: FieldInfo) -> Unit | None:
    """The unit of the numbers in a row of them."""
    member = get_args(field.annotation)[0]
    return next((item for item in get_args(member) if isinstance(item, Unit)), None)


def _options(annotation: Any) -> tuple[Any, ...]:
    return get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)
