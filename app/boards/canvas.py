"""A drawing to scale that is zoomed and shifted, and on which things are picked up and moved."""

from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QTransform,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from app.boards.painting import Paint, paint
from app.style import palette
from core.rig.board.drawing import Drawing, Ink, Thing
from core.rig.board.edits import GRID_M
from core.rig.board.plan import Box, Place

#: Room left around the drawing, and what one turn of the wheel and one key do to its size.
_AROUND, _ZOOM = 12, 1.2
#: Pixels a millimetre may have.
_LEAST, _MOST = 0.5, 80.0
#: How opaque a part is, of 255.
_GLASS = 190
#: With shift an arrow key goes so many steps.
_FAR = 10
_ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


def inks() -> dict[Ink, Paint]:
    """Colours of a drawing on the screen: copper, and parts on it."""
    made: dict[Ink, tuple[str | None, str | None]] = {
        "plane": ("board", "track"),
        "island": ("scatter", "track"),
        "body_line": (None, "soft"),
        "lead": ("ink", "ink"),
        "ground": ("track", "ink"),
        "wire": (None, "vfo"),
        "words": ("ink", None),
        "soft_words": ("ink", None),
        "by_hand": ("vfo", None),
        "clash": (None, "fault"),
        "long": ("caution", "ink"),
        "shield": (None, "own_noise"),
        "panel": ("sheet", "ink"),
        "hole": ("paper", "ink"),
        "room": (None, "held"),
    }
    found: dict[Ink, Paint] = {
        ink: (None if fill is None else palette.color(fill), None if line is None else palette.color(line))
        for ink, (fill, line) in made.items()
    }
    # Through a part is seen what it lies on.
    glass = QColor(palette.color("sheet"))
    glass.setAlpha(_GLASS)
    found["body"] = (glass, palette.color("ink"))
    return found


class ScaleCanvas(QWidget):
    """Shows one drawing. Wheel and `+` `−` zoom, dragging the ground shifts, `0` shows all of it.

    What is picked up is dragged, or moved with the arrow keys (with shift by ten steps) and turned with `R`,
    amid a drag too; Escape gives a drag up. Page Up and Page Down pick the one before and the next. Delete
    leaves it to be placed again.
    """

    #: A thing is wanted somewhere: its key, its place, and whether the hand is still at it.
    moved = Signal(str, object, bool)
    #: What was moved since it was picked up is to be where it was.
    given_up = Signal()
    #: A thing is to be placed automatically again.
    released = Signal(str)
    #: Another thing was picked up: its key, empty for none.
    picked = Signal(str)

    def __init__(self, what: str, parent: QWidget | None = None) -> None:
        """`what` is what it shows, for those who hear the window."""
        super().__init__(parent)
        self.setAccessibleName(what)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(240, 220)
        self._drawing: Drawing | None = None
        self._inks: Mapping[Ink, Paint] = inks()
        self._key = ""
        self._zoom: float | None = None
        self._middle = QPointF()
        #: Where on the drawing a thing was grasped, and its place then.
        self._held: tuple[QPointF, Place] | None = None
        self._dragged = False
        self._shifting: QPointF | None = None
        self.turns = True

    def sizeHint(self) -> QSize:
        # What is preferred is the least here: a page that scrolls takes it for its height.
        return QSize(320, 220)

    @property
    def drawing(self) -> Drawing | None:
        """What is on show."""
        return self._drawing

    @property
    def thing(self) -> Thing | None:
        """What is picked up."""
        things = () if self._drawing is None else self._drawing.things
        return next((each for each in things if each.key == self._key), None)

    def show_drawing(self, drawing: Drawing) -> None:
        """Show another drawing; size and place of the view stay where it is of the same thing."""
        if self._drawing is None or drawing.title != self._drawing.title:
            self._zoom = None
            self._key = ""
        self._drawing = drawing
        self.update()

    def restyle(self) -> None:
        """Take the colours in use."""
        self._inks = inks()
        self.update()

    def pick(self, key: str) -> None:
        """Pick a thing up by its key; none with an empty one."""
        if key != self._key:
            self._key = key
            self.picked.emit(key)
            self.update()

    def show_all(self) -> None:
        """Show the whole drawing."""
        self._zoom = None
        self.update()

    def zoom(self, by: float, at: QPointF | None = None) -> None:
        """Enlarge by a factor around a place of the widget, its middle otherwise."""
        place = QPointF(self.rect().center()) if at is None else at
        before = self._unmapped(place)
        self._zoom = min(max(self._scale() * by, _LEAST), _MOST)
        after = self._unmapped(place)
        self._middle += before - after
        self.update()

    # -- where things are ---------------------------------------------------------------------------

    def _scale(self) -> float:
        """Pixels a millimetre."""
        if self._zoom is not None or self._drawing is None:
            return self._zoom or 1.0
        width, height = (1e3 * each for each in self._drawing.box.size)
        room_x, room_y = self.width() - 2 * _AROUND, self.height() - 2 * _AROUND
        self._middle = QPointF(*(1e3 * each for each in self._drawing.box.middle))
        return min(max(min(room_x / width, room_y / height), _LEAST), _MOST)

    def transform_mm(self) -> QTransform:
        """From millimetres of the drawing to pixels of the widget."""
        scale = self._scale()
        made = QTransform()
        made.translate(self.width() / 2, self.height() / 2)
        made.scale(scale, scale)
        made.translate(-self._middle.x(), -self._middle.y())
        return made

    def _unmapped(self, at: QPointF) -> QPointF:
        return self.transform_mm().inverted()[0].map(at)

    def place_of(self, key: str) -> QPointF:
        """Where the middle of a thing is on the widget."""
        assert self._drawing is not None
        thing = next(each for each in self._drawing.things if each.key == key)
        return self.transform_mm().map(QPointF(1e3 * thing.place.x_m, 1e3 * thing.place.y_m))

    def _under(self, at: QPointF) -> Thing | None:
        point = self._unmapped(at)
        where = (point.x() / 1e3, point.y() / 1e3)
        things = () if self._drawing is None else self._drawing.things
        return next((each for each in things if each.box.holds(where)), None)

    # -- the hand ---------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        thing = self._under(event.position())
        self.pick("" if thing is None else thing.key)
        if thing is None:
            self._shifting = event.position()
        else:
            self._held, self._dragged = (self._unmapped(event.position()), thing.place), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._shifting is not None:
            scale = self._scale()
            self._zoom = scale
            self._middle -= (event.position() - self._shifting) / scale
            self._shifting = event.position()
            self.update()
        elif self._held is not None and (thing := self.thing) is not None:
            grasped, place = self._held
            gone = (self._unmapped(event.position()) - grasped) / 1e3
            self._move(Place(place.x_m + gone.x(), place.y_m + gone.y(), thing.place.turned), amid=True)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        thing, dragged = self.thing, self._held is not None and self._dragged
        self._held = self._shifting = None
        if thing is not None and dragged:
            self.moved.emit(thing.key, thing.place, False)

    def _move(self, place: Place, *, amid: bool) -> None:
        thing = self.thing
        if thing is None:
            return
        x, y = (round(round(each / GRID_M) * GRID_M, 6) for each in place[:2])
        wanted = Place(x, y, place.turned % 4)
        if wanted != thing.place:
            # While it moves the view must stay, though the board may grow.
            self._zoom = self._scale()
            self._dragged = True
            self.moved.emit(thing.key, wanted, amid)

    def wheelEvent(self, event: QWheelEvent) -> None:
        self.zoom(_ZOOM ** (event.angleDelta().y() / 120), event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, thing = event.key(), self.thing
        step = _ARROWS.get(Qt.Key(key))
        if step is not None and thing is not None:
            far = GRID_M * (_FAR if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1)
            place = thing.place
            self._move(Place(place.x_m + far * step[0], place.y_m + far * step[1], place.turned), amid=True)
        elif key == Qt.Key.Key_R and thing is not None and self.turns:
            place = thing.place
            self._move(Place(place.x_m, place.y_m, place.turned + 1), amid=self._held is not None)
        elif key == Qt.Key.Key_Escape and self._held is not None:
            self._held = None
            if self._dragged:
                self.given_up.emit()
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and thing is not None:
            self.released.emit(thing.key)
        elif key in (Qt.Key.Key_PageDown, Qt.Key.Key_PageUp):
            self._next(1 if key == Qt.Key.Key_PageDown else -1)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Minus):
            self.zoom(_ZOOM if key == Qt.Key.Key_Plus else 1 / _ZOOM)
        elif key == Qt.Key.Key_0:
            self.show_all()
        else:
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        thing = self.thing
        if Qt.Key(event.key()) in _ARROWS and not event.isAutoRepeat() and thing is not None:
            self.moved.emit(thing.key, thing.place, False)
        super().keyReleaseEvent(event)

    def _next(self, step: int) -> None:
        keys = [] if self._drawing is None else [each.key for each in self._drawing.things]
        if keys:
            at = keys.index(self._key) if self._key in keys else (-1 if step > 0 else 0)
            self.pick(keys[(at + step) % len(keys)])

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    # -- painting ---------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), palette.color("sheet"))
        if self._drawing is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        turn = self.transform_mm()
        painter.save()
        painter.setTransform(turn, combine=True)
        paint(painter, self._drawing.shapes, self._inks)
        painter.restore()
        thing = self.thing
        if thing is not None:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(palette.color("copper_text"), 2, Qt.PenStyle.DashLine))
            painter.drawRect(turn.mapRect(_rectangle(thing.box)).adjusted(-3, -3, 3, 3))
        if self.hasFocus():
            painter.setPen(QPen(palette.color("copper"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -2, -2))


def _rectangle(box: Box) -> QRectF:
    return QRectF(1e3 * box.left, 1e3 * box.top, 1e3 * box.size[0], 1e3 * box.size[1])
