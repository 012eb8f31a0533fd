"""The diagram of who feeds whom."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.pictures.rig.supply import Box, Diagram
from app.style import palette
from app.widgets.drawn import Drawn

#: Of a box and between boxes, how far further in a box stands, and how far in lines leave one, pixels.
_HEIGHT, _GAP, _IN, _LEAVES, _PAD = 22, 5, 34, 16, 6
_LEAST_WIDTH = 260
#: No box is wider, pixels.
_WIDEST = 460


class DiagramView(Drawn[Diagram], QWidget):
    """Boxes below one another, each joined with who feeds it."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Who feeds whom")
        self.setMinimumWidth(_LEAST_WIDTH)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def draw(self, picture: Diagram) -> None:
        self.setAccessibleDescription(picture.spoken)
        self.setFixedHeight(len(picture.boxes) * (_HEIGHT + _GAP) + _GAP)
        self.update()

    def place_of(self, row: int) -> QRectF:
        """Where a box stands, in pixels."""
        x = 1 + self.picture.boxes[row].column * _IN
        return QRectF(x, _GAP + row * (_HEIGHT + _GAP), min(self.width() - 2 - x, _WIDEST - x), _HEIGHT)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.shown_picture is None:
            return
        painter = QPainter(self)
        for one, other in self.picture.lines:
            self._join(painter, one, other)
        for row, box in enumerate(self.picture.boxes):
            self._paint(painter, box, self.place_of(row))

    def _join(self, painter: QPainter, one: int, other: int) -> None:
        begin, end = self.place_of(one), self.place_of(other)
        painter.setPen(palette.pen(self.picture.boxes[other].role))
        x, y = begin.left() + _LEAVES, end.center().y()
        painter.drawPolyline([QPointF(x, begin.bottom()), QPointF(x, y), QPointF(max(x, end.left()), y)])

    def _paint(self, painter: QPainter, box: Box, place: QRectF) -> None:
        painter.setPen(palette.pen(box.role))
        painter.setBrush(palette.brush("sheet"))
        painter.drawRect(place)
        inside = place.adjusted(_PAD, 0, -_PAD, 0)
        metrics = painter.fontMetrics()
        room = int(inside.width() - metrics.horizontalAdvance(box.told) - _PAD)
        painter.setPen(palette.pen("soft"))
        painter.drawText(inside, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, box.told)
        painter.setPen(palette.pen("ink"))
        name = metrics.elidedText(box.name, Qt.TextElideMode.ElideRight, room)
        painter.drawText(inside, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, name)
