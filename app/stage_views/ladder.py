"""The ladder filter: its response wide and near, speech through it, its schematic and its figures."""

from dataclasses import dataclass

from PySide6.QtWidgets import QStackedWidget

from app import palette, words
from app.figure_table import FigureTable
from app.plots.response import DelayPlot, Mark, ResponsePlot
from app.schematic_view import SchematicView
from app.stage_views.base import StageView, held_design, reason_of
from app.stage_views.ladder_table import HEADS, ladder_rows
from app.stage_views.response import Picture, draw_response, widths
from app.stage_views.speech import Speech, draw_audio, draw_delay, speech_of
from app.two_way import TwoWay
from app.workbench import Workbench
from core.model.filters import LadderFilter
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.outcome import Unsolved


class LadderView(StageView):
    """Four cards: near, wide, speech or its group delay, schematic or figures.

    What the choices hide is neither computed nor painted, so that turning the IF stays fluent.
    """

    def __init__(self) -> None:
        super().__init__()
        self._bench: Workbench | None = None
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.delay = DelayPlot()
        self.heard = TwoWay(("audio", "group delay"), "Speech")
        self._speech = _stack(self.audio, self.delay)
        self.schematic = SchematicView()
        self.table = FigureTable(wrapped=True)
        self.circuit = TwoWay(("schematic", "figures"), "Circuit")
        self._circuit = _stack(self.schematic, self.table)
        self.card("Around the pass-band", self.near, 0, 0)
        self._wide_card = self.card("Response, wide", self.wide, 0, 1)
        self._audio_card = self.card("Audio as heard", self._speech, 1, 0, corner=self.heard)
        self._circuit_card = self.card(
            "The circuit that was solved", self._circuit, 1, 1, corner=self.circuit
        )
        for choice, stack in ((self.heard, self._speech), (self.circuit, self._circuit)):
            choice.chosen.connect(stack.setCurrentIndex)
            choice.chosen.connect(self._again)

    def _again(self) -> None:
        if self._bench is not None:
            self.refresh(self._bench)

    def refresh(self, bench: Workbench) -> str:
        self._bench = bench
        picture = picture_of(bench, with_figures=self.circuit.place == 1)
        if isinstance(picture, Unsolved):
            return picture.reason
        if self.is_shown(picture, self.heard.place, palette.theme()):
            return ""
        self._wide_card.entitle(f"{picture.name}: response, wide")
        draw_response(self.near, picture.near)
        draw_response(self.wide, picture.wide)
        if self.heard.place == 0:
            self._audio_card.entitle(picture.speech.audio_title)
            draw_audio(self.audio, picture.speech)
        else:
            self._audio_card.entitle(picture.speech.delay_title)
            draw_delay(self.delay, picture.speech)
        if picture.figures is None:
            self._circuit_card.entitle("Schematic")
            self.schematic.show_circuit(picture.near.design.network)
        else:
            self._circuit_card.entitle("Figures")
            self.table.show_rows(HEADS, picture.figures)
        return ""


@dataclass(frozen=True, slots=True)
class LadderPicture:
    """Everything the view shows of a ladder; `figures` only when they are looked at."""

    name: str
    near: Picture
    wide: Picture
    speech: Speech
    figures: tuple[tuple[str, str], ...] | None


def picture_of(bench: Workbench, *, with_figures: bool) -> LadderPicture | Unsolved:
    """What there is to show of the selected ladder on the band looked at, or why there is nothing."""
    analysis, band, stage = bench.analysis, bench.band_name, bench.selected_stage
    assert isinstance(stage, LadderFilter)  # what this view is chosen for
    design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
    if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
        return Unsolved(reason_of(design, figures))
    held = held_design(bench, stage.id)
    places = {b.name: analysis.carrier(b.name) for b in bench.current.bands}
    marks = tuple(
        Mark(
            place.frequency_hz / 1e6,
            place.frequency_hz / 1e6,
            f"carrier {', '.join(words.band(n) for n in names)}\n−{place.suppression_db:.0f} dB",
            "carrier",
            5,
        )
        for place, names in _grouped(places)
    )
    low, high = design.span_hz
    width = high - low
    far = (max(low - 2.2 * width, low / 2), high + 2.2 * width)
    notes = tuple(widths(figures))
    rows = tuple(ladder_rows(analysis, stage, design, figures, places[band])) if with_figures else None
    return LadderPicture(
        stage.name,
        Picture(
            design=design,
            held=held,
            low_hz=low,
            high_hz=high,
            depth_db=70.0,
            key=(stage.id, "close"),
            marks=marks,
            notes=notes,
            return_loss=True,
        ),
        Picture(
            design=design,
            held=held,
            low_hz=far[0],
            high_hz=far[1],
            depth_db=120.0,
            key=(stage.id, "wide"),
            marks=marks,
        ),
        speech_of(bench, stage),
        rows,
    )


def _stack(*parts: ResponsePlot | DelayPlot | SchematicView | FigureTable) -> QStackedWidget:
    stack = QStackedWidget()
    for part in parts:
        stack.addWidget(part)
    return stack


def _grouped(places: dict[str, CarrierPlace | Unsolved]) -> list[tuple[CarrierPlace, list[str]]]:
    """Bands that share a carrier, together."""
    groups: dict[CarrierPlace, list[str]] = {}
    for name, place in places.items():
        if not isinstance(place, Unsolved):
            groups.setdefault(place, []).append(name)
    return list(groups.items())
