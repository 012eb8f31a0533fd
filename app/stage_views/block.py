"""Amplifiers, mixers, pads and what has no view of its own: figures, and a schematic if there is one."""

from app.pictures.stages.block import BlockPicture, picture_of
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.measured_view import MeasuredView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved


class BlockView(MeasuredView[BlockPicture]):
    """The figures, and below them the circuit of a stage that has one."""

    def __init__(self) -> None:
        super().__init__("stage", 2)
        self.table = FigureTable()
        self.schematic = SchematicView()
        self._card = self.card("Figures", self.table, 0, 0, corner=self.read)
        self._circuit_card = self.card("Schematic: the circuit that was solved", self.schematic, 1, 0)

    def picture_of(self, bench: Workbench) -> BlockPicture | Unsolved:
        return picture_of(bench.analysis, bench.look)

    def draw(self, picture: BlockPicture) -> None:
        self._card.entitle(picture.title)
        self.table.show_told(picture.table)
        self.show_card(self._circuit_card, picture.design is not None)
        if picture.design is not None:
            self.schematic.show_circuit(picture.design.drawing)
