"""An audio stage of parts: speech from end to end, figures, schematic, levels, limits, ear or microphone."""

from app.pictures.audio.stage import AudioPicture, picture_of
from app.pictures.response import notes_of
from app.plots.response import ResponsePlot
from app.stage_views.cards.schematic_view import SchematicView
from app.stage_views.measured_view import MeasuredView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved


class AudioView(MeasuredView[AudioPicture]):
    """What tones of speech pass with the stage where it is, its figures, schematic, levels, what limits its
    output, and what comes to the ear or from the microphone.
    """

    def __init__(self) -> None:
        super().__init__("stage", 3)
        self.speech, self.table = ResponsePlot("speech", "tone", "Hz"), FigureTable()
        self.schematic, self.levels = SchematicView(), FigureTable()
        self.limits, self.ends = FigureTable(), FigureTable()
        self._speech_card = self.card("Speech", self.speech, 0, 0, corner=self.read)
        self._figures_card = self.card("Figures", self.table, 0, 1)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 0)
        self._levels_card = self.card("Levels", self.levels, 1, 1)
        self._limits_card = self.card("Limits", self.limits, 2, 0)
        self._ends_card = self.card("Ends", self.ends, 2, 1)

    def picture_of(self, bench: Workbench) -> AudioPicture | Unsolved:
        return picture_of(bench.analysis, bench.held_analysis, bench.look)

    def draw(self, picture: AudioPicture) -> None:
        self._speech_card.entitle(picture.speech_title)
        self._speech_card.annotate(*notes_of(picture.speech))
        self.speech.show_picture(picture.speech)
        self._figures_card.entitle(f"{picture.name}: computed from its parts")
        self.table.show_told(picture.table)
        self.schematic.show_circuit(picture.drawing)
        self._levels_card.entitle(picture.levels_title)
        self.levels.show_told(picture.levels)
        self._limits_card.entitle(f"{picture.name}: what limits its output")
        self.limits.show_told(picture.limits)
        self._ends_card.entitle(picture.ends_title)
        self.ends.show_told(picture.ends)
