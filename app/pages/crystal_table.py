"""The table of a bag of crystals: what each one is, where it goes, and whether it may be chosen."""

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
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

from app.style import palette
from app.style.column_widths import least_width, shared, width
from app.style.plain import tip
from core.model.values.notation import format_value
from core.rig.bench import crystal_bench
from core.rig.bench.crystal_bench import FIXTURE_ERRORS, BatchRow

_HEADS = ("crystal", "mesh", "fs, MHz", "Lm", "Rm", "C0", "Q", "remark")
_C0, _REMARK = _HEADS.index("C0"), _HEADS.index("remark")
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

#: Figures with a spread: name in the parameters, name on screen, unit.
_CONFIDENT = (
    ("fs_hz", "fs", "Hz"),
    ("lm_h", "Lm", "H"),
    ("cm_f", "Cm", "F"),
    ("rm_ohm", "Rm", "Ω"),
    ("c0_f", "C0", "F"),
    ("q", "Q", ""),
)


class CrystalTable(QTableWidget):
    """A row a crystal, with a tick for those that may be chosen. Space turns the tick of the current row.

    A remark stands below its crystal's figures over the whole width, for no column has room for it.
    """

    #: The builder ticked a crystal in or out: its label, and whether it may be chosen.
    ticked = Signal(str, bool)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Crystals")
        self.setColumnCount(len(_HEADS))
        self.setHorizontalHeaderLabels(list(_HEADS))
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
        self.setColumnHidden(_REMARK, True)
        self.setItemDelegate(_FirstLine(self))
        self.itemChanged.connect(self._changed)
        #: Rows that are not filled yet; those of a large bag follow in slices, so that the window lives.
        self._unfilled: Iterator[int] = iter(())
        self._slice = QTimer(self, singleShot=True, interval=0)
        self._slice.timeout.connect(self._fill)
        self._shown: list[tuple[BatchRow, int | None, str]] = []
        self._theme = palette.theme()
        #: Height of a row's figures, pixels.
        self.line = _LINE

    def show_batch(
        self,
        batch: Sequence[BatchRow],
        meshes: Mapping[str, int],
        remarks: Mapping[str, str],
        *,
        by_mesh: bool,
    ) -> None:
        """Show a batch: the mesh of each placed crystal by label, and what makes it lie far out.

        `by_mesh` has the placed ones first, in the order of the ladder.
        """
        rows = list(batch)
        if by_mesh:
            rows.sort(key=lambda row: meshes.get(row.label, len(meshes) + 1))
        shown = [
            (row, meshes.get(row.label) if row.parameters is not None else None, remarks.get(row.label, ""))
            for row in rows
        ]
        former = self._shown if palette.theme() == self._theme else []
        lacking = set(self._unfilled)
        self._shown, self._theme = shown, palette.theme()
        self.setRowCount(len(rows))
        # A large bag has thousands, and the IF changes few.
        self._unfilled = iter(
            [r for r, line in enumerate(shown) if r >= len(former) or former[r] != line or r in lacking]
        )
        self._fill(_AT_ONCE)
        # What the fixture says of all of them alike is read there.
        different = {row.parameters.c0_f for row in rows if row.parameters is not None}
        self.setColumnHidden(_C0, len(different) < 2)
        self._make_room()
        self.viewport().update()

    def _fill(self, most: int | None = None) -> None:
        """Fill `most` of the rows that are left, or a slice of them, and go on when the window has lived."""
        self.blockSignals(True)
        end = perf_counter() + _SLICE_S
        for done, r in enumerate(self._unfilled, start=1):
            self._set_row(r, *self._shown[r])
            self._give_height(r)
            if done == most or (most is None and perf_counter() > end):
                self._slice.start()
                break
        self.blockSignals(False)

    def remark_rect(self, r: int) -> QRect:
        """Where the remark of a row stands on the viewport; empty when it has none."""
        remark = self._text(r, _REMARK)
        if not remark:
            return QRect()
        room = QRect(
            _INDENT, self.rowViewportPosition(r) + self.line, self.viewport().width() - 2 * _INDENT, 4000
        )
        return self.fontMetrics().boundingRect(room, int(_WRAP), remark)

    def _make_room(self) -> None:
        """Give the columns their widths, and each row the height of its figures and its remark."""
        columns = [c for c in range(_REMARK) if not self.isColumnHidden(c)]
        ordinary, bold = self.fontMetrics(), QFont(self.font())
        bold.setBold(True)
        natural, least = [], []
        for c in columns:
            texts = [self._text(r, c) for r in range(min(self.rowCount(), _MEASURED_ROWS))]
            head, beside = width(_HEADS[c], QFontMetrics(bold)), _TICK if c == 0 else 0
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
        self._make_room()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self.viewport())
        height = self.viewport().height()
        r = max(self.rowAt(0), 0)
        while r < self.rowCount() and self.rowViewportPosition(r) < height:
            rect = self.remark_rect(r)
            if not rect.isEmpty():
                far = self._shown[r][2]
                chosen = self.selectionModel().isRowSelected(r)
                painter.setPen(palette.pen("on_copper" if chosen else "caution" if far else "soft"))
                # As wide as it was measured for, lest it break elsewhere.
                rect.setWidth(self.viewport().width() - 2 * _INDENT)
                painter.drawText(rect, int(_WRAP), self._text(r, _REMARK))
            r += 1

    def _set_row(self, r: int, row: BatchRow, mesh: int | None, far: str) -> None:
        figures, remark, told = _texts(row)
        whole = "; ".join(text for text in (far, remark) if text)
        told = tip("\n".join(filter(None, (whole, told))))
        for c, text in enumerate((row.label, "" if mesh is None else str(mesh), *figures, whole)):
            item = self.item(r, c)
            if item is None:
                item = QTableWidgetItem()
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                self.setItem(r, c, item)
            item.setText(text)
            item.setToolTip(told)
            item.setForeground(palette.brush("caution" if far and c in (0, _REMARK) else "ink"))
            if c == 0:
                item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{text}: {whole}" if whole else text)
                _tick(item, row)

    def _changed(self, item: QTableWidgetItem) -> None:
        if item.column() == 0 and item.flags() & Qt.ItemFlag.ItemIsUserCheckable:
            label = item.data(Qt.ItemDataRole.UserRole)
            # The tick is no longer the one that was set: it is set again even if the design stays as it was.
            row, _, far = self._shown[item.row()]
            self._shown[item.row()] = row, -1, far
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
        self._fill(len(self._shown))
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


def _tick(item: QTableWidgetItem, row: BatchRow) -> None:
    """The tick of a row that can be chosen; none on a row whose readings were refused."""
    item.setData(Qt.ItemDataRole.UserRole, row.label)
    if row.parameters is None:
        item.setData(Qt.ItemDataRole.CheckStateRole, None)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
        return
    item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
    state = Qt.CheckState.Unchecked if row.left_out else Qt.CheckState.Checked
    if item.data(Qt.ItemDataRole.CheckStateRole) is None or item.checkState() != state:
        item.setCheckState(state)


@lru_cache(maxsize=2 * crystal_bench.MOST_CRYSTALS)
def _texts(row: BatchRow) -> tuple[tuple[str, ...], str, str]:
    """A crystal's figures, the remark, and what is told of it when it is pointed at; kept,
    because a large bag has thousands.
    """
    p = row.parameters
    if p is None:
        return ("",) * 5, row.refused, ""
    known = dict(p.spread)
    lm = format_value(p.lm_h, "H", 4)
    figures = (
        f"{p.fs_hz / 1e6:.6f}",
        f"{lm} ± {format_value(known['lm_h'], 'H', 1)}" if "lm_h" in known else lm,
        "" if p.rm_ohm is None else format_value(p.rm_ohm, "Ω", 3),
        format_value(p.c0_f, "F", 3),
        "" if p.q is None else f"{p.q:,.0f}".replace(",", "\u202f"),
    )
    return figures, p.doubt, confidence(row)


def confidence(row: BatchRow) -> str:
    """The figures of a crystal with their 95 % intervals, a line each."""
    p = row.parameters
    if p is None:
        return row.refused
    own, whole = dict(p.spread), dict(p.whole_spread)
    readings = "of the readings alone (95 %), and " if own else ""
    lines = [f"± {readings}at worst with a fixture off by {FIXTURE_ERRORS}:"]
    for name, title, unit in _CONFIDENT:
        value = getattr(p, name)
        if name in whole and value is not None:
            text = f"{title} {format_value(value, unit, 9 if name == 'fs_hz' else 4)}"
            text += f" ± {format_value(own[name], unit, 2)}," if name in own else ""
            lines.append(f"{text} ± {format_value(whole[name], unit, 2)}")
    return "\n".join(lines)
