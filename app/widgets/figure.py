"""A figure of the design that can be pressed to go where it comes from."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QWidget

from app.style import palette


class Figure(QAbstractButton):
    """A number in large digits and in its quantity's colour.

    It keeps and paints its text itself, and the room it once needed, so that counting digits neither move
    their neighbours nor set off a new layout, as a button's own text does.
    """

    def __init__(self, role: str, font: QFont, widest: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._role = role
        self._widest = widest
        self._text = ""
        self.setFont(font)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def show_text(self, text: str) -> None:
        """Show another text."""
        if text == self._text:
            return
        self._text = text
        self.update()
        if len(text) > len(self._widest):
            self._widest = text
            self.updateGeometry()

    def text(self) -> str:
        """The text on show."""
        return self._text

    def sizeHint(self) -> QSize:
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(self._widest) + 4, metrics.height() + 4)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(palette.pen(self._role))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self._text)
        if self.hasFocus() or self.underMouse():
            painter.fillRect(0, self.height() - 2, self.width(), 2, palette.brush("copper"))
