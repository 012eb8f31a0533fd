"""The middle of the window: pages that are made when they are first looked at."""

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QStackedWidget, QTabBar, QVBoxLayout, QWidget

from app.state.settings import Settings
from app.state.tasks import Tasks
from app.state.workbench import Workbench
from app.widgets.view import View
from app.window.refresh import Refresher

#: Below this a page scrolls.
_LEAST = QSize(430, 400)
#: What a tab has on both sides of its name, pixels; the name on show is bold.
_TAB_MARGINS = 32
#: Below this width what stands side by side on a page would be too small to read.
_NARROW = 560


class PagesArea(QWidget):
    """Tabs over a stack; a page behind its tab costs nothing."""

    def __init__(self, bench: Workbench, tasks: Tasks, refresher: Refresher, settings: Settings) -> None:
        super().__init__()
        self._refresher = refresher
        self._makers = _makers(bench, tasks, settings)
        self._made: dict[str, View] = {}
        self._places: dict[str, int] = {}
        self.tabs = QTabBar()
        self.tabs.setAccessibleName("Pages")
        self.tabs.setExpanding(False)
        # In a narrow window tabs stand closer, and names end in dots before any page hides behind an arrow.
        self.tabs.setUsesScrollButtons(True)
        self.tabs.setElideMode(Qt.TextElideMode.ElideRight)
        self._stack = QStackedWidget()
        for name in self._makers:
            self.tabs.addTab(name)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self.tabs)
        column.addWidget(self._stack, 1)
        self.tabs.currentChanged.connect(self._show)
        self._show(0)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the pages, as on their tabs."""
        return tuple(self._makers)

    @property
    def current(self) -> View:
        """The page on show."""
        return self._made[self.names[self.tabs.currentIndex()]]

    def show_page(self, name: str) -> View:
        """Bring a page to the front; returns it."""
        self.tabs.setCurrentIndex(self.names.index(name))
        return self.current

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        metrics = self.tabs.fontMetrics()
        wanted = sum(metrics.horizontalAdvance(name) + _TAB_MARGINS for name in self.names)
        close = event.size().width() < wanted
        if close != bool(self.tabs.property("close")):
            self.tabs.setProperty("close", close)
            self.tabs.style().unpolish(self.tabs)
            self.tabs.style().polish(self.tabs)

    def _show(self, index: int) -> None:
        name = self.names[index]
        if name not in self._made:
            page = self._makers[name]()
            self._made[name] = page
            self._places[name] = self._stack.addWidget(_Scrolled(page))
            self._refresher.add(page)
        self._stack.setCurrentIndex(self._places[name])
        self._refresher.request()


class _Scrolled(QScrollArea):
    """A page in an area that scrolls before a picture gets too small to read."""

    def __init__(self, page: View) -> None:
        super().__init__()
        self._page = page
        page.setMinimumSize(page.minimumSize().expandedTo(_LEAST))
        page.setProperty("look", "ground")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(page)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._page.fold(self.width() < _NARROW)
        super().resizeEvent(event)


def _makers(bench: Workbench, tasks: Tasks, settings: Settings) -> dict[str, Callable[[], View]]:
    # Imported when first looked at: plots and sheet are most of what there is to load.
    def whole_rig() -> View:
        from app.pages.whole_rig import WholeRigPage

        return WholeRigPage(bench)

    def stage() -> View:
        from app.pages.stage import StagePage

        return StagePage(bench)

    def levels() -> View:
        from app.pages.levels import LevelsPage

        return LevelsPage()

    def survey() -> View:
        from app.pages.if_survey import IfSurveyPage

        return IfSurveyPage(bench, tasks)

    def read_out() -> View:
        from app.pages.read_out import ReadOutPage

        return ReadOutPage(bench)

    def crystals() -> View:
        from app.pages.crystals import CrystalsPage

        return CrystalsPage(bench, tasks)

    def tolerance() -> View:
        from app.pages.tolerance import TolerancePage

        return TolerancePage(bench, tasks)

    def sheet() -> View:
        from app.sheet.preview import SheetPage

        return SheetPage(bench, settings)

    return {
        "Whole rig": whole_rig,
        "Stage": stage,
        "Levels": levels,
        "IF survey": survey,
        "Read-out": read_out,
        "Crystals": crystals,
        "Tolerance": tolerance,
        "Build sheet": sheet,
    }
