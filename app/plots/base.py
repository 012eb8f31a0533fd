"""What every plot shares: the look, ranges that come from the design, labels, and drawn shapes.

Measured reasons for the choices here: ranges set from the design instead of found by looking at the data
save two thirds of a repaint, an opaque pale grid nine tenths of a translucent one's, and one-pixel solid
pens most of the rest. Items are made once and given new data.
"""

from collections.abc import Sequence

import pyqtgraph as pg
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFont, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QVBoxLayout, QWidget

from app.pictures.figures import Curve, Span
from app.plots.labels import Labels
from app.style import palette
from app.style.plain import Text, tip


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
        self._put: dict[pg.PlotCurveItem | pg.ScatterPlotItem, object] = {}
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

    def put_spots(self, item: pg.ScatterPlotItem, spots: list[dict[str, object]]) -> None:
        """Let marks stand at these spots, likewise."""
        if self._put.get(item) != spots:
            self._put[item] = spots
            item.setData(spots)

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
