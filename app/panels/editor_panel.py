"""The left side: the selected stage's editor, its parts, and what differs from the held design."""

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.panels.forms import Form
from app.pictures.panels.editor import EditorPicture, picture_of
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.number_field import NumberField
from app.widgets.view import View
from core.model.project import Project
from core.model.values.base import Model, Path

if TYPE_CHECKING:
    from app.panels.differences import Differences
    from app.panels.parts_table import PartsTable

#: What is edited where it stands on the signal path, and so not once more with the rig as a whole.
_ON_THE_PATH = frozenset(
    {"vfo", "carrier", "read_out", "supply", "speaker", "microphone", "crystal_batch", "scatter", "measured"}
)


class EditorPanel(Drawn[EditorPicture], View):
    """Shows the form of what is selected. A form is made once for each kind of thing and then kept; the table
    of parts and what differs from a held design when they are first looked at.
    """

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self._forms: dict[type[Model], Form] = {}
        self._form: Form | None = None
        self.title = Text()
        self.title.setFont(palette.figures_font(self.font(), 1.2, bold=True))
        self.title.setWordWrap(True)
        self.subtitle = Text()
        self.subtitle.setProperty("look", "soft")
        self.subtitle.setWordWrap(True)
        self.subtitle.hide()
        self.back = QPushButton("The rig")
        self.back.setToolTip("Back to the settings of the rig as a whole")
        self.back.clicked.connect(lambda: bench.select(()))
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.back)
        self._place_of_form = QVBoxLayout()
        self._parts_title = Text("Parts")
        self._parts_title.setProperty("look", "title")
        self._parts_help = Text(
            "A reading typed under “as built” replaces one computed value; everything after it follows."
        )
        self._parts_help.setProperty("look", "soft")
        self._parts_help.setWordWrap(True)
        inside = QWidget()
        inside.setProperty("look", "ground")
        column = QVBoxLayout(inside)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.subtitle)
        column.addLayout(self._place_of_form)
        column.addWidget(self._parts_title)
        self._place_of_parts = QVBoxLayout()
        column.addLayout(self._place_of_parts)
        column.addWidget(self._parts_help)
        column.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidget(inside)
        card = QFrame()
        card.setProperty("look", "card")
        inner = QVBoxLayout(card)
        inner.setContentsMargins(1, 1, 1, 1)
        inner.addWidget(self._scroll, 3)
        # Below what scrolls, so that it is in sight however many rows the editor has.
        self._compared = QScrollArea()
        self._compared.setAccessibleName("What differs from the held design")
        self._compared.setWidgetResizable(True)
        self._compared.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._compared.setFrameShape(QFrame.Shape.NoFrame)
        self._compared.hide()
        inner.addWidget(self._compared, 2)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(card)

    @cached_property
    def parts(self) -> "PartsTable":
        """The parts of what is selected."""
        from app.panels.parts_table import PartsTable

        made = PartsTable(self._bench)
        made.hide()
        self._place_of_parts.addWidget(made)
        return made

    @cached_property
    def differences(self) -> "Differences":
        """What differs from the held design."""
        from app.panels.differences import Differences

        made = Differences()
        made.setProperty("look", "ground")
        self._compared.setWidget(made)
        return made

    @property
    def form(self) -> Form | None:
        """The form on show."""
        return self._form

    def refresh(self, bench: Workbench) -> None:
        path = bench.selection
        model = bench.current.at(path) if path else bench.current
        form = self._form_for(model)
        if form is not self._form:
            if self._form is not None:
                self._form.hide()
            self._form = form
            form.show()
            self._scroll.verticalScrollBar().setValue(0)
        form.show_model(model, path)
        picture = picture_of(bench.current, bench.held, bench.look)
        self.show_picture(picture)
        if picture.parts:
            self.parts.refresh(bench)
        if picture.held:
            self.differences.refresh(bench)

    def draw(self, picture: EditorPicture) -> None:
        self.title.setText(picture.title)
        self.subtitle.setText(picture.kind)
        self.subtitle.setVisible(bool(picture.kind))
        self.back.setVisible(bool(picture.selection))
        for part in (self._parts_title, self._parts_help):
            part.setVisible(picture.parts)
        if picture.parts or "parts" in self.__dict__:
            self.parts.setVisible(picture.parts)
        self._compared.setVisible(picture.held)

    def settle(self, bench: Workbench) -> None:
        if bench.held is not None:
            self.differences.settle(bench)
            self._compared.setMaximumHeight(self.differences.wanted_height())

    def restyle(self) -> None:
        if "parts" in self.__dict__:
            self.parts.restyle()

    def focus(self, path: Path) -> None:
        """Bring the field for `path` into view and give it the focus."""
        self.refresh(self._bench)
        below = path[len(self._bench.selection) :]
        if self._form is None or not path:
            return
        field = self._form.field_at(below) if below else self._form.first_field()
        if field is None:
            return
        field.setFocus()
        if isinstance(field, NumberField):
            field.selectAll()
        QTimer.singleShot(0, field, lambda: self._scroll.ensureWidgetVisible(field))

    def _form_for(self, model: Model) -> Form:
        kind = type(model)
        if kind not in self._forms:
            without = _ON_THE_PATH if kind is Project else frozenset()
            form = Form(kind, self._bench, without=without)
            form.hide()
            self._place_of_form.addWidget(form)
            self._forms[kind] = form
        return self._forms[kind]
