"""The tabs of the pages, in groups side by side; where the window is narrow a group has a row of its own."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QPoint, QRect, Qt, Signal
from PySide6.QtWidgets import QTabBar

from app.style.marking import mark
from app.widgets.flow_row import FlowRow


class PageTabs(FlowRow):
    """As a `QTabBar` is asked, numbers running through all groups; one tab of all is the current one."""

    chosen = Signal(int)

    def __init__(self, groups: Sequence[Sequence[str]]) -> None:
        super().__init__(spacing=12, row_spacing=0)
        self.bars: tuple[QTabBar, ...] = tuple(_bar() for _ in groups)
        #: The number of each group's first tab.
        self._firsts: list[int] = []
        self._current = 0
        for bar, names in zip(self.bars, groups, strict=True):
            self._firsts.append(self.count())
            for name in names:
                bar.addTab(name)
            bar.currentChanged.connect(partial(self._chosen, bar))
            # The tab that a group was left at is still its own current one, and no change.
            bar.tabBarClicked.connect(partial(self._chosen, bar))
            self.add(bar)
        self._mark()

    def count(self) -> int:
        """How many tabs there are."""
        return sum(bar.count() for bar in self.bars)

    def currentIndex(self) -> int:
        """The number of the current tab."""
        return self._current

    def setCurrentIndex(self, index: int) -> None:
        """Make a tab the current one."""
        bar, place = self._at(index)
        bar.setCurrentIndex(place)
        self._chosen(bar, place)

    def tabText(self, index: int) -> str:
        """What stands on a tab."""
        bar, place = self._at(index)
        return bar.tabText(place)

    def tabRect(self, index: int) -> QRect:
        """Where a tab lies."""
        bar, place = self._at(index)
        return bar.tabRect(place).translated(bar.mapTo(self, QPoint()))

    def _at(self, index: int) -> tuple[QTabBar, int]:
        group = max(n for n, first in enumerate(self._firsts) if first <= index)
        return self.bars[group], index - self._firsts[group]

    def _chosen(self, bar: QTabBar, place: int) -> None:
        if place < 0:
            return
        index = self._firsts[self.bars.index(bar)] + place
        if index != self._current:
            self._current = index
            self._mark()
            self.chosen.emit(index)

    def _mark(self) -> None:
        """Only the group of the current tab shows one as such."""
        here, _ = self._at(self._current)
        self.setFocusProxy(here)
        for bar in self.bars:
            away = bar is not here
            if away != bool(bar.property("away")):
                mark(bar, "away", away)


def _bar() -> QTabBar:
    made = QTabBar()
    made.setAccessibleName("Pages")
    made.setExpanding(False)
    # Where even a row of its own is too short, names end in dots before any page hides behind an arrow.
    made.setUsesScrollButtons(True)
    made.setElideMode(Qt.TextElideMode.ElideRight)
    return made
