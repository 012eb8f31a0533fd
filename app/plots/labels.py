"""Texts in a plot: none over another, and none over a curve where there is room beside it."""

import math
from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QRectF
from PySide6.QtGui import QFont, QFontMetricsF

from app.pictures.figures import Label, Span
from app.plots.shapes import Shapes
from app.style import palette
from core.circuits.ladder import Array

#: A text that moves by less than this, in dots, stays: nobody sees it.
_SEEN = 0.25
#: Texts whose size a plot keeps in mind; those with figures in them change with every edit.
_MOST_SIZES = 500
#: Where a text may stand from its point: which share of it lies left of and above the point.
_SIDES: dict[str, tuple[float, float]] = {
    "right": (0, 0.5),
    "left": (1, 0.5),
    "above": (0.5, 1),
    "below": (0.5, 0),
    "above_right": (0, 1),
    "below_right": (0, 0),
    "above_left": (1, 1),
    "below_left": (1, 0),
}
#: How far from it, in dots; and how many lines further up or down where it is crowded.
_GAP, _LINES = 5.0, 2
#: Dots a side of the cells in which is counted what is drawn where.
_CELL = 4


class Labels:
    """Texts in a plot that never lie over each other: the important ones are placed first."""

    def __init__(self, plot: pg.PlotWidget) -> None:
        self._plot, self._box = plot, plot.getPlotItem().getViewBox()
        #: Whether texts cover what lies behind them: good over many lines, bad over bars.
        self.opaque = False
        #: Curves and marks that texts keep off where there is room elsewhere.
        self.clear_of: tuple[pg.PlotCurveItem | pg.ScatterPlotItem, ...] = ()
        #: Drawn shapes of which texts keep off those with an edge, likewise.
        self.clear_of_shapes: Shapes | None = None
        #: Where the texts stand, in dots of the picture.
        self.places: tuple[QRectF, ...] = ()
        self._pool: list[pg.TextItem] = []
        self._shown: tuple[Label, ...] = ()
        #: What stood where when the texts were placed last, in steps of `_SEEN`.
        self._scene: tuple[object, ...] = ()
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
        self._shown = tuple(sorted(labels, key=lambda label: -label.importance))
        self.place()

    def restyle(self) -> None:
        """Take the colours in use."""
        self.place()

    def place(self) -> None:
        """Put each label where it fits, and hide what fits nowhere; nothing to do while all that is drawn
        stays where it is.
        """
        font = QFont(self._plot.font())
        font.setPointSizeF(max(7.0, self._plot.font().pointSizeF() * 0.85))
        (x0, x1), (y0, y1) = self._box.viewRange()
        area = self._box.rect()
        if x1 == x0 or y1 == y0 or area.width() < 2:
            return
        per = area.width() / (x1 - x0), -area.height() / (y1 - y0)
        theme, key, taken = palette.theme(), font.key(), list[QRectF]()
        drawn = self._drawn((x0, y1), per)
        points = [
            [((x - x0) * per[0], (y - y1) * per[1]) for x, y in ((label.x, label.y), *label.also)]
            for label in self._shown
        ]
        scene = (
            (x0, x1, y0, y1, area.width(), area.height(), key, theme, self.opaque),
            [(each.text, each.role, each.side, each.clear, each.within) for each in self._shown],
            [[(round(x / _SEEN), round(y / _SEEN)) for x, y in each] for each in points],
            [(how, np.rint(dots / _SEEN).tobytes()) for how, dots in drawn],
        )
        if scene == self._scene:
            return
        self._scene = scene
        ground = _Ground(area, drawn)
        while len(self._pool) < len(self._shown):
            item = pg.TextItem()
            item.setFont(font)
            item.setAnchor((0, 0))
            item.look = None
            self._plot.addItem(item, ignoreBounds=True)
            self._pool.append(item)
        for item in self._pool[len(self._shown) :]:
            item.setVisible(False)
        for label, at_dots, item in zip(self._shown, points, self._pool, strict=False):
            size, lane = self._size(label.text, font, key), area
            if label.within is not None:
                low, high = ((y - y1) * per[1] for y in label.within)
                lane = area.intersected(QRectF(area.left(), high, area.width(), low - high))
            fit = _fit(label, at_dots, size, lane, taken, ground)
            item.setVisible(fit is not None)
            if fit is None:
                continue
            taken.append(fit)
            # Setting what is already so costs as much as a change would.
            look = (label.text, label.role, self.opaque, theme)
            if look != item.look:
                item.look = look
                item.setText(label.text)
                item.setColor(palette.color(label.role))
                item.fill = palette.brush("sheet") if self.opaque else pg.mkBrush(None)
            x, y = x0 + (fit.left() + 2) / per[0], y1 + (fit.top() - 1) / per[1]
            at = item.pos()
            if max(abs((at.x() - x) * per[0]), abs((at.y() - y) * per[1])) > _SEEN:
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

    def _drawn(self, corner: Span, per: Span) -> "list[_Drawn]":
        """What is drawn where texts might stand, in dots; `corner` is the upper left one, `per` the dots a
        unit.
        """
        found: list[_Drawn] = []
        for item in self.clear_of:
            x, y = item.getData()
            if x is None or not len(x):
                continue
            how: _How = "dots"
            if not isinstance(item, pg.ScatterPlotItem):
                how = "pairs" if item.opts["connect"] == "pairs" else "line"
            found.append((how, np.stack([(x - corner[0]) * per[0], (y - corner[1]) * per[1]], axis=1)))
        if self.clear_of_shapes is not None and len(edged := self.clear_of_shapes.edged):
            found.append(("boxes", (edged - [*corner, *corner]) * [*per, *per]))
        return found


#: How what is drawn is told: each dot for itself, points of a line or of pieces of one, or two corners a box.
_How = Literal["dots", "line", "pairs", "boxes"]
_Drawn = tuple[_How, Array]


class _Ground:
    """How much is drawn in each cell of a picture."""

    def __init__(self, area: QRectF, drawn: Sequence[_Drawn]) -> None:
        self._wide, self._high = area.width(), area.height()
        self._cells = np.zeros((int(self._high) // _CELL + 2, int(self._wide) // _CELL + 2), dtype=np.int32)
        self._summed: NDArray[np.int32] | None = None
        lines = []
        for how, dots in drawn:
            if how == "dots":
                self.dots(dots)
            elif how == "boxes":
                for left, top, right, bottom in dots.tolist():
                    self.box(left, top, right, bottom)
            else:
                apart = 2 if how == "pairs" else 1
                lines.append(np.stack([dots[:-1:apart], dots[1::apart]]))
        if lines:
            self.lines(*np.concatenate(lines, axis=1))

    def lines(self, begin: Array, end: Array) -> None:
        """Straight lines between points in dots, both of shape (N, 2); none passes a cell unseen."""
        size = np.array([self._wide, self._high])
        begin, end = np.clip(begin, -100, size + 100), np.clip(end, -100, size + 100)
        steps = np.ceil(np.abs(end - begin).max(axis=1, initial=0) / _CELL).astype(int) + 1
        line = np.repeat(np.arange(len(steps)), steps)
        share = (np.arange(line.size) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[line]
        self.dots(begin[line] + share[:, None] * (end - begin)[line])

    def dots(self, dots: Array) -> None:
        """Marks at points in dots, of shape (N, 2)."""
        x, y = dots.T
        inside = (x >= 0) & (x < self._wide) & (y >= 0) & (y < self._high)
        self._cells[(y[inside] // _CELL).astype(int), (x[inside] // _CELL).astype(int)] += 1

    def box(self, left: float, top: float, right: float, bottom: float) -> None:
        """A box with all that is in it, its sides in dots."""
        rows = slice(max(int(top // _CELL), 0), max(int(bottom // _CELL) + 1, 0))
        self._cells[rows, max(int(left // _CELL), 0) : max(int(right // _CELL) + 1, 0)] += 1

    def under(self, text: QRectF) -> int:
        """How much is drawn under a text that lies in the picture; its margins may touch it."""
        if self._summed is None:
            rows, columns = self._cells.shape
            # Each item is the sum of all cells above and left of it; in place, which is three times as fast.
            self._summed = np.zeros((rows + 1, columns + 1), dtype=np.int32)
            self._cells.cumsum(axis=0, out=self._summed[1:, 1:])
            self._summed.cumsum(axis=1, out=self._summed)
        x0, x1 = int(text.left() + 2) // _CELL, int(text.right() + 2) // _CELL
        y0, y1 = int(text.top() + 2) // _CELL, int(text.bottom() + 2) // _CELL
        s = self._summed
        return int(s[y1, x1] - s[y0, x1] - s[y1, x0] + s[y0, x0])


def _fit(
    label: Label, points: list[Span], size: Span, area: QRectF, taken: list[QRectF], ground: _Ground
) -> QRectF | None:
    """The first place in an area, by its points, where a label is clear of what is drawn; else the one that
    hides least, if it may hide anything.

    A text as long as the picture is wide fits on no side; it is then pushed along until it does.
    """
    best: QRectF | None = None
    least = math.inf
    for rect, upright in _places(label, points, size, area):
        if rect.top() < area.top() or rect.bottom() > area.bottom():
            continue
        inside = rect.left() >= 0 and rect.right() <= area.width()
        if not inside:
            # Pushed along, it would come to lie over its own point where it stands beside it.
            if upright or rect.width() > area.width():
                continue
            rect.moveLeft(min(max(rect.left(), 0.0), area.width() - rect.width()))
        if any(rect.intersects(other) for other in taken):
            continue
        hidden = ground.under(rect)
        cost = 2 * hidden + (not inside)
        if cost < least and not (label.clear and hidden):
            best, least = rect, cost
        if least == 0:
            break
    return best


def _places(label: Label, points: list[Span], size: Span, area: QRectF) -> Iterator[tuple[QRectF, bool]]:
    """Where a label may stand, the best first, and whether it is beside its point there.

    All sides of the first point come first, then further up or down if it is to stand there, then the others.
    """
    sides = (label.side, *(each for each in _SIDES if each != label.side))
    for number, (x, y) in enumerate(points):
        if not area.adjusted(-1, -1, 1, 1).contains(x, y):
            if number == 0:
                return
            continue
        for lines in range(1 + _LINES) if number == 0 else (0,):
            for side in sides:
                ax, ay = _SIDES[side]
                if lines and ay != _SIDES[label.side][1]:
                    continue
                left, top = x - ax * size[0] + _away(ax) * _GAP, y - ay * size[1] + _away(ay) * _GAP
                yield QRectF(left, top + lines * _away(ay) * size[1], *size), ay == 0.5


def _away(share: float) -> int:
    """The direction from a point in which a text stands of which this share lies before the point."""
    return 1 if share == 0 else -1 if share == 1 else 0
