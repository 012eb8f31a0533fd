"""Which circuits of a rig a tolerance run can be made of, and what a good one keeps."""

from collections.abc import Callable
from typing import cast

from core.circuits.ladder import Array
from core.model.bench import Scatter
from core.record import record
from core.rig.analysis import Analysis
from core.stages import tolerance
from core.stages.kinds.table import KINDS
from core.stages.outcome import Design, TwoPort, Unsolved
from core.stages.tolerance import Distribution, Judging, Limits, Spreads, ToleranceRun


@record(kw_only=True)
class Scatterable:
    """A circuit of the rig: its stage and place in it, the bands it is switched in on (none for the ladder,
    which always is), and what a run is made from.
    """

    stage: str
    index: int | None
    name: str
    bands: tuple[str, ...]
    judging: Judging
    design: Design | Unsolved
    dials: tuple[tuple[float, float], ...]


def scatterable(analysis: Analysis) -> tuple[Scatterable, ...]:
    """Every circuit of the rig whose kind is judged, in the order of the path."""
    return tuple(
        Scatterable(
            stage=row.stage,
            index=row.index,
            name=row.name,
            bands=() if row.index is None else row.bands,
            judging=judging,
            design=row.design,
            dials=analysis.dials(row.bands),
        )
        for row in analysis.circuits
        for judging in _judging(row.kind)
    )


def _judging(kind: str) -> tuple[Judging, ...]:
    """How a kind of filter is judged; empty for one that is not."""
    making = KINDS[kind].making
    return () if making is None or making.judging is None else (making.judging,)


def spreads(scatter: Scatter) -> Spreads:
    """How far the parts scatter."""
    return Spreads(
        capacitor=scatter.capacitor_tolerance,
        coil=scatter.coil_tolerance,
        coupling=scatter.coupling_tolerance,
        crystal_hz=scatter.crystal_hz,
        q=scatter.q_spread,
        lm=scatter.lm_spread,
        c0=scatter.c0_spread,
    )


def run(
    tried: Scatterable, scatter: Scatter, watch: Callable[[float], bool] | None = None
) -> ToleranceRun | Unsolved | None:
    """Many filters like this one; None when `watch`, which is told the share done, gave it up."""
    if isinstance(tried.design, Unsolved):
        return tried.design
    # What is judged can be asked for its response.
    return tolerance.run(
        cast(TwoPort, tried.design),
        tried.judging,
        tried.dials,
        spreads(scatter),
        trials=scatter.trials,
        watch=watch,
    )


def limits(found: ToleranceRun, judging: Judging, scatter: Scatter) -> Limits:
    """What a good filter keeps, by figure: as typed in where that can be, else as follows from the design."""
    kept = {each.key: each.usual_limits for each in found.measured}
    asked = {} if judging.asked is None else judging.asked(scatter)
    for key, sides in asked.items():
        low, high = (a if a is not None else b for a, b in zip(sides, kept[key], strict=True))
        kept[key] = (low, high)
    return kept


def distribution(values: Array) -> Distribution | None:
    """How a figure of shape (T,) is distributed; None with fewer than two different ones."""
    return tolerance.distribution(values)
