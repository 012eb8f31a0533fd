"""What a part of the window shows, and a page of the sheet, as plain values that can be compared."""

from collections import Counter
from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QAbstractItemModel, QAbstractListModel, QModelIndex, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QStackedWidget,
    QWidget,
)

from app.boards.canvas import ScaleCanvas
from app.panels.signal_path import _StripArea
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.sheet.pages import SheetDocument
from app.stage_views.cards.schematic_view import SchematicView
from app.widgets.slider import FrequencySlider
from core.stages.vfo.tank import TankDesign

_TIP = Qt.ItemDataRole.ToolTipRole
#: Rows of a long table that are looked at.
_ROWS = 20
_ROLES = (Qt.ItemDataRole.DisplayRole, _TIP)


def shown_of(widget: QWidget, where: str = "") -> dict[str, Any]:
    """Place in the widget to what stands there: texts, cells, choices, curves, ranges, drawings.

    Pages behind others of a stack do not show; a plot that says a sentence shows nothing else.
    """
    found: dict[str, Any] = {}
    _look(widget, where or type(widget).__name__, found)
    return found


def _look(widget: QWidget, where: str, found: dict[str, Any]) -> None:
    if isinstance(widget, Plot):
        found |= {f"{where}.{name}": value for name, value in _plot(widget).items()}
        return
    if isinstance(widget, SchematicView):
        found[where] = _circuit(widget)
        return
    value = _own(widget)
    if value is not None:
        found[where] = value
    if isinstance(widget, QAbstractItemView):
        return
    # Among those of its kind: a panel makes some of its parts when they are first looked at.
    counts: Counter[str] = Counter()
    for child in _children(widget):
        name = type(child).__name__
        _look(child, f"{where}/{name}{counts[name]}", found)
        counts[name] += 1


def _children(widget: QWidget) -> list[QWidget]:
    if isinstance(widget, QStackedWidget):
        return [widget.currentWidget()] if widget.currentWidget() is not None else []
    inside = (child for child in widget.children() if child.isWidgetType())
    return [child for child in inside if not child.isWindow() and not child.isHidden()]


def _own(widget: QWidget) -> Any:
    if isinstance(widget, QLabel):
        return widget.text()
    if isinstance(widget, QLineEdit):
        return widget.text(), widget.placeholderText()
    if isinstance(widget, QPlainTextEdit):
        return widget.toPlainText(), widget.placeholderText()
    if isinstance(widget, QAbstractButton):
        return widget.text(), widget.isChecked(), widget.isEnabled()
    if isinstance(widget, QComboBox):
        return widget.currentText()
    if isinstance(widget, FrequencySlider):
        return widget.low_hz, widget.high_hz, widget.value(), widget.ticks
    if isinstance(widget, QAbstractItemView) and widget.model() is not None:
        return _cells(widget.model())
    if isinstance(widget, ScaleCanvas):
        return widget.drawing
    if isinstance(widget, _StripArea):
        return widget.shown
    return None


def _cells(model: QAbstractItemModel) -> list[Any]:
    root = QModelIndex()
    rows = range(min(model.rowCount(root), _ROWS))
    columns = range(1 if isinstance(model, QAbstractListModel) else model.columnCount(root))
    heads = [model.headerData(c, Qt.Orientation.Horizontal, Qt.ItemDataRole.DisplayRole) for c in columns]
    cells = [[[model.data(model.index(r, c), role) or "" for role in _ROLES] for c in columns] for r in rows]
    return [heads, *cells]


def _plot(plot: Plot) -> dict[str, Any]:
    if plot.sentence:
        return {"sentence": plot.sentence}
    found: dict[str, Any] = {"range": plot._spans, "ticks": plot._ticks, "labels": plot.labels.wanted}
    for number, item in enumerate(plot.getPlotItem().items):
        name = f"{number} {type(item).__name__}"
        if isinstance(item, pg.PlotCurveItem):
            x, y = item.getData()
            found[name] = () if x is None or not len(x) else (_rounded(x), _rounded(y))
        elif isinstance(item, pg.ScatterPlotItem):
            x, y = item.getData()
            found[name] = (_rounded(x), _rounded(y), tuple(item.data["symbol"]), tuple(item.data["size"]))
        elif isinstance(item, pg.BarGraphItem):
            found[name] = (_rounded(item.opts["x"]), _rounded(item.opts["height"]), item.opts["width"])
        elif isinstance(item, Shapes):
            found[name] = item.shapes
    return found


def _rounded(values: Any) -> bytes:
    # Single precision: what the last digits of a double do is not seen.
    return np.asarray(values, dtype=np.float32).tobytes()


def _circuit(view: SchematicView) -> Any:
    circuit = view.circuit
    if isinstance(circuit, TankDesign):
        return tuple(circuit.values.items())
    return circuit


def raster(document: SheetDocument, page: int) -> np.ndarray:
    """A page of the sheet as dots of red, green and blue, shape (high, wide, 3), without smoothing."""
    size = document.page_points
    image = QImage(round(size.width()), round(size.height()), QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    document.draw_page(painter, page)
    painter.end()
    dots = np.frombuffer(image.constBits(), dtype=np.uint8).reshape(image.height(), -1, 4)
    return dots[:, :, 2::-1].astype(int)
