"""What the views of filters share: a measured curve, read with a button and told in a card of its own."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from app.plots.response import ResponsePlot
from app.stage_views.base import StageView
from app.stage_views.cards.measured_card import MeasuredCard
from app.state.workbench import Workbench
from app.widgets.drawn import Picture
from core.rig.built.measured import curve_of

#: The card of a measured curve stands below the others.
_ROW = 2


class FilterView(StageView[Picture]):
    """Response near and wide above, what else there is below, and at the end the measured curve."""

    def __init__(self) -> None:
        super().__init__()
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.read = QPushButton("Measured…")
        self.read.setToolTip("Reads a curve measured of this filter, Touchstone of two ports or CSV")
        self.read.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.read.clicked.connect(self.open_measured)
        self.measured = MeasuredCard()
        self.near_card = self.card("Around the pass-band", self.near, 0, 0, corner=self.read)
        self.measured_card = self.card("Measured against designed", self.measured, _ROW, 0, columns=2)
        self.show_card(self.measured_card, False)

    def refresh(self, bench: Workbench) -> str:
        sentence = super().refresh(bench)
        # A curve that came or went is seen at once; what it tells is found when the hand rests.
        if self._curve_on(bench) != (self.measured_card not in self._away):
            self._show_measured()
        return sentence

    def settle(self) -> None:
        super().settle()
        self._show_measured()

    def open_measured(self) -> None:
        """Ask for a curve measured of the filter on show."""
        if self._bench is not None:
            self.measured.open(self._bench)

    def _curve_on(self, bench: Workbench) -> bool:
        return curve_of(bench.analysis, str(bench.look.stage), bench.look.band) is not None

    def _show_measured(self) -> None:
        if self._bench is None or self._bench.look.stage is None:
            return
        picture = self.measured.show_of(self._bench)
        self.show_card(self.measured_card, picture is not None)
        if picture is not None:
            self.measured_card.annotate(picture.note)
