"""Band-pass and low-pass: the filter of the band looked at, with image, IF, VFO and harmonics marked."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.pictures.held import held_design, reason_of
from app.pictures.response import Mark, ResponsePicture, filter_picture, hertz, widths
from app.state.look import Look
from app.style import words
from core.model.values.notation import format_value, signed
from core.rig.analysis import Analysis
from core.rig.levels.levels import Harmonic
from core.rig.plan.frequency_plan import BandPlan
from core.rig.plan.rejections import Rejection
from core.stages.filters.low_pass import PartStress
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved


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
    design: FilterDesign
    near: ResponsePicture
    wide: ResponsePicture
    stressed: bool
    table: Table


def picture_of(
    analysis: Analysis, held: Analysis | None, look: Look, *, parts: bool
) -> FrontPicture | Unsolved:
    """What there is to show of the selected filter on the band looked at, or why there is nothing.

    `parts`: the table tells what its parts see at full power, where they see any.
    """
    band, stage = look.band, analysis.project.stage(str(look.stage))
    design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
    if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
        return Unsolved(reason_of(design, figures))
    was, plan = held_design(held, stage.id, look), analysis.band_plan(band)
    dial = Mark(plan.dial_low_hz / 1e6, plan.dial_high_hz / 1e6, "dial", "dial", 9)
    (low, high), top = design.span_hz, 60e6
    depth, notes = 50.0, tuple(widths(figures))
    if figures.centre_hz is None:
        high, top, depth = 1.6 * plan.dial_high_hz, 5.3 * plan.dial_high_hz, 40.0
        notes = _low_pass_notes(figures)
    near_key, wide_key = (stage.id, band, "close"), (stage.id, band, "wide")
    stress = analysis.filter_stress(stage.id, band)
    return FrontPicture(
        f"{stage.name}, {words.band(band)}",
        design,
        filter_picture(design, was, (low, high), depth, near_key, (dial,), notes, return_loss=True),
        filter_picture(design, was, (0.2e6, top), 110.0, wide_key, (dial, *_others(plan))),
        bool(stress),
        _table(analysis, look, stage.id, figures, stress if parts else ()),
    )


def _table(
    analysis: Analysis, look: Look, stage_id: str, figures: FilterFigures, stress: Sequence[PartStress]
) -> Table:
    band = look.band
    if stress:
        power = format_value(analysis.full_power_w, "W", 3)
        return Table(
            f"What the parts see with {power} into a matched antenna",
            ("part", "peak volts", "rms amperes", "lost in it"),
            tuple(_stress_rows(stress)),
        )
    harmonics = analysis.harmonics(band) if figures.centre_hz is None else ()
    if harmonics:
        return Table(
            "Harmonics: the power amplifier's assumed level, all filters behind it",
            ("harmonic", "at, MHz", "filter, dB", "leaves, dBc", "in hand, dB"),
            tuple(_harmonic_row(each) for each in harmonics),
        )
    return Table(
        "What the filter keeps out, against its loss on the dial",
        ("signal", "at, MHz", "rejected, dB", "least on the band"),
        tuple(_rejection_row(each) for each in analysis.rejections(stage_id, band, look.dial_hz)),
    )


def _low_pass_notes(figures: FilterFigures) -> tuple[str, ...]:
    notes = []
    if figures.bandwidth_3db_hz is not None:
        notes.append(f"−3 dB at {hertz(figures.bandwidth_3db_hz)}")
    if figures.served_loss_db is not None:
        notes.append(f"loss on the band {figures.served_loss_db:.2f} dB")
    return (*notes, f"return loss there {figures.return_loss_db:.1f} dB or better")


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
        f"{harmonic.frequency_hz / 1e6:.1f}",
        f"{harmonic.filter_db:.1f}".replace("-", "−"),
        f"{harmonic.result_dbc:.1f}".replace("-", "−"),
        signed(harmonic.margin_db, 1),
    )


def _rejection_row(row: Rejection) -> tuple[str, ...]:
    least = f"{row.least_db:.1f} dB at {hertz(row.least_at_hz)}".replace("-", "−")
    return row.name, f"{row.at_hz / 1e6:.4g}", f"{row.rejected_db:.1f}".replace("-", "−"), least


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
