"""A table of lines that are typed in."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QTableView,
    QWidget,
)

from app.style import palette
from app.style.column_widths import broken, least_width, shared, width
from app.style.plain import tip

_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()
#: Texts of no more letters than this are not broken while there is room.
_SHORT = 16
_ROW_HEIGHT = 24
#: What a row has beside the lines of its texts, pixels.
_BESIDE = 8


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A line: its texts, the columns that are typed in, what is told of it, and its colour's role.

    `key` says which line it is when its texts change.
    """

    key: object
    cells: tuple[str, ...]
    typed: frozenset[int] = frozenset()
    help: str = ""
    role: str = "ink"


#: Gives what was typed into a line's column to the design; the reason why it was refused, or None.
Give = Callable[[int, int, str], str | None]


class TypedTable(QTableView):
    """Lines of texts; what is typed goes to `give`, and the last valid text stays where it is refused."""

    #: Another line is the present one, or none.
    picked = Signal()
    #: The line with this number is to go.
    removed = Signal(int)
    #: What was typed was refused, in one sentence; empty once something was taken.
    told = Signal(str)

    def __init__(self, name: str, give: Give, *, down: bool = False, long: int | None = None) -> None:
        """`name` is what the table is called; with `give` what is typed is given to the design. Return goes
        `down` to the same column of the next line that is typed in. Texts of the `long` column end in dots
        beyond two lines.
        """
        super().__init__()
        self._down, self._long = down, long
        self._left_out: frozenset[int] = frozenset()
        self._lines = _Lines(give, self)
        self._laid_out: object = None
        self.setModel(self._lines)
        self.setAccessibleName(name)
        self.verticalHeader().hide()
        self.verticalHeader().setMinimumSectionSize(_ROW_HEIGHT)
        self.verticalHeader().setDefaultSectionSize(_ROW_HEIGHT)
        self.setShowGrid(False)
        # Tab leaves the table; the arrows walk in it.
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setMinimumSectionSize(8)
        self.selectionModel().currentChanged.connect(lambda: self.picked.emit())
        self._lines.told.connect(self.told)
        self._lines.modelReset.connect(lambda: self.picked.emit())

    @property
    def row(self) -> int | None:
        """Number of the present line; None where there is none."""
        index = self.currentIndex()
        return index.row() if index.isValid() else None

    def pick(self, row: int, column: int = 0) -> None:
        """Make a line the present one."""
        self.setCurrentIndex(self._lines.index(row, column))

    def type_in(self, row: int, column: int) -> None:
        """Open the field of a line's column."""
        self.pick(row, column)
        self.edit(self._lines.index(row, column))

    def show_lines(self, heads: Sequence[str], help: Sequence[str], lines: Sequence[TypedLine]) -> None:
        """Show these lines; `help` tells what each column is. The present line stays, by its key."""
        kept, row = None, self.row
        if row is not None and row < len(self._lines.lines):
            kept = (self._lines.lines[row].key, self.currentIndex().column())
        if self._lines.show(tuple(heads), tuple(help), tuple(lines)):
            self._hide()
            place = next((n for n, each in enumerate(lines) if kept and each.key == kept[0]), None)
            if place is not None and kept is not None:
                self.pick(place, kept[1])
        self._lay_out()

    def leave_out(self, columns: frozenset[int]) -> None:
        """Show all columns but these."""
        if columns != self._left_out:
            self._left_out = columns
            self._hide()
            self._lay_out()

    def _hide(self) -> None:
        for c in range(len(self._lines.heads)):
            self.setColumnHidden(c, c in self._left_out)

    def texts(self) -> list[list[str]]:
        """The texts on show, line by line."""
        return [list(each.cells) for each in self._lines.lines]

    def restyle(self) -> None:
        """Let every cell be painted anew."""
        self._laid_out = None
        self._lay_out()
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        row = None if self.state() == QAbstractItemView.State.EditingState else self.row
        if event.key() == Qt.Key.Key_Delete and row is not None:
            self.removed.emit(row)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and row is not None:
            self.edit(self.currentIndex())
        else:
            super().keyPressEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, hint)
        if (
            self._down
            and hint == QAbstractItemDelegate.EndEditHint.SubmitModelCache
            and not self._lines.refused
        ):
            self._go_down()

    def _go_down(self) -> None:
        row, column, key = self._lines.given
        lines = self._lines.lines
        # The line that was typed in may have gone, as it belongs no longer here.
        start = row + 1 if row < len(lines) and lines[row].key == key else row
        following = next((n for n in range(start, len(lines)) if column in lines[n].typed), None)
        if following is not None:
            self.pick(following, column)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_out()

    def _lay_out(self) -> None:
        """Give the columns their width, and the rows the height that their texts then need."""
        lines, heads, room = self._lines.lines, self._lines.heads, self.viewport().width()
        asked = (room, heads, lines, self._left_out)
        if asked == self._laid_out or not heads:
            return
        self._laid_out = asked
        ordinary, bold = self.fontMetrics(), QFont(self.font())
        bold.setBold(True)
        heavy = QFontMetrics(bold)
        columns = [c for c in range(len(heads)) if not self.isColumnHidden(c)]
        natural, least, words = [], [], []
        for c in columns:
            measured = [(heads[c], heavy), *((each.cells[c], ordinary) for each in lines)]
            natural.append(max(width(text, metrics) for text, metrics in measured))
            whole = (least_width(text, metrics, _SHORT) for text, metrics in measured[1:])
            least.append(max([least_width(heads[c], heavy, 0), *whole]))
            words.append(max(least_width(text, metrics, 0) for text, metrics in measured))
        # Where there is no room even so, a date stands in two lines.
        widths = shared(natural, least if sum(least) <= room else words, room, even=False)
        told = list(heads)
        for c, wide in zip(columns, widths, strict=True):
            self.setColumnWidth(c, wide)
            told[c] = broken(heads[c], heavy, wide)
        self._lines.break_heads(tuple(told))
        if any(wide < wanted for wide, wanted in zip(widths, natural, strict=True)):
            self.resizeRowsToContents()
            self._cut_long([c for c in columns if c != self._long])
        else:
            for r in range(len(lines)):
                self.setRowHeight(r, _ROW_HEIGHT)

    def _cut_long(self, others: Sequence[int]) -> None:
        """Make rows that are high for their long text only two lines high."""
        most = 2 * self.fontMetrics().lineSpacing() + _BESIDE
        for r, line in enumerate(self._lines.lines):
            if self._long is not None and line.cells[self._long] and self.rowHeight(r) > most:
                whole = (self.sizeHintForIndex(self._lines.index(r, c)).height() for c in others)
                self.setRowHeight(r, max(most, *whole))


class _Lines(QAbstractTableModel):
    told = Signal(str)

    def __init__(self, give: Give, parent: QObject) -> None:
        super().__init__(parent)
        self._give = give
        #: Line, column and key of what was typed last, and whether it was refused.
        self.given: tuple[int, int, object] = (0, 0, None)
        self.refused = False
        self.heads: tuple[str, ...] = ()
        self.lines: tuple[TypedLine, ...] = ()
        self._help: tuple[str, ...] = ()
        self._broken: tuple[str, ...] = ()

    def show(self, heads: tuple[str, ...], help: tuple[str, ...], lines: tuple[TypedLine, ...]) -> bool:
        """Show other lines; an editor that is open stays open while they are the same ones. Whether they are
        not.
        """
        keys = [each.key for each in self.lines]
        if heads == self.heads and keys == [each.key for each in lines]:
            self.lines = lines
            if lines:
                self.dataChanged.emit(self.index(0, 0), self.index(len(lines) - 1, len(heads) - 1))
            return False
        self.beginResetModel()
        self.heads, self.lines, self._help = heads, lines, help
        self._broken = heads
        self.endResetModel()
        return True

    def break_heads(self, heads: tuple[str, ...]) -> None:
        """Show the heads in these lines."""
        if heads != self._broken:
            self._broken = heads
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(heads) - 1)

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self.heads)

    def flags(self, index: _Index) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        typed = index.column() in self.lines[index.row()].typed
        return flags | Qt.ItemFlag.ItemIsEditable if typed else flags

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self._broken[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(self._help[section])
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        return None

    def data(self, index: _Index, role: int = 0) -> Any:
        line, column = self.lines[index.row()], index.column()
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return line.cells[column]
        if role == Qt.ItemDataRole.ToolTipRole:
            return tip(line.help or self._help[column])
        if role == Qt.ItemDataRole.ForegroundRole:
            return palette.brush(line.role)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{self.heads[column]} {line.cells[column] or 'empty'}"
        return None

    def setData(self, index: _Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        text, line = str(value).strip(), self.lines[index.row()]
        self.given, self.refused = (index.row(), index.column(), line.key), False
        if role != Qt.ItemDataRole.EditRole or text == line.cells[index.column()]:
            return False
        reason = self._give(index.row(), index.column(), text)
        self.refused = reason is not None
        self.told.emit(reason or "")
        return reason is None
