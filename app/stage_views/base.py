"""What the views of the stages have in common: cards in a grid, which draw one picture."""

from PySide6.QtWidgets import QGridLayout, QWidget

from app.plots.base import Card, Plot
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.widgets.drawn import Drawn, Picture
from core.stages.outcome import Unsolved

#: A card lower than this tells little, pixels.
_CARD_HEIGHT = 230


class StageView(Drawn[Picture], QWidget):
    """The plots and tables of one kind of stage."""

    def __init__(self) -> None:
        super().__init__()
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setSpacing(8)
        self._bench: Workbench | None = None
        self._places: list[tuple[Card, int, int]] = []
        self._away: set[Card] = set()
        self._columns: dict[Card, int] = {}
        self._narrow = False

    def refresh(self, bench: Workbench) -> str:
        """Show the selected stage; returns the sentence to show instead when there is nothing to draw."""
        self._bench = bench
        picture = self.picture_of(bench)
        if isinstance(picture, Unsolved):
            return picture.reason
        self.show_picture(picture)
        return ""

    def settle(self) -> None:
        """Draw what waits for the hand to rest."""
        for drawing in self.findChildren(SchematicView):
            drawing.settle()

    def picture_of(self, bench: Workbench) -> Picture | Unsolved:
        """What there is to show, or why there is nothing; each kind of stage says it."""
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
            self.settle()

    def card(
        self,
        title: str,
        content: QWidget,
        row: int,
        column: int,
        *,
        corner: QWidget | None = None,
        columns: int = 1,
    ) -> Card:
        """A card at a place of the grid, over so many columns; rows and columns share the room evenly,
        and one that stands alone in its row has all of it.
        """
        made = Card(title, content, corner=corner)
        self._columns[made] = columns
        self._places.append((made, row, column))
        self._lay_out()
        return made

    def show_card(self, card: Card, on: bool) -> None:
        """Show a card, or take it away with the room that it has."""
        if on == (card in self._away):
            self._away ^= {card}
            card.setVisible(on)
            self._lay_out()

    @property
    def least_height(self) -> int:
        """Below this height the page scrolls, pixels."""
        return _CARD_HEIGHT * len({row for _, row, _ in self._places_now()})

    def fold(self, narrow: bool) -> None:
        """Put the cards below one another, or side by side again."""
        if narrow != self._narrow:
            self._narrow = narrow
            self._lay_out()

    def _places_now(self) -> list[tuple[Card, int, int]]:
        shown = [place for place in self._places if place[0] not in self._away]
        if not self._narrow:
            return shown
        return [(card, number, 0) for number, (card, _, _) in enumerate(shown)]

    def _lay_out(self) -> None:
        for card, _, _ in self._places:
            self.grid.removeWidget(card)
        places = self._places_now()
        rows, columns = {row for _, row, _ in places}, {column for _, _, column in places}
        for card, row, column in places:
            alone = sum(other == row for _, other, _ in places) == 1
            at, over = (min(columns), len(columns)) if alone else (column, self._columns[card])
            self.grid.addWidget(card, row, at, 1, 1 if self._narrow else over)
        # A place that nothing stands in keeps the room it once was given.
        for row in range(self.grid.rowCount()):
            self.grid.setRowStretch(row, int(row in rows))
        for column in range(self.grid.columnCount()):
            self.grid.setColumnStretch(column, int(column in columns))
