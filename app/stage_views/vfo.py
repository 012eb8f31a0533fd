"""The VFO: its dial, its drift part by part, whether it starts, and the parts found for it."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from app.pictures.stages.vfo import VfoPicture, picture_of
from app.plots.dial import DialPlot, LinePlot
from app.stage_views.base import StageView
from app.stage_views.cards.core_chooser import CoreChooser
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.model.stages.tank import Tank
from core.rig import tuning
from core.rig.wound.oscillator_core import choose_vfo_core
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign

_LOOKS = ("kHz a turn", "even scale", "warming up")


class VfoView(StageView[VfoPicture]):
    """Four cards: frequency against the knob; tuning rate, scale or warming up; drift; figures."""

    def __init__(self) -> None:
        super().__init__()
        self.dial = DialPlot()
        self.rate = LinePlot("dial", "MHz", "tuning", "kHz a turn")
        self.scale = LinePlot("dial", "MHz", "scale reads", "kHz off")
        self.warming = LinePlot("after switching on", "min", "drift", "Hz", role="vfo", room=56)
        self.looks = TwoWay(_LOOKS, "Dial and drift")
        self._stack = QStackedWidget()
        for plot in (self.rate, self.scale, self.warming):
            self._stack.addWidget(plot)
        self.looks.chosen.connect(self._stack.setCurrentIndex)
        self.looks.chosen.connect(self.again)
        self.drift = FigureTable(even=False)
        self.schematic = SchematicView()
        self.notes = Text("\n\n".join(tuning.GUIDANCE))
        self.notes.setWordWrap(True)
        self.notes.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.coil = FigureTable()
        self.core = CoreChooser(
            lambda bench: choose_vfo_core(bench.analysis),
            "Winds the coil on the core with which the dial drifts least once it is compensated",
        )
        coil = QWidget()
        beside = QVBoxLayout(coil)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.addWidget(self.coil, 1)
        beside.addWidget(self.core)
        self.circuit = TwoWay(("drift", "schematic", "notes", "coil"), "Parts")
        self._parts = QStackedWidget()
        for part in (self.drift, self.schematic, self.notes, coil):
            self._parts.addWidget(part)
        self.circuit.chosen.connect(self._choose_part)
        self.table = FigureTable()
        self.keep = _button(
            "Keep these parts",
            "Writes every part's present value as built, so that it stays when the rig is turned",
            self._keep,
        )
        self.anew = _button(
            "Solve anew", "Clears the as-built values, so that the parts are found again", self._anew
        )
        self.compensate = _button(
            "Compensate",
            "Makes the part of the parallel capacitor that stills the drift of the chosen compensating kind",
            self._compensate,
        )
        self.reason = Text()
        self.reason.setWordWrap(True)
        self.card("Frequency against the knob", self.dial, 0, 0)
        self._look_card = self.card("On the band", self._stack, 0, 1, corner=self.looks)
        self._drift_card = self.card("Drift", self._parts, 1, 0, corner=self.circuit)
        self.card("Figures", self._with_buttons(), 1, 1)

    def _with_buttons(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.reason)
        row = QHBoxLayout()
        for button in (self.keep, self.anew, self.compensate):
            row.addWidget(button)
        row.addStretch(1)
        column.addLayout(row)
        return made

    def picture_of(self, bench: Workbench) -> VfoPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look, beside=self.looks.place)

    def draw(self, picture: VfoPicture) -> None:
        self.dial.show_picture(picture.dial)
        (self.rate, self.scale, self.warming)[self.looks.place].show_picture(picture.beside)
        self._look_card.entitle(f"On {picture.band}")
        self._name_parts(picture)
        self.drift.show_told(picture.drift)
        self.schematic.show_circuit(picture.tank)
        self.coil.show_told(picture.coil)
        if self._bench is not None:
            self.core.show_for(self._bench, "vfo", picture.core)
        self.table.show_told(picture.figures)
        self.reason.setText(picture.limits)
        self.reason.setVisible(bool(picture.limits))
        self.anew.setEnabled(picture.fitted)

    def _name_parts(self, picture: VfoPicture) -> None:
        if self.circuit.place:
            self._drift_card.entitle(("", "Circuit", "What keeps it steady", "Coil")[self.circuit.place])
        elif picture.drift_at:
            self._drift_card.entitle(f"Drift at {picture.drift_at} on {picture.band}")

    def _choose_part(self, place: int) -> None:
        self._parts.setCurrentIndex(place)
        if self.shown_picture is not None:
            self._name_parts(self.shown_picture)

    # -- what the builder does -----------------------------------------------------------------------

    def _change(self, change: Callable[[TankDesign], Tank], label: str) -> None:
        bench = self._bench
        made = None if bench is None else bench.analysis.tank
        if bench is not None and isinstance(made, TankDesign):
            tank = change(made)
            bench.change(lambda project: project.edited(("vfo", "tank"), tank), label=label)

    def _keep(self) -> None:
        self._change(tuning.kept, "keeping the VFO's parts")

    def _anew(self) -> None:
        self._change(lambda made: tuning.anew(made.tank), "solving the VFO anew")

    def _compensate(self) -> None:
        bench = self._bench
        made = None if bench is None else bench.analysis.tank
        if bench is None or not isinstance(made, TankDesign):
            return
        found = tuning.compensation_of(made)
        if isinstance(found, Unsolved):
            self.reason.setText(found.reason)
            self.reason.setVisible(True)
            return
        self._change(lambda m: tuning.stilled(m, found), "compensating the VFO")


def _button(text: str, help: str, act: Callable[[], None]) -> QPushButton:
    made = QPushButton(text)
    made.setToolTip(f"{help}; one undo takes it back")
    made.clicked.connect(act)
    return made
