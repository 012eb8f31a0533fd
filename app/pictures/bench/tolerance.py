"""What scattered parts make of a filter or an amplifier: corridor, histograms of its figures, the verdict."""

from functools import lru_cache
from typing import Any

import numpy as np

from app.pictures.bench.histogram import HistogramPicture
from app.pictures.figures import Curve, Frame, Label, Shape
from app.pictures.response import FLOOR_DB, corridor_shape, finite
from app.state.look import Look
from app.style import words
from core.model.bench import LIMITS, SCATTER_OF, Scatter
from core.model.values.notation import PREFIXES, prefix_power
from core.record import record
from core.rig import scattered
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, keyed
from core.rig.figures.parts import SCATTERERS, TRIED, Tried, figure_of
from core.rig.scattered import Scatterable
from core.stages.tolerance.judging import Measured, ToleranceRun

#: A filter or an amplifier of the rig: its stage, its place there, and which of several that are one design.
Key = tuple[str, int | None, str]
NOTHING_TO_TRY = "There is no filter or amplifier of parts in the rig; add one."
_TOO_FEW = {
    "filters": "Fewer than two trials made a pass-band; let the parts scatter less.",
    "amplifiers": "Fewer than two trials have a state at rest; let the parts scatter less.",
}
#: How far down a filter's corridor is drawn, and above a gain or below it [dB].
_DEEP_DB, _ROOM_DB = -70.0, 4.0


@record(slots=False)
class Source:
    """What a run is made from."""

    tried: Scatterable
    scatter: Scatter

    def same_run(self, other: "Source | None") -> bool:
        """Whether another source would make the same run."""
        if other is None or self.tried != other.tried:
            return False
        # Limits are judged anew on the same trials.
        counts = SCATTER_OF[self.tried.judging.of] - LIMITS
        return all(getattr(self.scatter, name) == getattr(other.scatter, name) for name in counts)


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
    """The filters and amplifiers that can be tried and the one chosen; then what a run made of it, or a
    sentence.

    `fields` are those of the scatter that count for it, `counted` is what those tried are called. `titled`
    are titles with their histograms and what is told of them, the figure that matters most first; `told`
    tells what the verdict's figures are.
    """

    choices: tuple[str, ...]
    chosen: int
    fields: frozenset[str]
    counted: str
    envelope: EnvelopePicture | str
    titled: tuple[tuple[str, HistogramPicture | str, str], ...]
    verdict: str
    told: str


def key_of(tried: Scatterable) -> Key:
    """What tells one from others while the design changes."""
    return tried.stage, tried.index, tried.subject


def selected(analysis: Analysis, look: Look) -> Key | None:
    """The one that stands at the stage selected on the path, on the band looked at, and of a pair the half
    that this direction goes through; None where there is none.
    """
    found = [
        each
        for each in scattered.scatterable(analysis)
        if each.stage == look.stage and (not each.bands or look.band in each.bands)
    ]
    found.sort(key=lambda each: each.subject != look.way)
    return key_of(found[0]) if found else None


def source_of(analysis: Analysis, chosen: Key | None) -> Source | None:
    """What a run of the chosen one would be made from; None without any."""
    tried = scattered.scatterable(analysis)
    place = _place(tried, chosen)
    return None if place < 0 else Source(tried[place], analysis.project.scatter)


def picture_of(analysis: Analysis, chosen: Key | None, ran: Ran | str) -> TolerancePicture:
    """What the page shows with this one chosen, of a run or with the reason why there is none."""
    tried = scattered.scatterable(analysis)
    place = _place(tried, chosen)
    envelope: EnvelopePicture | str = ran if isinstance(ran, str) else _envelope(ran.run)
    return TolerancePicture(
        choices=tuple(_title(each) for each in tried),
        chosen=place,
        fields=SCATTER_OF["ladder" if place < 0 else tried[place].judging.of],
        counted="filters" if place < 0 else tried[place].judging.counted,
        envelope=envelope,
        titled=() if isinstance(ran, str) else _titled(ran, analysis.project.scatter),
        verdict="" if isinstance(ran, str) else _verdict(ran, analysis, chosen),
        told="" if isinstance(ran, str) else _told(ran),
    )


def _place(tried: tuple[Scatterable, ...], chosen: Key | None) -> int:
    """The place of the one chosen; where it is gone the ladder's, the first choice; -1 without any."""
    found = next((n for n, each in enumerate(tried) if key_of(each) == chosen), None)
    if found is None:
        found = next((n for n, each in enumerate(tried) if each.judging.of == "ladder"), 0)
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
    span = (_DEEP_DB, _ROOM_DB)
    if float(run.nominal_db.min()) < 0:
        span = (float((-run.high_db).min()) - _ROOM_DB, float((-run.low_db).max()) + _ROOM_DB)
    frame = Frame((float(x[0]), float(x[-1])), span, ("envelope",))
    return EnvelopePicture((corridor,), Curve(x, finite(-run.nominal_db, FLOOR_DB)), frame)


def _titled(ran: Ran, scatter: Scatter) -> tuple[tuple[str, HistogramPicture | str, str], ...]:
    limits = scattered.limits(ran.run, ran.source.tried.judging, scatter)
    # Said once: in a narrow window two stand beside each other.
    shaded = ", limits shaded", *[""] * len(ran.run.measured)
    return tuple(
        (
            f"{_upper(each.title)}{said}",
            _histogram(each, ran.source.tried.judging.counted, *limits[each.key]),
            figure_of(each).tip,
        )
        for each, said in zip(ran.run.measured, shaded, strict=False)
    )


def _histogram(
    figure: Measured, counted: str, low: float | None, high: float | None
) -> HistogramPicture | str:
    """The distribution of a figure over those `counted`, in the unit that its mean is written with.

    `low` and `high` are its limits, None for none.
    """
    found = scattered.distribution(figure.values)
    if found is None:
        return _TOO_FEW[counted]
    told, power = figure_of(figure), 0
    if figure.unit in ("Hz", "A"):
        power = prefix_power(found.mean, figure.unit, told.digits)
    scale, unit = 10.0**-power, PREFIXES[power] + figure.unit
    edges, top = tuple(float(each) for each in scale * found.edges), 1.3 * float(found.counts.max())
    first, last = edges[0], edges[-1]
    left = first if low is None else min(max(scale * low, first), last)
    right = last if high is None else max(min(scale * high, last), first)
    mean = f"mean {told.written(found.mean)}"
    return HistogramPicture(
        title=f"{figure.title}, {unit}",
        counted=counted,
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
    lines = [f"{good} of {trials.text(tried)} {source.tried.judging.counted} {kept.title}."]
    lost = first.values.size - int(np.isfinite(first.values).sum())
    if lost and source.tried.judging.of == "amplifier":
        lines.append(f"{lost} of them have no state at rest.")
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
