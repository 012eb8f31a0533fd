"""Which circuits of a rig a tolerance run can be made of, what a good one keeps, and how figures spread."""

from collections.abc import Iterator

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.bands import Dials
from core.model.bench import Scatter
from core.record import record
from core.rig.analysis import Analysis
from core.stages.kinds.table import KINDS
from core.stages.outcome import Design, Unsolved
from core.stages.tolerance.judging import Judging, Limits, Spreads, ToleranceRun, Watch


@record(kw_only=True)
class Scatterable:
    """A circuit of the rig: its stage and place in it, the bands it is switched in on (none for one that
    always is), and what a run is made from; `subject` tells which of several that are one design.
    """

    stage: str
    index: int | None
    subject: str
    name: str
    bands: tuple[str, ...]
    judging: Judging
    design: Design | Unsolved
    dials: Dials


def scatterable(analysis: Analysis) -> tuple[Scatterable, ...]:
    """Every circuit of the rig whose kind is judged, in the order of the path."""
    return tuple(_scatterable(analysis))


def _scatterable(analysis: Analysis) -> Iterator[Scatterable]:
    for row in analysis.circuits:
        making, made = KINDS[row.kind].making, row.design
        if making is None or making.judging is None:
            continue
        subjects = (("", made),) if isinstance(made, Unsolved) else making.judging.subjects(made)
        for subject, design in subjects:
            yield Scatterable(
                stage=row.stage,
                index=row.index,
                subject=subject,
                name=f"{row.name} in {subject}" if subject else row.name,
                bands=() if row.index is None else row.bands,
                judging=making.judging,
                design=design,
                dials=analysis.dials(row.bands),
            )


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
        resistor=scatter.resistor_tolerance,
        transistor=scatter.transistor_share,
    )


def run(tried: Scatterable, scatter: Scatter, watch: Watch | None = None) -> ToleranceRun | Unsolved | None:
    """Many circuits like this one; None when `watch`, which is told the share done, gave it up."""
    if isinstance(tried.design, Unsolved):
        return tried.design
    return tried.judging.run(
        tried.design, tried.judging, tried.dials, spreads(scatter), trials=scatter.trials, watch=watch
    )


def limits(found: ToleranceRun, judging: Judging, scatter: Scatter) -> Limits:
    """What a good one keeps, by figure: as typed in where that can be, else as follows from the design."""
    measured = {each.key: each for each in found.measured}
    kept = {key: each.usual_limits for key, each in measured.items()}
    asked = {} if judging.asked is None else judging.asked(scatter, measured)
    for key, sides in asked.items():
        low, high = (a if a is not None else b for a, b in zip(sides, kept[key], strict=True))
        kept[key] = (low, high)
    return kept


@record(eq=False, slots=False)
class Distribution:
    """Counts (B,) of one figure over the trials that have it, between edges (B + 1,), and its mean."""

    edges: Array
    counts: Array
    mean: float


def distribution(values: Array, bins: int = 30) -> Distribution | None:
    """How a figure of shape (T,) is distributed; NaN is left out. None with fewer than two different ones."""
    good = values[np.isfinite(values)]
    if good.size < 2 or np.ptp(good) == 0:
        return None
    counts, edges = np.histogram(good, bins=bins)
    return Distribution(frozen(edges), frozen(counts.astype(float)), float(good.mean()))
