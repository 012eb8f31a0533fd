"""A measured curve of a stage: read from a file, held against the design, its parts taken as built."""

from collections.abc import Callable, Hashable
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QPushButton, QVBoxLayout, QWidget

from app.pictures.bench.measured import MeasuredPicture, picture_of
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.flow_row import FlowRow
from app.widgets.number_field import NumberField
from core.model.measured import MeasuredCurve
from core.model.project import Project
from core.rig.bench.curve_files import read_curve
from core.rig.built import measured

_FILES = "Measured curves (*.s2p *.csv *.txt);;All files (*)"
#: What of a curve is typed; the rest was read.
_TYPED = ("source_ohm", "load_ohm")
_TABLE_HEIGHT, _FIELD_WIDTH = 130, 90


class MeasuredCard(Drawn[MeasuredPicture | None], QWidget):
    """What a measured curve tells of a stage's parts; there is nothing to see where none was read."""

    def __init__(self) -> None:
        super().__init__()
        self._bench: Workbench | None = None
        declared = MeasuredCurve.model_fields
        #: The fixture's resistances.
        self.fields = {
            name: NumberField.for_field(declared[name], partial(self._typed, name)) for name in _TYPED
        }
        fixture = FlowRow(spacing=6)
        for name, field in self.fields.items():
            field.setAccessibleName(declared[name].title or "")
            field.setFixedWidth(_FIELD_WIDTH)
            field.marked.connect(self._say)
            fixture.add(Text(declared[name].title or ""))
            fixture.add(field)
        self.judged, self.told = Text(), Text()
        self.judged.setWordWrap(True)
        self.told.setWordWrap(True)
        self.table = FigureTable()
        self.table.setAccessibleName("Parts by the measured curve")
        self.table.setMinimumHeight(_TABLE_HEIGHT)
        self.take = QPushButton("Take as built")
        self.take.setToolTip(
            "The values that explain the curve become the parts' values as built; one undo takes it back"
        )
        self.take.clicked.connect(self._take)
        self.remove = QPushButton("Remove the curve")
        self.remove.clicked.connect(self._remove)
        buttons = FlowRow(spacing=6)
        buttons.add(self.take)
        buttons.add(self.remove)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for part in (self.judged, self.told, fixture, self.table, buttons):
            column.addWidget(part)

    def show_of(self, bench: Workbench) -> MeasuredPicture | None:
        """Show the curve of the selected filter; fits it."""
        self._bench = bench
        picture = picture_of(bench.analysis, bench.look)
        self.show_picture(picture)
        if picture is not None:
            for name, field in self.fields.items():
                field.set_value(bench.current.at((*picture.path, name)))
        return picture

    def draw(self, picture: MeasuredPicture | None) -> None:
        if picture is None:
            return
        self.judged.setText(picture.judged)
        self.told.setText(picture.told)
        self.table.setVisible(picture.parts is not None)
        self.take.setEnabled(picture.parts is not None)
        if picture.parts is not None:
            self.table.show_told(picture.parts)

    def _typed(self, name: str, value: float | None, gesture: Hashable) -> str | None:
        bench, picture = self._bench, self._drawn
        assert bench is not None  # the fields are on show
        assert picture is not None
        return bench.edit((*picture.path, name), value, gesture)

    def _say(self, reason: str) -> None:
        if reason and self._bench is not None:
            self._bench.refused.emit(reason)

    def open(self, bench: Workbench) -> None:
        """Ask for a file with a curve of the selected stage, and keep it with the design."""
        name, _ = QFileDialog.getOpenFileName(self, "Measured curve", str(bench.folder), _FILES)
        if name:
            bring(bench, Path(name))

    def _take(self) -> None:
        self._change(measured.with_fitted, "parts as the measured curve has them")

    def _remove(self) -> None:
        self._change(measured.without_curve, "removing a measured curve")

    def _change(self, made: Callable[..., Project], label: str) -> None:
        bench = self._bench
        assert bench is not None  # the buttons are on show
        bench.settling.emit()
        stage, band, way = str(bench.look.stage), bench.look.band, bench.look.way
        bench.change(lambda _: made(bench.analysis, stage, band, way), label=label)


def bring(bench: Workbench, file: Path) -> None:
    """Keep the curve in a file with the design, as measured of the selected stage on the band looked at."""
    stage, look = str(bench.look.stage), bench.look

    def read(project: Project) -> Project:
        band, way = measured.bound_to(bench.analysis, stage, look.band, look.way)
        return measured.with_curve(bench.analysis, read_curve(file, stage, band, way))

    bench.change(read, label="a measured curve")
