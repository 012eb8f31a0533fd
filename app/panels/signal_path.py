"""The signal path: a strip of copper with the stages soldered on it as islands."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea, QApplication, QMenu, QToolTip, QVBoxLayout, QWidget

from app.panels import path_edits
from app.panels.strip_painting import Geometry, paint_strip
from app.pictures.rig.strip import Island, Strip, outline_of, strip_of
from app.state.workbench import Workbench
from app.style import words
from app.style.plain import tip
from app.widgets.drawn import Drawn
from app.widgets.view import View
from core.model.values.base import Path
from core.rig.findings import Finding
from core.stages.kinds.table import KINDS

_OSCILLATORS: dict[Path, str] = {
    ("vfo",): "The VFO, the variable-frequency oscillator that the dial turns",
    ("carrier",): "The carrier oscillator, BFO in receive",
}


class SignalPath(View):
    """The stages of the direction looked at, in signal order.

    Click selects, drag reorders (Escape gives it up), `+` inserts, the context menu does the rest; with the
    keyboard the arrows walk along it. It paints itself and does so only when its data changed.
    """

    #: A stage was asked for in full (double click, Enter).
    opened = Signal()

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._strip = _StripArea(bench, self)
        self._strip.opened.connect(self.opened)
        self._findings: tuple[Finding, ...] = ()
        self.setFocusProxy(self._strip)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._strip)

    @property
    def strip(self) -> "_StripArea":
        """The area that is painted and takes mouse and keys."""
        return self._strip

    def outline(self, bench: Workbench) -> None:
        """Show the stages' names, before their levels are computed."""
        self._strip.show_strip(outline_of(bench.current, bench.look))

    def refresh(self, bench: Workbench) -> None:
        self._strip.show_strip(strip_of(bench.analysis, self._findings, bench.look))

    def settle(self, bench: Workbench) -> None:
        # The rules are imported when findings are first looked for, behind the first picture.
        from core.rig.rules import inspect

        self._findings = inspect(bench.analysis)
        self.refresh(bench)

    def restyle(self) -> None:
        self._strip.viewport().update()


class _StripArea(Drawn[Strip], QAbstractScrollArea):
    opened = Signal()

    def __init__(self, bench: Workbench, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self._geometry = Geometry(Strip("", (), (), "", ()), self.font())
        self._pressed: QPoint | None = None
        self._dragged: str | None = None
        self._drop_gap: int | None = None
        self._hovered_gap: int | None = None
        self.setFrameShape(QAbstractScrollArea.Shape.NoFrame)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.horizontalScrollBar().setSingleStep(40)
        self.setProperty("look", "board")
        self.actions_by_name = self._made_actions()
        self.set_up_actions()
        bench.changed.connect(self.set_up_actions)
        self._name()

    # Showing

    @property
    def shown(self) -> Strip | None:
        """What is painted."""
        return self._drawn

    @property
    def geometry_of_strip(self) -> Geometry:
        """Where everything stands, in the strip's own coordinates."""
        return self._geometry

    def show_strip(self, strip: Strip) -> None:
        """Paint this strip, unless it is painted already; what is newly selected comes in sight."""
        former = self._drawn
        self.show_picture(strip)
        if former is None or former.selection != strip.selection:
            self._bring_into_view()

    def draw(self, picture: Strip) -> None:
        geometry, before = Geometry(picture, self.font()), self._geometry
        resized = geometry.size != before.size
        self._geometry = geometry
        if resized:
            self.setFixedHeight(geometry.size.height() + self.horizontalScrollBar().sizeHint().height())
            self._set_scroll_range()
        self._name()
        for place in geometry.differing(before):
            self.viewport().update(place.translated(-self._offset(), 0))

    @property
    def _selection(self) -> Path:
        return () if self._drawn is None else self._drawn.selection

    def _name(self) -> None:
        island = self._selected_island()
        spoken = island.spoken if island else "the rig as a whole"
        self.setAccessibleName(f"Signal path, {self._bench.way}: {spoken}")

    def _set_scroll_range(self) -> None:
        bar = self.horizontalScrollBar()
        bar.setPageStep(self.viewport().width())
        bar.setRange(0, max(self._geometry.size.width() - self.viewport().width(), 0))

    def _bring_into_view(self) -> None:
        place = self._place()
        if place is None:
            return
        rect = self._geometry.islands[place]
        bar, width = self.horizontalScrollBar(), self.viewport().width()
        if rect.left() - 30 < bar.value():
            bar.setValue(int(rect.left() - 30))
        elif rect.right() + 30 > bar.value() + width:
            bar.setValue(int(rect.right() + 30 - width))

    def sizeHint(self) -> QSize:
        return QSize(600, self._geometry.size.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._set_scroll_range()

    def scrollContentsBy(self, dx: int, dy: int) -> None:
        self.viewport().update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._drawn is None:
            return
        painter = QPainter(self.viewport())
        paint_strip(
            painter,
            self._drawn,
            self._geometry,
            QRect(self._offset(), 0, self.viewport().width(), self.viewport().height()),
            event.rect().translated(self._offset(), 0),
            selection=self._selection,
            focused=self.hasFocus(),
            dragged=self._dragged,
            drop_gap=self._drop_gap,
            hovered_gap=self._hovered_gap,
        )

    def _offset(self) -> int:
        return self.horizontalScrollBar().value()

    # Finding things

    def _islands(self) -> tuple[Island, ...]:
        return self._drawn.islands if self._drawn else ()

    def _place(self) -> int | None:
        """Place of the selected island, or of the island the selected oscillator hangs on."""
        for place, island in enumerate(self._islands()):
            if self._selection in (island.path, island.tag.path if island.tag else None) and self._selection:
                return place
        return None

    def _selected_island(self) -> Island | None:
        place = self._place()
        return None if place is None else self._islands()[place]

    def _selected_stage(self) -> str | None:
        selection = self._bench.selection
        return str(selection[1]) if selection[:1] == ("stages",) else None

    def _path_at(self, point: QPointF) -> Path | None:
        for island, rect, tag in zip(
            self._islands(), self._geometry.islands, self._geometry.tags, strict=True
        ):
            if rect.contains(point):
                return island.path
            if island.tag and tag.contains(point):
                return island.tag.path
        return None

    def _gap_at(self, point: QPointF) -> int | None:
        """The `+` at a point: gap 0 is before the first stage."""
        pluses = enumerate(self._geometry.pluses)
        return next((n for n, rect in pluses if rect.adjusted(-4, -4, 4, 4).contains(point)), None)

    def _in_strip(self, event: QMouseEvent) -> QPointF:
        return event.position() + QPointF(self._offset(), 0)

    # Mouse

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        point = self._in_strip(event)
        gap = self._gap_at(point)
        if gap is not None:
            self.ask_kind(gap, event.globalPosition().toPoint())
            return
        path = self._path_at(point)
        self._bench.select(path or ())
        if path and path[0] == "stages":
            self._pressed = event.position().toPoint()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        point = self._in_strip(event)
        gap = self._gap_at(point)
        if gap != self._hovered_gap:
            self._hovered_gap = gap
            self.viewport().update()
        if self._pressed is None:
            return
        far = (event.position().toPoint() - self._pressed).manhattanLength()
        if self._dragged is None and far >= QApplication.startDragDistance():
            self._dragged = self._selected_stage()
        if self._dragged is not None:
            self._drop_gap = self._geometry.nearest_gap(point.x())
            self.viewport().update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        dragged, gap = self._dragged, self._drop_gap
        self._let_go()
        if dragged is not None and gap is not None:
            path_edits.move_stage(self._bench, dragged, gap)

    def _let_go(self) -> None:
        if self._dragged is not None:
            self.viewport().update()
        self._pressed = self._dragged = self._drop_gap = None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self._path_at(self._in_strip(event)):
            self.opened.emit()

    def leaveEvent(self, event: QEvent) -> None:
        self._hovered_gap = None
        self.viewport().update()

    def wheelEvent(self, event: QWheelEvent) -> None:
        bar = self.horizontalScrollBar()
        turned = event.angleDelta().x() or event.angleDelta().y()
        if bar.maximum() == 0:
            event.ignore()
            return
        bar.setValue(bar.value() - turned)
        event.accept()

    def viewportEvent(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            point = QPointF(event.pos()) + QPointF(self._offset(), 0)
            QToolTip.showText(event.globalPos(), tip(self._told_at(point)), self)
            return True
        return super().viewportEvent(event)

    def _told_at(self, point: QPointF) -> str:
        """What is told of what stands at a point."""
        if self._gap_at(point) is not None:
            return "Insert a stage here"
        path = self._path_at(point)
        if path is None and self._drawn and any(at.contains(point) for at in self._geometry.levels):
            return self._drawn.level_help
        told = next((island.help for island in self._islands() if island.path == path), "")
        return _OSCILLATORS.get(path or (), told)

    # Keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        others = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        plain = not event.modifiers() & others
        if plain and key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._walk(1 if key == Qt.Key.Key_Right else -1)
        elif plain and key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            islands = self._islands()
            self._bench.select(islands[0 if key == Qt.Key.Key_Home else -1].path)
        elif plain and key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self._climb(down=key == Qt.Key.Key_Down)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit()
        elif key == Qt.Key.Key_Escape and self._dragged is not None:
            self._let_go()
        elif key == Qt.Key.Key_Escape:
            self._bench.select(())
        else:
            super().keyPressEvent(event)

    def _walk(self, step: int) -> None:
        islands, place = self._islands(), self._place()
        if not islands:
            return
        wanted = (0 if step > 0 else len(islands) - 1) if place is None else place + step
        if 0 <= wanted < len(islands):
            self._bench.select(islands[wanted].path)

    def _climb(self, *, down: bool) -> None:
        island = self._selected_island()
        if island and island.tag:
            self._bench.select(island.tag.path if down else island.path)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.viewport().update()

    # Commands

    def _made_actions(self) -> dict[str, QAction]:
        """The commands for the selected stage; their keys work while the strip has the focus."""
        return {
            "insert": self._action("Insert a stage behind…", "Ins", self._insert_behind),
            "duplicate": self._on_stage("Duplicate", "Ctrl+D", path_edits.duplicate_stage),
            "remove": self._on_stage("Remove", "Del", path_edits.remove_stage),
            "switch": self._on_stage("Switch out of the path", "Space", path_edits.switch_stage),
            "left": self._on_stage("Move left", "Ctrl+Left", partial(path_edits.shift_stage, step=-1)),
            "right": self._on_stage("Move right", "Ctrl+Right", partial(path_edits.shift_stage, step=1)),
        }

    def _action(self, text: str, keys: str, run: Callable[[], object]) -> QAction:
        action = QAction(text, self)
        action.setShortcut(keys)
        action.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        action.triggered.connect(lambda: run())
        self.addAction(action)
        return action

    def _on_stage(self, text: str, keys: str, edit: Callable[[Workbench, str], object]) -> QAction:
        def run() -> None:
            id = self._selected_stage()
            if id is not None:
                edit(self._bench, id)

        return self._action(text, keys, run)

    def set_up_actions(self) -> None:
        """Make the commands fit the selection; a disabled command has no key."""
        id = self._selected_stage()
        for name, action in self.actions_by_name.items():
            action.setEnabled(id is not None or name == "insert")
        if id is not None:
            inside = self._bench.current.stage(id).in_path
            self.actions_by_name["switch"].setText(
                "Switch out of the path" if inside else "Switch into the path"
            )

    def _insert_behind(self) -> None:
        at_antenna = self._bench.selection == self._islands()[0].path
        gap = 0 if at_antenna else path_edits.gap_behind(self._bench, self._selected_stage())
        plus = self._geometry.pluses[gap].center() - QPointF(self._offset(), 0)
        self.ask_kind(gap, self.viewport().mapToGlobal(plus.toPoint()))

    def ask_kind(self, gap: int, where: QPoint) -> None:
        """Open the menu of kinds of stages to insert at a gap."""
        self.kind_menu(gap).popup(where)

    def kind_menu(self, gap: int) -> QMenu:
        """The menu of kinds of stages to insert at a gap."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.setTitle("Insert")
        for kind in KINDS:
            menu.addAction(words.kind(kind), partial(path_edits.insert_kind, self._bench, kind, gap))
        return menu

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        where = event.globalPos()
        if event.reason() == QContextMenuEvent.Reason.Mouse:
            path = self._path_at(QPointF(event.pos()) + QPointF(self._offset(), 0))
            if path:
                self._bench.select(path)
        elif (place := self._place()) is not None:
            spot = self._geometry.islands[place].center() - QPointF(self._offset(), 0)
            where = self.viewport().mapToGlobal(spot.toPoint())
        self.set_up_actions()
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.addActions(list(self.actions_by_name.values()))
        menu.popup(where)
