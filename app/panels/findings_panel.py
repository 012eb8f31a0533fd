"""What the program noticed, worst first."""

from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QListView,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.state.workbench import Workbench
from app.style import palette, words
from app.style.marks import draw_mark
from app.style.plain import Text, tip
from app.widgets.view import View
from core.model.values.base import Path
from core.rig.findings import SEVERITIES, Finding
from core.rig.rules import inspect

_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()
_FINDING = Qt.ItemDataRole.UserRole
_HEAD = Qt.ItemDataRole.UserRole + 1
_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
_PAD, _BAR, _SPACE, _MARK = 8, 4, 6, 13


class FindingsPanel(View):
    """The findings of all bands; a click or Enter goes to the stage and field a finding speaks of."""

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        card = QFrame()
        card.setProperty("look", "card")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(card)
        title = Text("Findings")
        title.setFont(palette.figures_font(self.font(), 1.2, bold=True))
        self.count = Text()
        self.count.setProperty("look", "soft")
        self.count.setWordWrap(True)
        self.count.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.count.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        head = QHBoxLayout()
        head.addWidget(title)
        head.addWidget(self.count, 1)
        self._model = _FindingsModel(bench, self)
        self.list = _FindingsList()
        self.list.setModel(self._model)
        self.list.setItemDelegate(_FindingPainter(self.list))
        self.list.activated.connect(self._go)
        self.list.clicked.connect(self._go)
        title.setBuddy(self.list)
        column = QVBoxLayout(card)
        column.setContentsMargins(10, 10, 8, 8)
        column.addLayout(head)
        column.addWidget(self.list, 1)

    def settle(self, bench: Workbench) -> None:
        findings = inspect(bench.analysis)
        current = self.list.currentIndex()
        key = current.data(_FINDING).key if current.isValid() else None
        if self._model.show(findings):
            self.list.setCurrentIndex(self._model.index_of(key))
            counts = [(sum(f.severity == each for f in findings), each) for each in SEVERITIES]
            text = ", ".join(words.counted(n, each) for n, each in counts if n)
            self.count.setText(text or "nothing to remark")
            self.count.setToolTip(text)

    def restyle(self) -> None:
        self.list.viewport().update()

    def _go(self, index: _Index) -> None:
        finding = index.data(_FINDING)
        self._bench.jump(finding.path or _place(finding), finding.band or None)


def _place(finding: Finding) -> Path:
    """Where to go for a finding that names no field."""
    stage = finding.stage
    if stage in ("vfo", "carrier", "station", "speaker", "microphone", "read_out"):
        return (stage,)
    return ("stages", stage) if stage else ()


class _FindingsModel(QAbstractListModel):
    def __init__(self, bench: Workbench, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self._findings: tuple[Finding, ...] = ()
        self._heads: list[str] = []

    def show(self, findings: tuple[Finding, ...]) -> bool:
        """Show other findings; False when they are the ones on show."""
        heads = [_head(self._bench, finding) for finding in findings]
        if findings == self._findings and heads == self._heads and findings:
            return False
        keys = [finding.key for finding in findings]
        if keys == [finding.key for finding in self._findings] and keys:
            before = zip(self._findings, self._heads, strict=True)
            now = zip(findings, heads, strict=True)
            changed = [n for n, (a, b) in enumerate(zip(now, before, strict=True)) if a != b]
            self._findings, self._heads = findings, heads
            if changed:
                self.dataChanged.emit(self.index(changed[0]), self.index(changed[-1]))
            return True
        self.beginResetModel()
        self._findings, self._heads = findings, heads
        self.endResetModel()
        return True

    def index_of(self, key: object) -> QModelIndex:
        """Where the finding of this identity stands, wherever its figures have brought it; none if gone."""
        row = next((n for n, each in enumerate(self._findings) if each.key == key), -1)
        return self.index(row)

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._findings)

    def data(self, index: _Index, role: int = 0) -> Any:
        finding = self._findings[index.row()]
        if role == _FINDING:
            return finding
        if role == _HEAD:
            return self._heads[index.row()]
        if role == Qt.ItemDataRole.ToolTipRole and finding.source:
            return tip(f"Source: {finding.source}")
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.DisplayRole):
            return f"{self._heads[index.row()]}. {finding.text} {finding.remedy}"
        return None


def _head(bench: Workbench, finding: Finding) -> str:
    place = _place(finding)
    name = words.title_of(bench.current, place) if place else "Rig"
    if place[:1] == ("stages",):
        names = {stage.id: stage.name for stage in bench.current.stages}
        name = names.get(str(place[1]), str(place[1]))
    parts = [words.severity(finding.severity), name]
    if finding.band:
        parts.append(words.band(finding.band))
    return " · ".join(parts)


class _FindingsList(QListView):
    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Findings, worst first")
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMouseTracking(True)
        self.setMinimumWidth(180)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.scheduleDelayedItemsLayout()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            if self.currentIndex().isValid():
                self.activated.emit(self.currentIndex())
            return
        super().keyPressEvent(event)


class _FindingPainter(QStyledItemDelegate):
    def __init__(self, view: QListView) -> None:
        super().__init__(view)
        self._view = view
        self._bold = QFont(view.font())
        self._bold.setBold(True)

    def _width(self) -> int:
        return self._view.viewport().width() - _BAR - 2 * _PAD

    def _texts(self, index: _Index) -> tuple[str, str, str]:
        finding = index.data(_FINDING)
        return index.data(_HEAD), finding.text, finding.remedy

    def _heights(self, index: _Index) -> tuple[int, int, int]:
        head, text, remedy = self._texts(index)
        plain, bold = QFontMetrics(self._view.font()), QFontMetrics(self._bold)
        room = QRect(0, 0, self._width(), 4000)
        return (
            bold.boundingRect(room.adjusted(0, 0, -_MARK - 6, 0), _WRAP, head).height(),
            plain.boundingRect(room, _WRAP, text).height(),
            plain.boundingRect(room, _WRAP, remedy).height() if remedy else 0,
        )

    def sizeHint(self, option: QStyleOptionViewItem, index: _Index) -> QSize:
        return QSize(10, sum(self._heights(index)) + 2 * _PAD + 4 + _SPACE)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        finding = index.data(_FINDING)
        head, text, remedy = self._texts(index)
        heights = self._heights(index)
        state = option.state  # type: ignore[attr-defined]
        card: QRect = option.rect.adjusted(0, 0, 0, -_SPACE)  # type: ignore[attr-defined]
        painter.fillRect(card, palette.brush("grid" if state & QStyle.StateFlag.State_MouseOver else "paper"))
        painter.fillRect(QRect(card.left(), card.top(), _BAR, card.height()), palette.brush(finding.severity))
        if state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(palette.pen("copper"))
            painter.drawRect(card.adjusted(0, 0, -1, -1))
        x, y = card.left() + _BAR + _PAD, card.top() + _PAD
        draw_mark(painter, QRectF(x, y + 1, _MARK, _MARK), finding.severity)
        painter.setFont(self._bold)
        painter.setPen(palette.pen(finding.severity))
        painter.drawText(QRect(x + _MARK + 6, y, self._width() - _MARK - 6, heights[0]), _WRAP, head)
        painter.setFont(self._view.font())
        painter.setPen(palette.pen("ink"))
        y += heights[0] + 3
        painter.drawText(QRect(x, y, self._width(), heights[1]), _WRAP, text)
        painter.setPen(palette.pen("soft"))
        y += heights[1] + 1
        painter.drawText(QRect(x, y, self._width(), heights[2]), _WRAP, remedy)
