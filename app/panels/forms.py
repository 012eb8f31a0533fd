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

from app.panels.field_rows import (
    BandsRow,
    ChoiceRow,
    CoreRow,
    FedRow,
    FeedsRow,
    NumberRow,
    PointsRow,
    Row,
    SwitchRow,
    TextRow,
    TransistorRow,
    ValuesRow,
    unit_of_members,
)
from app.pictures.panels.form import FormPicture
from app.state.workbench import Workbench
from app.style import words
from app.style.plain import Text, on_button
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.number_field import tooltip_of
from app.widgets.reason_line import ReasonLine
from core.model.boards.package import OwnPackage
from core.model.stages.filters import SwitchedFilter
from core.model.stages.tank import TuningPoint
from core.model.supply.supply import Load, Regulator, Relay
from core.model.transistors import OwnTransistor
from core.model.values.base import Model, Path
from core.model.values.quantities import unit_of

#: Keys and versions are the file's business; as-built values stand in the parts table, curves in plots,
#: boards and photographs are looked at, and readings and counted parts are typed as a table.
_HIDDEN = frozenset({"id", "kind", "schema_version", "as_built", "stages", "sweeps", "readings", "draft"})
_HIDDEN |= frozenset({"left_out", "parts", "boards", "panels", "log", "photographs"})
#: Things of which a rig has as many as its builder adds, each by its name.
_OWN = (OwnTransistor, OwnPackage, Regulator, Relay, Load)
#: What every stage or filter has.
_COMMON = frozenset({"name", "direction", "in_path", "bands"})


class Form(Drawn[FormPicture], QWidget):
    """The editor of one model, for any model of the same type.

    It is made once a type. Showing another picture sets only the values that differ and makes no widgets,
    except where the bands' names themselves changed.
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
        self._rows: dict[str, Row] = {}
        self._only: set[str] = set()
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
        design = self.bench.current
        bands = tuple(band.name for band in design.bands)
        transistors, fed = self.bench.analysis.transistors, design.can_be_fed
        self.show_picture(
            FormPicture(
                model=model,
                path=path,
                band=self.bench.band_name,
                bands=bands,
                transistors=transistors,
                fed=fed,
            )
        )

    def draw(self, picture: FormPicture) -> None:
        idle = picture.model.idle_fields
        for name, row in self._rows.items():
            row.show_value(getattr(picture.model, name))
            if row.label is not None and (name in idle) != row.idle:
                row.idle = name in idle
                row.show_row(not row.idle)

    def show_only(self, names: Collection[str]) -> None:
        """Show the rows of these fields, hide the others."""
        for name, row in self._rows.items():
            row.show_row(name in names)
        if set(names) != self._only:
            # What it stands in would keep the height of all of them.
            self._only = set(names)
            self.updateGeometry()

    def first_field(self) -> QWidget | None:
        """The first field that is the model's own, not one that every stage has."""
        names = [name for name in self._rows if name not in _COMMON]
        return self.field_at((names[0], 0)) if names else None

    def edit(self, name: str, value: Any, gesture: Hashable | None = None) -> str | None:
        """Give a value to the design; returns why it was refused, or None."""
        reason = self.bench.edit((*self.picture.path, name), value, gesture)
        if reason is None:
            # The field shows its new value already, so let the whole editor show the new design.
            whole = self._around()[-1]
            whole.show_model(self.bench.current.at(whole.picture.path), whole.picture.path)
        return reason

    def _around(self) -> list["Form"]:
        """This form and those that it stands in, from the inside out."""
        found, widget = [self], self.parentWidget()
        while widget is not None:
            if isinstance(widget, Form):
                found.append(widget)
            widget = widget.parentWidget()
        return found

    def say_reason(self, field: QWidget, reason: str) -> None:
        """Tell why a field is wrong, at the foot of what the form scrolls in, so that no field moves."""
        whole = self._around()[-1]
        host: QWidget | None = whole
        while host is not None and not isinstance(host, QScrollArea):
            host = host.parentWidget()
        host = host or whole
        line = host.findChild(ReasonLine, options=Qt.FindChildOption.FindDirectChildrenOnly)
        (line or ReasonLine(host)).say(field, reason)

    def inner(self, model: type[Model]) -> "Form":
        """A form for a model that stands inside this one's."""
        return Form(model, self.bench)

    def field_at(self, path: Path) -> QWidget | None:
        """The widget for the place `path` below this form's own; None when there is none."""
        if not path or path[0] not in self._rows:
            return None
        return self._rows[str(path[0])].field_at(path[1:])


def _column(*parts: QWidget) -> QWidget:
    """What belongs to a model inside the model, one below the other."""
    made = QWidget()
    column = QVBoxLayout(made)
    column.setContentsMargins(0, 6, 0, 0)
    column.setSpacing(5)
    for part in parts:
        column.addWidget(part)
    return made


def _side_by_side(*parts: QWidget) -> QWidget:
    made = QWidget()
    row = QHBoxLayout(made)
    row.setContentsMargins(0, 0, 0, 0)
    for part in parts:
        row.addWidget(part)
    row.addStretch()
    return made


class _NestedRow(Row):
    """A model inside the model, under its own heading; an optional one can be ticked away."""

    form: "Form"

    def make(self) -> QWidget:
        options = [option for option in _options(self.field.annotation) if option is not NoneType]
        self._model: type[Model] = options[0]
        self._optional = NoneType in _options(self.field.annotation)
        self._kept: Model | None = None
        self._inner = self.form.inner(self._model)
        if not self._optional:
            return _column(heading(self.title, tooltip_of(self.field)), self._inner)
        self._box = QCheckBox(self.title)
        self._box.setToolTip(tooltip_of(self.field))
        self._box.clicked.connect(self._ticked)
        return _column(self._box, self._inner)

    def place(self) -> None:
        self.place_wide()

    def _ticked(self, on: bool) -> None:
        self.choose((self._kept or self._model()) if on else None)

    def show_value(self, value: Model | None) -> None:
        if self._optional:
            self._box.setChecked(value is not None)
        self._inner.setVisible(value is not None)
        if value is not None:
            self._kept = value
            self._inner.show_picture(self.form.picture.inside(value, self.name))

    def field_at(self, path: Path) -> QWidget | None:
        if self._optional and (not path or self._inner.isHidden()):
            return self._box
        return self._inner.field_at(path) or self._inner.first_field()


class _MembersRow(Row):
    """A row of models of which one belongs to the band looked at, such as the filters of a stage."""

    form: "Form"

    def make(self) -> QWidget:
        self._model: type[Model] = get_args(self.field.annotation)[0]
        self._inner = self.form.inner(self._model)
        self._heading = heading("", tooltip_of(self.field))
        self._none = Text()
        self._none.setWordWrap(True)
        self._add = QPushButton()
        self._add.clicked.connect(self._added)
        self._remove = QPushButton()
        self._remove.clicked.connect(self._removed)
        return _column(self._heading, self._none, self._inner, _side_by_side(self._add, self._remove))

    def place(self) -> None:
        self.place_wide()

    @property
    def _serves(self) -> bool:
        """Whether the members name the bands they serve; else they are the bands themselves."""
        return issubclass(self._model, SwitchedFilter)

    def show_value(self, value: tuple[Model, ...]) -> None:
        self._members = value
        band = self.form.picture.band
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
            self._inner.show_picture(self.form.picture.inside(value[self._place], self.name, self._place))

    def _added(self) -> None:
        like = self._members[0] if self._members else self._model()
        assert isinstance(like, SwitchedFilter)  # only such serve bands
        fresh = like.like_it_for(self.form.picture.band)
        self.apply((*self._members, fresh))

    def _removed(self) -> None:
        self.apply(tuple(m for n, m in enumerate(self._members) if n != self._place))

    def field_at(self, path: Path) -> QWidget | None:
        # The first step is the member, which the band looked at has chosen.
        if self._place is None:
            return self._add
        return self._inner.field_at(path[1:]) or self._inner.first_field()


class _OwnRow(Row):
    """Things of the builder's own, one of which is looked at; more can be added, and each taken away."""

    form: "Form"

    def make(self) -> QWidget:
        self._model: type[Model] = get_args(self.field.annotation)[0]
        self._members: tuple[Model, ...] = ()
        self._place = 0
        self._inner = self.form.inner(self._model)
        self._box = ChoiceBox()
        self._box.setAccessibleName(self.title)
        self._box.activated.connect(self._looked_at)
        self._add = QPushButton("Add one")
        self._add.clicked.connect(self._added)
        self._remove = QPushButton("Remove it")
        self._remove.clicked.connect(self._removed)
        above = heading(self.title, tooltip_of(self.field))
        return _column(above, self._box, self._inner, _side_by_side(self._add, self._remove))

    def place(self) -> None:
        self.place_wide()

    def show_value(self, value: tuple[Model, ...]) -> None:
        self._members = value
        self._place = min(self._place, max(len(value) - 1, 0))
        names = [str(getattr(member, "name", "")) for member in value]
        if names != [self._box.itemText(n) for n in range(self._box.count())]:
            self._box.clear()
            self._box.addItems(names)
        self._box.setCurrentIndex(self._place if value else -1)
        for part in (self._box, self._inner, self._remove):
            part.setVisible(bool(value))
        if value:
            self._inner.show_picture(self.form.picture.inside(value[self._place], self.name, self._place))

    def _looked_at(self, place: int) -> None:
        self._place = place
        self.show_value(self._members)

    def _added(self) -> None:
        fresh = self._model()
        taken = {getattr(member, "name", "") for member in self._members}
        name = getattr(fresh, "name", "")
        wanted = next(
            each for n in range(1, 1000) if (each := name if n == 1 else f"{name} {n}") not in taken
        )
        self._place = len(self._members)
        self.choose((*self._members, fresh.edited(("name",), wanted)))

    def _removed(self) -> None:
        self.choose(tuple(m for n, m in enumerate(self._members) if n != self._place))

    def field_at(self, path: Path) -> QWidget | None:
        if not self._members or not path:
            return self._add
        places = [
            n for n, member in enumerate(self._members) if path[0] in (n, getattr(member, "name", None))
        ]
        if places and places[0] != self._place:
            self._looked_at(places[0])
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


def _row_kind(name: str, field: FieldInfo) -> type[Row]:
    """How a field is edited, from its declared type."""
    annotation = field.annotation
    options = _options(annotation)
    if get_origin(annotation) is tuple:
        member = get_args(annotation)[0]
        if member is TuningPoint:
            return PointsRow
        if member in _OWN:
            return _OwnRow
        if isinstance(member, type) and issubclass(member, Model):
            return _MembersRow
        if name == "bands":
            return BandsRow
        if name == "feeds":
            return FeedsRow
        if unit_of_members(field) is not None:
            return ValuesRow
    elif unit_of(field) is not None or annotation is int:
        return NumberRow
    elif get_origin(annotation) is Literal:
        return ChoiceRow
    elif name == "of":
        return FedRow
    elif annotation is str and name == "device":
        return TransistorRow
    elif annotation is str and name in ("core", "coil_core"):
        return CoreRow
    elif annotation is bool:
        return SwitchRow
    elif annotation is str:
        return TextRow
    elif any(isinstance(option, type) and issubclass(option, Model) for option in options):
        return _NestedRow
    raise TypeError(f"No editor is known for the field {name} of type {annotation}.")


def _options(annotation: Any) -> tuple[Any, ...]:
    return get_args(annotation) if get_origin(annotation) in (Union, UnionType) else (annotation,)
