"""What the views of the stages have in common: cards in a grid, which draw one picture."""

from PySide6.QtWidgets import QGridLayout, QWidget

from app.plots.base import Card, Plot
from app.stage_views.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.widgets.drawn import Drawn, Picture
from core.stages.outcome import Unsolved


class StageView(Drawn[Picture], QWidget):
    """The plots and tables of one kind of stage."""

    def __init__(self) -> None:
        super().__init__()
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setSpacing(8)
        self._bench: Workbench | None = None

    def refresh(self, bench: Workbench) -> str:
        """Show the selected stage; returns the sentence to show instead when there is nothing to draw."""
        self._bench = bench
        picture = self.picture_of(bench)
        if isinstance(picture, Unsolved):
            return picture.reason
        self.show_picture(picture)
        return ""

    def picture_of(self, bench: Workbench) -> Picture | Unsolved:
        """What there is to show, or why there is nothing."""
        raise NotImplementedError

    def restyle(self) -> None:
        """Take colours and pens again after the theme changed."""
        for plot in self.findChildren(Plot):
            plot.restyle()
        for drawing in self.findChildren(SchematicView):
            drawing.restyle()
        for part in self.findChildren(QWidget):
            if isinstance(part, Drawn):
                part.forget()
        self.forget()

    def again(self) -> None:
        """Show another of the choices that the view itself offers."""
        if self._bench is not None:
            self.refresh(self._bench)

    def card(
        self,
        title: str,
        content: QWidget,
        row: int,
        column: int,
        columns: int = 1,
        *,
        corner: QWidget | None = None,
    ) -> Card:
        """A card at a place of the grid; rows and columns share the room evenly."""
        made = Card(title, content, corner=corner)
        self.grid.addWidget(made, row, column, 1, columns)
        for each in range(column, column + columns):
            self.grid.setColumnStretch(each, 1)
        self.grid.setRowStretch(row, 1)
        return made
