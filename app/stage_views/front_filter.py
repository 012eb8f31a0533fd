"""Band-pass and low-pass: the filter of the band looked at, with image, IF, VFO and harmonics marked."""

from collections.abc import Sequence
from dataclasses import dataclass

from app import palette, words
from app.figure_table import FigureTable
from app.plots.response import Mark, ResponsePlot
from app.schematic_view import SchematicView
from app.stage_views.base import StageView, held_design, reason_of
from app.stage_views.response import Picture, draw_response, hertz, widths
from app.two_way import TwoWay
from app.workbench import Workbench
from core.model.filters import BandPass, LowPass
from core.model.notation import format_value, signed
from core.rig.frequency_plan import BandPlan
from core.rig.levels import Harmonic
from core.rig.rejections import Rejection
from core.stages.low_pass import PartStress
from core.stages.outcome import FilterFigures, Unsolved


class FrontFilterView(StageView):
    """Four cards: near, wide, what is kept out, schematic."""

    def __init__(self) -> None:
        super().__init__()
        self._bench: Workbench | None = None
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.table = FigureTable()
        self.schematic = SchematicView()
        self._close_card = self.card("Around the pass-band", self.near, 0, 0)
        self._wide_card = self.card("Response", self.wide, 0, 1)
        self.told = TwoWay(("signals", "parts at full power"), "Table")
        self.told.chosen.connect(self._again)
        self._table_card = self.card("Figures", self.table, 1, 0, corner=self.told)
        self.card("Schematic: the circuit that was solved", self.schematic, 1, 1)

    def _again(self) -> None:
        if self._bench is not None:
            self.refresh(self._bench)

    def refresh(self, bench: Workbench) -> str:
        self._bench = bench
        picture = picture_of(bench, parts=self.told.place == 1)
        if isinstance(picture, Unsolved):
            return picture.reason
        if self.is_shown(picture, palette.theme()):
            return ""
        self._close_card.entitle(f"{picture.name}: around the pass-band")
        self._wide_card.entitle(f"{picture.name}: image, IF, VFO and harmonics")
        draw_response(self.near, picture.near)
        draw_response(self.wide, picture.wide)
        self.told.setVisible(picture.stressed)
        self._table_card.entitle(picture.table.title)
        self.table.show_rows(picture.table.heads, picture.table.rows)
        self.schematic.show_circuit(picture.near.design.network)
        return ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of texts under its title."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class FrontPicture:
    """Everything the view shows of a filter on a band; `stressed`: its parts see the transmitter's power."""

    name: str
    near: Picture
    wide: Picture
    stressed: bool
    table: Table


def picture_of(bench: Workbench, *, parts: bool) -> FrontPicture | Unsolved:
    """What there is to show of the selected filter on the band looked at, or why there is nothing."""
    analysis, band, stage = bench.analysis, bench.band_name, bench.selected_stage
    assert isinstance(stage, BandPass | LowPass)  # what this view is chosen for
    design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
    if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
        return Unsolved(reason_of(design, figures))
    held, plan = held_design(bench, stage.id), analysis.band_plan(band)
    dial = Mark(plan.dial_low_hz / 1e6, plan.dial_high_hz / 1e6, "dial", "dial", 9)
    (low, high), top = design.span_hz, 60e6
    depth, notes = 50.0, tuple(widths(figures))
    if isinstance(stage, LowPass):
        high, top, depth = 1.6 * plan.dial_high_hz, 5.3 * plan.dial_high_hz, 40.0
        notes = _low_pass_notes(figures)
    near_key, wide_key = (stage.id, band, "close"), (stage.id, band, "wide")
    stress = analysis.filter_stress(stage.id, band)
    return FrontPicture(
        f"{stage.name}, {words.band(band)}",
        Picture(
            design=design,
            held=held,
            low_hz=low,
            high_hz=high,
            depth_db=depth,
            key=near_key,
            marks=(dial,),
            notes=notes,
            return_loss=True,
        ),
        Picture(
            design=design,
            held=held,
            low_hz=0.2e6,
            high_hz=top,
            depth_db=110.0,
            key=wide_key,
            marks=(dial, *_others(plan)),
        ),
        bool(stress),
        _table(bench, stage, stress if parts else ()),
    )


def _table(bench: Workbench, stage: BandPass | LowPass, stress: Sequence[PartStress]) -> Table:
    analysis, band = bench.analysis, bench.band_name
    if stress:
        power = format_value(analysis.full_power_w, "W", 3)
        return Table(
            f"What the parts see with {power} into a matched antenna",
            ("part", "peak volts", "rms amperes", "lost in it"),
            tuple(_stress_rows(stress)),
        )
    harmonics = analysis.harmonics(band) if isinstance(stage, LowPass) else ()
    if harmonics:
        return Table(
            "Harmonics: the power amplifier's assumed level, all filters behind it",
            ("harmonic", "at", "filter", "leaves", "in hand"),
            tuple(_harmonic_row(each) for each in harmonics),
        )
    return Table(
        "What the filter keeps out, against its loss on the dial",
        ("signal", "at", "rejected by", "least on the band"),
        tuple(_rejection_row(each) for each in analysis.rejections(stage.id, band, bench.dial_hz)),
    )


def _low_pass_notes(figures: FilterFigures) -> tuple[str, ...]:
    notes = []
    if figures.bandwidth_3db_hz is not None:
        notes.append(f"−3 dB at {hertz(figures.bandwidth_3db_hz)}")
    if figures.served_loss_db is not None:
        notes.append(f"loss on the band  {figures.served_loss_db:.2f} dB")
    return (*notes, f"return loss on the band  {figures.return_loss_db:.1f} dB or better")


def _stress_rows(stress: Sequence[PartStress]) -> list[tuple[str, ...]]:
    return [
        (
            each.ref,
            format_value(each.peak_v, "V", 3),
            format_value(each.rms_a, "A", 3),
            format_value(each.loss_w, "W", 2),
        )
        for each in sorted(stress, key=lambda each: each.ref)
    ]


def _harmonic_row(harmonic: Harmonic) -> tuple[str, ...]:
    return (
        str(harmonic.number),
        format_value(harmonic.frequency_hz, "Hz", 3),
        f"{harmonic.filter_db:.1f} dB",
        f"{harmonic.result_dbc:.1f} dBc".replace("-", "−"),
        signed(harmonic.margin_db, 1, "dB"),
    )


def _rejection_row(row: Rejection) -> tuple[str, ...]:
    least = f"{row.least_db:.1f} dB at {hertz(row.least_at_hz)}".replace("-", "−")
    return row.name, hertz(row.at_hz), f"{row.rejected_db:.1f} dB".replace("-", "−"), least


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
