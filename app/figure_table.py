"""A small table of figures as texts."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem


class FigureTable(QTableWidget):
    """A small table of texts; cells are kept and only changed ones set."""

    def __init__(self, *, even: bool = True, wrapped: bool = False) -> None:
        """`even` columns share the width; otherwise each is as wide as its texts. `wrapped` texts take
        several lines where they must.
        """
        super().__init__()
        self._wrapped = wrapped
        self.verticalHeader().hide()
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QTableWidget.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setShowGrid(False)
        mode = QHeaderView.ResizeMode.Stretch if even else QHeaderView.ResizeMode.ResizeToContents
        self.horizontalHeader().setSectionResizeMode(mode)
        # Beside even columns a stretched last one keeps the width it once had.
        self.horizontalHeader().setStretchLastSection(not even)
        self.verticalHeader().setDefaultSectionSize(24)
        if even:
            self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        if wrapped:
            self.verticalHeader().setMinimumSectionSize(24)
            self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._wrapped:
            self.resizeRowsToContents()

    def show_rows(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Show these texts."""
        self.setColumnCount(len(heads))
        self.setRowCount(len(rows))
        self.setHorizontalHeaderLabels(list(heads))
        for r, row in enumerate(rows):
            for c, text in enumerate(row):
                item = self.item(r, c)
                if item is None:
                    item = QTableWidgetItem()
                    self.setItem(r, c, item)
                if item.text() != text:
                    item.setText(text)

    def texts(self) -> list[list[str]]:
        """The texts on show, row by row."""
        return [
            [item.text() if (item := self.item(r, c)) else "" for c in range(self.columnCount())]
            for r in range(self.rowCount())
        ]
