"""A page whose fields stand in a scroll area beside what comes of them."""

from collections.abc import Sequence
from typing import ClassVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from app.plots.base import Card
from app.widgets.folding import Folding
from app.widgets.view import View


class BesidePage(View):
    """Fields on the left under their title, results on the right; on a narrow page below one another."""

    #: The page scrolls before its parts get too low to read, side by side and below one another, pixels.
    least: ClassVar[tuple[int, int]] = (400, 1000)

    def lay_out(
        self,
        title: str,
        fields: Sequence[QWidget],
        results: QWidget,
        *,
        growing: QWidget | None = None,
        shares: tuple[int, int] = (2, 3),
    ) -> None:
        """Put the parts into the page; `growing` is the field that takes the height that is left."""
        self._whole = Folding(Card(title, _fields(fields, growing)), results, shares=shares)
        self.setMinimumHeight(self.least[0])
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(self._whole)

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (2, 3))
        self.setMinimumHeight(self.least[narrow])


def in_a_row(*parts: QWidget) -> QWidget:
    """Parts side by side, at the left."""
    made = QWidget()
    row = QHBoxLayout(made)
    row.setContentsMargins(0, 0, 0, 0)
    for part in parts:
        row.addWidget(part)
    row.addStretch(1)
    return made


def in_a_column(*parts: QWidget, stretch: tuple[int, ...] = (1,), gap: int = 4) -> QWidget:
    """Parts below one another, which share the height as `stretch` says."""
    made = QWidget()
    column = QVBoxLayout(made)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(gap)
    for number, part in enumerate(parts):
        column.addWidget(part, stretch[number] if number < len(stretch) else 0)
    return made


def scrolled(inside: QWidget) -> QScrollArea:
    """What a small window scrolls instead of squeezing it."""
    inside.setProperty("look", "ground")
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setWidget(inside)
    return area


def _fields(fields: Sequence[QWidget], growing: QWidget | None) -> QScrollArea:
    inside = QWidget()
    column = QVBoxLayout(inside)
    column.setContentsMargins(0, 0, 6, 0)
    for field in fields:
        column.addWidget(field, int(field is growing))
    if growing is None:
        column.addStretch(1)
    area = scrolled(inside)
    # No narrower than its fields, as they would be cut at the side.
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setMinimumWidth(inside.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width())
    return area
