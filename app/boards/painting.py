"""Paints a drawing in millimetres, on screen as on paper."""

from collections.abc import Iterable, Mapping

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from core.rig.board.drawing import Area, Disc, Ink, Shape, Stroke, Words
from core.rig.board.svg import DASH_M, OUTLINE_M, PAPER

#: Fill and line of an ink.
Paint = tuple[QColor | None, QColor | None]
#: Letters are laid out in this many pixels and scaled, as no font is a millimetre high.
_LETTERS = 40


def on_paper() -> dict[Ink, Paint]:
    """The inks of paper."""
    return {ink: (_named(fill), _named(line)) for ink, (fill, line) in PAPER.items()}


def _named(name: str) -> QColor | None:
    return None if name == "none" else QColor(name)


def paint(painter: QPainter, shapes: Iterable[Shape], inks: Mapping[Ink, Paint]) -> None:
    """Paint shapes on a painter whose unit is a millimetre."""
    font = QFont("sans-serif")
    font.setPixelSize(_LETTERS)
    metrics = QFontMetricsF(font)
    for shape in shapes:
        fill, line = inks[shape.ink]
        if isinstance(shape, Words):
            _words(painter, shape, fill or line or QColor(), font, metrics)
        elif isinstance(shape, Stroke):
            pen = QPen(line or fill or QColor(), 1e3 * shape.width_m)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            if shape.dashed:
                pen.setCapStyle(Qt.PenCapStyle.FlatCap)
                pen.setDashPattern([DASH_M / shape.width_m] * 2)
            painter.setPen(pen)
            painter.drawPolyline(_polygon(shape.points))
        else:
            painter.setPen(Qt.PenStyle.NoPen if line is None else QPen(line, 1e3 * OUTLINE_M))
            painter.setBrush(Qt.BrushStyle.NoBrush if fill is None else QBrush(fill))
            if isinstance(shape, Area):
                painter.drawPolygon(_polygon(shape.points))
            elif isinstance(shape, Disc):
                x, y, r = (1e3 * each for each in (*shape.middle, shape.radius_m))
                painter.drawEllipse(QPointF(x, y), r, r)


def _polygon(points: Iterable[tuple[float, float]]) -> QPolygonF:
    return QPolygonF([QPointF(1e3 * x, 1e3 * y) for x, y in points])


def _words(painter: QPainter, shape: Words, colour: QColor, font: QFont, metrics: QFontMetricsF) -> None:
    painter.save()
    painter.translate(1e3 * shape.at[0], 1e3 * shape.at[1])
    if shape.upright:
        painter.rotate(-90)
    scale = 1e3 * shape.height_m / _LETTERS
    painter.scale(scale, scale)
    painter.setFont(font)
    painter.setPen(colour)
    left = 0.0 if shape.from_left else -metrics.horizontalAdvance(shape.text) / 2
    painter.drawText(QPointF(left, 0.35 * _LETTERS), shape.text)
    painter.restore()
