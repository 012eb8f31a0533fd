"""The ladder filter: its response wide and near, speech through it, its schematic and its figures."""

import numpy as np
from PySide6.QtWidgets import QStackedWidget

from app import palette, words
from app.figure_table import FigureTable
from app.plots.response import DelayPlot, Mark, ResponsePlot
from app.schematic_view import SchematicView
from app.stage_views.base import POINTS, StageView, held_design, reason_of
from app.stage_views.ladder_table import HEADS, ladder_rows
from app.stage_views.response import draw_response, widths
from app.stage_views.speech import draw_audio, draw_delay
from app.two_way import TwoWay
from app.workbench import Workbench
from core.model.filters import LadderFilter
from core.rig.analysis import Analysis
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved


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
        analysis, band, stage = bench.analysis, bench.band_name, bench.selected_stage
        assert isinstance(stage, LadderFilter)  # what this view is chosen for
        design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
        if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
            return reason_of(design, figures)
        held = held_design(bench, stage.id)
        places = {b.name: analysis.carrier(b.name) for b in bench.current.bands}
        looks = (self.heard.place, self.circuit.place, palette.theme())
        if self.is_shown(design, figures, held, tuple(places.values()), band, *looks):
            return ""
        self._wide_card.entitle(f"{stage.name}: response, wide")
        marks = [
            Mark(
                place.frequency_hz / 1e6,
                place.frequency_hz / 1e6,
                f"carrier {', '.join(words.band(n) for n in names)}\n−{place.suppression_db:.0f} dB",
                "carrier",
                5,
            )
            for place, names in _grouped(places)
        ]
        low, high = design.span_hz
        width = high - low
        close = np.linspace(low, high, POINTS)
        wide = np.linspace(max(low - 2.2 * width, low / 2), high + 2.2 * width, POINTS)
        near = (stage.id, "close")
        draw_response(self.near, design, held, close, 70.0, near, marks, widths(figures), return_loss=True)
        draw_response(self.wide, design, held, wide, 120.0, (stage.id, "wide"), marks)
        spoken = words.band(band)
        if self.heard.place == 0:
            self._audio_card.entitle(f"Audio as heard on {spoken}")
            draw_audio(self.audio, bench, stage)
        else:
            self._audio_card.entitle(f"Group delay on {spoken}")
            draw_delay(self.delay, bench, stage)
        self._show_circuit(analysis, stage, design, figures, places[band])
        return ""

    def _show_circuit(
        self,
        analysis: Analysis,
        stage: LadderFilter,
        design: FilterDesign,
        figures: FilterFigures,
        place: CarrierPlace | Unsolved,
    ) -> None:
        if self.circuit.place == 0:
            self._circuit_card.entitle("Schematic")
            self.schematic.show_circuit(design.network)
            return
        self._circuit_card.entitle("Figures")
        self.table.show_rows(HEADS, ladder_rows(analysis, stage, design, figures, place))


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
