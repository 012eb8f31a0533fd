"""Band-pass and low-pass: the filter of the band looked at."""

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from app.pictures.response import notes_of
from app.pictures.stages.front_filter import TELLS, FrontPicture, picture_of
from app.plots.response import WidthsPlot
from app.stage_views.filter_view import FilterView
from app.stage_views.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.figure_table import FigureTable
from app.widgets.two_way import TwoWay
from core.rig.wound.core_choice import choose_core
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
        self.choose = QPushButton("Choose the core")
        self.choose.setToolTip(
            "Winds the coils on the smallest core of the table with which this filter loses hardly more than "
            "with the best; one undo takes it back"
        )
        self.choose.clicked.connect(self._choose)
        self.why = Text()
        self.why.setWordWrap(True)
        #: What was said of a choice, and the filter and core that it is about.
        self._said: tuple[str, str, str] | None = None
        self._table_card = self.card("Figures", self._with_choice(), 1, 0, corner=self.told)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def _with_choice(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.why)
        row = QHBoxLayout()
        row.addWidget(self.choose)
        row.addStretch(1)
        column.addLayout(row)
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
        self._say(picture)
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

    def _say(self, picture: FrontPicture) -> None:
        about = self._said is not None and self._said[:2] == (picture.name, picture.core)
        shown = picture.tells == "coils" and about
        self.why.setText(self._said[2] if shown and self._said is not None else "")
        self.why.setVisible(shown)

    def _choose(self) -> None:
        bench, picture = self._bench, self.shown_picture
        if bench is None or picture is None or bench.look.stage is None:
            return
        found = choose_core(bench.analysis, bench.look.stage, bench.band_name)
        if isinstance(found, Unsolved):
            self._said = (picture.name, picture.core, found.reason)
        else:
            self._said = (picture.name, found.core, found.why)
            bench.change(found.edit.on, label=f"choosing {found.core} for the coils")
        self._say(self.picture)
