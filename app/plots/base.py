"""What every plot shares: the look, ranges that come from the design, labels, and drawn shapes.

Measured reasons for the choices here: ranges set from the design instead of found by looking at the data
save two thirds of a repaint, an opaque pale grid nine tenths of a translucent one's, and one-pixel solid
pens most of the rest. Items are made once and given new data.
"""

from collections.abc import Sequence
from typing import ClassVar

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QMouseEvent, QPainter, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QVBoxLayout, QWidget

from app.pictures.figures import Curve, Label, Shape, Span
from app.style import palette
from app.style.plain import Text, tip
from core.circuits.ladder import Array


class _Axis(pg.AxisItem):
    """An axis whose numbers have a real minus sign."""

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        return [text.replace("-", "\u2212") for text in super().tickStrings(values, scale, spacing)]


class Plot(pg.PlotWidget):
    """Axes with units and an opaque grid.

    `frame` sets the ranges that the design asks for; a builder's own zoom stays until the plot shows
    something else (another key) or is double-clicked. `say` puts a sentence in place of the picture.
    """

    def __init__(self, x: str, x_unit: str, y: str, y_unit: str, parent: QWidget | None = None) -> None:
        axes = {side: _Axis(side) for side in ("bottom", "left")}
        super().__init__(parent, background=palette.color("sheet"), axisItems=axes, enableMenu=False)
        self._key: object = None
        self._spans: tuple[Span, Span] = ((0, 1), (0, 1))
        self._zoomed = False
        self._ticks: dict[str, Sequence[tuple[float, str]]] = {}
        self._put: dict[pg.PlotCurveItem, Curve] = {}
        item = self.getPlotItem()
        item.hideButtons()
        self.box = item.getViewBox()
        self.box.disableAutoRange()
        self.box.setDefaultPadding(0)
        self.box.sigRangeChangedManually.connect(self._zoom)
        for side, text, unit in (("bottom", x, x_unit), ("left", y, y_unit)):
            axis = item.getAxis(side)
            if text:
                axis.setLabel(f"{text}, {unit}" if unit else text)
            axis.enableAutoSIPrefix(False)
            axis.setStyle(tickAlpha=255, tickLength=0, maxTickLevel=0)
            axis.setGrid(255)
            # The grid belongs to the ground: behind curves and texts.
            axis.setZValue(-1000)
            axis.setTickDensity(1.5)
        item.getAxis("left").setWidth(46)
        self.labels = Labels(self)
        self._sentence = Text("", self)
        self._sentence.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._sentence.setWordWrap(True)
        self._sentence.hide()
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumSize(140, 110)
        self.restyle()

    def sizeHint(self) -> QSize:
        return QSize(320, 200)

    def frame(self, x: Span, y: Span, key: object) -> None:
        """Show these ranges, unless the builder zoomed into this very picture (`key`)."""
        same = key == self._key
        if same and (x, y) == self._spans:
            return
        self._zoomed = self._zoomed and same
        self._key, self._spans = key, (x, y)
        if not self._zoomed:
            self._set_range()
            self.labels.place()

    def tick(self, side: str, ticks: Sequence[tuple[float, str]]) -> None:
        """Put these texts at an axis; the axis is laid out again only when they differ."""
        if self._ticks.get(side) != ticks:
            self._ticks[side] = ticks
            self.getPlotItem().getAxis(side).setTicks([ticks])

    def say(self, sentence: str) -> None:
        """Show a sentence instead of the picture; empty: the picture."""
        self._sentence.setText(sentence)
        self._sentence.setVisible(bool(sentence))
        self.getPlotItem().setVisible(not sentence)

    @property
    def sentence(self) -> str:
        """The sentence on show, empty when there is a picture."""
        return self._sentence.text() if self._sentence.isVisibleTo(self) else ""

    def curve(
        self, role: str, *, dashed: bool = False, width: float = 1, **options: object
    ) -> pg.PlotCurveItem:
        """A curve in a role's colour, made once; give it data with `setData`."""
        made = pg.PlotCurveItem(antialias=True, **options)
        made.role, made.dashed, made.width = role, dashed, width  # type: ignore[attr-defined]
        made.setPen(palette.pen(role, dashed=dashed, width=width))
        self.addItem(made)
        return made

    def put(self, item: pg.PlotCurveItem, curve: Curve) -> None:
        """Let a curve have these points; setting those that it has costs as much as others would."""
        if self._put.get(item) != curve:
            self._put[item] = curve
            item.setData(curve.x, curve.y)

    def restyle(self) -> None:
        """Take the colours in use."""
        self.setBackground(palette.color("sheet"))
        font = QFont(self.font())
        font.setPointSizeF(max(7.0, self.font().pointSizeF() * 0.85))
        for side in ("bottom", "left"):
            axis = self.getPlotItem().getAxis(side)
            axis.setPen(palette.pen("rule"))
            axis.setTextPen(palette.pen("soft"))
            axis.setTickPen(palette.pen("grid"))
            axis.setTickFont(font)
            axis.label.setFont(font)
            axis.label.setDefaultTextColor(palette.color("soft"))
        for item in self.getPlotItem().items:
            role = getattr(item, "role", None)
            if role is not None:
                item.setPen(palette.pen(role, dashed=item.dashed, width=item.width))
        self.labels.restyle()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._zoomed = False
        self._set_range()

    def resizeEvent(self, event) -> None:  # type: ignore[no-untyped-def]
        super().resizeEvent(event)
        if hasattr(self, "_sentence"):
            self._sentence.setGeometry(self.rect().adjusted(16, 16, -16, -16))
            self.labels.place()

    def _set_range(self) -> None:
        (x0, x1), (y0, y1) = self._spans
        self.box.setRange(xRange=(x0, x1), yRange=(y0, y1), padding=0, disableAutoRange=True)

    def _zoom(self, *_: object) -> None:
        self._zoomed = True
        self.labels.place()


#: A text that moves by less than this, in dots, stays: nobody sees it.
_SEEN = 0.25
#: Texts whose size a plot keeps in mind; those with figures in them change with every edit.
_MOST_SIZES = 500


class Labels:
    """Texts in a plot that never lie over each other: the important ones are placed first."""

    _SIDES: ClassVar[dict[str, tuple[float, float]]] = {
        "right": (0, 0.5),
        "left": (1, 0.5),
        "above": (0.5, 1),
        "below": (0.5, 0),
        "above_right": (0, 1),
        "below_right": (0, 0),
        "above_left": (1, 1),
        "below_left": (1, 0),
    }

    def __init__(self, plot: Plot) -> None:
        self._plot = plot
        #: Whether texts cover what lies behind them: good over many lines, bad over bars.
        self.opaque = False
        #: Curves that texts keep off where another side is free.
        self.clear_of: tuple[pg.PlotCurveItem, ...] = ()
        #: Drawn shapes of which texts keep off those with an edge, likewise.
        self.clear_of_shapes: Shapes | None = None
        #: Where the texts stand, in dots of the picture.
        self.places: tuple[QRectF, ...] = ()
        self._pool: list[pg.TextItem] = []
        self._shown: tuple[Label, ...] = ()
        self._sizes: dict[tuple[str, str], tuple[float, float]] = {}

    @property
    def texts(self) -> tuple[str, ...]:
        """The texts that found a place."""
        return tuple(item.toPlainText() for item in self._pool if item.isVisible())

    @property
    def wanted(self) -> tuple[Label, ...]:
        """The labels asked for, the important ones first, whether they found a place or not."""
        return self._shown

    def show(self, labels: Sequence[Label]) -> None:
        """Show these labels instead of the former ones."""
        wanted = tuple(sorted(labels, key=lambda label: -label.importance))
        if wanted != self._shown:
            self._shown = wanted
            self.place()

    def restyle(self) -> None:
        """Take the colours in use."""
        self.place()

    def place(self) -> None:
        """Put each label where it fits, and hide what fits nowhere."""
        font = QFont(self._plot.font())
        font.setPointSizeF(max(7.0, self._plot.font().pointSizeF() * 0.85))
        (x0, x1), (y0, y1) = self._plot.box.viewRange()
        area = self._plot.box.rect()
        if x1 == x0 or y1 == y0 or area.width() < 2:
            return
        per_x, per_y = area.width() / (x1 - x0), area.height() / (y1 - y0)
        key, taken = font.key(), list[QRectF]()
        drawn = (*self._in_dots(x0, y1, per_x, per_y), self._boxes_in_dots(x0, y1, per_x, per_y))
        while len(self._pool) < len(self._shown):
            item = pg.TextItem()
            item.setFont(font)
            item.setAnchor((0, 0))
            item.look = None
            self._plot.addItem(item, ignoreBounds=True)
            self._pool.append(item)
        for position, item in enumerate(self._pool):
            if position >= len(self._shown):
                item.setVisible(False)
                continue
            label = self._shown[position]
            width, height = self._size(label.text, font, key)
            at = QPointF((label.x - x0) * per_x, (y1 - label.y) * per_y)
            fit = self._fit(label, at, width, height, area, taken, drawn)
            item.setVisible(fit is not None)
            if fit is None:
                continue
            taken.append(fit)
            # Setting what is already so costs as much as a change would.
            look = (label.text, label.role, self.opaque, palette.theme())
            if look != item.look:
                item.look = look
                item.setText(label.text)
                item.setColor(palette.color(label.role))
                item.fill = palette.brush("sheet") if self.opaque else pg.mkBrush(None)
            x, y = x0 + (fit.left() + 2) / per_x, y1 - (fit.top() - 1) / per_y
            if abs(item.pos().x() - x) * per_x > _SEEN or abs(item.pos().y() - y) * per_y > _SEEN:
                item.setPos(x, y)
        self.places = tuple(taken)

    def _size(self, text: str, font: QFont, key: str) -> tuple[float, float]:
        """Width and height of a text with its margins, in dots; measured once in a font of this key."""
        if len(self._sizes) > _MOST_SIZES:
            self._sizes.clear()
        known = self._sizes.get((text, key))
        if known is None:
            metrics, lines = QFontMetricsF(font), text.split("\n")
            width = max(metrics.horizontalAdvance(line) for line in lines)
            known = self._sizes[text, key] = (width + 8, metrics.height() * len(lines) + 4)
        return known

    def _in_dots(self, x0: float, y1: float, per_x: float, per_y: float) -> tuple[Array, Array]:
        """Points of the curves to keep off, in dots of the picture."""
        drawn = [curve.getData() for curve in self.clear_of]
        drawn = [_along(x, y) for x, y in drawn if x is not None and len(x)]
        if not drawn:
            return np.empty(0), np.empty(0)
        x, y = (np.concatenate(each) for each in zip(*drawn, strict=True))
        return (x - x0) * per_x, (y1 - y) * per_y

    def _boxes_in_dots(self, x0: float, y1: float, per_x: float, per_y: float) -> Array:
        """Left, right, top and bottom of the shapes to keep off, in dots of the picture, of shape (4, N)."""
        shapes = () if self.clear_of_shapes is None else self.clear_of_shapes.shapes
        corners = [each.points for each in shapes if each.edge is not None]
        if not corners:
            return np.empty((4, 0))
        x = np.array([[min(x for x, _ in each), max(x for x, _ in each)] for each in corners])
        y = np.array([[max(y for _, y in each), min(y for _, y in each)] for each in corners])
        return np.concatenate([(x.T - x0) * per_x, (y1 - y.T) * per_y])

    def _fit(
        self,
        label: Label,
        at: QPointF,
        width: float,
        height: float,
        area: QRectF,
        taken: list[QRectF],
        drawn: tuple[Array, Array, Array],
    ) -> QRectF | None:
        """The first side of its point where a label is clear of the curves; else the first that fits.

        A text as long as the picture is wide fits on no side; it is then pushed along until it does.
        """
        if not (-1 <= at.x() <= area.width() + 1 and -1 <= at.y() <= area.height() + 1):
            return None
        pushed: QRectF | None = None
        crossed: QRectF | None = None
        others = () if label.fixed else [each for each in self._SIDES if each != label.side]
        for where in (label.side, *others):
            ax, ay = self._SIDES[where]
            gap = 5.0
            left = at.x() - ax * width + (gap if ax == 0 else -gap if ax == 1 else 0)
            top = at.y() - ay * height + (gap if ay == 0 else -gap if ay == 1 else 0)
            rect = QRectF(left, top, width, height)
            if top < 0 or rect.bottom() > area.height():
                continue
            inside = left >= 0 and rect.right() <= area.width()
            if not inside:
                if label.fixed or ay == 0.5 or width > area.width():
                    continue
                rect.moveLeft(min(max(left, 0.0), area.width() - width))
            if any(rect.intersects(other) for other in taken):
                continue
            if _crossed(rect, drawn):
                crossed = crossed or rect
            elif inside:
                return rect
            else:
                pushed = pushed or rect
        return pushed or crossed


def _along(x: Array, y: Array) -> tuple[Array, Array]:
    """Points along a curve, so close that none of its straight pieces passes under a text unseen."""
    if len(x) > 100:
        return x, y
    place = np.linspace(0, len(x) - 1, 200)
    return np.interp(place, np.arange(len(x)), x), np.interp(place, np.arange(len(x)), y)


def _crossed(rect: QRectF, drawn: tuple[Array, Array, Array]) -> bool:
    """Whether a point of the curves lies inside a rectangle, or one of the shapes reaches into it."""
    x, y, (left, right, top, bottom) = drawn
    low, high, upper, lower = rect.left(), rect.right(), rect.top(), rect.bottom()
    if np.any((x > low) & (x < high) & (y > upper) & (y < lower)):
        return True
    return bool(np.any((right > low) & (left < high) & (bottom > upper) & (top < lower)))


class Shapes(pg.GraphicsObject):
    """Many filled shapes as one item, drawn behind the curves; edges are one pixel wide at any zoom."""

    def __init__(self, plot: Plot, z: float = -10) -> None:
        super().__init__()
        self._shapes: tuple[Shape, ...] = ()
        self._bounds = QRectF()
        self.setZValue(z)
        plot.addItem(self, ignoreBounds=True)

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


class Card(QFrame):
    """A plot or table under its title, on a sheet; `corner` stands at the title's right."""

    def __init__(
        self, title: str, content: QWidget, parent: QWidget | None = None, *, corner: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setProperty("look", "card")
        self.heading = Text(title)
        self.heading.setProperty("look", "title")
        self.heading.setWordWrap(True)
        self.content = content
        self._corner = corner
        column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(4)
        self._head = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._head.addWidget(self.heading, 1)
        if corner is not None:
            self._head.addWidget(corner, 0, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignRight)
        self._note = Text()
        self._note.setProperty("look", "soft")
        self._note.setWordWrap(True)
        self._note.hide()
        column.addLayout(self._head)
        column.addWidget(self._note)
        column.addWidget(content, 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_corner()

    def _place_corner(self) -> None:
        """Below the title, where beside it the title would need more than two lines."""
        if self._corner is None:
            return
        beside = self.width() - self._corner.sizeHint().width() - 40
        title = self.heading.fontMetrics().horizontalAdvance(self.heading.text())
        way = QBoxLayout.Direction.LeftToRight if title < 2 * beside else QBoxLayout.Direction.TopToBottom
        if way != self._head.direction():
            self._head.setDirection(way)

    def entitle(self, title: str) -> None:
        """Set the title when it differs."""
        if title != self.heading.text():
            self.heading.setText(title)
            self._place_corner()

    @property
    def note(self) -> str:
        """What stands below the title."""
        return self._note.text()

    def annotate(self, note: str, told: str = "") -> None:
        """Set what stands below the title, in a few words, and what is told of it when it is pointed at;
        empty: nothing does.
        """
        if (shown := tip(told)) != self._note.toolTip():
            self._note.setToolTip(shown)
        if note != self._note.text():
            self._note.setText(note)
            self._note.setHidden(not note)
