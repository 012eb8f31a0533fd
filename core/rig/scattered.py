"""Which filters of a rig a tolerance run can be made of, and what a good one keeps."""

from dataclasses import dataclass

from core.model.bench import Scatter
from core.model.bands import spelled
from core.rig.analysis import Analysis
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance import FilterKind, Limits, Spreads

_KINDS: dict[str, FilterKind] = {"ladder_filter": "ladder", "band_pass": "band_pass", "low_pass": "low_pass"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatterable:
    """A filter of the rig: its stage and place in it, what it is called, and what a run is made from."""

    stage: str
    index: int | None
    title: str
    kind: FilterKind
    design: FilterDesign | Unsolved
    dials: tuple[tuple[float, float], ...]


def scatterable(analysis: Analysis) -> tuple[Scatterable, ...]:
    """Every filter of the rig in the order of the path."""
    return tuple(
        Scatterable(
            stage=row.stage,
            index=row.index,
            title=row.name if row.index is None else f"{row.name}, {', '.join(row.bands)}",
            kind=_KINDS[row.kind],
            design=row.design,
            dials=analysis.dials(row.bands),
        )
        for row in analysis.filters
    )


def spreads(scatter: Scatter) -> Spreads:
    """How far the parts scatter."""
    return Spreads(
        capacitor=scatter.capacitor_tolerance,
        coil=scatter.coil_tolerance,
        crystal_hz=scatter.crystal_hz,
        q=scatter.q_spread,
        lm=scatter.lm_spread,
        c0=scatter.c0_spread,
    )


def asked_limits(scatter: Scatter, kind: FilterKind) -> Limits:
    """The limits that were typed in, by figure; what is left out follows the design."""
    if kind != "ladder":
        return {}
    limits: dict[str, tuple[float | None, float | None]] = {}
    if scatter.ripple_db is not None:
        limits["ripple"] = (None, scatter.ripple_db)
    if scatter.loss_db is not None:
        limits["loss"] = (None, scatter.loss_db)
    if scatter.width_low_hz is not None or scatter.width_high_hz is not None:
        limits["width"] = (scatter.width_low_hz, scatter.width_high_hz)
    return limits
