"""Filled shapes in a plot."""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPolygonF

from app.pictures.figures import Shape
from app.style import palette
from core.circuits.ladder import Array


class Shapes(pg.GraphicsObject):
    """Many filled shapes as one item, drawn behind the curves; edges are one pixel wide at any zoom."""

    def __init__(self, plot: pg.PlotWidget, z: float = -10) -> None:
        super().__init__()
        self._shapes: tuple[Shape, ...] = ()
        self._bounds = QRectF()
        self.setZValue(z)
        plot.addItem(self, ignoreBounds=True)

    @property
    def edged(self) -> Array:
        """Left, top, right and bottom of the shapes that have an edge, shape (N, 4)."""
        found = []
        for each in self._shapes:
            if each.edge is not None:
                xs, ys = zip(*each.points, strict=True)
                found.append((min(xs), max(ys), max(xs), min(ys)))
        return np.array(found)

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """What is drawn."""
        return self._shapes

    def show_shapes(self, shapes: Sequence[Shape]) -> None:
        """Draw these shapes instead of the former ones."""
        if self._shapes == (wanted := tuple(shapes)):
            return
        self._shapes = wanted
        self.prepareGeometryChange()
        xs = [x for shape in self._shapes for x, _ in shape.points]
        ys = [y for shape in self._shapes for _, y in shape.points]
        self._bounds = QRectF(QPointF(min(xs), min(ys)), QPointF(max(xs), max(ys))) if xs else QRectF()
        self.update()

    def boundingRect(self) -> QRectF:
        return self._bounds

    def paint(self, painter: QPainter, *_: object) -> None:
        for shape in self._shapes:
            painter.setBrush(palette.brush(shape.fill) if shape.fill else Qt.BrushStyle.NoBrush)
            painter.setPen(palette.pen(shape.edge, dashed=shape.dashed) if shape.edge else Qt.PenStyle.NoPen)
            painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in shape.points]))
