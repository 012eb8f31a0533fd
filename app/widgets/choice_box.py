"""The box every choice is made in."""

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QComboBox, QWidget

from app.style import palette


class ChoiceBox(QComboBox):
    """A combo box that leaves the wheel to the scroll area around it unless it has the focus."""

    def __init__(self, parent: QWidget | None = None, *, least: int = 10) -> None:
        """`least` is the number of characters that always have room."""
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(least)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(palette.color("soft"), 1.5))
        tip = QPointF(self.width() - 12, self.height() / 2 + 2)
        painter.drawPolyline([tip + QPointF(-4, -4), tip, tip + QPointF(4, -4)])

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
