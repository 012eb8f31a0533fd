"""What views of stages that are measured share: a curve, read with a button, told in a card of its own."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from app.stage_views.base import StageView
from app.stage_views.cards.measured_card import MeasuredCard
from app.state.workbench import Workbench
from app.widgets.drawn import Picture
from core.rig.built.measured import curve_of


class MeasuredView(StageView[Picture]):
    """A view with a button that reads a measured curve, and with its card at the end, in row `last`."""

    def __init__(self, what: str, last: int) -> None:
        super().__init__()
        self.read = QPushButton("Measured…")
        self.read.setToolTip(f"Reads a curve measured of this {what}, Touchstone of two ports or CSV")
        self.read.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.read.clicked.connect(self.open_measured)
        self.measured = MeasuredCard()
        self.measured_card = self.card("Measured against designed", self.measured, last, 0, columns=2)
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
        """Ask for a curve measured of the stage on show."""
        if self._bench is not None:
            self.measured.open(self._bench)

    def _curve_on(self, bench: Workbench) -> bool:
        return curve_of(bench.analysis, str(bench.look.stage), bench.look.band, bench.look.way) is not None

    def _show_measured(self) -> None:
        if self._bench is None or self._bench.look.stage is None:
            return
        picture = self.measured.show_of(self._bench)
        self.show_card(self.measured_card, picture is not None)
        if picture is not None:
            self.measured_card.annotate(picture.note)
