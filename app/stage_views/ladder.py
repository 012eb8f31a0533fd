"""The ladder filter: its response wide and near, speech through it, and its schematic."""

import numpy as np

from app import palette, words
from app.plots.response import Mark, ResponsePlot
from app.schematic_view import SchematicView
from app.stage_views.base import POINTS, StageView, held_design, held_ladder, reason_of
from app.stage_views.response import draw_response, widths
from app.workbench import Workbench
from core.model.filters import LadderFilter
from core.stages import carrier_oscillator
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.outcome import Unsolved

_AUDIO_HZ = np.linspace(50.0, 4000.0, 396)


class LadderView(StageView):
    """Four cards: near, wide, speech, schematic."""

    def __init__(self) -> None:
        super().__init__()
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.schematic = SchematicView()
        self.card("Around the pass-band", self.near, 0, 0)
        self._wide_card = self.card("Response, wide", self.wide, 0, 1)
        self._audio_card = self.card("Audio as heard", self.audio, 1, 0)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def refresh(self, bench: Workbench) -> str:
        analysis, band, stage = bench.analysis, bench.band_name, bench.selected_stage
        assert isinstance(stage, LadderFilter)  # what this view is chosen for
        design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
        if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
            return reason_of(design, figures)
        held = held_design(bench, stage.id)
        places = {b.name: analysis.carrier(b.name) for b in bench.current.bands}
        if self.is_shown(design, figures, held, tuple(places.values()), band, palette.theme()):
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
        draw_response(self.near, design, held, close, 70.0, (stage.id, "close"), marks, widths(figures))
        draw_response(self.wide, design, held, wide, 120.0, (stage.id, "wide"), marks)
        self._audio(bench, stage, places[band])
        self.schematic.show_network(design.network)
        return ""

    def _audio(self, bench: Workbench, stage: LadderFilter, place: CarrierPlace | Unsolved) -> None:
        self._audio_card.entitle(f"Audio as heard on {words.band(bench.band_name)}, through the filter alone")
        if isinstance(place, Unsolved):
            self.audio.clear(place.reason)
            return
        loss = carrier_oscillator.audio_response(stage, bench.current.if_hz, place, _AUDIO_HZ)
        if isinstance(loss, Unsolved):
            self.audio.clear(loss.reason)
            return
        kept = None
        held, other = bench.held_analysis, held_ladder(bench)
        if held is not None and other is not None:
            there = held.carrier(bench.band_name)
            if not isinstance(there, Unsolved):
                then = carrier_oscillator.audio_response(other, held.project.if_hz, there, _AUDIO_HZ)
                kept = None if isinstance(then, Unsolved) else (_AUDIO_HZ, -then)
        notes = (f"other sideband at 1 kHz {place.unwanted_sideband_1khz_db:.0f} dB down",)
        self.audio.show_response(_AUDIO_HZ, -loss, depth_db=40.0, key="audio", held=kept, notes=notes)


def _grouped(places: dict[str, CarrierPlace | Unsolved]) -> list[tuple[CarrierPlace, list[str]]]:
    """Bands that share a carrier, together."""
    groups: dict[CarrierPlace, list[str]] = {}
    for name, place in places.items():
        if not isinstance(place, Unsolved):
            groups.setdefault(place, []).append(name)
    return list(groups.items())
