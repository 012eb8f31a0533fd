"""The window: four things always in sight, and pages in the middle."""

from functools import cached_property, partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QMainWindow, QSplitter, QStyle, QVBoxLayout, QWidget

from app.pages.table import LAST_KEYS, PAGES, Surroundings, keys_of
from app.panels.editor_panel import EditorPanel
from app.panels.findings_panel import FindingsPanel
from app.panels.frequency_bar import FrequencyBar
from app.panels.signal_path import SignalPath
from app.state.dialogs import asked
from app.state.documents import Documents, take_typing
from app.state.recovery import Recovery
from app.state.settings import PAPERS, THEME_CHOICES, Settings
from app.state.tasks import Tasks
from app.state.workbench import Workbench
from app.style.plain import on_button, title
from app.widgets.view import FieldsView
from app.window import help
from app.window.band_rows import bands_to_add, remove_band
from app.window.colours import Colours
from app.window.menus import LINE, Row, choices, fill, live
from app.window.outputs import Outputs
from app.window.pages_area import PagesArea
from app.window.refresh import FirstPaint, Refresher
from app.window.status_line import StatusLine
from app.window.sweep_fits import SweepFits
from app.window.tab_order import next_part, next_stop
from core.model.values.base import Path as Place

if TYPE_CHECKING:
    from app.panels.gain_advice import GainAdvice

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
        self.colours = Colours(self.settings, self.refresher, self)
        self._build()
        self._build_menus()
        # The form that is seen first is no cheaper than all the rest.
        self.editor.refresh(bench)
        self.colours.dress()
        self.refresher.refreshed.connect(self.status.refreshed)
        bench.changed.connect(self._show_state)
        bench.refused.connect(self.tell)
        self.outputs.told.connect(self.tell)
        bench.jumped.connect(self.go_to)
        self.setAcceptDrops(True)
        self._restore_layout()
        self._show_state()
        self.signal_path.setFocus()
        self.frequency_bar.outline(bench)
        self.signal_path.outline(bench)
        self.refresher.wait()

    def _begin(self) -> None:
        """The window is on screen: import what draws plots, and compute."""
        self.pages.begin()
        self.refresher.begin()

    # Building

    def _build(self) -> None:
        self.setMinimumSize(720, 440)
        self.frequency_bar = FrequencyBar(self.bench)
        self.signal_path = SignalPath(self.bench)
        self.editor = EditorPanel(self.bench)
        self.pages = PagesArea(Surroundings(self.bench, self.tasks, self.settings), self.refresher)
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
        FirstPaint(whole).done.connect(self._begin)
        self.status = StatusLine()
        self.setStatusBar(self.status)

    def _build_menus(self) -> None:
        bench, documents, outputs, settings = self.bench, self.documents, self.outputs, self.settings
        self.recent = live("Open recent", self, self._recent_files, lambda: "Nothing opened yet")
        paper = partial(setattr, settings, "paper")
        fill(
            self.menuBar().addMenu("&File"),
            self,
            Row("New rig…", self.new_rig, ("Ctrl+N",)),
            Row("Open…", documents.open, ("Ctrl+O",)),
            self.recent,
            LINE,
            Row("Save", documents.save, ("Ctrl+S",)),
            Row("Save as…", documents.save_as, ("Ctrl+Shift+S",)),
            LINE,
            Row("Print the build sheet…", outputs.print_sheet, ("Ctrl+P",)),
            Row("Print preview…", outputs.preview_sheet),
            Row("Build sheet as PDF…", outputs.save_pdf),
            Row("Parts list as CSV…", outputs.save_parts),
            choices("Paper", self, {each: each for each in PAPERS}, settings.paper, paper),
            LINE,
            Row("Quit", self.close, ("Ctrl+Q",)),
        )
        self.add_band = live(
            "Add a band", self, partial(bands_to_add, bench), lambda: "A rig has at most four bands"
        )
        edit = self.menuBar().addMenu("&Edit")
        self.undo, self.redo, self.hold, self.remove_band = fill(
            edit,
            self,
            Row("Undo", bench.undo, ("Ctrl+Z",)),
            Row("Redo", bench.redo, ("Ctrl+Shift+Z", "Ctrl+Y")),
            LINE,
            Row("Hold the design", self._toggle_hold, ("Ctrl+H",)),
            LINE,
            self.add_band,
            Row("Remove this band", partial(remove_band, bench)),
        )
        edit.aboutToShow.connect(lambda: self.remove_band.setEnabled(len(bench.current.bands) > 1))
        stage = self.menuBar().addMenu("&Stage")
        stage.addActions(list(self.signal_path.strip.actions_by_name.values()))
        fill(
            stage,
            self,
            LINE,
            Row("Where to put how much gain…", lambda: self._gain_advice.begin()),
            Row("Measured curve of this stage…", self._ask_for_curve),
        )
        names = {"system": "As the system has them", "light": "Light", "dark": "Dark"}
        themes = {choice: names[choice] for choice in THEME_CHOICES}
        fill(
            self.menuBar().addMenu("&View"),
            self,
            *(
                Row(page.name, partial(self.pages.show_page, page.name), keys_of(number))
                for number, page in enumerate(PAGES, 1)
            ),
            LINE,
            Row("Into the IF", lambda: _focus(self.frequency_bar.intermediate), ("Ctrl+I",)),
            Row("Into the dial", lambda: _focus(self.frequency_bar.dial), ("Ctrl+L",)),
            Row("Next band", self._next_band, ("Ctrl+B",)),
            Row("Receive or transmit", self._turn_way, ("Ctrl+T",)),
            Row("The rig as a whole", partial(bench.select, ()), ("Ctrl+R",)),
            Row("Next part of the window", self._next_part, ("F6",)),
            LINE,
            choices("Colours", self, themes, settings.theme, self.colours.choose),
        )
        fill(
            self.menuBar().addMenu("&Help"),
            self,
            Row(
                "Keys and numbers",
                partial(help.show, self, "Keys and numbers", help.keys_page(LAST_KEYS)),
                ("F1",),
            ),
            Row("Safety and law", partial(help.show, self, "Safety and law", help.safety_page())),
        )

    def _recent_files(self) -> list[Row]:
        return [
            Row(on_button(str(file)), partial(self.documents.open, file)) for file in self.settings.recent
        ]

    @cached_property
    def _gain_advice(self) -> "GainAdvice":
        from app.panels.gain_advice import GainAdvice

        return GainAdvice(self.bench, self, self.tell)

    # Commands

    def new_rig(self) -> None:
        """Ask for bands and IF, and put a complete rig on the bench."""
        from app.pages.new_rig import NewRigDialog
        from app.pages.notebook.own_list import begun_with

        box = begun_with(self.bench.current.junk_box)
        dialog = NewRigDialog(self, box.every_crystal_hz)
        if asked(dialog) and dialog.project is not None:
            # The parts on hand are the builder's, and the survey has counted on them.
            self.documents.start(dialog.project.edited(("junk_box",), box))

    def tell(self, sentence: str) -> None:
        """Show a sentence in the status line for a while."""
        self.status.tell(sentence)

    def go_to(self, place: Place) -> None:
        """Focus the field of a place of the design."""
        page = next((each for each in PAGES if place and place[0] in each.edits), None)
        if place == ("if_hz",):
            _focus(self.frequency_bar.intermediate)
        elif page is not None:
            view = self.pages.show_page(page.name)
            assert isinstance(view, FieldsView)  # which a page is that edits
            view.focus_field(place)
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
        next_part(
            (
                (self.frequency_bar, self.frequency_bar.intermediate),
                (self.signal_path, self.signal_path.strip),
                (self.editor, None),
                (self.pages, self.pages.tabs),
                (self.findings, self.findings.list),
            ),
            QApplication.focusWidget(),
        )

    # State

    def _show_state(self) -> None:
        bench = self.bench
        self.setWindowTitle(f"{title(bench.current.name)} [*] · Copperclad")
        self.setWindowModified(bench.dirty)
        self.status.show_file(bench)
        for action, verb, label in (
            (self.undo, "Undo", bench.history.undo_label),
            (self.redo, "Redo", bench.history.redo_label),
        ):
            action.setEnabled(label is not None)
            action.setText(f"{verb}: {on_button(label)}" if label else verb)
        self.hold.setText("Hold the design" if bench.held is None else "Let the held design go")

    def event(self, event: QEvent) -> bool:
        if event.type() != QEvent.Type.UpdateRequest or not self.status.counting:
            return super().event(event)
        # Plots ask to be painted a turn later than the rest, so a refresh is painted in several goes.
        start = perf_counter()
        handled = super().event(event)
        self.status.painted(perf_counter() - start)
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


def _dropped_file(event: QDropEvent) -> Path | None:
    urls = event.mimeData().urls()
    return Path(urls[0].toLocalFile()) if len(urls) == 1 and urls[0].isLocalFile() else None


def _focus(field: QWidget) -> None:
    field.setFocus(Qt.FocusReason.ShortcutFocusReason)
