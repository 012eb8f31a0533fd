"""A row of groups that goes on in the next row when the window is narrow."""

from PySide6.QtCore import QMargins, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget


class FlowLayout(QLayout):
    """Places its groups side by side while they fit; what is left of a row goes to groups that expand."""

    def __init__(self, parent: QWidget | None = None, *, spacing: int = 16, row_spacing: int = 6) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setSpacing(spacing)
        self._row_spacing = row_spacing

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:  # type: ignore[override]
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # type: ignore[override]
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation.Horizontal

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._place(QRect(0, 0, width, 0), move=False)

    def sizeHint(self) -> QSize:
        return self.minimumSize()

    def minimumSize(self) -> QSize:
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.sizeHint().expandedTo(item.minimumSize()))
        margins: QMargins = self.contentsMargins()
        return size + QSize(margins.left() + margins.right(), margins.top() + margins.bottom())

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._place(rect, move=True)

    def _place(self, rect: QRect, *, move: bool) -> int:
        margins = self.contentsMargins()
        inner = rect.marginsRemoved(margins)
        y = inner.y()
        for row in self._rows(inner.width()):
            height = max(item.sizeHint().height() for item in row)
            if move:
                self._place_row(row, QRect(inner.x(), y, inner.width(), height))
            y += height + self._row_spacing
        return y - self._row_spacing - inner.y() + margins.top() + margins.bottom()

    def _rows(self, width: int) -> list[list[QLayoutItem]]:
        rows: list[list[QLayoutItem]] = [[]]
        used = 0
        for item in self._items:
            wanted = item.sizeHint().width()
            if rows[-1] and used + wanted > width:
                rows.append([])
                used = 0
            rows[-1].append(item)
            used += wanted + self.spacing()
        return [row for row in rows if row] or []

    def _place_row(self, row: list[QLayoutItem], rect: QRect) -> None:
        widths = [item.sizeHint().width() for item in row]
        left = rect.width() - sum(widths) - self.spacing() * (len(row) - 1)
        growing = [n for n, item in enumerate(row) if item.expandingDirections() & Qt.Orientation.Horizontal]
        for n in growing:
            widths[n] += max(left, 0) // len(growing)
        x = rect.x()
        for item, width in zip(row, widths, strict=True):
            item.setGeometry(QRect(x, rect.y(), min(width, rect.width()), rect.height()))
            x += width + self.spacing()
