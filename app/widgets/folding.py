"""Parts side by side where the page is wide, below one another where it is narrow."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSplitter, QWidget


class Folding(QSplitter):
    """A splitter that a narrow page stands upright; `shares` are the parts' of the width."""

    def __init__(self, *parts: QWidget, shares: Sequence[int]) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self.setChildrenCollapsible(False)
        for place, part in enumerate(parts):
            self.addWidget(part)
            self.setStretchFactor(place, shares[place])

    def fold(self, narrow: bool, shares: Sequence[int]) -> None:
        """Stand upright, or lie again; the parts' share of the room begins as given."""
        wanted = Qt.Orientation.Vertical if narrow else Qt.Orientation.Horizontal
        if self.orientation() != wanted:
            self.setOrientation(wanted)
            # Sizes count in proportion, and must not be below the least ones.
            self.setSizes([1000 * share for share in shares])
