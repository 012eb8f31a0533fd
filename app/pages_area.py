"""The middle of the window: pages that are made when they are first looked at."""

from collections.abc import Callable

from PySide6.QtWidgets import QStackedWidget, QTabBar, QVBoxLayout, QWidget

from app.refresh import Refresher
from app.tasks import Tasks
from app.view import View
from app.workbench import Workbench


class PagesArea(QWidget):
    """Tabs over a stack; a page behind its tab costs nothing."""

    def __init__(self, bench: Workbench, tasks: Tasks, refresher: Refresher) -> None:
        super().__init__()
        self._refresher = refresher
        self._makers = _makers(bench, tasks)
        self._made: dict[str, View] = {}
        self.tabs = QTabBar()
        self.tabs.setAccessibleName("Pages")
        self.tabs.setExpanding(False)
        self.tabs.setUsesScrollButtons(True)
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

    def _show(self, index: int) -> None:
        name = self.names[index]
        if name not in self._made:
            page = self._makers[name]()
            self._made[name] = page
            self._stack.addWidget(page)
            self._refresher.add(page)
        self._stack.setCurrentWidget(self._made[name])
        self._refresher.request()


def _makers(bench: Workbench, tasks: Tasks) -> dict[str, Callable[[], View]]:
    # Imported when first looked at: plots and sheet are most of what there is to load.
    def whole_rig() -> View:
        from app.pages.whole_rig import WholeRigPage

        return WholeRigPage(bench)

    def stage() -> View:
        from app.pages.stage import StagePage

        return StagePage(bench)

    def survey() -> View:
        from app.pages.if_survey import IfSurveyPage

        return IfSurveyPage(bench, tasks)

    def sheet() -> View:
        from app.sheet.preview import SheetPage

        return SheetPage(bench)

    return {"Whole rig": whole_rig, "Stage": stage, "IF survey": survey, "Build sheet": sheet}
