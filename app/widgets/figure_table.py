"""A small table of figures as texts."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem

from app.style.plain import tip

#: Rows by whose texts the columns are made wide enough.
_MEASURED_ROWS = 60


class FigureTable(QTableWidget):
    """A small table of texts; cells are kept and only changed ones set."""

    def __init__(self, *, even: bool = True, wrapped: bool = False, fitted: bool = False) -> None:
        """`even` columns share the width; otherwise each is as wide as its texts. `wrapped` texts take
        several lines where they must. A `fitted` table is as high as its rows.
        """
        super().__init__()
        self._wrapped = wrapped
        self.verticalHeader().hide()
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QTableWidget.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setShowGrid(False)
        # Tab leaves the table; the arrows walk in it.
        self.setTabKeyNavigation(False)
        mode = QHeaderView.ResizeMode.Stretch if even else QHeaderView.ResizeMode.ResizeToContents
        self.horizontalHeader().setSectionResizeMode(mode)
        # A bag of a thousand crystals is not measured whole at each reading.
        self.horizontalHeader().setResizeContentsPrecision(_MEASURED_ROWS)
        # Together with even columns the last one would be stretched once more, beyond the edge.
        self.horizontalHeader().setStretchLastSection(not even)
        self.verticalHeader().setDefaultSectionSize(24)
        self._fitted = fitted
        if fitted:
            self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        if even:
            self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        if wrapped:
            self.verticalHeader().setMinimumSectionSize(24)
            self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._wrapped:
            self.resizeRowsToContents()

    def show_rows(
        self, heads: Sequence[str], rows: Sequence[Sequence[str]], tips: Sequence[str] = ()
    ) -> None:
        """Show these texts; `tips` has what is told of each row when it is pointed at."""
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
                told = tip(tips[r]) if tips else ""
                if item.toolTip() != told:
                    item.setToolTip(told)
        if self._fitted:
            self.resizeRowsToContents()
            self._fit()

    def updateGeometries(self) -> None:
        super().updateGeometries()
        # Qt calls this whenever rows came out higher than thought.
        if getattr(self, "_fitted", False):
            self._fit()

    def _fit(self) -> None:
        height = self.horizontalHeader().sizeHint().height() + self.verticalHeader().length() + 2
        if height != self.height():
            self.setFixedHeight(height)

    def texts(self) -> list[list[str]]:
        """The texts on show, row by row."""
        return [
            [item.text() if (item := self.item(r, c)) else "" for c in range(self.columnCount())]
            for r in range(self.rowCount())
        ]
