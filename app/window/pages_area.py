"""The middle of the window: pages that are made when they are first looked at."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QStackedWidget, QVBoxLayout, QWidget

from app.pages.table import GROUPS, PAGES, Surroundings
from app.widgets.view import View
from app.window.page_tabs import PageTabs
from app.window.refresh import Refresher

#: Below this a page scrolls.
_LEAST = QSize(430, 400)
#: Below this width what stands side by side on a page would be too small to read.
_NARROW = 560


class PagesArea(QWidget):
    """Tabs over a stack; a page behind its tab costs nothing, the first one nothing before `begin`."""

    def __init__(self, surroundings: Surroundings, refresher: Refresher) -> None:
        super().__init__()
        self._surroundings, self._refresher = surroundings, refresher
        self._made: dict[str, View] = {}
        self._places: dict[str, int] = {}
        self.tabs = PageTabs([[each.name for each in group] for group in GROUPS])
        self._stack = QStackedWidget()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self.tabs)
        column.addWidget(self._stack, 1)
        self.tabs.chosen.connect(self._show)

    def begin(self) -> None:
        """Make the page whose tab is chosen, if it has not been made yet."""
        if self.names[self.tabs.currentIndex()] not in self._made:
            self._show(self.tabs.currentIndex())

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the pages, as on their tabs."""
        return tuple(each.name for each in PAGES)

    @property
    def current(self) -> View:
        """The page on show."""
        self.begin()
        return self._made[self.names[self.tabs.currentIndex()]]

    def show_page(self, name: str) -> View:
        """Bring a page to the front; returns it."""
        self.tabs.setCurrentIndex(self.names.index(name))
        return self.current

    def _show(self, index: int) -> None:
        name = PAGES[index].name
        if name not in self._made:
            page = PAGES[index].made(self._surroundings)
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
