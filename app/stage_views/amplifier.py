"""Amplifiers of parts: gain, match, figures, levels, schematic; of a power amplifier load line and heat."""

from app.pictures.power import amplifier as power
from app.pictures.power.amplifier import PowerPicture
from app.pictures.stages.amplifier import AmplifierPicture, parts_of, picture_of
from app.plots.gain import EndsPlot, GainPlot, LoadLinePlot, PowerGainPlot, WarmingPlot
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.measured_view import MeasuredView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved

#: The card of a measured curve stands below the others.
_ROW = 4


class AmplifierView(MeasuredView[AmplifierPicture]):
    """Gain and match over frequency, figures with the transistors at rest, schematic, levels, what it does
    between the ends that really stand beside it, and, once the hand rests, the parts that matter.
    """

    def __init__(self) -> None:
        super().__init__("amplifier", _ROW)
        self.plot, self.table, self.schematic = GainPlot(), FigureTable(), SchematicView()
        self._gain_card = self.card("Gain and match", self.plot, 0, 0, corner=self.read)
        self._figures_card = self.card("Figures", self.table, 0, 1)
        self.levels = FigureTable()
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 0)
        self._levels_card = self.card("Levels", self.levels, 1, 1)
        self.ends, self.parts = EndsPlot(), FigureTable()
        self._ends_card = self.card("Ends", self.ends, 2, 0, columns=2)
        self._parts_card = self.card("Parts", self.parts, 3, 0, columns=2)

    def picture_of(self, bench: Workbench) -> AmplifierPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look)

    def draw(self, picture: AmplifierPicture) -> None:
        self._gain_card.entitle(f"{picture.name}: gain and match between equal resistances")
        self._figures_card.entitle(f"{picture.name}: computed from its parts")
        self.plot.show_picture(picture.gain)
        self.table.show_told(picture.table)
        self.schematic.show_circuit(picture.drawing)
        self._levels_card.entitle(picture.levels_title)
        self.levels.show_told(picture.levels)
        self._ends_card.entitle(f"{picture.name}: {picture.ends.title}")
        self.ends.show_picture(picture.ends)

    def settle(self) -> None:
        super().settle()
        bench = self._bench
        picture = None if bench is None or bench.look.stage is None else parts_of(bench.analysis, bench.look)
        if picture is not None:
            self._parts_card.entitle(picture.title)
            self._parts_card.annotate(picture.note, picture.tip)
            self.parts.show_told(picture.parts)


class PowerView(MeasuredView[PowerPicture]):
    """Nine cards, the plots on the left, and a measured curve below them."""

    def __init__(self) -> None:
        super().__init__("power amplifier", 5)
        self.gain, self.line, self.warming = PowerGainPlot(), LoadLinePlot(), WarmingPlot()
        self.table, self.bands, self.drivers = FigureTable(), FigureTable(), FigureTable()
        self.levels, self.exposure, self.schematic = FigureTable(), FigureTable(), SchematicView()
        self._gain_card = self.card("Gain over the bands", self.gain, 0, 0, corner=self.read)
        self._figures_card = self.card("Figures", self.table, 0, 1)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 0)
        self.card("Load line at full power", self.line, 1, 1)
        self.card("Temperature, two tones or a carrier without a pause: an estimate", self.warming, 2, 0)
        self._drivers_card = self.card("Drivers", self.drivers, 2, 1)
        self.card("On each band", self.bands, 3, 0, columns=2)
        self._levels_card = self.card("Levels", self.levels, 4, 0)
        self.card("Exposure, arithmetic only: local rules decide", self.exposure, 4, 1)

    def picture_of(self, bench: Workbench) -> PowerPicture | Unsolved:
        return power.picture_of(bench.analysis, bench.held_analysis, bench.look)

    def draw(self, picture: PowerPicture) -> None:
        self._gain_card.entitle(f"{picture.name}: gain over the bands")
        self._figures_card.entitle(f"{picture.name}: computed from its parts")
        self.gain.show_picture(picture.gain)
        self.table.show_told(picture.table)
        self.schematic.show_circuit(picture.drawing)
        self.line.show_picture(picture.line)
        self.warming.show_picture(picture.warming)
        self._drivers_card.entitle(picture.drivers_title)
        self.drivers.show_told(picture.drivers)
        self.bands.show_told(picture.bands)
        self._levels_card.entitle(picture.levels_title)
        self.levels.show_told(picture.levels)
        self.exposure.show_told(picture.exposure)
