"""Band-pass and low-pass: the filter of the band looked at, with image, IF, VFO and harmonics marked."""

from collections.abc import Sequence

import numpy as np

from app import palette, words
from app.figure_table import FigureTable
from app.plots.response import Mark, ResponsePlot
from app.schematic_view import SchematicView
from app.stage_views.base import POINTS, StageView, held_design, reason_of
from app.stage_views.response import draw_response, hertz, widths
from app.workbench import Workbench
from core.model.filters import BandPass, LowPass
from core.model.notation import format_value
from core.rig.frequency_plan import BandPlan
from core.stages.outcome import Unsolved


class FrontFilterView(StageView):
    """Four cards: near, wide, what is kept out, schematic."""

    def __init__(self) -> None:
        super().__init__()
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.table = FigureTable()
        self.schematic = SchematicView()
        self._close_card = self.card("Around the pass-band", self.near, 0, 0)
        self._wide_card = self.card("Response", self.wide, 0, 1)
        self._table_card = self.card("Figures", self.table, 1, 0)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def refresh(self, bench: Workbench) -> str:
        analysis, band, stage = bench.analysis, bench.band_name, bench.selected_stage
        assert isinstance(stage, BandPass | LowPass)  # what this view is chosen for
        design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
        if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
            return reason_of(design, figures)
        held = held_design(bench, stage.id)
        plan = analysis.band_plan(band)
        if self.is_shown(stage.id, design, figures, held, plan, analysis.harmonics(band), palette.theme()):
            return ""
        name = f"{stage.name}, {words.band(band)}"
        self._close_card.entitle(f"{name}: around the pass-band")
        self._wide_card.entitle(f"{name}: image, IF, VFO and harmonics")
        dial = Mark(plan.dial_low_hz / 1e6, plan.dial_high_hz / 1e6, "dial", "dial", 9)
        others = _others(plan)
        if isinstance(stage, BandPass):
            close = np.linspace(*design.span_hz, POINTS)
            wide = np.linspace(0.2e6, 60e6, POINTS)
            notes: Sequence[str] = widths(figures)
        else:
            close = np.linspace(design.span_hz[0], 1.6 * plan.dial_high_hz, POINTS)
            wide = np.linspace(0.2e6, 5.3 * plan.dial_high_hz, POINTS)
            notes = (
                () if figures.bandwidth_3db_hz is None else (f"−3 dB at {hertz(figures.bandwidth_3db_hz)}",)
            )
        depth = 50.0 if isinstance(stage, BandPass) else 40.0
        draw_response(self.near, design, held, close, depth, (stage.id, band, "close"), [dial], notes)
        draw_response(self.wide, design, held, wide, 110.0, (stage.id, band, "wide"), [dial, *others])
        self._rejections(bench, stage, others)
        self.schematic.show_circuit(design.network)
        return ""

    def _rejections(self, bench: Workbench, stage: BandPass | LowPass, others: Sequence[Mark]) -> None:
        if isinstance(stage, LowPass):
            rows = [
                (
                    str(h.number),
                    format_value(h.frequency_hz, "Hz", 3),
                    f"{h.filter_db:.1f} dB",
                    f"{h.result_dbc:.0f} dBc".replace("-", "−"),
                    f"{h.margin_db:+.0f} dB".replace("-", "−"),
                )
                for h in bench.analysis.harmonics(bench.band_name)
            ]
            if rows:
                self._table_card.entitle("Harmonics: the power amplifier's assumed level through this filter")
                self.table.show_rows(("harmonic", "at", "filter", "leaves", "in hand"), rows)
                return
        self._table_card.entitle("What the filter keeps out, against its loss on the dial")
        dial = np.array([bench.dial_hz])
        response = bench.analysis.filter_response(
            stage.id, bench.band_name, np.append([m.low * 1e6 for m in others], dial)
        )
        if isinstance(response, Unsolved):
            return
        own = float(response.loss_db[-1])
        kept_out = [
            (mark.text, hertz(mark.low * 1e6), f"{float(loss) - own:.1f} dB")
            for mark, loss in zip(others, response.loss_db, strict=False)
        ]
        self.table.show_rows(
            ("signal", "at", "rejected by"), [("dial", hertz(bench.dial_hz), f"{own:.2f} dB loss"), *kept_out]
        )


def _others(plan: BandPlan) -> list[Mark]:
    marks = [
        Mark(plan.image_low_hz / 1e6, plan.image_high_hz / 1e6, "image", "image", 8),
        Mark(plan.carrier_hz / 1e6, plan.carrier_hz / 1e6, "IF", "intermediate", 7),
    ]
    for number, name in ((1, "VFO"), (2, "2 VFO"), (3, "3 VFO")):
        low, high = number * plan.vfo_low_hz, number * plan.vfo_high_hz
        if low > 0:
            marks.append(Mark(low / 1e6, high / 1e6, name, "vfo", 7 - number))
    for number in (2, 3):
        marks.append(
            Mark(
                number * plan.dial_low_hz / 1e6,
                number * plan.dial_high_hz / 1e6,
                f"harmonic {number}",
                "limit",
                6 - number,
            )
        )
    return marks
