"""What the program noticed, worst first."""

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QListView,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.pictures.panels.findings import FindingRow, FindingsPicture, picture_of, place_of
from app.state.seeking import Seeking
from app.state.workbench import Workbench
from app.style import palette
from app.style.marks import draw_mark
from app.style.plain import Text, tip
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.view import View
from core.rig.analysis import Analysis
from core.rig.findings import Finding
from core.stages.steps import Steps

if TYPE_CHECKING:
    from app.panels.remedy_dialog import Tried

_Index = QModelIndex | QPersistentModelIndex
_ROOT = QModelIndex()
_ROW = Qt.ItemDataRole.UserRole
_WRAP = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
_PAD, _BAR, _SPACE, _MARK = 8, 4, 6, 13


class FindingsPanel(Drawn[FindingsPicture], View):
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
        self.count = Text("looking…")
        self.count.setProperty("look", "soft")
        self.count.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.count.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        # Below the title where the panel is narrow.
        head = FlowRow(spacing=6, row_spacing=0)
        head.add(title)
        head.add(self.count)
        self._model = _FindingsModel(self)
        self.list = _FindingsList()
        self.list.setModel(self._model)
        self.list.setItemDelegate(_FindingPainter(self.list))
        self.list.activated.connect(self._go)
        self.list.clicked.connect(self._go)
        title.setBuddy(self.list)
        column = QVBoxLayout(card)
        column.setContentsMargins(10, 10, 8, 8)
        column.addWidget(head)
        column.addWidget(self.list, 1)
        self.mend = QPushButton("See what would mend it")
        self.mend.setToolTip(
            tip("Looks for an edit that takes the chosen finding away, and shows first what it does.")
        )
        self.mend.clicked.connect(self._seek)
        self.said = Text()
        self.said.setProperty("look", "soft")
        self.said.setWordWrap(True)
        self.said.hide()
        column.addWidget(self.said)
        column.addWidget(self.mend)
        self.list.selectionModel().currentChanged.connect(self._offer)
        self._seeking = Seeking(self)
        self._seeking.found.connect(self._show_remedies)
        self._offer()

    def settle(self, bench: Workbench) -> None:
        self.show_picture(picture_of(bench.analysis))
        self._offer()

    def draw(self, picture: FindingsPicture) -> None:
        current = self.list.currentIndex()
        key = current.data(_ROW).finding.key if current.isValid() else None
        self._model.show(picture.rows)
        self.list.setCurrentIndex(self._model.index_of(key))
        self.count.setText(picture.count or "nothing to remark")
        self.count.setToolTip(picture.count)

    def restyle(self) -> None:
        self.list.viewport().update()

    def _chosen(self) -> Finding | None:
        index = self.list.currentIndex()
        return index.data(_ROW).finding if index.isValid() else None

    def _offer(self) -> None:
        """The button is for findings whose remedy can be computed."""
        finding = self._chosen()
        self.mend.setEnabled(finding is not None and _may_be_mended(finding) and not self._seeking.busy)
        self._say("")

    def _seek(self) -> None:
        finding = self._chosen()
        if finding is not None:
            self.mend.setEnabled(False)
            self._say("Looking for what mends it…")
            self._seeking.begin(_mending(self._bench.analysis, finding))

    def _show_remedies(self, found: "Tried") -> None:
        self._offer()
        if found.now is not self._bench.analysis:
            return
        if not found.choices:
            self._say("No edit tried mends this alone without bringing a fault; follow its advice by hand.")
            return
        from app.panels.remedy_dialog import offer

        offer(self._bench, self.window(), found, self._bench.band_name)

    def _say(self, text: str) -> None:
        self.said.setText(text)
        self.said.setVisible(bool(text))

    def _go(self, index: _Index) -> None:
        finding = index.data(_ROW).finding
        self._bench.jump(finding.path or place_of(finding), finding.band or None)


# What mends is loaded by those who ask for it, not with the window.
def _may_be_mended(finding: Finding) -> bool:
    from core.rig.remedies.remedy import may_have

    return may_have(finding)


def _mending(analysis: Analysis, finding: Finding) -> "Steps[Tried]":
    from app.panels.remedy_dialog import tried
    from core.rig.remedies.remedy import remedies

    edits = yield from remedies(analysis, finding)
    return (yield from tried(analysis, finding.text, edits))


class _FindingsModel(QAbstractListModel):
    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._rows: tuple[FindingRow, ...] = ()

    def show(self, rows: tuple[FindingRow, ...]) -> None:
        """Show other findings; a list of the same ones with other figures stays where it is."""
        keys, before = [row.finding.key for row in rows], [row.finding.key for row in self._rows]
        if keys != before:
            self.beginResetModel()
            self._rows = rows
            self.endResetModel()
            return
        changed = [n for n, (now, old) in enumerate(zip(rows, self._rows, strict=True)) if now != old]
        self._rows = rows
        if changed:
            self.dataChanged.emit(self.index(changed[0]), self.index(changed[-1]))

    def index_of(self, key: object) -> QModelIndex:
        """Where the finding of this identity stands, wherever its figures have brought it; none if gone."""
        row = next((n for n, each in enumerate(self._rows) if each.finding.key == key), -1)
        return self.index(row)

    def rowCount(self, parent: _Index = _ROOT) -> int:
        return 0 if parent.isValid() else len(self._rows)

    def data(self, index: _Index, role: int = 0) -> Any:
        row = self._rows[index.row()]
        if role == _ROW:
            return row
        if role == Qt.ItemDataRole.ToolTipRole and row.finding.source:
            return tip(f"Source: {row.finding.source}")
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.DisplayRole):
            return f"{row.head}. {row.finding.text} {row.finding.remedy}"
        return None


class _FindingsList(QListView):
    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Findings, worst first")
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMouseTracking(True)
        self.setMinimumWidth(150)

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
        row = index.data(_ROW)
        return row.head, row.finding.text, row.finding.remedy

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
        finding = index.data(_ROW).finding
        head, text, remedy = self._texts(index)
        heights = self._heights(index)
        state = option.state  # type: ignore[attr-defined]
        card: QRect = option.rect.adjusted(0, 0, 0, -_SPACE)  # type: ignore[attr-defined]
        painter.fillRect(card, palette.brush("grid" if state & QStyle.StateFlag.State_MouseOver else "paper"))
        painter.fillRect(QRect(card.left(), card.top(), _BAR, card.height()), palette.brush(finding.severity))
        if state & (QStyle.StateFlag.State_HasFocus | QStyle.StateFlag.State_Selected):
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
