"""Held against now, below the editor."""

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from app.pictures.panels.differences import Comparison, Row, comparison
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import Text, tip
from app.widgets.drawn import Drawn
from app.widgets.view import View


class Differences(Drawn[Comparison], View):
    """A row a figure that changed since the design was held; hidden when none is held."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._labels: list[tuple[QLabel, QLabel, QLabel]] = []
        self._title = Text()
        self._title.setProperty("look", "title")
        self._same = Text("No figure differs from the held design.")
        self._same.setProperty("look", "soft")
        self._same.setWordWrap(True)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(0, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.addWidget(self._title)
        column.addWidget(self._same)
        column.addLayout(self._grid)
        column.addStretch(1)

    def wanted_height(self) -> int:
        """How high it is with all its rows in sight."""
        layout = self.layout()
        assert layout is not None
        width = self.width()
        return layout.heightForWidth(width) if layout.hasHeightForWidth() else layout.sizeHint().height()

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows on show."""
        return self.shown_picture.rows if self.shown_picture else ()

    def refresh(self, bench: Workbench) -> None:
        if bench.held is not None:
            of = (bench.held, bench.current, bench.band_name)
            former = self._drawn or Comparison((), of, current=False)
            self.show_picture(replace(former, current=former.current and former.of == of))

    def settle(self, bench: Workbench) -> None:
        if bench.held_analysis is not None:
            self.show_picture(comparison(bench.held_analysis, bench.analysis, bench.band_name))

    def draw(self, comparison: Comparison) -> None:
        picture = comparison.rows
        self._title.setText(f"Held against now{'' if comparison.current else ': comparing…'}")
        self._same.setVisible(comparison.current and not picture)
        while len(self._labels) < len(picture):
            self._labels.append(self._made_row(len(self._labels)))
        for number, labels in enumerate(self._labels):
            row = picture[number] if number < len(picture) else None
            for label, text in zip(labels, (row.name, row.held, row.now) if row else ("",) * 3, strict=True):
                if label.text() != text:
                    label.setText(text)
                if (told := tip(row.tip if row else "")) != label.toolTip():
                    label.setToolTip(told)
                if label.isHidden() == (row is not None):
                    label.setVisible(row is not None)

    def _made_row(self, number: int) -> tuple[QLabel, QLabel, QLabel]:
        name, held, now = Text(), Text(), Text()
        for label in (name, held, now):
            label.setFont(palette.figures_font(self.font(), 0.92, bold=label is now))
        name.setProperty("look", "soft")
        name.setWordWrap(True)
        held.setProperty("look", "soft")
        for column, label in enumerate((name, held, now)):
            align = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
            self._grid.addWidget(label, number, column, align | Qt.AlignmentFlag.AlignVCenter)
        return name, held, now
