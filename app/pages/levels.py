"""Levels: where the receiver's noise comes from, what it bears beside the signal, and every S level."""

from PySide6.QtWidgets import QVBoxLayout

from app.pictures.rig.receiver import ReceiverPicture, picture_of
from app.plots.base import Card
from app.plots.level_diagram import NoiseBarPlot
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.view import View


class LevelsPage(Drawn[ReceiverPicture | str], View):
    """The stacked bar, strong stations, the S-meter's table, and the bar's numbers below one another."""

    def __init__(self) -> None:
        super().__init__()
        self._narrow = False
        self.bar = NoiseBarPlot()
        self.parts, self.ranges, self.stations = (FigureTable(fitted=True) for _ in range(3))
        self.sentence = Text()
        self.sentence.setWordWrap(True)
        self._bar_card, self._ranges_card, self._stations_card, self._parts_card = self._cards = tuple(
            Card("", each) for each in (self.bar, self.ranges, self.stations, self.parts)
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        for part in (self.sentence, *self._cards):
            column.addWidget(part)
        column.addStretch(1)

    def fold(self, narrow: bool) -> None:
        if narrow != self._narrow:
            self._narrow = narrow
            self.forget()

    def refresh(self, bench: Workbench) -> None:
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, bench.look))

    def draw(self, picture: ReceiverPicture | str) -> None:
        missing = isinstance(picture, str)
        self.sentence.setVisible(missing)
        for card in self._cards:
            card.setVisible(not missing)
        if isinstance(picture, str):
            self.sentence.setText(picture)
            return
        self._bar_card.entitle(picture.noise_title)
        self.bar.show_picture(picture.bar)
        self._ranges_card.entitle(picture.ranges_title)
        self.ranges.show_told(picture.ranges)
        self._stations_card.entitle(picture.stations_title)
        self.stations.show_told(picture.few if self._narrow else picture.stations)
        self._parts_card.entitle(picture.parts_title)
        self.parts.show_told(picture.parts)

    def restyle(self) -> None:
        self.bar.restyle()
        self.bar.forget()
        self.forget()
