"""A slider for frequencies, with ticks."""

from collections.abc import Hashable
from itertools import count

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QHelpEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QWheelEvent,
)
from PySide6.QtWidgets import QSlider, QToolTip, QWidget

from app.pictures.panels.frequency_bar import Tick
from app.style import palette
from app.style.plain import tip

_RADIUS = 7
_gestures = count()


class FrequencySlider(QSlider):
    """A horizontal slider in steps of so many hertz; a press on the groove takes the handle there.

    `turned` carries the frequency and a gesture that is the same from press to release, and for the
    arrow keys as long as the slider keeps the focus.
    """

    turned = Signal(float, object)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self._low_hz = 0.0
        self._step_hz = 100.0
        self._ticks: tuple[Tick, ...] = ()
        self._gesture: Hashable = next(_gestures)
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSingleStep(1)
        self.setPageStep(10)
        self.valueChanged.connect(lambda value: self.turned.emit(self.hz, self._gesture))

    @property
    def hz(self) -> float:
        """Where the handle stands [Hz]."""
        return self._low_hz + self.value() * self._step_hz

    @property
    def low_hz(self) -> float:
        """The left end [Hz]."""
        return self._low_hz

    @property
    def high_hz(self) -> float:
        """The right end [Hz]."""
        return self._low_hz + self.maximum() * self._step_hz

    def show_range(self, low_hz: float, high_hz: float, step_hz: float) -> None:
        """Set the ends [Hz] and the step of the arrow keys."""
        steps = max(round((high_hz - low_hz) / step_hz), 1)
        if (low_hz, steps, step_hz) == (self._low_hz, self.maximum(), self._step_hz):
            return
        self._low_hz, self._step_hz = low_hz, step_hz
        self.blockSignals(True)
        self.setRange(0, steps)
        self.blockSignals(False)
        self.update()

    def show_hz(self, hz: float) -> None:
        """Put the handle where the design has it, without announcing it."""
        value = round((hz - self._low_hz) / self._step_hz)
        if value != self.value():
            self.blockSignals(True)
            self.setValue(value)
            self.blockSignals(False)
            self.update()

    def show_ticks(self, ticks: tuple[Tick, ...]) -> None:
        """Show these ticks."""
        if ticks != self._ticks:
            self._ticks = ticks
            self.update()

    @property
    def ticks(self) -> tuple[Tick, ...]:
        """The ticks on show."""
        return self._ticks

    def sizeHint(self) -> QSize:
        return QSize(130, 2 * _RADIUS + 12)

    def minimumSizeHint(self) -> QSize:
        return QSize(90, 2 * _RADIUS + 12)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        self._gesture = next(_gestures)
        self.setSliderDown(True)
        self._turn_to(event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self.isSliderDown():
            self._turn_to(event.position().x())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.setSliderDown(False)
        self._gesture = next(_gestures)

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self._gesture = next(_gestures)
        super().focusInEvent(event)

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            near = [tick for tick in self._ticks if abs(self._x(tick.hz) - event.pos().x()) < 5]
            if near:
                QToolTip.showText(event.globalPos(), tip("\n".join(tick.text for tick in near)), self)
                return True
        return super().event(event)

    def _turn_to(self, x: float) -> None:
        span = self.width() - 2 * _RADIUS
        self.setValue(round((x - _RADIUS) / max(span, 1) * self.maximum()))

    def _x(self, hz: float) -> float:
        steps = (hz - self._low_hz) / self._step_hz
        return _RADIUS + steps / max(self.maximum(), 1) * (self.width() - 2 * _RADIUS)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = self.height() - _RADIUS - 3.0
        x = self._x(self.hz)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(palette.brush("rule"))
        painter.drawRoundedRect(QRectF(_RADIUS, middle - 2.5, self.width() - 2 * _RADIUS, 5), 2.5, 2.5)
        for tick in self._ticks:
            at = self._x(tick.hz)
            painter.setBrush(palette.brush(tick.role))
            painter.drawPolygon(
                QPolygonF(
                    [QPointF(at - 3.5, middle - 14), QPointF(at + 3.5, middle - 14), QPointF(at, middle - 6)]
                )
            )
        painter.setBrush(palette.brush("copper"))
        painter.setPen(QPen(palette.color("ink"), 2) if self.hasFocus() else palette.pen("sheet"))
        painter.drawEllipse(QPointF(x, middle), _RADIUS - 1, _RADIUS - 1)
