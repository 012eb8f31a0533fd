"""Whole rig: frequency plan, spur chart and level diagram together, so that one turn is seen in all three."""

from functools import cached_property, partial
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QSplitter, QStackedWidget, QVBoxLayout

from app.plots.base import Card
from app.plots.frequency_plan import FrequencyPlanPlot
from app.plots.level_diagram import LevelDiagram
from app.plots.spur_chart import SpurChart
from app.state.guard import guarded
from app.state.workbench import Workbench
from app.style import words
from app.widgets.folding import Folding
from app.widgets.two_way import TwoWay
from app.widgets.view import View

if TYPE_CHECKING:
    from app.panels.birdie_panel import BirdiePanel

#: The page scrolls before its three pictures get lower than can be read, side by side and stacked, pixels.
_LEAST_HEIGHT, _STACKED_HEIGHT = 400, 750


class WholeRigPage(View):
    """The plan above; spurs and levels side by side below."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self.plan = FrequencyPlanPlot()
        self.spurs = SpurChart()
        self.levels = LevelDiagram()
        self._plan_card = Card(
            "Frequency plan in MHz: everything that oscillates, is heard, or is rejected", self.plan
        )
        self.looks = TwoWay(("chart", "birdie finder"), "Spurs")
        self._spur_stack = QStackedWidget()
        self._spur_stack.addWidget(self.spurs)
        self.looks.chosen.connect(self._look)
        self._spur_card = Card("Spur chart", self._spur_stack, corner=self.looks)
        self._level_card = Card("Level diagram", self.levels)
        below = self._below = Folding(self._spur_card, self._level_card, shares=(1, 1))
        whole = self._whole = QSplitter(Qt.Orientation.Vertical)
        whole.addWidget(self._plan_card)
        whole.addWidget(below)
        whole.setStretchFactor(0, 2)
        whole.setStretchFactor(1, 3)
        whole.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(whole)

    @cached_property
    def finder(self) -> "BirdiePanel":
        """What asks what was heard, made when it is first looked at."""
        from app.panels.birdie_panel import BirdiePanel

        made = BirdiePanel(self._bench)
        # The chart decides how high the card is.
        made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self._spur_stack.addWidget(made)
        return made

    def _look(self, place: int) -> None:
        self._spur_stack.setCurrentWidget(self.spurs if place == 0 else self.finder)
        self.refresh(self._bench)

    def fold(self, narrow: bool) -> None:
        self._below.fold(narrow, (1, 1))
        self.setMinimumHeight(_STACKED_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        shown = self.spurs if self.looks.place == 0 else self.finder
        for part in (self.plan, shown, self.levels):
            guarded(part, partial(part.refresh, bench), part.forget)
        band = words.band(bench.band_name)
        receive = bench.way == "receive"
        chart = "what else is heard" if receive else "what else leaves"
        self._spur_card.entitle(f"{band}: {chart if self.looks.place == 0 else 'what did I hear?'}")
        self._level_card.entitle(
            f"Level diagram, {band}: {'noise to overload' if receive else 'speech peaks'}"
        )

    def restyle(self) -> None:
        for plot in (self.plan, self.spurs, self.levels):
            plot.restyle()
            plot.forget()
