"""Band-pass and low-pass: the filter of the band looked at."""

from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from app.pictures.response import notes_of
from app.pictures.stages.front_filter import TELLS, FrontPicture, picture_of
from app.plots.response import WidthsPlot
from app.stage_views.cards.core_chooser import CoreChooser
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.filter_view import FilterView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.rig.wound.core_choice import CoreChoice, choose_core
from core.stages.outcome import Unsolved

_STRESS = TELLS.index("parts at full power")


class FrontFilterView(FilterView[FrontPicture]):
    """Four cards: near, wide, a table of what is kept out or of the parts, schematic."""

    def __init__(self) -> None:
        super().__init__()
        self.table = FigureTable()
        self.schematic = SchematicView()
        self.widths = WidthsPlot()
        self._wides = QStackedWidget()
        for plot in (self.wide, self.widths):
            self._wides.addWidget(plot)
        self.seen = TwoWay(("response", "loss over width"), "Response")
        self.seen.chosen.connect(self.again)
        self._wide_card = self.card("Response", self._wides, 0, 1, corner=self.seen)
        self.told = TwoWay(TELLS, "Table")
        self.told.chosen.connect(self.again)
        self.choose = CoreChooser(
            _core_of,
            "Winds the coils on the smallest core of the table with which this filter loses hardly more than "
            "with the best",
        )
        self._table_card = self.card("Figures", self._with_choice(), 1, 0, corner=self.told)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def _with_choice(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.choose)
        return made

    def picture_of(self, bench: Workbench) -> FrontPicture | Unsolved:
        return picture_of(
            bench.analysis,
            bench.held_analysis,
            bench.look,
            tells=TELLS[self.told.place],
            widths=self.seen.place == 1,
        )

    def draw(self, picture: FrontPicture) -> None:
        self.near_card.entitle(f"{picture.name}: around the pass-band")
        self.near_card.annotate(*notes_of(picture.near))
        self._wide_card.annotate(*notes_of(picture.wide))
        self._show_widths(picture)
        self.near.show_picture(picture.near)
        self.wide.show_picture(picture.wide)
        self.told.buttons[_STRESS].setVisible(picture.stressed)
        self._table_card.entitle(picture.title)
        self.table.show_told(picture.table)
        self.choose.setVisible(picture.tells == "coils")
        if self._bench is not None:
            self.choose.show_for(self._bench, picture.name, picture.core)
        self.schematic.show_circuit(picture.design.network)

    def _show_widths(self, picture: FrontPicture) -> None:
        self.seen.setVisible(picture.resonant)
        self._wides.setCurrentWidget(self.wide if picture.widths is None else self.widths)
        if picture.widths is None:
            self._wide_card.entitle(f"{picture.name}: image, IF, VFO and harmonics")
        else:
            self._wide_card.entitle(f"{picture.name}: what width and Q cost, an estimate")
            self._wide_card.annotate(picture.widths.note)
            self.widths.show_picture(picture.widths)


def _core_of(bench: Workbench) -> CoreChoice | Unsolved:
    if bench.look.stage is None:
        return Unsolved("No filter is selected; select one first.")
    return choose_core(bench.analysis, bench.look.stage, bench.band_name)
