"""The ladder filter: its response wide and near, speech through it, its schematic and its figures."""

from PySide6.QtWidgets import QStackedWidget

from app.pictures.response import notes_of
from app.pictures.stages.ladder import LadderPicture, picture_of
from app.plots.response import DelayPlot, ResponsePlot
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.filter_view import FilterView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.stages.outcome import Unsolved


class LadderView(FilterView[LadderPicture]):
    """Four cards: near, wide, speech or its group delay, schematic or figures.

    What the choices hide is neither computed nor painted, so that turning the IF stays fluent.
    """

    def __init__(self) -> None:
        super().__init__()
        self._wide_card = self.card("Response, wide", self.wide, 0, 1)
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.delay = DelayPlot()
        self.heard = TwoWay(("audio", "group delay"), "Speech")
        self._speech = _stack(self.audio, self.delay)
        self.schematic = SchematicView()
        self.table = FigureTable()
        self.circuit = TwoWay(("schematic", "figures"), "Circuit")
        self._circuit = _stack(self.schematic, self.table)
        self.audio_card = self.card("Audio as heard", self._speech, 1, 0, corner=self.heard)
        self._circuit_card = self.card(
            "The circuit that was solved", self._circuit, 1, 1, corner=self.circuit
        )
        for choice, stack in ((self.heard, self._speech), (self.circuit, self._circuit)):
            choice.chosen.connect(stack.setCurrentIndex)
            choice.chosen.connect(self.again)

    def picture_of(self, bench: Workbench) -> LadderPicture | Unsolved:
        return picture_of(
            bench.analysis,
            bench.held_analysis,
            bench.look,
            delay=self.heard.place == 1,
            figures=self.circuit.place == 1,
        )

    def draw(self, picture: LadderPicture) -> None:
        self._wide_card.entitle(f"{picture.name}: response, wide")
        self.near_card.annotate(*notes_of(picture.near))
        self._wide_card.annotate(*notes_of(picture.wide))
        self.near.show_picture(picture.near)
        self.wide.show_picture(picture.wide)
        if picture.audio is not None:
            self.audio_card.entitle(f"Audio as heard on {picture.band}")
            self.audio_card.annotate(*notes_of(picture.audio))
            self.audio.show_picture(picture.audio)
        if picture.delay is not None:
            self.audio_card.entitle(f"Group delay on {picture.band}")
            self.audio_card.annotate("")
            self.delay.show_picture(picture.delay)
        if picture.figures is None:
            self._circuit_card.entitle("Schematic")
            self.schematic.show_circuit(picture.design.network, picture.crystals)
        else:
            self._circuit_card.entitle("Figures")
            self.table.show_told(picture.figures)


def _stack(*parts: ResponsePlot | DelayPlot | SchematicView | FigureTable) -> QStackedWidget:
    stack = QStackedWidget()
    for part in parts:
        stack.addWidget(part)
    return stack
