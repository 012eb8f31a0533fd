"""How the strip of the signal path is laid out and painted."""

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPen

from app.pictures.rig.strip import Island, Strip
from app.style import palette
from app.style.marks import draw_mark
from core.model.values.base import Path

_GAP = 25.0
_MARGIN = 10.0
_LEAST_WIDTH = 88.0
_PAD = 9.0
_BAR = 5.0
#: How far an island's frame and flag reach beyond it, and a level's text beside its middle.
_OVERHANG, _LEVEL_REACH = 10.0, 60.0
#: Wider than any window.
_WHOLE = 1 << 15


class Geometry:
    """Where everything stands. Islands are as wide as their words need; the strip is as long as it is."""

    def __init__(self, strip: Strip, font: QFont) -> None:
        self.strip = strip
        self.plain = QFont(font)
        self.bold = QFont(font)
        self.bold.setBold(True)
        self.small = QFont(font)
        self.small.setPointSizeF(font.pointSizeF() * 0.87)
        plain, bold, small = (QFontMetricsF(each) for each in (self.plain, self.bold, self.small))
        self.line, self.small_line = plain.height(), small.height()
        top = self.small_line + 16
        height = _PAD + 2 * self.line + 6 + _BAR + 2 + self.small_line + 5
        self.below = top + height + 5
        self.islands: list[QRectF] = []
        self.tags: list[QRectF] = []
        x = _MARGIN
        for island in strip.islands:
            tag = small.horizontalAdvance(island.tag.text) + 34 if island.tag else 0.0
            needed = max(
                bold.horizontalAdvance(island.name),
                plain.horizontalAdvance(island.figure),
                small.horizontalAdvance(island.headroom),
                small.horizontalAdvance(island.mark) + 22 if island.mark else 0,
            )
            width = max(_LEAST_WIDTH, needed + 16, tag + 16)
            rect = QRectF(round(x), round(top), round(width), round(height))
            self.islands.append(rect)
            self.tags.append(
                QRectF(rect.center().x() - tag / 2, self.below, tag, self.small_line + 5) if tag else QRectF()
            )
            x = rect.right() + _GAP
        self.track_y = round(top + height / 2)
        self.pluses = [
            QRectF((left.right() + right.left()) / 2 - 7, self.track_y - 7, 14, 14)
            for left, right in zip(self.islands, self.islands[1:], strict=False)
        ]
        self.levels = [
            QRectF(plus.center().x() - _LEVEL_REACH, self.below + 1, 2 * _LEVEL_REACH, self.small_line + 3)
            for plus in self.pluses
        ]
        self.size = QSize(round(x - _GAP + _MARGIN), round(self.below + self.small_line + 9))

    def differing(self, former: "Geometry") -> list[QRect]:
        """What must be painted anew where another strip is painted already."""
        new, old = self.strip, former.strip
        placed = self.islands == former.islands and self.tags == former.tags and self.size == former.size
        if not placed or new.title != old.title or new.selection != old.selection:
            return [QRect(0, 0, max(self.size.width(), _WHOLE), self.size.height())]
        islands = zip(self.islands, old.islands, new.islands, strict=True)
        levels = zip(self.pluses, old.levels, new.levels, strict=True)
        spans = [(at.left() - _OVERHANG, at.right() + _OVERHANG) for at, was, now in islands if was != now]
        middles = [at.center().x() for at, was, now in levels if was != now]
        spans += [(middle - _LEVEL_REACH, middle + _LEVEL_REACH) for middle in middles]
        return [QRect(int(left), 0, int(right - left) + 1, self.size.height()) for left, right in spans]

    def nearest_gap(self, x: float) -> int:
        """The gap nearest to `x`."""
        return min(range(len(self.pluses)), key=lambda n: abs(self.pluses[n].center().x() - x))


def paint_strip(
    painter: QPainter,
    strip: Strip,
    geometry: Geometry,
    visible: QRect,
    exposed: QRect,
    *,
    selection: Path,
    focused: bool,
    dragged: str | None,
    drop_gap: int | None,
    hovered_gap: int | None,
) -> None:
    """Paint what is visible of the strip and exposed; `visible` and `exposed` in the strip's coordinates."""
    painter.fillRect(QRect(0, 0, visible.width(), visible.height()), palette.brush("board"))
    painter.setFont(geometry.small)
    painter.setPen(palette.pen("on_board"))
    title = QFontMetricsF(geometry.small).elidedText(
        strip.title, Qt.TextElideMode.ElideRight, visible.width() - 2 * _MARGIN
    )
    painter.drawText(QPointF(_MARGIN, geometry.small_line + 1), title)
    painter.translate(-visible.x(), 0)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _paint_track(painter, strip, geometry)
    levels = zip(geometry.pluses, geometry.levels, strip.levels, strict=True)
    for gap, (plus, place, level) in enumerate(levels):
        if abs(plus.center().x() - exposed.center().x()) > exposed.width() / 2 + _LEVEL_REACH:
            continue
        _paint_plus(painter, plus, hovered=gap in (hovered_gap, drop_gap))
        painter.setFont(geometry.small)
        painter.setPen(palette.pen("on_board"))
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, level)
    if drop_gap is not None:
        x = geometry.pluses[drop_gap].center().x()
        painter.setPen(QPen(palette.color("track"), 3))
        painter.drawLine(QPointF(x, geometry.islands[0].top()), QPointF(x, geometry.islands[0].bottom()))
    for island, rect, tag in zip(strip.islands, geometry.islands, geometry.tags, strict=True):
        if rect.right() + _OVERHANG < exposed.left() or rect.left() - _OVERHANG > exposed.right():
            continue
        painter.setOpacity(0.45 if dragged is not None and island.stage == dragged else 1)
        _paint_island(painter, island, rect, geometry, island.path == selection, focused)
        if island.tag:
            _paint_tag(painter, island, rect, tag, geometry, island.tag.path == selection, focused)
    painter.setOpacity(1)


def _paint_track(painter: QPainter, strip: Strip, geometry: Geometry) -> None:
    pen = QPen(palette.color("track"), 3)
    painter.setPen(pen)
    y = geometry.track_y
    for left, right in zip(geometry.islands, geometry.islands[1:], strict=False):
        painter.drawLine(QPointF(left.right(), y), QPointF(right.left(), y))
    for island, rect in zip(strip.islands, geometry.islands, strict=True):
        if island.bypassed:
            over = rect.top() - 6
            corners = [
                QPointF(rect.left() - 8, y),
                QPointF(rect.left() - 8, over),
                QPointF(rect.right() + 8, over),
                QPointF(rect.right() + 8, y),
            ]
            painter.drawPolyline(corners)


def _paint_plus(painter: QPainter, rect: QRectF, *, hovered: bool) -> None:
    painter.setPen(QPen(palette.color("track"), 1.5))
    painter.setBrush(palette.brush("track" if hovered else "board"))
    painter.drawEllipse(rect)
    painter.setPen(QPen(palette.color("board" if hovered else "track"), 1.6))
    centre = rect.center()
    painter.drawLine(centre - QPointF(3.5, 0), centre + QPointF(3.5, 0))
    painter.drawLine(centre - QPointF(0, 3.5), centre + QPointF(0, 3.5))


def _outline(selected: bool, focused: bool, bypassed: bool) -> QPen:
    if selected:
        return QPen(palette.color("ink" if focused else "track"), 3)
    pen = QPen(palette.color("track" if bypassed else "rule"), 1)
    if bypassed:
        pen.setDashPattern([4, 3])
    return pen


def _paint_island(
    painter: QPainter, island: Island, rect: QRectF, geometry: Geometry, selected: bool, focused: bool
) -> None:
    painter.setPen(_outline(selected, focused, island.bypassed))
    painter.setBrush(palette.brush("board" if island.bypassed else "sheet"))
    painter.drawRoundedRect(rect.adjusted(0.5, 0.5, -0.5, -0.5), 6, 6)
    centred = Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop
    ink = "on_board" if island.bypassed else "ink"
    y = rect.top() + _PAD
    painter.setFont(geometry.bold)
    painter.setPen(palette.pen(ink))
    painter.drawText(QRectF(rect.left(), y, rect.width(), geometry.line), centred, island.name)
    y += geometry.line
    painter.setFont(geometry.plain)
    painter.drawText(QRectF(rect.left(), y, rect.width(), geometry.line), centred, island.figure)
    y += geometry.line + 6
    if island.used is not None:
        bar = QRectF(rect.left() + 12, y, rect.width() - 24, _BAR)
        painter.fillRect(bar, palette.brush("grid"))
        role = "good" if island.used < 0.9 else "caution" if island.used < 1 else "fault"
        painter.fillRect(QRectF(bar.left(), bar.top(), bar.width() * island.used, _BAR), palette.brush(role))
        painter.setFont(geometry.small)
        painter.setPen(palette.pen("soft"))
        y += _BAR + 2
        painter.drawText(QRectF(rect.left(), y, rect.width(), geometry.small_line), centred, island.headroom)
    if island.severity in ("fault", "caution"):
        _paint_mark(painter, island.severity, island.mark, rect, geometry)


def _paint_mark(painter: QPainter, severity: str, text: str, rect: QRectF, geometry: Geometry) -> None:
    """A small flag on the island's upper edge: sign and words."""
    width = QFontMetricsF(geometry.small).horizontalAdvance(text) + 20
    height = geometry.small_line + 1
    flag = QRectF(rect.right() - width - 5, rect.top() - height * 0.62, width, height)
    painter.setPen(QPen(palette.color(severity), 1))
    painter.setBrush(palette.brush("sheet"))
    painter.drawRoundedRect(flag, height / 2, height / 2)
    side = height - 6
    draw_mark(painter, QRectF(flag.left() + 4, flag.top() + 3, side, side), severity)
    painter.setFont(geometry.small)
    painter.setPen(palette.pen(severity))
    painter.drawText(flag.adjusted(side + 6, 0, -4, 0), Qt.AlignmentFlag.AlignCenter, text)


def _paint_tag(
    painter: QPainter,
    island: Island,
    rect: QRectF,
    tag: QRectF,
    geometry: Geometry,
    selected: bool,
    focused: bool,
) -> None:
    assert island.tag is not None
    painter.setPen(QPen(palette.color("track"), 2))
    painter.drawLine(QPointF(tag.center().x(), rect.bottom()), QPointF(tag.center().x(), tag.top()))
    painter.setPen(_outline(selected, focused, False))
    painter.setBrush(palette.brush("sheet"))
    painter.drawRoundedRect(tag, tag.height() / 2, tag.height() / 2)
    left = tag.left() + 8
    if island.tag.severity in ("fault", "caution"):
        draw_mark(painter, QRectF(left, tag.top() + 4, 10, tag.height() - 8), island.tag.severity)
        left += 12
    painter.setFont(geometry.small)
    painter.setPen(palette.pen("vfo" if island.tag.path == ("vfo",) else "carrier"))
    painter.drawText(
        QRectF(left, tag.top(), tag.right() - 8 - left, tag.height()),
        Qt.AlignmentFlag.AlignCenter,
        island.tag.text,
    )
