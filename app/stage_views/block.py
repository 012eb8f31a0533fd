"""Amplifiers, mixers and pads: one table of figures."""

from app.pictures.stages.block import BlockPicture, picture_of
from app.stage_views.base import StageView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved


class BlockView(StageView[BlockPicture]):
    """One card: the figures."""

    def __init__(self) -> None:
        super().__init__()
        self.table = FigureTable()
        self._card = self.card("Figures", self.table, 0, 0)

    def picture_of(self, bench: Workbench) -> BlockPicture | Unsolved:
        return picture_of(bench.analysis, bench.look)

    def draw(self, picture: BlockPicture) -> None:
        self._card.entitle(picture.title)
        self.table.show_rows(("figure", "value"), picture.rows)
