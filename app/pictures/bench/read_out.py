"""How a simple counter shows the dial on every band, and which schemes were turned down."""

from dataclasses import dataclass

from app.state.look import Look
from app.style import words
from core.model.values.notation import format_frequency, format_value
from core.rig.analysis import Analysis
from core.rig.read_out.plan import BandReadOut, Options, ReadOutPlan
from core.rig.read_out.schemes import Reading
from core.stages.outcome import Unsolved

OTHER_HEADS = ("scheme", "stored", "filter", "birdies")
REFUSED_HEADS = ("scheme", "reason")
_NO_COUNTER = "The rig has no counter; tick “Read-out” on the left to plan one."
#: What the plan's table says of each band, in the order of `_column`.
_FIGURES = ("scheme", "counted, MHz", "filter", "stored, MHz", "shows, MHz", "off by up to", "programme")

Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class OtherSchemes:
    """The other schemes of a band, with the helper crystal [Hz] that each takes, and those turned down."""

    band: str
    rows: Rows
    helpers_hz: tuple[float | None, ...]
    refused: Rows


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOutPicture:
    """The plan of all bands, what is switched, and the schemes of the band looked at."""

    title: str
    heads: tuple[str, ...]
    rows: Rows
    switching: str
    others: OtherSchemes | None
    #: Whether a helper crystal was chosen, so that the choice can be left to the plan again.
    chosen: bool


def picture_of(analysis: Analysis, look: Look) -> ReadOutPicture | str:
    """What the page shows; a sentence when the rig has no counter."""
    plan, asked = analysis.read_out, analysis.project.read_out
    if plan is None or asked is None:
        return _NO_COUNTER
    option = next((each for each in analysis.read_out_options if each.band == look.band), None)
    helper = "" if plan.helper_hz is None else f", helper crystal {format_frequency(plan.helper_hz, 100)}"
    return ReadOutPicture(
        title=f"What each band shows, in steps of {format_value(plan.resolution_hz, 'Hz', 3)}{helper}",
        heads=("", *(words.band(row.band) for row in plan.bands)),
        rows=tuple(zip(_FIGURES, *(_column(row) for row in plan.bands), strict=True)),
        switching=_switching(plan),
        others=None if option is None else _others(option),
        chosen=(asked.helper_measured_hz or asked.helper_hz) is not None,
    )


def _switching(plan: ReadOutPlan) -> str:
    reasons = [
        f"{words.band(r.band)}: {r.reading.reason}" for r in plan.bands if isinstance(r.reading, Unsolved)
    ]
    return "\n".join([*plan.switching, *reasons])


def _others(option: Options) -> OtherSchemes:
    return OtherSchemes(
        words.band(option.band),
        tuple((r.scheme, _stored(r), r.filter or "none", str(r.birdies)) for r in option.alternatives),
        tuple(r.helper_hz for r in option.alternatives),
        tuple((r.scheme, r.reason) for r in option.refused),
    )


def _stored(reading: Reading) -> str:
    if reading.direction == "none":
        return "nothing"
    return f"{'+' if reading.direction == 'add' else '−'} {reading.offset_hz / 1e6:.6f}"


def _column(row: BandReadOut) -> tuple[str, ...]:
    if isinstance(row.reading, Unsolved):
        return ("cannot be shown", *("" for _ in _FIGURES[1:]))
    r = row.reading
    return (
        r.scheme,
        _span(*sorted(r.counted_hz)),
        r.filter or "none",
        _stored(r),
        _span(*r.shows_hz),
        "" if row.error is None else format_value(row.error.hz, "Hz", 2),
        "none" if row.programme is None else str(row.programme),
    )


def _span(low_hz: float, high_hz: float) -> str:
    return f"{low_hz / 1e6:.5f} to {high_hz / 1e6:.5f}"
