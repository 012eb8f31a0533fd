"""The parts of the selected filter or tank: as designed, as preferred value, as built."""

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.pictures.panels.parts import AS_BUILT, HEADS, HELP, PartLine, PartsPicture, picture_of
from app.state.workbench import Workbench
from app.style import palette
from app.style.column_widths import width
from app.style.plain import Text, tip
from app.widgets.drawn import Drawn
from app.widgets.number_field import NumberField
from app.widgets.view import View
from core.model.values.quantities import Unit

_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()


class PartsTable(Drawn[PartsPicture], View):
    """Parts of the selected stage on the band looked at; the last column is typed in."""

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model = _PartsModel(bench, self)
        self._reason = Text()
        self._reason.setWordWrap(True)
        self._reason.setProperty("look", "soft")
        self.table = QTableView()
        self.table.setAccessibleName("Parts: designed, preferred, as built")
        self.table.setModel(self._model)
        self.table.setItemDelegateForColumn(AS_BUILT, _AsBuiltDelegate(bench, self._model, self.table))
        self.table.setFont(palette.figures_font(self.font(), 0.9))
        self.table.horizontalHeader().setFont(self.table.font())
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
        self.show_picture(picture_of(bench.analysis, bench.look))

    def draw(self, picture: PartsPicture) -> None:
        self._model.show(picture.lines)
        self._reason.setText(picture.reason)
        self._reason.setVisible(bool(picture.reason))
        self.table.setVisible(bool(picture.lines))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Make rows whose values find no room in one line higher, and the table as high as its rows."""
        header, metrics = self.table.verticalHeader(), self.table.fontMetrics()
        one, two = header.defaultSectionSize(), header.defaultSectionSize() + metrics.height()
        room = self.table.columnWidth(AS_BUILT)
        for r in range(self._model.rowCount()):
            texts = [str(self._model.index(r, c).data() or "") for c in range(1, len(HEADS))]
            height = one if all(width(text, metrics) <= room for text in texts) else two
            if self.table.rowHeight(r) != height:
                self.table.setRowHeight(r, height)
        height = self.table.horizontalHeader().sizeHint().height() + header.length() + 4
        if self.table.height() != height:
            self.table.setFixedHeight(height)

    def restyle(self) -> None:
        self._model.restyle()


class _PartsModel(QAbstractTableModel):
    def __init__(self, bench: Workbench, parent: QObject) -> None:
        super().__init__(parent)
        self._bench = bench
        self._rows: tuple[PartLine, ...] = ()

    def show(self, rows: tuple[PartLine, ...]) -> None:
        """Show other rows; an editor that is open stays open while the parts are the same ones."""
        if [(row.path, row.key) for row in rows] == [(row.path, row.key) for row in self._rows]:
            self._rows = rows
            self.restyle()
        else:
            self.beginResetModel()
            self._rows = rows
            self.endResetModel()

    def restyle(self) -> None:
        """Let every cell be painted anew."""
        if self._rows:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._rows) - 1, len(HEADS) - 1))

    def row(self, index: _Index) -> PartLine:
        return self._rows[index.row()]

    def give(self, row: PartLine, value: float | None) -> str | None:
        """Set or clear the as-built value of one part."""
        values = dict(self._bench.current.at(row.path))
        values.pop(row.key, None)
        if value is not None:
            values[row.key] = value
        return self._bench.edit(row.path, values)

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(HEADS)

    def flags(self, index: _Index) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        typed = index.column() == AS_BUILT and self.row(index).typed
        return flags | Qt.ItemFlag.ItemIsEditable if typed else flags

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return HEADS[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(HELP[section])
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: _Index, role: int = 0) -> Any:
        row, column = self._rows[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return row.cells[column]
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(row.help[min(column, 1)] or HELP[column])
        if role == Qt.ItemDataRole.ForegroundRole:
            names = ("ink", "soft", "ink" if row.as_built is None else "soft", "copper_text")
            return palette.brush(names[column])
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{row.ref} {HEADS[column]} {row.cells[column] or 'empty'}"
        return None


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
            lambda value, gesture: self._parts.give(row, value),
            Unit(row.unit or "-", scaled=scaled),
            optional=True,
            nearest=row.near,
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
