"""The marks of findings: shapes first, colours second."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF

from app.style import palette


def draw_mark(painter: QPainter, rect: QRectF, severity: str) -> None:
    """Draw the sign of a severity: a disc with a cross, a triangle with a bar, a square with a dot."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(palette.brush(severity))
    inner = QPen(palette.color("sheet"), max(rect.width() / 8, 1.2), c=Qt.PenCapStyle.RoundCap)
    centre, half = rect.center(), rect.width() / 2
    if severity == "fault":
        painter.drawEllipse(rect)
        painter.setPen(inner)
        arm = half * 0.42
        painter.drawLine(centre + QPointF(-arm, -arm), centre + QPointF(arm, arm))
        painter.drawLine(centre + QPointF(-arm, arm), centre + QPointF(arm, -arm))
    elif severity == "caution":
        corners = [QPointF(centre.x(), rect.top()), rect.bottomRight(), rect.bottomLeft()]
        painter.drawPolygon(QPolygonF(corners))
        painter.setPen(inner)
        painter.drawLine(centre + QPointF(0, -half * 0.2), centre + QPointF(0, half * 0.3))
        painter.drawPoint(centre + QPointF(0, half * 0.7))
    else:
        painter.drawRoundedRect(rect.adjusted(1, 1, -1, -1), 2, 2)
        painter.setPen(inner)
        painter.drawLine(centre + QPointF(0, -half * 0.05), centre + QPointF(0, half * 0.5))
        painter.drawPoint(centre + QPointF(0, -half * 0.45))
    painter.restore()
