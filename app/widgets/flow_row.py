"""A row of groups that goes on in the next row when the window is narrow."""

from PySide6.QtCore import QEvent, QRect, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget


class FlowRow(QWidget):
    """Places its groups side by side while they fit; what is left of a row goes to groups that expand.

    A widget and no layout of our own: Qt's wrappers of the items of a layout written in Python can be taken
    away under it, and the next look at one then ends the program.
    """

    def __init__(self, *, spacing: int = 16, row_spacing: int = 6) -> None:
        super().__init__()
        self._groups: list[QWidget] = []
        self._spacing, self._row_spacing = spacing, row_spacing
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def add(self, group: QWidget) -> None:
        """Append a group."""
        group.setParent(self)
        self._groups.append(group)
        self.updateGeometry()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._place(QRect(0, 0, width, 0), move=False)

    def sizeHint(self) -> QSize:
        width = sum(_wanted(group).width() + self._spacing for group in self._shown()) - self._spacing
        return QSize(max(width, 0), self.minimumSizeHint().height())

    def minimumSizeHint(self) -> QSize:
        size = QSize()
        for group in self._shown():
            size = size.expandedTo(_wanted(group))
        return size.grownBy(self.contentsMargins())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place(self.rect(), move=True)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.LayoutRequest:
            # A group wants another size.
            self.updateGeometry()
            self._place(self.rect(), move=True)
        return super().event(event)

    def _shown(self) -> list[QWidget]:
        return [group for group in self._groups if not group.isHidden()]

    def _place(self, rect: QRect, *, move: bool) -> int:
        margins = self.contentsMargins()
        inner = rect.marginsRemoved(margins)
        y = inner.y()
        for row in self._rows(inner.width()):
            height = max(_wanted(group).height() for group in row)
            if move:
                self._place_row(row, QRect(inner.x(), y, inner.width(), height))
            y += height + self._row_spacing
        return y - self._row_spacing - inner.y() + margins.top() + margins.bottom()

    def _rows(self, width: int) -> list[list[QWidget]]:
        rows: list[list[QWidget]] = [[]]
        used = 0
        for group in self._shown():
            wanted = _wanted(group).width()
            if rows[-1] and used + wanted > width:
                rows.append([])
                used = 0
            rows[-1].append(group)
            used += wanted + self._spacing
        return [row for row in rows if row]

    def _place_row(self, row: list[QWidget], rect: QRect) -> None:
        widths = [_wanted(group).width() for group in row]
        left = rect.width() - sum(widths) - self._spacing * (len(row) - 1)
        growing = [
            n
            for n, group in enumerate(row)
            if group.sizePolicy().expandingDirections() & Qt.Orientation.Horizontal
        ]
        for n in growing:
            widths[n] += max(left, 0) // len(growing)
        x = rect.x()
        for group, width in zip(row, widths, strict=True):
            group.setGeometry(QRect(x, rect.y(), min(width, rect.width()), rect.height()))
            x += width + self._spacing


def _wanted(group: QWidget) -> QSize:
    """The size a group takes in a row: what it asks for, within its own limits."""
    size = group.sizeHint().expandedTo(group.minimumSizeHint()).expandedTo(group.minimumSize())
    return size.boundedTo(group.maximumSize())
