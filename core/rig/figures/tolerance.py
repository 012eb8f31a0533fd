"""Figures of a tolerance run: how many filters are good, what they come to, and which parts scatter them."""

from dataclasses import dataclass

from core.rig.figures.figure import Figure, Table, label
from core.stages.tolerance import Limits, Measured, ToleranceRun

_TRIED = "exact response of every trial, its parts drawn at random within their scatter"


@dataclass(frozen=True)
class Tried:
    """A run, and the limits that a good filter keeps."""

    run: ToleranceRun
    limits: Limits


TRIED: Table[Tried] = (
    Figure(
        key="kept",
        title="keep every limit",
        what="How many of the filters tried keep every limit.",
        source=_TRIED,
        # Counted, so that one in a thousand that does not is not rounded away.
        get=lambda t: round(t.run.good(t.limits) * t.run.measured[0].values.size),
        unit="-",
        places=0,
    ),
    Figure(
        key="trials",
        title="filters",
        what="How many filters were tried.",
        source="the trials asked",
        get=lambda t: t.run.measured[0].values.size,
        unit="-",
        places=0,
    ),
)

#: A part, and how much of a figure's scatter comes from it.
SCATTERERS: Table[tuple[str, float]] = (
    label("ref", "part", lambda s: s[0]),
    Figure(
        key="share_percent",
        title="share of the scatter",
        what="How much of the scatter of the figure that matters most comes from the part.",
        source="squared correlation of the part's value with the figure over all trials",
        get=lambda s: 100 * s[1],
        unit="%",
        places=0,
    ),
)


def figure_of(measured: Measured) -> Figure[Measured]:
    """What a run measured, as a figure; of the run itself it is that of the design on its nominal parts."""
    return Figure(
        key=measured.key,
        title=measured.title,
        what=measured.what,
        source=_TRIED,
        get=lambda m: m.nominal,
        unit=measured.unit,
    )
