"""Whole rig: frequency plan, spur chart and level diagram together, so that one turn is seen in all three."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSplitter, QVBoxLayout

from app import words
from app.plots.base import Card
from app.plots.frequency_plan import FrequencyPlanPlot
from app.plots.level_diagram import LevelDiagram
from app.plots.spur_chart import SpurChart
from app.view import View
from app.workbench import Workbench


class WholeRigPage(View):
    """The plan above; spurs and levels side by side below."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self.plan = FrequencyPlanPlot()
        self.spurs = SpurChart()
        self.levels = LevelDiagram()
        self._plan_card = Card(
            "Frequency plan in MHz: everything that oscillates, is heard, or is rejected", self.plan
        )
        self._spur_card = Card("Spur chart", self.spurs)
        self._level_card = Card("Level diagram", self.levels)
        below = QSplitter(Qt.Orientation.Horizontal)
        below.addWidget(self._spur_card)
        below.addWidget(self._level_card)
        below.setChildrenCollapsible(False)
        whole = QSplitter(Qt.Orientation.Vertical)
        whole.addWidget(self._plan_card)
        whole.addWidget(below)
        whole.setStretchFactor(0, 2)
        whole.setStretchFactor(1, 3)
        whole.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(whole)

    def refresh(self, bench: Workbench) -> None:
        self.plan.refresh(bench)
        self.spurs.refresh(bench)
        self.levels.refresh(bench)
        band = words.band(bench.band_name)
        receive = bench.way == "receive"
        self._spur_card.entitle(
            f"Spur chart, {band}: {'what it hears of itself' if receive else 'what else leaves'}"
        )
        self._level_card.entitle(
            f"Level diagram, {band}: {'noise to overload' if receive else 'speech peaks'}"
        )

    def restyle(self) -> None:
        for plot in (self.plan, self.spurs, self.levels):
            plot.restyle()
            plot._shown = ()
