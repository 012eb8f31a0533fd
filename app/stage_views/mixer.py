"""A mixer: what it does over its drive, its figures, the products it makes, levels, its circuit."""

from app.pictures.stages.mixer import DOWN_ROLES, ROLES, MixerPicture, picture_of
from app.plots.drive import DrivePlot
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.measured_view import MeasuredView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved

#: Height of the schematic at least, and what that is beyond an ordinary card's, pixels.
_DRAWING, _BEYOND = 300, 110


class MixerView(MeasuredView[MixerPicture]):
    """Figures over the drive, figures at the drive it gets, what is held down over the drive, products,
    levels; of one that is made of parts its schematic and how its transformers are wound.
    """

    def __init__(self) -> None:
        super().__init__("mixer, over the frequency that it takes in", 5)
        self.plot, self.table = DrivePlot(ROLES, "figures", "dB, dBm"), FigureTable()
        self.down = DrivePlot(DOWN_ROLES, "held down", "dB")
        self.products, self.levels = FigureTable(), FigureTable()
        self._drive_card = self.card("Over the drive", self.plot, 0, 0)
        self._figures_card = self.card("Figures", self.table, 0, 1, corner=self.read)
        self._down_card = self.card("Held down over the drive", self.down, 1, 0)
        self._products_card = self.card("Products below the wanted one", self.products, 1, 1)
        self._levels_card = self.card("Levels", self.levels, 2, 0, columns=2)
        self.schematic, self.coils = SchematicView(), FigureTable()
        self.schematic.setMinimumHeight(_DRAWING)
        self._circuit_card = self.card(
            "Schematic: the circuit that was solved", self.schematic, 3, 0, columns=2
        )
        self._coils_card = self.card("Transformers", self.coils, 4, 0, columns=2)

    @property
    def least_height(self) -> int:
        return super().least_height + (0 if self._circuit_card in self._away else _BEYOND)

    def picture_of(self, bench: Workbench) -> MixerPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look)

    def draw(self, picture: MixerPicture) -> None:
        self._drive_card.entitle(f"{picture.name}: over its drive")
        self._figures_card.entitle(f"{picture.name} at the drive it gets")
        self.plot.show_picture(picture.drive)
        self.table.show_told(picture.table)
        self._down_card.entitle(f"{picture.name}: held down, oscillator × signal")
        self.down.show_picture(picture.down)
        self._products_card.entitle(f"{picture.name}: products below the wanted one")
        self.products.show_told(picture.products)
        self._levels_card.entitle(picture.levels_title)
        self.levels.show_told(picture.levels)
        self.show_card(self._circuit_card, picture.made is not None)
        self.show_card(self._coils_card, picture.coils is not None)
        if picture.made is not None:
            self.schematic.show_circuit(picture.made.drawing)
        if picture.coils is not None:
            self._coils_card.entitle(f"{picture.name}: transformers, a winding each")
            self.coils.show_told(picture.coils)
