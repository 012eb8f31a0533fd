"""What scattered parts make of a filter: corridor, histograms of its figures, and the verdict."""

from functools import lru_cache
from typing import Any

import numpy as np

from app.pictures.bench.histogram import HistogramPicture
from app.pictures.figures import Curve, Frame, Label, Shape
from app.pictures.response import FLOOR_DB, corridor_shape, finite
from app.style import words
from core.model.bench import Scatter
from core.model.values.notation import PREFIXES, prefix_power
from core.record import record
from core.rig import scattered
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, keyed
from core.rig.figures.parts import SCATTERERS, TRIED, Tried, figure_of
from core.rig.scattered import Scatterable
from core.stages.tolerance import Measured, ToleranceRun

#: The part of a scatter that a run is not made from: limits are judged anew on the same trials.
_LIMITS = {"width_low_hz", "width_high_hz", "ripple_db", "loss_db"}
#: A filter of the rig: its stage, and its place there.
Key = tuple[str, int | None]
NO_FILTER = "There is no filter in the rig; add one."
_TOO_FEW = "Fewer than two trials made a pass-band; let the parts scatter less."


@record(slots=False)
class Source:
    """What a run is made from."""

    tried: Scatterable
    scatter: Scatter

    def same_run(self, other: "Source | None") -> bool:
        """Whether another source would make the same run."""
        if other is None or self.tried != other.tried:
            return False
        return self.scatter.model_dump(exclude=_LIMITS) == other.scatter.model_dump(exclude=_LIMITS)


@record(slots=False)
class Ran:
    """A run, and what it was made from."""

    source: Source
    run: ToleranceRun


@record
class EnvelopePicture:
    """The corridor of the responses over frequency [MHz], and the filter on its nominal parts."""

    corridor: tuple[Shape, ...]
    nominal: Curve
    frame: Frame


@record(kw_only=True)
class TolerancePicture:
    """The filters that can be tried and the one chosen; then what a run made of it, or a sentence.

    `titled` are titles with their histograms and what is told of them, the figure that matters most first;
    `told` tells what the verdict's figures are.
    """

    choices: tuple[str, ...]
    chosen: int
    #: Whether it has crystals that scatter.
    ladder: bool
    envelope: EnvelopePicture | str
    titled: tuple[tuple[str, HistogramPicture | str, str], ...]
    verdict: str
    told: str


def key_of(tried: Scatterable) -> Key:
    """What tells a filter from others while the design changes."""
    return tried.stage, tried.index


def source_of(analysis: Analysis, chosen: Key | None) -> Source | None:
    """What a run of the chosen filter would be made from; None without any filter."""
    tried = scattered.scatterable(analysis)
    place = _place(tried, chosen)
    return None if place < 0 else Source(tried[place], analysis.project.scatter)


def picture_of(analysis: Analysis, chosen: Key | None, ran: Ran | str) -> TolerancePicture:
    """What the page shows with this filter chosen, of a run or with the reason why there is none."""
    tried = scattered.scatterable(analysis)
    place = _place(tried, chosen)
    envelope: EnvelopePicture | str = ran if isinstance(ran, str) else _envelope(ran.run)
    return TolerancePicture(
        choices=tuple(_title(each) for each in tried),
        chosen=place,
        ladder=place < 0 or tried[place].judging.asked is not None,
        envelope=envelope,
        titled=() if isinstance(ran, str) else _titled(ran, analysis.project.scatter),
        verdict="" if isinstance(ran, str) else _verdict(ran, analysis, chosen),
        told="" if isinstance(ran, str) else _told(ran),
    )


def _place(tried: tuple[Scatterable, ...], chosen: Key | None) -> int:
    """The chosen filter's place; where it is gone the ladder's, the first choice; -1 without filters."""
    found = next((n for n, each in enumerate(tried) if key_of(each) == chosen), None)
    if found is None:
        found = next((n for n, each in enumerate(tried) if each.judging.asked), 0)
    return found if tried else -1


def _title(tried: Scatterable) -> str:
    bands = ", ".join(words.band(name) for name in tried.bands)
    return f"{tried.name}, {bands}" if bands else tried.name


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


@lru_cache(maxsize=1)
def _envelope(run: ToleranceRun) -> EnvelopePicture:
    x = run.f_hz / 1e6
    corridor = corridor_shape(x, run.low_db, run.high_db, "rule")
    frame = Frame((float(x[0]), float(x[-1])), (-70.0, 4.0), ("envelope",))
    return EnvelopePicture((corridor,), Curve(x, finite(-run.nominal_db, FLOOR_DB)), frame)


def _titled(ran: Ran, scatter: Scatter) -> tuple[tuple[str, HistogramPicture | str, str], ...]:
    limits = scattered.limits(ran.run, ran.source.tried.judging, scatter)
    return tuple(
        (f"{_upper(each.title)}, limits shaded", _histogram(each, *limits[each.key]), figure_of(each).tip)
        for each in ran.run.measured
    )


def _histogram(figure: Measured, low: float | None, high: float | None) -> HistogramPicture | str:
    """The distribution of a figure, in the unit that its mean is written with.

    `low` and `high` are its limits, None for none.
    """
    found = scattered.distribution(figure.values)
    if found is None:
        return _TOO_FEW
    told, power = figure_of(figure), 0
    if figure.unit == "Hz":
        power = prefix_power(found.mean, figure.unit, told.digits)
    scale, unit = 10.0**-power, PREFIXES[power] + figure.unit
    edges, top = tuple(float(each) for each in scale * found.edges), 1.3 * float(found.counts.max())
    first, last = edges[0], edges[-1]
    left = first if low is None else min(max(scale * low, first), last)
    right = last if high is None else max(min(scale * high, last), first)
    mean = f"mean {told.written(found.mean)}"
    return HistogramPicture(
        title=f"{figure.title}, {unit}",
        edges=edges,
        counts=tuple(float(each) for each in found.counts),
        kept=(Shape.box((left, right), (0.0, top), "pass_band"),) if right > left else (),
        labels=(Label((first + last) / 2, top * 1.28 / 1.3, mean, "soft", side="below", importance=1),),
        frame=Frame((first, last), (0.0, top), edges),
    )


def _verdict(ran: Ran, analysis: Analysis, chosen: Key | None) -> str:
    run, source = ran.run, ran.source
    tried = Tried(run, scattered.limits(run, source.tried.judging, analysis.project.scatter))
    kept, trials = TRIED
    first = run.measured[0]
    good = "All" if kept.get(tried) == trials.get(tried) else kept.text(tried)
    lines = [f"{good} of {trials.text(tried)} {trials.title} {kept.title}."]
    for figure in run.measured:
        values = figure.values[np.isfinite(figure.values)]
        if values.size:
            span = figure_of(figure).written(tuple(map(float, np.percentile(values, [5, 95]))))
            lines.append(f"{_upper(figure.title)} {span} in nine of ten.")
    matters = _parts(run.shares)
    if matters:
        lines.append(f"The scatter of the {first.title} comes most from {matters}.")
    if not source.same_run(source_of(analysis, chosen)):
        lines.append("This is for an earlier design or scatter: try the parts again.")
    return "\n".join(lines)


def _told(ran: Ran) -> str:
    """What each figure of the verdict is, a line each."""
    figures: Table[Any] = (TRIED[0], *map(figure_of, ran.run.measured), _SHARE)
    return "\n".join(f"{_upper(figure.title)}: {figure.tip}" for figure in figures)


_SHARE = keyed(SCATTERERS)["share_percent"]
#: What a crystal's figures are called, by the name they have behind its reference.
_FIGURES = {"lm": "Lm", "c0": "C0", "q": "Q"}


def _parts(shares: tuple[tuple[str, float], ...]) -> str:
    """The parts that scatter a figure most, as a builder knows them: Q of X5, not `X5.q`."""
    known = {
        f"{ref}.{figure}": f"{title} of {ref}" for ref, _ in shares for figure, title in _FIGURES.items()
    }
    return ", ".join(
        f"{known.get(part[0], part[0])} {_SHARE.text(part)}" for part in shares[:4] if part[1] > 0.01
    )
