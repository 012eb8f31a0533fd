"""Amplifiers, mixers, pads and what has no view of its own: figures, and a schematic if there is one."""

from app.pictures.stages.block import BlockPicture, picture_of
from app.stage_views.base import StageView
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved


class BlockView(StageView[BlockPicture]):
    """The figures, and below them the circuit of a stage that has one."""

    def __init__(self) -> None:
        super().__init__()
        self.table = FigureTable()
        self.schematic = SchematicView()
        self._card = self.card("Figures", self.table, 0, 0)
        self._circuit_card = self.card("Schematic: the circuit that was solved", self.schematic, 1, 0)

    def picture_of(self, bench: Workbench) -> BlockPicture | Unsolved:
        return picture_of(bench.analysis, bench.look)

    def draw(self, picture: BlockPicture) -> None:
        self._card.entitle(picture.title)
        self.table.show_told(picture.table)
        self._circuit_card.setVisible(picture.design is not None)
        # A hidden card would keep its share of the height.
        self.grid.setRowStretch(1, 0 if picture.design is None else 1)
        if picture.design is not None:
            self.schematic.show_circuit(picture.design.drawing)
