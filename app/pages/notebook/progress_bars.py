"""How far a rig has come, at a glance: a bar for each stage, filled as its readings come in."""

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Signal
from PySide6.QtGui import QHelpEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.style import palette
from app.style.plain import tip
from core.rig.log.bench_log import Progress

_HEIGHT, _GAP = 34, 3
#: What is out is never told by its colour alone.
_MARK_HEIGHT = 8


class ProgressBars(QWidget):
    """A bar a stage, as wide as it has things to be read: what is within from below, what is out above it."""

    #: The bar of a stage was clicked: its name.
    clicked = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._stages: tuple[Progress, ...] = ()
        self._chosen = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Progress by stage")

    def show_progress(self, stages: tuple[Progress, ...], chosen: str) -> None:
        """Show how far these stages have come, one of them chosen or none."""
        if (stages, chosen) != (self._stages, self._chosen):
            self._stages, self._chosen = stages, chosen
            self.setAccessibleDescription("; ".join(f"{each.name} {each.words}" for each in stages))
            self.update()

    def sizeHint(self) -> QSize:
        return QSize(200, _HEIGHT)

    def bars(self) -> list[tuple[Progress, QRectF]]:
        """Each stage with the place of its bar."""
        whole = sum(each.whole for each in self._stages)
        if not whole:
            return []
        room, left, found = self.width() - _GAP * (len(self._stages) - 1), 0.0, []
        for each in self._stages:
            wide = room * each.whole / whole
            found.append((each, QRectF(left, 0, wide, self.height())))
            left += wide + _GAP
        return found

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        for each, rect in self.bars():
            ground = QRectF(rect.left(), _MARK_HEIGHT, rect.width(), rect.height() - _MARK_HEIGHT - 3)
            painter.fillRect(ground, palette.brush("rule"))
            high = ground.height() * each.within / each.whole
            good = QRectF(ground.left(), ground.bottom() - high, ground.width(), high)
            painter.fillRect(good, palette.brush("good"))
            if each.out:
                above = ground.height() * each.out / each.whole
                bad = QRectF(ground.left(), good.top() - above, ground.width(), above)
                painter.fillRect(bad, palette.brush("fault"))
                self._cross(painter, round(rect.center().x()))
            if each.name == self._chosen:
                foot = QRectF(rect.left(), rect.height() - 2, rect.width(), 2)
                painter.fillRect(foot, palette.brush("copper"))

    def _cross(self, painter: QPainter, x: float) -> None:
        """A cross above a bar, which a letter would be too high for."""
        reach, y = _MARK_HEIGHT / 2 - 1.5, _MARK_HEIGHT / 2
        painter.setPen(palette.pen("fault", width=1.5))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.drawLine(QPointF(x - reach, y - reach), QPointF(x + reach, y + reach))
        painter.drawLine(QPointF(x - reach, y + reach), QPointF(x + reach, y - reach))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)

    def _at(self, x: float) -> Progress | None:
        return next((each for each, rect in self.bars() if rect.left() <= x <= rect.right()), None)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        found = self._at(event.position().x())
        if found is not None:
            self.clicked.emit("" if found.name == self._chosen else found.name)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            found = self._at(event.pos().x())
            QToolTip.showText(event.globalPos(), tip(f"{found.name}: {found.words}") if found else "", self)
            return True
        return super().event(event)
