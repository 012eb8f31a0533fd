"""Band-pass and low-pass: the filter of the band looked at, with image, IF, VFO and harmonics marked."""

from collections.abc import Sequence
from typing import Literal

from app.pictures.figures import Curve, Frame, Label
from app.pictures.held import held_design, reason_of
from app.pictures.response import Mark, ResponsePicture, filter_picture, noted
from app.pictures.response import widths as width_notes
from app.pictures.stages.coils import coils_of
from app.pictures.told import Told, in_columns, under_units
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.built.measured import curve_of
from core.rig.figures.figure import by_key, keyed
from core.rig.figures.filters import FILTER, STRESS, filter_on, stress_title
from core.rig.figures.products import HARMONICS, REJECTIONS
from core.rig.paper.curves import scattered_response
from core.rig.plan.frequency_plan import BandPlan
from core.stages.band_pass.widths import QUALITIES
from core.stages.filters.stress import PartStress
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved

Tells = Literal["signals", "parts at full power", "coils"]
#: What the table can tell of, in the order of the choice.
TELLS: tuple[Tells, ...] = ("signals", "parts at full power", "coils")


#: Losses beyond this are not drawn, dB.
_MOST_DB = 12.0


@record
class WidthsPicture:
    """Loss over bandwidth [dB, kHz], a curve for each Q, and where this filter stands."""

    curves: tuple[Curve, ...]
    here: tuple[float, float]
    labels: tuple[Label, ...]
    note: str
    frame: Frame


@record(kw_only=True)
class FrontPicture:
    """Everything the view shows of a filter on a band; `stressed`: its parts see the transmitter's power.

    `title` is that of the table, `tells` what it tells; `core` is what the coils are wound on, empty where
    none was chosen. `resonant`: it is a band-pass; `widths` is what width and Q cost one, where it is asked.
    """

    name: str
    design: FilterDesign
    near: ResponsePicture
    wide: ResponsePicture
    stressed: bool
    tells: Tells
    title: str
    table: Told
    core: str
    resonant: bool
    widths: WidthsPicture | None


def picture_of(
    analysis: Analysis, held: Analysis | None, look: Look, *, tells: Tells, widths: bool = False
) -> FrontPicture | Unsolved:
    """What there is to show of the selected filter on the band looked at, or why there is nothing.

    `tells` is what the table tells; of what parts see at full power only where they see any. `widths`: what
    width and Q cost is asked for.
    """
    band, stage = look.band, analysis.project.stage(str(look.stage))
    design, figures = analysis.filter_design(stage.id, band), analysis.filter_figures(stage.id, band)
    if isinstance(design, Unsolved) or isinstance(figures, Unsolved):
        return Unsolved(reason_of(design, figures))
    of = filter_on(analysis, stage.id, band)
    assert of is not None  # it has a design
    was, plan = held_design(held, stage.id, look), analysis.band_plan(band)
    dial = Mark(plan.dial_low_hz / 1e6, plan.dial_high_hz / 1e6, "dial", "dial", 9)
    (low, high), top = design.span_hz, 60e6
    depth, notes = 50.0, tuple(width_notes(of))
    if figures.centre_hz is None:
        high, top, depth = 1.6 * plan.dial_high_hz, 5.3 * plan.dial_high_hz, 40.0
        notes = tuple(noted(figure, of) for figure in _LOW_PASS if figure.get(of) is not None)
    near_key, wide_key = (stage.id, band, "close"), (stage.id, band, "wide")
    stress = analysis.filter_stress(stage.id, band)
    curve = curve_of(analysis, stage.id, band)
    core = design.wound[0][1].on if design.wound else ""
    if tells == "coils":
        title = f"Coils, wound on {core}" if core else "Coils"
        table = coils_of(analysis, of)
    else:
        asked = stress if tells == "parts at full power" else ()
        title, table = _table(analysis, look, stage.id, figures, asked)
    return FrontPicture(
        name=f"{stage.name}, {words.band(band)}",
        design=design,
        near=filter_picture(
            design,
            was,
            (low, high),
            depth,
            near_key,
            (dial,),
            notes,
            return_loss=True,
            scattered=scattered_response(analysis, stage.id, band, low, high),
            measured=curve,
        ),
        wide=filter_picture(
            design,
            was,
            (0.2e6, top),
            110.0,
            wide_key,
            (dial, *_others(plan)),
            scattered=scattered_response(analysis, stage.id, band, 0.2e6, top),
            measured=curve,
        ),
        stressed=bool(stress),
        tells=tells,
        title=title,
        table=table,
        core=core,
        resonant=figures.centre_hz is not None,
        widths=_widths(analysis, stage.id, band) if widths else None,
    )


def _widths(analysis: Analysis, stage_id: str, band: str) -> WidthsPicture | None:
    found = analysis.loss_over_width(stage_id, band)
    if found is None or isinstance(found, Unsolved):
        return None
    x = found.width_hz / 1e3
    curves = tuple(Curve(x, loss) for loss in found.loss_db)
    here = (found.here_hz / 1e3, found.here_db)
    labels = (
        Label(*here, f"this filter, Q {round(found.here_q)}", "curve", side="above_right", importance=9),
    )
    note = f"from above: coils of Q {', '.join(f'{each:g}' for each in QUALITIES)}"
    frame = Frame(
        (float(x[0]), float(x[-1])), (0.0, max(_MOST_DB, 1.2 * here[1])), (stage_id, band, "widths")
    )
    return WidthsPicture(curves, here, labels, note, frame)


def _table(
    analysis: Analysis, look: Look, stage_id: str, figures: FilterFigures, stress: Sequence[PartStress]
) -> tuple[str, Told]:
    """The table with its title."""
    band = look.band
    if stress:
        return stress_title(analysis), in_columns(_STRESS, sorted(stress, key=lambda each: each.ref))
    harmonics = analysis.harmonics(band) if figures.centre_hz is None else ()
    if harmonics:
        limit = keyed(HARMONICS)["limit_dbc"].text(harmonics[0])
        title = f"Harmonics against {limit}: the power amplifier's assumed level, all filters behind it"
        return title, under_units(_HARMONICS, harmonics)
    title = "What the filter keeps out, against its loss on the dial"
    return title, in_columns(REJECTIONS, analysis.rejections(stage_id, band, look.dial_hz))


#: What stands of each harmonic below one limit, and of each part.
_HARMONICS = by_key(
    HARMONICS, "number", "frequency_hz", "amplifier_dbc", "filter_db", "result_dbc", "margin_db"
)
_STRESS = by_key(STRESS, "ref", "peak_voltage_v", "rms_current_a", "lost_w", "mismatched_v", "stands_it")
#: What stands below a low-pass's response.
_LOW_PASS = by_key(FILTER, "bandwidth_3db_hz", "served_loss_db", "served_return_loss_db")


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
