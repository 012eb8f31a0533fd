"""Held against now, below the editor."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from app.pictures.panels.differences import Row, differences
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import Text, tip
from app.widgets.drawn import Drawn
from app.widgets.view import View


class Differences(Drawn[tuple[Row, ...]], View):
    """A row a figure that changed since the design was held; hidden when none is held."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._labels: list[tuple[QLabel, QLabel, QLabel]] = []
        title = Text("Held against now")
        title.setProperty("look", "title")
        self._same = Text("No figure differs from the held design.")
        self._same.setProperty("look", "soft")
        self._same.setWordWrap(True)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(0, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.addWidget(title)
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
        return self.shown_picture or ()

    def settle(self, bench: Workbench) -> None:
        if bench.held_analysis is not None:
            self.show_picture(differences(bench.held_analysis, bench.analysis, bench.band_name))

    def draw(self, picture: tuple[Row, ...]) -> None:
        self._same.setVisible(not picture)
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
