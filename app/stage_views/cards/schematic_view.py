"""The schematic of a circuit that was solved, drawn as large as fits."""

from PySide6.QtCore import QByteArray, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QDialog, QPushButton, QVBoxLayout, QWidget

from app.style import palette
from app.widgets.drawn import Drawn
from core.stages.outcome import Drawable

#: Largest zoom, and how much a notch of the wheel or a key is.
_MOST, _NOTCH = 8.0, 1.25
#: Drawn smaller than this, of the size that it is drawn for, its letters are hard to read.
_LEGIBLE = 0.7


class SchematicView(Drawn[Drawable], QWidget):
    """A schematic, as large as fits; the wheel (with the focus or Ctrl) and + and - enlarge it.

    Dragging and the arrow keys move it, 0 makes it fit again, a double click opens it in a window, and so
    does a button where it is too small to read. Drawing takes 30 ms: amid a gesture the same circuit with
    other values waits until the hand rests.
    """

    def __init__(self, *, opens: bool = True) -> None:
        """`opens`: there is a window to open it in."""
        super().__init__()
        self._opens = opens
        self.opener = QPushButton("Enlarge…", self)
        self.opener.setProperty("look", "small")
        self.opener.setToolTip("Opens the schematic in a window of its own, as Return and a double click do")
        # Return does the same.
        self.opener.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.opener.clicked.connect(self.open_window)
        self.opener.hide()
        self._zoom = 1.0
        #: Where the middle of the view stands on the drawing, as shares of its size.
        self._middle = QPointF(0.5, 0.5)
        self._pressed: QPointF | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Schematic")
        self.setToolTip(
            "Enlarge with the wheel (click first, or hold Ctrl) or + and -; 0 fits it again; "
            "a double click opens it in a window"
        )
        self._labels: tuple[tuple[str, str], ...] = ()
        self._renderer = QSvgRenderer()
        self._svg = ""
        self._stale = self._waits = False
        self.setMinimumHeight(90)

    def show_circuit(self, circuit: Drawable, labels: tuple[tuple[str, str], ...] = ()) -> None:
        """Draw what a design gives to draw: a filter's network, the VFO's tank.

        `labels` are those of the measured crystals that stand in it, by reference.
        """
        former = self._drawn
        if labels != self._labels:
            self._labels = labels
            self.forget()
        self.show_picture(circuit)
        if former is None or _refs(circuit) != _refs(former):
            self.fit()
            self.settle()

    def draw(self, picture: Drawable) -> None:
        self._waits = True

    def settle(self) -> None:
        """Draw what waits for the hand to rest."""
        if self._waits:
            self._waits, self._stale = False, True
            self.update()

    @property
    def circuit(self) -> Drawable | None:
        """What is drawn, or will be when the hand rests."""
        return self._drawn

    @property
    def svg(self) -> str:
        """The drawing on show."""
        return self._svg

    def restyle(self) -> None:
        """Take the colours in use."""
        self._waits = self._drawn is not None
        self.settle()

    def _svg_of(self, circuit: Drawable) -> str:
        from app.sheet.drawings import drawn

        colours = palette.roles()
        return drawn(circuit, colours.ink, colours.soft, dict(self._labels))

    def _load(self) -> None:
        """Have what is to be painted drawn."""
        if self._stale and self._drawn is not None:
            self._stale = False
            svg = self._svg_of(self._drawn)
            if svg != self._svg:
                self._svg = svg
                self._renderer.load(QByteArray(svg.encode()))
        self.opener.setVisible(self._opens and 0 < self._fitting(self.height()) < _LEGIBLE)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        size = self.opener.sizeHint()
        self.opener.setGeometry(self.width() - size.width(), 0, size.width(), size.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._drawn is None:
            return
        self._load()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._renderer.render(painter, self.drawn_rect())
        if self.hasFocus():
            painter.setPen(palette.pen("copper"))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))

    # Enlarging

    @property
    def zoom(self) -> float:
        """How many times larger than fitting the drawing is."""
        return self._zoom

    def drawn_rect(self) -> QRectF:
        """Where the drawing lies in the widget, its parts out of sight included."""
        size = self._renderer.defaultSize()
        above = self.opener.height() if self.opener.isVisibleTo(self) else 0
        scale = self._fitting(self.height() - above) * self._zoom
        width, height = size.width() * scale, size.height() * scale
        left = self.width() / 2 - self._middle.x() * width
        top = (above + self.height()) / 2 - self._middle.y() * height
        return QRectF(left, top, width, height) if scale else QRectF()

    def _fitting(self, room: int) -> float:
        """How large the whole drawing is in so much height, of the size that it is drawn for; 0 of none."""
        size = self._renderer.defaultSize()
        return 0.0 if size.isEmpty() else min(self.width() / size.width(), room / size.height(), 1.5)

    def fit(self) -> None:
        """Show the whole drawing."""
        self._zoom, self._middle = 1.0, QPointF(0.5, 0.5)
        self.update()

    def read(self) -> None:
        """Show the upper part of it as large as it is drawn for, where the whole is too small to read."""
        self._load()
        self.fit()
        scale = self._fitting(self.height())
        if 0 < scale < _LEGIBLE:
            self.enlarge(1 / scale, QPointF(self.width() / 2, self.drawn_rect().top()))

    def enlarge(self, times: float, at: QPointF | None = None) -> None:
        """Enlarge so many times; what lies under `at` stays there."""
        point = at or QPointF(self.width() / 2, self.height() / 2)
        rect = self.drawn_rect()
        if rect.isEmpty():
            return
        share = QPointF((point.x() - rect.left()) / rect.width(), (point.y() - rect.top()) / rect.height())
        self._zoom = min(max(self._zoom * times, 1.0), _MOST)
        if self._zoom == 1.0:
            self.fit()
            return
        rect = self.drawn_rect()
        under = QPointF(rect.left() + share.x() * rect.width(), rect.top() + share.y() * rect.height())
        self._move(point - under)

    def _move(self, by: QPointF) -> None:
        rect = self.drawn_rect()
        if self._zoom > 1.0 and not rect.isEmpty():
            x = self._middle.x() - by.x() / rect.width()
            y = self._middle.y() - by.y() / rect.height()
            self._middle = QPointF(min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0))
            self.update()

    def wheelEvent(self, event: QWheelEvent) -> None:
        if self.hasFocus() or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.enlarge(_NOTCH if event.angleDelta().y() > 0 else 1 / _NOTCH, event.position())
            event.accept()
        else:
            event.ignore()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Plus: _NOTCH, Qt.Key.Key_Equal: _NOTCH, Qt.Key.Key_Minus: 1 / _NOTCH}
        ways = {
            Qt.Key.Key_Left: QPointF(40, 0),
            Qt.Key.Key_Right: QPointF(-40, 0),
            Qt.Key.Key_Up: QPointF(0, 40),
            Qt.Key.Key_Down: QPointF(0, -40),
        }
        key = Qt.Key(event.key())
        if key in steps:
            self.enlarge(steps[key])
        elif key == Qt.Key.Key_0:
            self.fit()
        elif key in ways and self._zoom > 1.0:
            self._move(ways[key])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.open_window()
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._pressed is not None:
            self._move(event.position() - self._pressed)
            self._pressed = event.position()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._pressed = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.open_window()

    def open_window(self) -> QDialog | None:
        """Show the drawing as it is now in a window of its own."""
        if self._drawn is None:
            return None
        window = QDialog(self.window())
        window.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        window.setWindowTitle("Schematic")
        large = SchematicView(opens=False)
        large.show_circuit(self._drawn, self._labels)
        column = QVBoxLayout(window)
        column.setContentsMargins(8, 8, 8, 8)
        column.addWidget(large)
        window.resize(self.window().size() * 0.85)
        window.show()
        large.read()
        large.setFocus()
        return window

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()


def _refs(circuit: Drawable) -> tuple[str, ...]:
    """The references of a circuit's parts: with the same ones it is the same circuit with other values."""
    return tuple(part.ref for part in circuit.parts)
