"""New rig: choose bands, look at the survey, pick a row; a complete rig appears, ready to be tweaked."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.pages.survey_table import SurveyTable
from app.pictures.bench.survey import hint_of, survey_of
from app.style import words
from app.style.numbers import Style
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.number_field import NumberField
from core.model.bands import Band, Sideband
from core.model.project import Project
from core.model.values.errors import CopperError, DesignError
from core.model.values.quantities import Unit
from core.rig.start.new_rig import new_rig
from core.trade.allocations import Allocation, allocations

_MOST_BANDS = 4
#: What the row for a band of one's own begins with; IARU Region 1 (from memory).
_SIX_METRES = Allocation(
    band="6m",
    phone_hz=(50.1e6, 50.5e6),
    sideband="upper",
    regions_hz=(),
    note="",
    source="IARU Region 1 band plan",
    status="from memory",
)
#: An end of a band, in megahertz to the kilohertz.
_EDGE = Style(places=3, exponent=6)
_SIDEBANDS: tuple[Sideband, ...] = ("lower", "upper")


class NewRigDialog(Drawn[tuple[Band, ...] | str], QDialog):
    """`project` is the rig made, once the dialog was accepted."""

    def __init__(self, parent: QWidget | None = None, junk_box: tuple[float, ...] = ()) -> None:
        super().__init__(parent)
        self.setWindowTitle("New rig")
        self.resize(1040, 640)
        self.project: Project | None = None
        self._junk_box = junk_box
        self.name = QLineEdit("New rig")
        self.name.setAccessibleName("Name of the rig")
        self.name.setMaxLength(80)
        self.choices = [_BandChoice(each, self._survey) for each in allocations()]
        self.own = _OwnBand(self._survey)
        self.choices.append(self.own)
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(3)
        for half, column in ((self.choices[:5], 0), (self.choices[5:], 5)):
            for position, text in enumerate(("band", "dial from", "dial to", "sideband")):
                head = Text(text)
                head.setProperty("look", "soft")
                grid.addWidget(head, 0, column + position)
            for row, choice in enumerate(half, 1):
                for position, widget in enumerate(choice.widgets):
                    grid.addWidget(widget, row, column + position)
        grid.setColumnMinimumWidth(4, 24)
        self.hint = Text()
        self.hint.setWordWrap(True)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.hint.setFixedHeight(3 * self.hint.fontMetrics().lineSpacing() + 2)
        self.table = SurveyTable()
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        self.ok = self.buttons.button(QDialogButtonBox.StandardButton.Ok)
        self.ok.setText("Make this rig")
        self.buttons.accepted.connect(self._make)
        self.buttons.rejected.connect(self.reject)
        self.table.picked.connect(self._show_state)
        self.table.opened.connect(self._make)
        column_box = QVBoxLayout(self)
        column_box.addWidget(self.name)
        column_box.addLayout(grid)
        column_box.addWidget(self.hint)
        column_box.addWidget(self.table, 1)
        column_box.addWidget(self.buttons)
        self._survey()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # Enter in a field takes what was typed there; it must not make the rig.
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if not enter or isinstance(self.focusWidget(), QPushButton):
            super().keyPressEvent(event)

    @property
    def bands(self) -> tuple[Band, ...] | str:
        """The bands chosen, or what is wrong with the choice in a sentence."""
        chosen = [choice for choice in self.choices if choice.box.isChecked()]
        if not chosen:
            return "Tick one to four bands; the phone segments are filled in and can be changed."
        if len(chosen) > _MOST_BANDS:
            return f"A rig has at most {_MOST_BANDS} bands; untick {len(chosen) - _MOST_BANDS}."
        names = [choice.name for choice in chosen]
        if len(set(names)) < len(names):
            return f"The band {self.own.name} stands twice; give your own another name."
        try:
            return tuple(choice.band() for choice in chosen)
        except CopperError as error:
            return str(error)

    def _survey(self) -> None:
        self.show_picture(self.bands)
        self._show_state()

    def draw(self, picture: tuple[Band, ...] | str) -> None:
        self.table.show_rows(survey_of(picture, self._junk_box) if isinstance(picture, tuple) else ())

    def _show_state(self) -> None:
        bands, row = self.picture, self.table.row
        # Always there, so that nothing moves under the hand that ticks.
        self.table.setEnabled(isinstance(bands, tuple))
        self.ok.setEnabled(isinstance(bands, tuple) and row is not None)
        self.hint.setText(hint_of(bands, row))
        if isinstance(bands, str):
            self.table.count.setText("")

    def _make(self) -> None:
        bands, row = self.bands, self.table.row
        if isinstance(bands, str) or row is None:
            return
        schemed = [band.edited(("scheme",), scheme) for band, scheme in zip(bands, row.schemes, strict=True)]
        self.project = new_rig(schemed, row.if_hz, self.name.text().strip() or "New rig")
        self.accept()


class _BandChoice:
    """The widgets of one band; its edges are the phone segment until they are typed over."""

    def __init__(self, allocation: Allocation, changed: Callable[[], None]) -> None:
        self._allocation = allocation
        self.box = QCheckBox(words.band(allocation.band))
        self.box.setToolTip(allocation.note or "Your licence decides what you may use")
        self.low, self.high = (self._edge(hz, changed) for hz in allocation.phone_hz)
        self.sideband = ChoiceBox(least=6)
        self.sideband.addItems(list(_SIDEBANDS))
        self.sideband.setCurrentText(allocation.sideband)
        for field, end in ((self.low, "from"), (self.high, "to")):
            field.setAccessibleName(f"{words.band(allocation.band)} dial {end}")
            field.setFixedWidth(110)
        self.sideband.setAccessibleName(f"{words.band(allocation.band)} sideband")
        self.box.toggled.connect(self._enable)
        self.box.toggled.connect(lambda _: changed())
        self.sideband.currentIndexChanged.connect(lambda _: changed())
        self._enable(False)

    @property
    def name(self) -> str:
        """The band's name."""
        return self._allocation.band

    @property
    def widgets(self) -> tuple[QWidget, ...]:
        """Its row of the grid."""
        return self.box, self.low, self.high, self.sideband

    def band(self) -> Band:
        """The band as typed; `DesignError` marks the field that is wrong."""
        for field in (self.low, self.high):
            if field.reason:
                raise DesignError(field.reason)
        return Band.checked(
            name=self.name,
            low_hz=self.low.value,
            high_hz=self.high.value,
            sideband=self.sideband.currentText(),
        )

    @staticmethod
    def _edge(hz: float, changed: Callable[[], None]) -> NumberField:
        """A field for an end of the band, in megahertz to the kilohertz."""
        field = NumberField(lambda value, gesture: None, Unit("Hz", scaled=True), style=_EDGE)
        field.set_value(hz)
        field.setToolTip("Typed in MHz, as 24.95, or with a unit")
        field.marked.connect(lambda reason: changed())
        field.editingFinished.connect(changed)
        return field

    def _enable(self, on: bool) -> None:
        for widget in (self.low, self.high, self.sideband):
            widget.setEnabled(on)


class _OwnBand(_BandChoice):
    """A band that is not in the table: its name and edges are typed."""

    def __init__(self, changed: Callable[[], None]) -> None:
        self.name_field = QLineEdit("6m")
        self.name_field.setAccessibleName("name of a band of your own")
        self.name_field.setFixedWidth(64)
        self.name_field.setMaxLength(16)
        self._cell = QWidget()
        super().__init__(_SIX_METRES, changed)
        self.box.setText("own:")
        self.box.setToolTip("A band that is not in this list; give its name and edges")
        self.name_field.editingFinished.connect(changed)
        row = QHBoxLayout(self._cell)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.box)
        row.addWidget(self.name_field)
        row.addStretch(1)

    @property
    def name(self) -> str:
        """The band's name as typed."""
        return self.name_field.text().strip()

    @property
    def widgets(self) -> tuple[QWidget, ...]:
        """Its row of the grid."""
        return self._cell, self.low, self.high, self.sideband

    def _enable(self, on: bool) -> None:
        super()._enable(on)
        self.name_field.setEnabled(on)
