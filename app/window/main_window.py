"""The window: four things always in sight, and pages in the middle."""

from collections.abc import Callable, Iterator
from functools import cached_property, partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QSize, Qt, QTimer
from PySide6.QtGui import (
    QAction,
    QActionGroup,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QMainWindow,
    QMenu,
    QSplitter,
    QStyle,
    QVBoxLayout,
    QWidget,
)

from app.panels.editor_panel import EditorPanel
from app.panels.findings_panel import FindingsPanel
from app.panels.frequency_bar import FrequencyBar
from app.panels.signal_path import SignalPath
from app.state.dialogs import asked
from app.state.documents import Documents, take_typing
from app.state.recovery import Recovery
from app.state.settings import PAPERS, THEME_CHOICES, Settings, ThemeChoice
from app.state.tasks import Tasks
from app.state.workbench import Workbench
from app.style import palette, words
from app.style.plain import Text, on_button, title
from app.widgets.view import FieldsView
from app.window import help
from app.window.outputs import Outputs
from app.window.pages_area import PagesArea
from app.window.refresh import Refresher
from app.window.sweep_fits import SweepFits
from app.window.tab_order import next_stop, stops
from core.model.bands import Band
from core.model.values.base import Path as Place
from core.trade.allocations import Allocation, allocations

if TYPE_CHECKING:
    from app.panels.gain_advice import GainAdvice

#: How long a sentence stays in the status line, milliseconds.
_SENTENCE_MS = 8000
#: A refresh is painted within this time, milliseconds; only then is told how long both took.
_PAINTED_MS = 50
#: The pages keep this width where the window has room for it, so that the sides give way first, pixels.
_PAGES_WIDTH = 450
#: Margins beside the parts and handles between them, pixels.
_BETWEEN_PARTS = 40


class MainWindow(QMainWindow):
    """Owns the views and the commands; the design belongs to the workbench."""

    def __init__(
        self, bench: Workbench, settings: Settings | None = None, recovery: Recovery | None = None
    ) -> None:
        super().__init__()
        self.bench = bench
        self.settings = settings or Settings()
        self.recovery = recovery
        self.tasks = Tasks(self)
        self.documents = Documents(bench, self.settings, self)
        self.outputs = Outputs(bench, self.documents, self.settings, self)
        self.refresher = Refresher(bench, self)
        SweepFits(bench, self.refresher)
        self._recolour = QTimer(self, singleShot=True, interval=0)
        self._recolour.timeout.connect(self._next_colours)
        self._recolouring: Iterator[None] = iter(())
        if self._theme() != palette.theme() or not _application().styleSheet():
            palette.apply(_application(), self._theme())
        self._build()
        self._build_menus()
        self._spent_s = 0.0
        self._painted = QTimer(self, singleShot=True, interval=_PAINTED_MS)
        self._painted.timeout.connect(self._tell_speed)
        self.refresher.refreshed.connect(self._refreshed)
        bench.changed.connect(self._show_state)
        bench.refused.connect(self.tell)
        self.outputs.told.connect(self.tell)
        bench.jumped.connect(self.go_to)
        QGuiApplication.styleHints().colorSchemeChanged.connect(self._system_theme_changed)
        self.setAcceptDrops(True)
        self._restore_layout()
        self._show_state()
        self.signal_path.setFocus()

    # Building

    def _build(self) -> None:
        self.setMinimumSize(720, 440)
        self.frequency_bar = FrequencyBar(self.bench)
        self.signal_path = SignalPath(self.bench)
        self.editor = EditorPanel(self.bench)
        self.pages = PagesArea(self.bench, self.tasks, self.refresher, self.settings)
        self.findings = FindingsPanel(self.bench)
        for view in (self.frequency_bar, self.signal_path, self.editor, self.findings):
            self.refresher.add(view)
        self.signal_path.opened.connect(lambda: self.pages.show_page("Stage"))
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.setHandleWidth(10)
        self.splitter.setChildrenCollapsible(False)
        for part, stretch, least in ((self.editor, 0, 286), (self.pages, 1, 200), (self.findings, 0, 184)):
            part.setMinimumWidth(least)
            self.splitter.addWidget(part)
            self.splitter.setStretchFactor(self.splitter.count() - 1, stretch)
        self.splitter.setSizes([330, 810, 270])
        middle = QWidget()
        row = QVBoxLayout(middle)
        row.setContentsMargins(10, 8, 10, 0)
        row.addWidget(self.splitter)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.frequency_bar)
        column.addWidget(self.signal_path)
        column.addWidget(middle, 1)
        self.setCentralWidget(whole)
        self._speed = Text()
        self._file = Text()
        self.statusBar().addWidget(self._speed)
        self.statusBar().addPermanentWidget(self._file)
        self.statusBar().setSizeGripEnabled(False)

    def _build_menus(self) -> None:
        self._build_file_menu()
        edit = self.menuBar().addMenu("&Edit")
        self.undo = self._add(edit, "Undo", self.bench.undo, "Ctrl+Z")
        self.redo = self._add(edit, "Redo", self.bench.redo, "Ctrl+Shift+Z", "Ctrl+Y")
        edit.addSeparator()
        self.hold = self._add(edit, "Hold the design", self._toggle_hold, "Ctrl+H")
        edit.addSeparator()
        # The window's own: the wrapper of a menu that another menu made can be taken away.
        self.add_band = QMenu("Add a band", self)
        edit.addMenu(self.add_band)
        self.add_band.aboutToShow.connect(self._fill_bands)
        self.remove_band = self._add(edit, "Remove this band", self._remove_band)
        edit.aboutToShow.connect(lambda: self.remove_band.setEnabled(len(self.bench.current.bands) > 1))
        stage = self.menuBar().addMenu("&Stage")
        stage.addActions(list(self.signal_path.strip.actions_by_name.values()))
        stage.addSeparator()
        self._add(stage, "Where to put how much gain…", lambda: self._gain_advice.begin())
        self._add(stage, "Measured curve of this filter…", self._ask_for_curve)
        self._build_view_menu()
        about = self.menuBar().addMenu("&Help")
        for text, page, keys in (
            ("Keys and numbers", help.keys_page(len(self.pages.names)), ("F1",)),
            ("Safety and law", help.safety_page(), ()),
        ):
            self._add(about, text, partial(help.show, self, text, page), *keys)

    def _build_file_menu(self) -> None:
        menu = self.menuBar().addMenu("&File")
        self._add(menu, "New rig…", self.new_rig, "Ctrl+N")
        self._add(menu, "Open…", self.documents.open, "Ctrl+O")
        self.recent = QMenu("Open recent", self)
        menu.addMenu(self.recent)
        self.recent.aboutToShow.connect(self._fill_recent)
        menu.addSeparator()
        self._add(menu, "Save", self.documents.save, "Ctrl+S")
        self._add(menu, "Save as…", self.documents.save_as, "Ctrl+Shift+S")
        menu.addSeparator()
        self._add(menu, "Print the build sheet…", self.outputs.print_sheet, "Ctrl+P")
        self._add(menu, "Print preview…", self.outputs.preview_sheet)
        self._add(menu, "Build sheet as PDF…", self.outputs.save_pdf)
        self._add(menu, "Parts list as CSV…", self.outputs.save_parts)
        self._choices(
            menu.addMenu("Paper"),
            [(paper, paper) for paper in PAPERS],
            self.settings.paper,
            lambda paper: setattr(self.settings, "paper", paper),
        )
        menu.addSeparator()
        self._add(menu, "Quit", self.close, "Ctrl+Q")

    def _build_view_menu(self) -> None:
        menu = self.menuBar().addMenu("&View")
        for number, name in enumerate(self.pages.names, 1):
            self._add(menu, name, partial(self.pages.show_page, name), f"Alt+{number}")
        menu.addSeparator()
        self._add(menu, "Into the IF", lambda: _focus(self.frequency_bar.intermediate), "Ctrl+I")
        self._add(menu, "Into the dial", lambda: _focus(self.frequency_bar.dial), "Ctrl+L")
        self._add(menu, "Next band", self._next_band, "Ctrl+B")
        self._add(menu, "Receive or transmit", self._turn_way, "Ctrl+T")
        self._add(menu, "The rig as a whole", partial(self.bench.select, ()), "Ctrl+R")
        self._add(menu, "Next part of the window", self._next_part, "F6")
        menu.addSeparator()
        names = {"system": "As the system has them", "light": "Light", "dark": "Dark"}
        themes = [(choice, names[choice]) for choice in THEME_CHOICES]
        self._choices(menu.addMenu("Colours"), themes, self.settings.theme, self.choose_theme)

    def _choices(
        self, menu: QMenu, choices: list[tuple[Any, str]], chosen: object, choose: Callable[[Any], object]
    ) -> None:
        """Fill a menu with choices of which one is ticked."""
        group = QActionGroup(self)
        for value, text in choices:
            action = self._add(menu, text, partial(choose, value))
            action.setCheckable(True)
            action.setChecked(value == chosen)
            group.addAction(action)

    def _add(self, menu: QMenu, text: str, run: Callable[[], object], *keys: str) -> QAction:
        action = QAction(text, self)
        action.setShortcuts([QKeySequence(each) for each in keys])
        action.triggered.connect(lambda: run())
        menu.addAction(action)
        return action

    def _fill_bands(self) -> None:
        self.add_band.clear()
        have = {band.name for band in self.bench.current.bands}
        for each in allocations():
            if each.band not in have and len(have) < 4:
                self.add_band.addAction(on_button(words.band(each.band)), partial(self._add_band, each))
        if self.add_band.isEmpty():
            self.add_band.addAction("A rig has at most four bands").setEnabled(False)

    @cached_property
    def _gain_advice(self) -> "GainAdvice":
        from app.panels.gain_advice import GainAdvice

        return GainAdvice(self.bench, self, self.tell)

    def _add_band(self, allocation: Allocation) -> None:
        from core.rig.start.new_rig import best_scheme, with_band

        low, high = allocation.phone_hz
        band = Band(name=allocation.band, low_hz=low, high_hz=high, sideband=allocation.sideband)
        band = band.edited(("scheme",), best_scheme(band, self.bench.current.if_hz))
        label = f"adding {words.band(band.name)}"
        if self.bench.change(lambda project: with_band(project, band), label=label) is None:
            self.bench.look_at_band(band.name)

    def _remove_band(self) -> None:
        name = self.bench.band_name
        self.bench.change(lambda project: project.band_removed(name), label=f"removing {words.band(name)}")

    def _fill_recent(self) -> None:
        self.recent.clear()
        for file in self.settings.recent:
            self.recent.addAction(on_button(str(file)), partial(self.documents.open, file))
        if self.recent.isEmpty():
            self.recent.addAction("Nothing opened yet").setEnabled(False)

    # Commands

    def new_rig(self) -> None:
        """Ask for bands and IF, and put a complete rig on the bench."""
        from app.pages.new_rig import NewRigDialog

        box = self.bench.current.junk_box
        dialog = NewRigDialog(self, box.crystals_hz)
        if asked(dialog) and dialog.project is not None:
            # The parts on hand are the builder's, and the survey has counted on them.
            self.documents.start(dialog.project.edited(("junk_box",), box))

    def choose_theme(self, choice: ThemeChoice) -> None:
        """Change the colours, now and for the next time."""
        self.settings.theme = choice
        # Nothing is painted half in the one and half in the other.
        self.setUpdatesEnabled(False)
        self._recolouring = palette.steps(_application(), self._theme())
        self._recolour.start()

    def _next_colours(self) -> None:
        """A step of the change, and a turn of the window's life after each."""
        if next(self._recolouring, "done") is None:
            self._recolour.start()
        else:
            self.setUpdatesEnabled(True)
            self.refresher.restyle()

    def tell(self, sentence: str) -> None:
        """Show a sentence in the status line for a while."""
        self.statusBar().showMessage(sentence, _SENTENCE_MS)

    def go_to(self, place: Place) -> None:
        """Focus the field of a place of the design."""
        if place == ("if_hz",):
            _focus(self.frequency_bar.intermediate)
        elif place[:1] == ("read_out",):
            page = self.pages.show_page("Read-out")
            assert isinstance(page, FieldsView)  # which that page is
            page.focus_field(place)
        elif place[:1] == ("crystal_batch",):
            from app.pages.crystals import CrystalsPage

            page = self.pages.show_page("Crystals")
            assert isinstance(page, CrystalsPage)  # which that page is
            page.focus_field(place)
        else:
            self.editor.focus(place)

    def _ask_for_curve(self) -> None:
        from app.pages.stage import ask_for_curve

        ask_for_curve(self.pages.current, self.tell)

    def _toggle_hold(self) -> None:
        take_typing(self.bench)
        if self.bench.held is None:
            self.bench.hold()
        else:
            self.bench.clear_hold()

    def _next_band(self) -> None:
        names = [band.name for band in self.bench.current.bands]
        self.bench.look_at_band(names[(names.index(self.bench.band_name) + 1) % len(names)])

    def _turn_way(self) -> None:
        self.bench.look_at_way("transmit" if self.bench.way == "receive" else "receive")

    def focusNextPrevChild(self, next: bool) -> bool:
        parts = (self.frequency_bar, self.signal_path, self.editor, self.pages, self.findings)
        stop = next_stop(parts, QApplication.focusWidget(), forward=next)
        if stop is None:
            return super().focusNextPrevChild(next)
        reason = Qt.FocusReason.TabFocusReason if next else Qt.FocusReason.BacktabFocusReason
        stop.setFocus(reason)
        return True

    def _next_part(self) -> None:
        """Send the focus round the parts of the window."""
        parts: list[tuple[QWidget, QWidget | None]] = [
            (self.frequency_bar, self.frequency_bar.intermediate),
            (self.signal_path, self.signal_path.strip),
            (self.editor, None),
            (self.pages, self.pages.tabs),
            (self.findings, self.findings.list),
        ]
        focus = QApplication.focusWidget()
        here = next((n for n, (part, _) in enumerate(parts) if focus and part.isAncestorOf(focus)), -1)
        part, target = parts[(here + 1) % len(parts)]
        (target or next(iter(stops(part)), part)).setFocus(Qt.FocusReason.TabFocusReason)

    def _theme(self) -> palette.Theme:
        """The colours chosen, or those that the system has."""
        if self.settings.theme != "system":
            return self.settings.theme
        return "dark" if QGuiApplication.styleHints().colorScheme() == Qt.ColorScheme.Dark else "light"

    def _system_theme_changed(self) -> None:
        if self.settings.theme == "system":
            self.choose_theme("system")

    # State

    def _show_state(self) -> None:
        bench = self.bench
        name = bench.file.name if bench.file else "not in a file yet"
        self.setWindowTitle(f"{title(bench.current.name)} [*] · Copperclad")
        self.setWindowModified(bench.dirty)
        state = "changed since it was saved" if bench.dirty else "saved"
        text = f"{name} · {state}" if bench.file else name
        if self._file.text() != text:
            self._file.setText(text)
        for action, verb, label in (
            (self.undo, "Undo", bench.history.undo_label),
            (self.redo, "Redo", bench.history.redo_label),
        ):
            action.setEnabled(label is not None)
            action.setText(f"{verb}: {on_button(label)}" if label else verb)
        self.hold.setText("Hold the design" if bench.held is None else "Let the held design go")

    def _refreshed(self, seconds: float) -> None:
        self._spent_s = seconds
        if not self._painted.isActive():
            self._painted.start()

    def _tell_speed(self) -> None:
        self._speed.setText(f"Recalculated and drawn in {1000 * self._spent_s:.0f} ms")

    def event(self, event: QEvent) -> bool:
        if event.type() != QEvent.Type.UpdateRequest or not self._painted.isActive():
            return super().event(event)
        # Plots ask to be painted a turn later than the rest, so a refresh is painted in several goes.
        start = perf_counter()
        handled = super().event(event)
        self._spent_s += perf_counter() - start
        return handled

    def resizeEvent(self, event: QResizeEvent) -> None:
        sides = self.editor.minimumWidth() + self.findings.minimumWidth()
        room = event.size().width() - sides - _BETWEEN_PARTS
        self.pages.setMinimumWidth(max(200, min(_PAGES_WIDTH, room)))
        super().resizeEvent(event)

    def _restore_layout(self) -> None:
        # The frame belongs to the window too: without room for it the status line is off the screen.
        title = self.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight)
        self.resize(QSize(1440, 900).boundedTo(self.screen().availableSize() - QSize(8, title + 12)))
        geometry, split = self.settings.layout("window"), self.settings.layout("splitter")
        if geometry is not None:
            self.restoreGeometry(geometry)
        if split is not None:
            self.splitter.restoreState(split)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.documents.may_leave():
            event.ignore()
            return
        self.settings.remember_layout("window", self.saveGeometry())
        self.settings.remember_layout("splitter", self.splitter.saveState())
        self.tasks.close()
        if self.recovery is not None:
            self.recovery.close()
        event.accept()

    # Files dragged onto the window

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped_file(event) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        file = _dropped_file(event)
        if file is not None:
            event.acceptProposedAction()
            from app.pages.stage import brought

            if not brought(self.bench, self.pages.current, file):
                self.documents.open(file)


def _application() -> QApplication:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    return app


def _dropped_file(event: QDropEvent) -> Path | None:
    urls = event.mimeData().urls()
    return Path(urls[0].toLocalFile()) if len(urls) == 1 and urls[0].isLocalFile() else None


def _focus(field: QWidget) -> None:
    field.setFocus(Qt.FocusReason.ShortcutFocusReason)
