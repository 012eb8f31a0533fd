"""The carrier oscillator: where each sideband's carrier lies, how its crystal gets there, what it drives."""

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from app.pictures.response import notes_of
from app.pictures.stages.carrier import COIL_DIGITS, LEVEL_TIP, CarrierPicture, picture_of
from app.plots.pull import PullPlot
from app.plots.response import ResponsePlot
from app.stage_views.base import StageView
from app.stage_views.cards.core_chooser import CoreChooser
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.style.plain import Text, tip
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.model.values.notation import significant
from core.rig.levels import oscillator_drive
from core.rig.wound.oscillator_core import choose_carrier_core
from core.stages.outcome import Unsolved


class CarrierView(StageView[CarrierPicture]):
    """Four cards: frequency against trimmer or the circuit, speech, figures a column a sideband, bands and
    drive.
    """

    def __init__(self) -> None:
        super().__init__()
        self.pull = PullPlot()
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.table = FigureTable()
        self.bands = FigureTable(fitted=True)
        self.drive = FigureTable(fitted=True)
        self.solve = QPushButton("Solve coil and trimmer")
        self.solve.setProperty("look", "small")
        self.solve.setToolTip(
            "Writes the coil that brings the carrier of the band looked at to the middle of its trimmer"
        )
        self.solve.clicked.connect(self._solve)
        self.core = CoreChooser(
            lambda bench: choose_carrier_core(bench.analysis),
            "Winds the series coil on the smallest core with which the carrier reaches its places",
        )
        self.amplify = QPushButton("Add the missing gain")
        self.amplify.setToolTip("Raises output and own amplifier alike; the oscillator itself stays as it is")
        self.amplify.clicked.connect(self._amplify)
        self.level = Text()
        self.level.setWordWrap(True)
        self.level.setProperty("look", "soft")
        self.level.setToolTip(tip(LEVEL_TIP))
        self.schematic, self.reason = SchematicView(), Text()
        self.reason.setWordWrap(True)
        self.looks = TwoWay(("trimmer", "schematic"), "Crystal")
        self._stack = QStackedWidget()
        drawn = QWidget()
        beneath = QVBoxLayout(drawn)
        beneath.setContentsMargins(0, 0, 0, 0)
        beneath.addWidget(self.reason)
        beneath.addWidget(self.schematic, 1)
        for each in (self.pull, drawn):
            self._stack.addWidget(each)
        self.looks.chosen.connect(self._look)
        self.pull_card = self.card("Pulled by its trimmer", self._stack, 0, 0, corner=self.looks)
        self.audio_card = self.card("Audio as heard", self.audio, 0, 1)
        told = QWidget()
        column = QVBoxLayout(told)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.core)
        self.card("Carrier", told, 1, 0, corner=self.solve)
        self.card("Bands, and the drive of the mixers", self._beside(), 1, 1)

    def _beside(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.bands)
        column.addWidget(self.drive)
        column.addWidget(self.level)
        row = QHBoxLayout()
        row.addWidget(self.amplify)
        row.addStretch(1)
        column.addLayout(row)
        column.addStretch(1)
        return made

    def picture_of(self, bench: Workbench) -> CarrierPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look)

    def draw(self, picture: CarrierPicture) -> None:
        made = picture.circuit
        self.reason.setText(made if isinstance(made, str) else "")
        self.reason.setVisible(isinstance(made, str))
        self.schematic.setVisible(not isinstance(made, str))
        if not isinstance(made, str):
            self.schematic.show_circuit(made)
        self.table.show_told(picture.carriers)
        self.bands.show_told(picture.bands)
        self.drive.show_told(picture.drives)
        self.level.setText(picture.level)
        self.amplify.setEnabled(picture.short)
        self.audio_card.entitle(f"Audio as heard on {picture.band}")
        self.audio_card.annotate(*notes_of(picture.audio))
        self.audio.show_picture(picture.audio)
        self.pull.show_picture(picture.pull)
        if self._bench is not None:
            self.core.show_for(self._bench, "carrier", picture.coil_core)

    def _look(self, place: int) -> None:
        # A schematic wants the room of both.
        self.show_card(self.audio_card, place == 0)
        self._stack.setCurrentIndex(place)
        self.pull_card.entitle(("Pulled by its trimmer", "Circuit")[place])

    def _solve(self) -> None:
        if self._bench is None:
            return
        found = self._bench.analysis.solved_pulling(self._bench.band_name)
        if isinstance(found, Unsolved):
            return
        # Where no coil is wanted the field is emptied, for then the automatic one is none as well.
        coil = significant(found.coil_h, COIL_DIGITS) or None
        self._bench.edit(("carrier", "coil_h"), coil)

    def _amplify(self) -> None:
        if self._bench is not None:
            self._bench.change(
                lambda p: oscillator_drive.amplified(p, "carrier"), label="the carrier's own amplifier"
            )
