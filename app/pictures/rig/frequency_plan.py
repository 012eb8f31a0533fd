"""Frequency plan: a lane a band, 0 to 60 MHz, of all that oscillates, is heard, or is rejected."""

from app.pictures.figures import Frame, Label, Shape
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import BandPlan
from core.stages.kinds.table import KINDS

#: Upper end of the picture, MHz.
TOP_MHZ = 60.0
_HARMONICS = range(2, 13)


@record
class PlanPicture:
    """Everything the plan shows: its lanes' names, what is drawn in the lanes, and the frame around them."""

    lanes: tuple[tuple[float, str], ...]
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> PlanPicture:
    """The plan of a design, the held one's as dashed outlines, with the band looked at in full colours."""
    plans = analysis.frequency_plan
    shapes: list[Shape] = []
    labels: list[Label] = []
    for lane, plan in enumerate(plans):
        base = len(plans) - 1 - lane
        chosen = plan.band == look.band
        shapes.append(Shape.box((0, TOP_MHZ), (base, base + 0.004), "soft" if chosen else "rule"))
        shapes += _lane(plan, base, analysis, chosen)
        labels += _labels(plan, base, chosen)
    for plan in () if held is None else held.frequency_plan:
        place = next((n for n, each in enumerate(plans) if each.band == plan.band), None)
        if place is not None:
            base = len(plans) - 1 - place
            for low, high in (
                (plan.vfo_low_hz, plan.vfo_high_hz),
                (plan.image_low_hz, plan.image_high_hz),
                (plan.carrier_hz, plan.carrier_hz),
            ):
                shapes.append(Shape.box(_mhz(low, high), (base, base + 0.66), None, "held", dashed=True))
    bands = tuple(plan.band for plan in plans)
    return PlanPicture(
        tuple((len(bands) - 1 - lane + 0.3, words.band(band)) for lane, band in enumerate(bands)),
        tuple(shapes),
        tuple(labels),
        Frame((0, TOP_MHZ), (-0.12, len(bands) + 0.05), bands),
    )


def _mhz(low_hz: float, high_hz: float, least: float = 0.16) -> tuple[float, float]:
    """A range in MHz, widened around its middle until it can be seen."""
    low, high = max(low_hz / 1e6, 0.0), max(high_hz / 1e6, 0.0)
    lack = max(0.0, least - (high - low)) / 2
    return low - lack, high + lack


def _lane(plan: BandPlan, base: float, analysis: Analysis, chosen: bool) -> list[Shape]:
    def box(low: float, high: float, height: float, role: str) -> Shape:
        return Shape.box(_mhz(low, high), (base, base + height), role if chosen else None, role)

    shapes = []
    for row in analysis.filters:
        figures = row.figures
        width = getattr(figures, "bandwidth_3db_hz", None)
        centre = getattr(figures, "centre_hz", None)
        if KINDS[row.kind].role == "band_pass" and plan.band in row.bands and width and centre:
            shapes.append(
                Shape.box(_mhz(centre - width / 2, centre + width / 2), (base, base + 0.72), "pass_band")
            )
    for number in _HARMONICS:
        low, high = number * plan.vfo_low_hz, number * plan.vfo_high_hz
        if 0 < low / 1e6 < TOP_MHZ:
            shapes.append(box(low, min(high, TOP_MHZ * 1e6), max(0.3 * 0.82 ** (number - 2), 0.05), "spur"))
    shapes.append(box(plan.image_low_hz, plan.image_high_hz, 0.4, "image"))
    shapes.append(box(plan.vfo_low_hz, plan.vfo_high_hz, 0.52, "vfo"))
    shapes.append(box(*analysis.if_pass_band_hz, 0.62, "intermediate"))
    shapes.append(box(plan.dial_low_hz, plan.dial_high_hz, 0.52, "dial"))
    return shapes


def _labels(plan: BandPlan, base: float, chosen: bool) -> list[Label]:
    named: tuple[tuple[float, float, str, str], ...] = (
        (_middle(plan.dial_low_hz, plan.dial_high_hz), 0.54, "dial", "dial"),
        (plan.carrier_hz / 1e6, 0.64, "IF", "intermediate"),
        (_middle(plan.vfo_low_hz, plan.vfo_high_hz), 0.54, "VFO", "vfo"),
        (_middle(plan.image_low_hz, plan.image_high_hz), 0.42, "image", "image"),
        (_middle(2 * plan.vfo_low_hz, 2 * plan.vfo_high_hz), 0.31, "2 VFO", "spur"),
        (_middle(3 * plan.vfo_low_hz, 3 * plan.vfo_high_hz), 0.26, "3 VFO", "spur"),
    )
    return [
        Label(
            x_mhz,
            base + up,
            text,
            role,
            side="above",
            importance=(10.0 if chosen else 0.0) + len(named) - number,
            # Of harmonics the row of marks tells enough where their names would lie on others.
            clear=role == "spur",
            within=(base, base + 1.05),
        )
        for number, (x_mhz, up, text, role) in enumerate(named)
    ]


def _middle(low_hz: float, high_hz: float) -> float:
    """The middle of a range in MHz."""
    return (low_hz + high_hz) / 2e6
