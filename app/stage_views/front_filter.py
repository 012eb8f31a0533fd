"""Band-pass and low-pass: the filter of the band looked at."""

from app.pictures.response import notes_of
from app.pictures.stages.front_filter import FrontPicture, picture_of
from app.plots.response import ResponsePlot
from app.stage_views.base import StageView
from app.stage_views.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.stages.outcome import Unsolved


class FrontFilterView(StageView[FrontPicture]):
    """Four cards: near, wide, what is kept out, schematic."""

    def __init__(self) -> None:
        super().__init__()
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.table = FigureTable()
        self.schematic = SchematicView()
        self.near_card = self.card("Around the pass-band", self.near, 0, 0)
        self._wide_card = self.card("Response", self.wide, 0, 1)
        self.told = TwoWay(("signals", "parts at full power"), "Table")
        self.told.chosen.connect(self.again)
        self._table_card = self.card("Figures", self.table, 1, 0, corner=self.told)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def picture_of(self, bench: Workbench) -> FrontPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look, parts=self.told.place == 1)

    def draw(self, picture: FrontPicture) -> None:
        self.near_card.entitle(f"{picture.name}: around the pass-band")
        self._wide_card.entitle(f"{picture.name}: image, IF, VFO and harmonics")
        self.near_card.annotate(*notes_of(picture.near))
        self._wide_card.annotate(*notes_of(picture.wide))
        self.near.show_picture(picture.near)
        self.wide.show_picture(picture.wide)
        self.told.setVisible(picture.stressed)
        self._table_card.entitle(picture.title)
        self.table.show_told(picture.table)
        self.schematic.show_circuit(picture.design.network)
