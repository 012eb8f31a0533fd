"""A small table of figures as texts."""

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem

from app.pictures.told import Told
from app.style.column_widths import broken, least_width, shared, width
from app.style.plain import tip

#: Texts of no more letters than this, names and then values with their unit, are not broken while there is
#: room; at last all are, at their words, as heads are from the beginning.
_SHORT = (14, 8, 0)
_ROW_HEIGHT = 24
#: A text that fills its cell to the last pixel is broken.
_PLAY = 1


class FigureTable(QTableWidget):
    """A small table of texts; cells are kept and only changed ones set.

    Columns share the width by what stands in them; a text that finds no room takes several lines, and only
    where not even its words fit the table scrolls sideways.
    """

    def __init__(self, *, even: bool = True, fitted: bool = False) -> None:
        """Room that is left goes to all columns when `even`, else to the last. A `fitted` table is as high
        as its rows.
        """
        super().__init__()
        self.verticalHeader().hide()
        self.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QTableWidget.SelectionMode.NoSelection)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setShowGrid(False)
        self.setHorizontalScrollMode(QTableWidget.ScrollMode.ScrollPerPixel)
        # Tab leaves the table; the arrows walk in it.
        self.setTabKeyNavigation(False)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setHighlightSections(False)
        self.verticalHeader().setMinimumSectionSize(_ROW_HEIGHT)
        self.verticalHeader().setDefaultSectionSize(_ROW_HEIGHT)
        self._even, self._fitted = even, fitted
        self._heads: tuple[str, ...] = ()
        self._rows: tuple[tuple[str, ...], ...] = ()
        #: What the columns were last laid out for.
        self._laid_out: object = None
        if fitted:
            self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_out()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._laid_out = None

    def show_told(self, told: Told) -> None:
        """Show a table of figures, with what is told of them."""
        self.show_rows(told.heads, told.rows, told.tips, told.head_tips)
        for place in range(self.columnCount()):
            head = self.horizontalHeaderItem(place)
            if head is not None:
                head.setToolTip(tip(told.head_tips[place]) if told.head_tips else "")

    def show_rows(
        self,
        heads: Sequence[str],
        rows: Sequence[Sequence[str]],
        tips: Sequence[str] = (),
        head_tips: Sequence[str] = (),
    ) -> None:
        """Show these texts; `tips` has what is told of each row when it is pointed at, or `head_tips` of each
        column.
        """
        of_columns = [tip(each) for each in head_tips] or [""] * len(heads)
        if self.columnCount() != len(heads):
            # The heads of columns that come back are to be written again.
            self._laid_out = None
        self.setColumnCount(len(heads))
        self.setRowCount(len(rows))
        for r, row in enumerate(rows):
            of_row = tip(tips[r]) if tips else ""
            for c, text in enumerate(row):
                item = self.item(r, c)
                if item is None:
                    item = QTableWidgetItem()
                    self.setItem(r, c, item)
                if item.text() != text:
                    item.setText(text)
                told = of_row or of_columns[c]
                if item.toolTip() != told:
                    item.setToolTip(told)
        # Only now: changing the counts may resize the table amid it.
        self._heads, self._rows = tuple(heads), tuple(tuple(row) for row in rows)
        self._lay_out()

    def _lay_out(self) -> None:
        """Give the columns their width, and the rows the height that their texts then need."""
        room = self.viewport().width()
        asked = (room, self._heads, self._rows)
        counts = (self.columnCount(), self.rowCount())
        if asked == self._laid_out or not self._heads or counts != (len(self._heads), len(self._rows)):
            return
        self._laid_out = asked
        ordinary = self.fontMetrics()
        bold = QFont(self.font())
        bold.setBold(True)
        heavy = QFontMetrics(bold)
        columns = [[row[c] for row in self._rows] for c in range(len(self._heads))]
        natural = [
            max([width(head, heavy), *(width(text, ordinary) for text in column)]) + _PLAY
            for head, column in zip(self._heads, columns, strict=True)
        ]
        least = natural
        for short in _SHORT:
            if sum(least) <= room:
                break
            least = [
                max([least_width(head, heavy, 0), *(least_width(text, ordinary, short) for text in column)])
                + _PLAY
                for head, column in zip(self._heads, columns, strict=True)
            ]
        widths = shared(natural, least, room, even=self._even)
        for c, wide in enumerate(widths):
            self.setColumnWidth(c, wide)
            text = broken(self._heads[c], heavy, wide)
            item = self.horizontalHeaderItem(c)
            if item is None:
                self.setHorizontalHeaderItem(c, QTableWidgetItem(text))
            elif item.text() != text:
                item.setText(text)
        if any(wide < wanted for wide, wanted in zip(widths, natural, strict=True)):
            self.resizeRowsToContents()
        else:
            for r in range(self.rowCount()):
                self.setRowHeight(r, _ROW_HEIGHT)
        if self._fitted:
            height = self.horizontalHeader().sizeHint().height() + self.verticalHeader().length() + 2
            if sum(widths) > room:
                height += self.horizontalScrollBar().sizeHint().height()
            if height != self.height():
                self.setFixedHeight(height)

    def texts(self) -> list[list[str]]:
        """The texts on show, row by row."""
        return [list(row) for row in self._rows]
