"""The table of a bag of crystals: what each one is, where it goes, and whether it may be chosen."""

from collections.abc import Iterator
from time import perf_counter

from PySide6.QtCore import (
    QAbstractItemModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
)

from app.pictures.bench.crystal_lines import C0, HEADS, REMARK, CrystalLine
from app.style import palette
from app.style.column_widths import least_width, shared, width
from app.style.plain import tip
from app.widgets.drawn import Drawn

#: Height of a crystal's figures in one line and in two, and of the remark's distance from the edge, pixels.
_LINE, _TWO_LINES, _INDENT = 24, 38, 8
#: Width of a tick with what is beside it, pixels.
_TICK = 20
#: Texts of no more letters than this are not broken.
_SHORT = 14
_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft
_Index = QModelIndex | QPersistentModelIndex
#: Rows by whose texts the columns are made wide enough; a bag of a thousand is not measured whole.
_MEASURED_ROWS = 60
#: Rows filled at once, which is more than a screen holds, and how long the others are filled at a time, s.
_AT_ONCE, _SLICE_S = 80, 0.01


class CrystalTable(Drawn[tuple[CrystalLine, ...]], QTableWidget):
    """A row a crystal, with a tick for those that may be chosen. Space turns the tick of the current row.

    A remark stands below its crystal's figures over the whole width, for no column has room for it.
    """

    #: The builder ticked a crystal in or out: its label, and whether it may be chosen.
    ticked = Signal(str, bool)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Crystals")
        self.setColumnCount(len(HEADS))
        self.setHorizontalHeaderLabels(list(HEADS))
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(_LINE)
        self.setShowGrid(False)
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QTableWidget.SelectionBehavior.SelectRows)
        self.setSelectionMode(QTableWidget.SelectionMode.SingleSelection)
        # Tab leaves the table; the arrows walk in it.
        self.setTabKeyNavigation(False)
        head = self.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        head.setHighlightSections(False)
        self.setColumnHidden(REMARK, True)
        self.setItemDelegate(_FirstLine(self))
        self.itemChanged.connect(self._changed)
        #: Rows that are not filled yet; those of a large bag follow in slices, so that the window lives.
        self._unfilled: Iterator[int] = iter(())
        self._slice = QTimer(self, singleShot=True, interval=0)
        self._slice.timeout.connect(self._fill)
        #: What the cells of each row show, once filled; None where they are to be set anew.
        self._lines: list[CrystalLine | None] = []
        #: Height of a row's figures, pixels.
        self.line = _LINE

    def draw(self, picture: tuple[CrystalLine, ...]) -> None:
        former, lacking = self._lines, set(self._unfilled)
        self._lines = list(picture)
        self.setRowCount(len(picture))
        # A large bag has thousands, and the IF changes few.
        self._unfilled = iter(
            [r for r, line in enumerate(picture) if r >= len(former) or former[r] != line or r in lacking]
        )
        self._fill(_AT_ONCE)
        # What the fixture says of all of them alike is read there.
        self.setColumnHidden(C0, len({line.c0_f for line in picture} - {None}) < 2)
        self._make_room()
        self.viewport().update()

    def forget(self) -> None:
        super().forget()
        self._lines = []

    def _fill(self, most: int | None = None) -> None:
        """Fill `most` of the rows that are left, or a slice of them, and go on when the window has lived."""
        self.blockSignals(True)
        end = perf_counter() + _SLICE_S
        for done, r in enumerate(self._unfilled, start=1):
            self._set_row(r, self.picture[r])
            self._give_height(r)
            if done == most or (most is None and perf_counter() > end):
                self._slice.start()
                break
        self.blockSignals(False)

    def remark_rect(self, r: int) -> QRect:
        """Where the remark of a row stands on the viewport; empty when it has none."""
        remark = self._text(r, REMARK)
        if not remark:
            return QRect()
        room = QRect(
            _INDENT, self.rowViewportPosition(r) + self.line, self.viewport().width() - 2 * _INDENT, 4000
        )
        return self.fontMetrics().boundingRect(room, int(_WRAP), remark)

    def _make_room(self) -> None:
        """Give the columns their widths, and each row the height of its figures and its remark."""
        columns = [c for c in range(REMARK) if not self.isColumnHidden(c)]
        ordinary, bold = self.fontMetrics(), QFont(self.font())
        bold.setBold(True)
        natural, least = [], []
        for c in columns:
            texts = [self._text(r, c) for r in range(min(self.rowCount(), _MEASURED_ROWS))]
            head, beside = width(HEADS[c], QFontMetrics(bold)), _TICK if c == 0 else 0
            natural.append(max([head, *(width(text, ordinary) + beside for text in texts)]))
            # A value may stand above its spread.
            least.append(max([head, *(least_width(text, ordinary, _SHORT) + beside for text in texts)]))
        widths = shared(natural, least, self.viewport().width(), even=True)
        for c, wide in zip(columns, widths, strict=True):
            self.setColumnWidth(c, wide)
        broken = any(wide < wanted for wide, wanted in zip(widths, natural, strict=True))
        self.line = _TWO_LINES if broken else _LINE
        for r in range(self.rowCount()):
            self._give_height(r)

    def _give_height(self, r: int) -> None:
        remark = self.remark_rect(r)
        height = self.line if remark.isEmpty() else self.line + remark.height() + 4
        if self.rowHeight(r) != height:
            self.setRowHeight(r, height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._make_room()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self.viewport())
        height = self.viewport().height()
        r = max(self.rowAt(0), 0)
        while r < self.rowCount() and self.rowViewportPosition(r) < height:
            rect = self.remark_rect(r)
            if not rect.isEmpty():
                chosen = self.selectionModel().isRowSelected(r)
                role = "caution" if self.picture[r].far else "soft"
                painter.setPen(palette.pen("on_copper" if chosen else role))
                # As wide as it was measured for, lest it break elsewhere.
                rect.setWidth(self.viewport().width() - 2 * _INDENT)
                painter.drawText(rect, int(_WRAP), self._text(r, REMARK))
            r += 1

    def _set_row(self, r: int, line: CrystalLine) -> None:
        told = tip(line.help)
        for c, text in enumerate(line.cells):
            item = self.item(r, c)
            if item is None:
                item = QTableWidgetItem()
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                self.setItem(r, c, item)
            item.setText(text)
            item.setToolTip(told)
            item.setForeground(palette.brush("caution" if line.far and c in (0, REMARK) else "ink"))
            if c == 0:
                spoken = f"{text}: {line.remark}" if line.remark else text
                item.setData(Qt.ItemDataRole.AccessibleTextRole, spoken)
                _tick(item, line)

    def _changed(self, item: QTableWidgetItem) -> None:
        if item.column() == 0 and item.flags() & Qt.ItemFlag.ItemIsUserCheckable:
            label = item.data(Qt.ItemDataRole.UserRole)
            # The tick is no longer the one that was set: it is set again even if the design stays as it was.
            self._lines[item.row()] = None
            super().forget()
            self.ticked.emit(label, item.checkState() == Qt.CheckState.Checked)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        item = self.item(self.currentRow(), 0)
        if event.key() != Qt.Key.Key_Space or item is None:
            super().keyPressEvent(event)
        elif item.flags() & Qt.ItemFlag.ItemIsUserCheckable:
            on = item.checkState() == Qt.CheckState.Checked
            item.setCheckState(Qt.CheckState.Unchecked if on else Qt.CheckState.Checked)

    def texts(self) -> list[list[str]]:
        """The texts on show, row by row."""
        self._fill(self.rowCount())
        return [[self._text(r, c) for c in range(self.columnCount())] for r in range(self.rowCount())]

    def _text(self, r: int, c: int) -> str:
        item = self.item(r, c)
        return "" if item is None else item.text()


class _FirstLine(QStyledItemDelegate):
    """Draws ticks and figures in the upper part of their row, so that the remark has the rest of it."""

    def __init__(self, table: CrystalTable) -> None:
        super().__init__(table)
        self._table = table

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        if option.state & QStyle.StateFlag.State_Selected:  # type: ignore[attr-defined]
            painter.fillRect(option.rect, palette.brush("copper"))  # type: ignore[attr-defined]
        super().paint(painter, self._first_line(option), index)

    def editorEvent(
        self, event: QEvent, model: QAbstractItemModel, option: QStyleOptionViewItem, index: _Index
    ) -> bool:
        return super().editorEvent(event, model, self._first_line(option), index)

    def _first_line(self, option: QStyleOptionViewItem) -> QStyleOptionViewItem:
        made = QStyleOptionViewItem(option)
        made.rect.setHeight(self._table.line)  # type: ignore[attr-defined]
        return made


def _tick(item: QTableWidgetItem, line: CrystalLine) -> None:
    """The tick of a crystal that can be chosen; none on one whose readings were refused."""
    item.setData(Qt.ItemDataRole.UserRole, line.label)
    if line.ticked is None:
        item.setData(Qt.ItemDataRole.CheckStateRole, None)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
        return
    item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
    state = Qt.CheckState.Checked if line.ticked else Qt.CheckState.Unchecked
    if item.data(Qt.ItemDataRole.CheckStateRole) is None or item.checkState() != state:
        item.setCheckState(state)
