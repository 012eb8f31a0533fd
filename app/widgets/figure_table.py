"""A small table of figures as texts."""

from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem

from app.style.plain import tip

#: Beside a text in its cell, pixels.
_PADDING = 10
#: Texts of no more letters than this, such as a value with its unit, are not broken while there is room.
_SHORT = 14
_ROW_HEIGHT = 24


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

    def show_rows(
        self, heads: Sequence[str], rows: Sequence[Sequence[str]], tips: Sequence[str] = ()
    ) -> None:
        """Show these texts; `tips` has what is told of each row when it is pointed at."""
        self.setColumnCount(len(heads))
        self.setRowCount(len(rows))
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
        natural, least, words = [], [], []
        for c, head in enumerate(self._heads):
            measured = [(head, heavy), *((row[c], ordinary) for row in self._rows)]
            natural.append(max(_width(text, metrics) for text, metrics in measured))
            least.append(max(_least(text, metrics, _SHORT) for text, metrics in measured))
            words.append(max(_least(text, metrics, 0) for text, metrics in measured))
        widths = shared(natural, least if sum(least) <= room else words, room, even=self._even)
        for c, width in enumerate(widths):
            self.setColumnWidth(c, width)
            text = _broken(self._heads[c], heavy, width)
            item = self.horizontalHeaderItem(c)
            if item is None or item.text() != text:
                self.setHorizontalHeaderItem(c, QTableWidgetItem(text))
        if any(width < wanted for width, wanted in zip(widths, natural, strict=True)):
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


def shared(natural: Sequence[int], least: Sequence[int], room: int, *, even: bool) -> list[int]:
    """The widths of columns that want `natural` and need `least` each, in so much `room`, all in pixels.

    What is left goes to all of them, or to the last; what lacks is taken where texts can be broken, in
    proportion to what they could give. More than `room` only where not even the least widths fit.

    >>> shared([40, 60], [40, 60], 120, even=True), shared([40, 60], [40, 60], 120, even=False)
    ([50, 70], [40, 80])
    >>> shared([40, 300], [40, 80], 140, even=True), shared([40, 300], [40, 80], 100, even=True)
    ([40, 100], [40, 80])
    """
    left = room - sum(natural)
    if left >= 0:
        extra = [left // len(natural)] * len(natural) if even else [0] * len(natural)
        extra[-1] += left - sum(extra)
        return [wanted + more for wanted, more in zip(natural, extra, strict=True)]
    free = max(room - sum(least), 0)
    could = [wanted - needed for wanted, needed in zip(natural, least, strict=True)]
    return [
        needed + (free * give // sum(could) if give else 0) for needed, give in zip(least, could, strict=True)
    ]


def _width(text: str, metrics: QFontMetrics) -> int:
    return metrics.horizontalAdvance(text) + _PADDING


def _least(text: str, metrics: QFontMetrics, short: int) -> int:
    """How narrow a text's column may get: a text of up to `short` letters stays whole, others are broken."""
    if len(text) <= short:
        return _width(text, metrics)
    return max(_width(word, metrics) for word in text.split(" "))


def _broken(text: str, metrics: QFontMetrics, width: int) -> str:
    """A head in as many lines as its column's width asks for."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else ""
        if longer and _width(longer, metrics) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)
