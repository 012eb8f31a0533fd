"""The parts of the selected filter or tank: as designed, as preferred value, as built."""

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.state.workbench import Workbench
from app.style import palette
from app.style.numbers import THIN, number_text
from app.style.plain import Text, tip
from app.widgets.number_field import NumberField
from app.widgets.view import View
from core.model.bench import CrystalBatch
from core.model.stages.as_built import unit_of_part
from core.model.stages.filters import LadderFilter
from core.model.values.base import Path
from core.model.values.errors import CopperError
from core.model.values.notation import format_value
from core.model.values.parts import Family, spelled
from core.model.values.quantities import Unit
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.bench.crystal_bench import BatchRow
from core.rig.paper.parts_list import idle_values
from core.stages.outcome import FilterDesign, PartRow, Unsolved
from core.stages.vfo.tank import TankDesign

_COLUMNS = ("Part", "designed", "preferred", "as built")
AS_BUILT = 3
_HELP = (
    "What the calculation asks for.",
    "What the calculation asks for.",
    "What is taken: values of the series chosen above, and in a low-pass coils wound to suit them.",
    "The value really fitted. Type a reading here: it replaces the computed value, and everything "
    "after it follows. Empty it to go back.",
)


@dataclass(frozen=True, slots=True)
class _Idle:
    """A value as built that no part of the design takes: on show so that it can be cleared."""

    family: Family
    key: str
    as_built: float
    note: str = "No part of this design. Empty the last column to clear it."

    @property
    def ref(self) -> str:
        return spelled(self.family, self.key)

    @property
    def unit(self) -> str:
        return unit_of_part(self.family, self.key)

    @property
    def preferred(self) -> float:
        return self.as_built


_Row = PartRow | _Idle
_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()


class PartsTable(View):
    """Parts of the selected stage on the band looked at; the last column is typed in."""

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = _PartsModel(bench, self)
        self._batch: CrystalBatch | None = None
        self._crystals_read: tuple[BatchRow, ...] = ()
        self._reason = Text()
        self._reason.setWordWrap(True)
        self._reason.setProperty("look", "soft")
        self.table = QTableView()
        self.table.setAccessibleName("Parts: designed, preferred, as built")
        self.table.setModel(self._model)
        self.table.setItemDelegateForColumn(AS_BUILT, _AsBuiltDelegate(bench, self._model, self.table))
        self.table.setFont(palette.figures_font(self.font(), 0.9))
        self.table.horizontalHeader().setFont(self.table.font())
        self.table.setWordWrap(False)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(self.table.fontMetrics().height() + 9)
        self.table.setShowGrid(False)
        self.table.setTabKeyNavigation(False)
        self.table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.SelectedClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
        header.setHighlightSections(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table)
        column.addWidget(self._reason)

    def refresh(self, bench: Workbench) -> None:
        design: FilterDesign | TankDesign | Unsolved | None
        if bench.selection == ("vfo",):
            design = bench.analysis.tank
        else:
            stage = bench.selected_stage
            design = bench.analysis.filter_design(stage.id, bench.band_name) if stage else None
        unsolved = design.reason if isinstance(design, Unsolved) else ""
        parts = () if design is None or isinstance(design, Unsolved) else design.parts
        path = _as_built_path(bench)
        rows: tuple[_Row, ...] = parts
        if path:
            holder = bench.current.at(path[:-1])
            idle = idle_values(holder.as_built, parts)
            rows += tuple(_Idle(holder.family, key, value) for key, value in holder.as_built if key in idle)
        self._model.show(rows, path, self._crystals(bench))
        if self._reason.text() != unsolved:
            self._reason.setText(unsolved)
        self._reason.setVisible(bool(unsolved))
        self.table.setVisible(bool(rows))
        rows_height = self.table.verticalHeader().defaultSectionSize() * len(rows)
        height = self.table.horizontalHeader().sizeHint().height() + rows_height + 4
        if self.table.height() != height:
            self.table.setFixedHeight(height)

    def _crystals(self, bench: Workbench) -> dict[str, str]:
        """The labels of the measured crystals that stand in the selected ladder, by reference."""
        batch, stage = bench.current.crystal_batch, bench.selected_stage
        if not isinstance(stage, LadderFilter) or not stage.as_built or not batch.table.strip():
            return {}
        if batch is not self._batch:
            # Readings are worked out once, not at every turn of the IF.
            try:
                self._crystals_read = crystal_bench.batch_of(batch)
            except CopperError:
                self._crystals_read = ()
            self._batch = batch
        return crystals_in_ladder.labels(self._crystals_read, stage)

    def restyle(self) -> None:
        self._model.restyle()


def _as_built_path(bench: Workbench) -> Path:
    """Where the as-built values of the parts on show stand in the design; empty when there are none."""
    if bench.selection == ("vfo",) and bench.current.vfo.tank is not None:
        return ("vfo", "tank", "as_built")
    stage = bench.selected_stage
    if stage is None:
        return ()
    if hasattr(stage, "as_built"):
        return ("stages", stage.id, "as_built")
    for place, member in enumerate(getattr(stage, "filters", ())):
        if bench.band_name in member.bands:
            return ("stages", stage.id, "filters", place, "as_built")
    return ()


class _PartsModel(QAbstractTableModel):
    def __init__(self, bench: Workbench, parent: QObject) -> None:
        super().__init__(parent)
        self._bench = bench
        self._rows: tuple[_Row, ...] = ()
        self._path: Path = ()
        self._labels: dict[str, str] = {}

    def show(self, rows: tuple[_Row, ...], path: Path, labels: dict[str, str]) -> None:
        """Show other rows; an editor that is open stays open while the parts are the same ones.

        `labels` are those of measured crystals by reference.
        """
        if rows == self._rows and path == self._path and labels == self._labels:
            return
        self._labels = labels
        same = path == self._path and [row.key for row in rows] == [row.key for row in self._rows]
        if same:
            self._rows = rows
            self.dataChanged.emit(self.index(0, 0), self.index(len(rows) - 1, len(_COLUMNS) - 1))
        else:
            self.beginResetModel()
            self._rows, self._path = rows, path
            self.endResetModel()

    def restyle(self) -> None:
        if self._rows:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._rows) - 1, len(_COLUMNS) - 1))

    def row(self, index: _Index) -> _Row:
        return self._rows[index.row()]

    def give(self, key: str, value: float | None) -> str | None:
        """Set or clear the as-built value of one part."""
        values = dict(self._bench.current.at(self._path))
        values.pop(key, None)
        if value is not None:
            values[key] = value
        return self._bench.edit(self._path, values)

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(_COLUMNS)

    def flags(self, index: _Index) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        # A transformer has turns, no value that could be measured.
        typed = index.column() == AS_BUILT and self._path and not self._has_no_value(index)
        return flags | Qt.ItemFlag.ItemIsEditable if typed else flags

    def _has_no_value(self, index: _Index) -> bool:
        row = self.row(index)
        return isinstance(row, PartRow) and row.kind == "transformer"

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return _COLUMNS[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(_HELP[section])
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: _Index, role: int = 0) -> Any:
        row, column = self._rows[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(row, column)
        if role == Qt.ItemDataRole.ToolTipRole:
            label = self._labels.get(row.ref)
            return tip(
                f"Crystal {label} of the batch." if label and not column else row.note or _HELP[column]
            )
        if role == Qt.ItemDataRole.ForegroundRole:
            names = ("ink", "soft", "ink" if row.as_built is None else "soft", "copper_text")
            return palette.brush(names[column])
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{row.ref} {_COLUMNS[column]} {self._text(row, column) or 'empty'}"
        return None

    def _text(self, row: _Row, column: int) -> str:
        if column == 0:
            label = self._labels.get(row.ref)
            return row.ref if label is None else f"{row.ref} · {label}"
        if column == AS_BUILT:
            return "" if row.as_built is None else part_text(row.as_built, row.unit)
        if isinstance(row, _Idle):
            return ""
        return part_text(row.designed if column == 1 else row.preferred, row.unit)


class _AsBuiltDelegate(QStyledItemDelegate):
    def __init__(self, bench: Workbench, model: _PartsModel, parent: QObject) -> None:
        super().__init__(parent)
        self._bench, self._parts = bench, model
        self._open: QWidget | None = None
        model.modelAboutToBeReset.connect(self.let_go)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        # A frame like a field's shows that this column is typed in.
        rect = option.rect.adjusted(0, 2, -1, -2)  # type: ignore[attr-defined]
        painter.setPen(palette.pen("rule"))
        painter.setBrush(palette.brush("sheet"))
        painter.drawRoundedRect(rect, 4, 4)
        super().paint(painter, option, index)

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: _Index) -> QWidget:
        row = self._parts.row(index)
        scaled = row.unit not in ("-", "")
        field = NumberField(
            lambda value, gesture: self._parts.give(row.key, value),
            Unit(row.unit or "-", scaled=scaled),
            optional=True,
            nearest=row.preferred,
            parent=parent,
        )
        field.setAccessibleName(f"{row.ref} as built")
        field.marked.connect(self._say)
        self._open = field
        return field

    def _say(self, reason: str) -> None:
        if reason:
            self._bench.refused.emit(reason)

    def let_go(self) -> None:
        """Close an editor whose table is about to be made anew."""
        if self._open is not None:
            self.closeEditor.emit(self._open, QStyledItemDelegate.EndEditHint.NoHint)

    def destroyEditor(self, editor: QWidget, index: _Index) -> None:
        self._open = None
        super().destroyEditor(editor, index)

    def setEditorData(self, editor: QWidget, index: _Index) -> None:
        assert isinstance(editor, NumberField)
        editor.set_value(self._parts.row(index).as_built)

    def setModelData(self, editor: QWidget, model: Any, index: _Index) -> None:
        assert isinstance(editor, NumberField)
        editor.commit()

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        ends = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Tab, Qt.Key.Key_Backtab)
        if (
            isinstance(event, QKeyEvent)
            and event.type() == QEvent.Type.KeyPress
            and event.key() in ends
            and isinstance(editor, NumberField)
        ):
            if editor.commit():
                back = event.key() == Qt.Key.Key_Backtab
                self._go_on(editor, -1 if back else 1, tab=back or event.key() == Qt.Key.Key_Tab)
            return True  # What is wrong is marked: the hand stays in the field.
        return super().eventFilter(editor, event)

    def _go_on(self, editor: NumberField, step: int, *, tab: bool) -> None:
        """To the next row's as-built value; from the last row Tab leaves the table."""
        table = self.parent()
        assert isinstance(table, QTableView)
        following = table.currentIndex().siblingAtRow(table.currentIndex().row() + step)
        while following.isValid() and not following.flags() & Qt.ItemFlag.ItemIsEditable:
            following = following.siblingAtRow(following.row() + step)
        self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)
        if following.isValid():
            table.setCurrentIndex(following)
            table.edit(following)
        elif tab:
            table.focusNextPrevChild(step > 0)


def part_text(value: float, unit: str) -> str:
    """A part's value as it stands in tables; crystals to the hertz."""
    if unit == "Hz":
        return number_text(round(value), Unit("Hz", scaled=True)).replace(THIN, "")
    return format_value(value, unit, 3 if unit in ("H", "-", "") else 4)
