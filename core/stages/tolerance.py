"""Tolerance run of a filter: many filters with scattered parts, and what comes of them.

Every trial draws each capacitor and coil evenly within its tolerance and each crystal's series resonance, Lm,
C0 and Q from a normal distribution, solves the exact network, and is measured on the common frequency grid.
What has a trimmer is then set for the least loss on the dial, as the builder does.
One broadcast solution takes a chunk of trials; nothing loops over frequency or trials.
"""

from collections.abc import Callable, Mapping
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from core.circuits.circuit import Circuit
from core.circuits.ladder import Array, Network, Part, Response, frozen
from core.circuits.response import inner_part
from core.model.bands import Dials
from core.model.bench import Scatter, Scattered
from core.record import record
from core.stages.outcome import Design, TwoPort, Unsolved

#: Trials solved at once: their arrays still fit into a processor's cache.
_CHUNK = 20
#: Points over each range of the dial at which a front filter is measured.
_DIAL_POINTS = 21

#: Steps by which trimmers are turned, as shares of the capacitance [-]: together they make up for coils and
#: capacitors a tenth off.
_TRIMMER_STEPS = (0.04, 0.04, 0.04, 0.04, 0.02, 0.02, 0.01, 0.01, 0.005, 0.005)

#: Least and largest value that a good filter keeps, by the key of the figure; None: no limit.
Limits = Mapping[str, tuple[float | None, float | None]]
#: Is told the share done between chunks, and ends a run by returning False.
Watch = Callable[[float], bool]


@record(kw_only=True)
class Spreads:
    """How far parts scatter.

    Capacitors evenly within ± `capacitor`, coils within ± `coil` and their couplings within ± `coupling`
    [-], crystals with a standard deviation of `crystal_hz` [Hz] in series resonance and of `q`, `lm`, `c0`
    [-] in their Q, Lm and C0. Resistors evenly within ± `resistor` [-], transistors over the share
    `transistor` of what their type does [-].
    """

    capacitor: float = 0.05
    crystal_hz: float = 50.0
    q: float = 0.2
    coil: float = 0.0
    coupling: float = 0.0
    lm: float = 0.0
    c0: float = 0.0
    resistor: float = 0.0
    transistor: float = 0.0


@record(kw_only=True)
class Measured:
    """One figure of every trial: its key, its name and unit, what it is in one sentence, the values (T,),
    and that of the design itself.

    `below` and `above` are how far from the design's own figure, or from what it was to `aim` at, a good one
    may lie, as limits where none is asked: shares of the figure where `relative`, else in its unit; None: no
    limit on that side.
    """

    key: str
    title: str
    unit: str
    what: str
    values: Array
    nominal: float
    below: float | None = None
    above: float | None = None
    relative: bool = False
    aim: float | None = None

    @property
    def centre(self) -> float:
        """What limits count from."""
        return self.nominal if self.aim is None else self.aim

    @property
    def usual_limits(self) -> tuple[float | None, float | None]:
        """Limits that follow the design."""
        scale = self.centre if self.relative else 1.0
        return (
            None if self.below is None else self.centre - scale * self.below,
            None if self.above is None else self.centre + scale * self.above,
        )


@record(eq=False, slots=False)
class Trials:
    """Losses of every trial, the design itself in the last row: over its span `f_hz` (F,) [Hz], of shape
    (T + 1, F), and on the dial, (T + 1, D), there with return loss and loss at the second harmonic, dB.
    """

    f_hz: Array
    loss_db: Array
    on_dial_db: Array
    return_loss_db: Array
    second_db: Array


class Run(Protocol):
    """How many of a design are tried: with its `Judging`, on the dials [Hz] that it serves."""

    def __call__(
        self,
        made: Any,
        judging: "Judging",
        dials: Dials,
        spreads: Spreads,
        *,
        trials: int,
        watch: Watch | None,
    ) -> "ToleranceRun | Unsolved | None":
        """Scatter its parts and measure every trial; None where `watch` gave it up."""


def _alone(made: Design) -> tuple[tuple[str, Design], ...]:
    return (("", made),)


@record(kw_only=True, slots=False)
class Judging:
    """What a run is made `of`, and what those are called that are tried.

    `run` makes it. `measured` takes the figures of a filter from its trials, three with the one that matters
    most first. `asked` are the limits typed in, of the figures by their keys, which go before those that
    follow from the design; None where none can be. `on_the_dial`: it is measured on the dials that it serves,
    so that it must serve one. `subjects` are what is tried of a design, with a word for each.
    """

    of: Scattered
    run: Run
    measured: Callable[[Trials], tuple[Measured, ...]] | None = None
    asked: Callable[[Scatter, dict[str, Measured]], Limits] | None = None
    on_the_dial: bool = True
    counted: str = "filters"
    subjects: Callable[[Design], tuple[tuple[str, Design], ...]] = _alone


@record(eq=False, kw_only=True, slots=False)
class ToleranceRun:
    """Results; arrays over frequency have shape (F,); read-only. A gain is a loss below zero.

    `low_db` and `high_db` are the 5th and 95th percentile of the loss at each frequency. `shares` tells
    by part how much of the first figure's scatter comes from it (squared correlation, 0 to 1), largest first.
    """

    f_hz: Array
    nominal_db: Array
    low_db: Array
    high_db: Array
    measured: tuple[Measured, ...]
    shares: tuple[tuple[str, float], ...]

    def of(self, key: str) -> Array:
        """The values (T,) of one figure."""
        return next(each.values for each in self.measured if each.key == key)

    def good(self, limits: Limits) -> float:
        """Share of the trials [-] that keep every limit; a trial without a figure keeps none."""
        keeps = np.ones(self.measured[0].values.shape, dtype=bool)
        for each in self.measured:
            low, high = limits.get(each.key, each.usual_limits)
            keeps &= np.isfinite(each.values)
            keeps &= each.values >= (-np.inf if low is None else low)
            keeps &= each.values <= (np.inf if high is None else high)
        return float(np.mean(keeps))


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


def draw(network: Network | Circuit, spreads: Spreads, trials: int, seed: int = 0) -> dict[str, Array]:
    """Part values of `trials` scattered filters: reference (`X1.q` for a crystal's Q) to an array (T, 1)."""
    generator = np.random.default_rng(seed)
    values: dict[str, Array] = {}

    def evenly(part: Part, share: float) -> None:
        values[part.ref] = part.value * (1 + share * generator.uniform(-1, 1, (trials, 1)))

    def normally(part: Part, name: str, value: float, share: float) -> None:
        factor = np.maximum(1 + share * generator.normal(size=(trials, 1)), 0.05)
        values[f"{part.ref}.{name}"] = value * factor

    for part in network.parts:
        if part.kind == "capacitor":
            evenly(part, spreads.capacitor)
        elif part.kind == "inductor" and spreads.coil > 0:
            evenly(part, spreads.coil)
        elif part.kind == "coupling" and spreads.coupling > 0:
            evenly(part, spreads.coupling)
        elif part.kind == "crystal":
            values[part.ref] = part.value + spreads.crystal_hz * generator.normal(size=(trials, 1))
            if part.q is not None:
                normally(part, "q", part.q, spreads.q)
            if spreads.lm > 0:
                normally(part, "lm", part.motional_inductance_h, spreads.lm)
            if spreads.c0 > 0:
                normally(part, "c0", part.holder_capacitance_f, spreads.c0)
    return values


def run(
    made: TwoPort,
    judging: Judging,
    dials: Dials,
    spreads: Spreads,
    *,
    trials: int = 1000,
    points: int = 501,
    seed: int = 0,
    watch: Watch | None = None,
) -> ToleranceRun | Unsolved | None:
    """Scatter the parts of a filter and measure every trial on `points` frequencies over its span.

    `dials` are the dial ranges [Hz] that a front filter serves; it is measured on them too. `watch` is told
    the share done between chunks and ends the run, with None, by returning False.
    """
    if judging.on_the_dial and not dials:
        return Unsolved("The filter serves no band of the rig, so there is nothing to judge it by; tick one.")
    low, high = made.span_hz
    grid = np.linspace(low, high, points)
    over = _over(dials)
    f = np.concatenate([grid, over, 2 * over])
    values = draw(made.circuit, spreads, trials, seed)
    loss, back = np.empty((trials + 1, f.size)), np.empty((trials + 1, over.size))

    def note(rows: slice, response: Response) -> None:
        loss[rows] = response.loss_db
        back[rows] = response.return_loss_db[..., points : points + over.size]

    design = made.response(f)
    if isinstance(design, Unsolved):
        return design
    note(slice(trials, trials + 1), design)
    for first in range(0, trials, _CHUNK):
        if watch is not None and not watch(first / trials):
            return None
        some = {ref: each[first : first + _CHUNK] for ref, each in values.items()}
        if made.trimmed and over.size:
            some = peaked(made, trimming_hz(dials), some)
        tried = made.response(f, some)
        if isinstance(tried, Unsolved):
            return tried
        note(slice(first, min(first + _CHUNK, trials)), tried)
    on_dial, second = loss[:, points : points + over.size], loss[:, points + over.size :]
    assert judging.measured is not None
    measured = judging.measured(Trials(grid, loss[:, :points], on_dial, back, second))
    shares = [
        (ref, share(each[:, 0], measured[0].values))
        for ref, each in values.items()
        if ref not in made.trimmed
    ]
    shares.sort(key=lambda pair: -pair[1])
    envelope = np.percentile(loss[:trials, :points], [5, 95], axis=0)
    return ToleranceRun(
        f_hz=frozen(grid),
        nominal_db=frozen(loss[trials, :points].copy()),
        low_db=frozen(envelope[0].copy()),
        high_db=frozen(envelope[1].copy()),
        measured=measured,
        shares=tuple(shares),
    )


def _over(dials: Dials) -> Array:
    return np.concatenate([np.linspace(*dial, _DIAL_POINTS) for dial in dials]) if dials else np.empty(0)


def trimming_hz(dials: Dials) -> Array:
    """Frequencies [Hz] on the dials [Hz] for which a builder sets trimmers; shape (F,)."""
    return _over(dials)[:: _DIAL_POINTS // 4]


def peaked(made: TwoPort, f_hz: Array, values: Mapping[str, Array]) -> dict[str, Array]:
    """The values of trials, arrays (T, 1), with those trimmed set for the least mean loss at `f_hz` [Hz].

    Each trimmer in turn is tried a step up and a step down in all trials at once, with ever smaller steps.
    """
    now = {ref: np.asarray(each, dtype=float) for ref, each in values.items()}
    for step in _TRIMMER_STEPS:
        for ref in made.trimmed:
            tried = now[ref] * np.array([1 - step, 1.0, 1 + step])[:, None, None]
            found = made.response(f_hz, {**now, ref: tried})
            if isinstance(found, Unsolved):
                return now
            lost = found.loss_db.mean(axis=-1)
            now[ref] = np.take_along_axis(tried[..., 0], lost.argmin(axis=0)[None], axis=0)[0][:, None]
    return now


def figure(key: str, title: str, unit: str, what: str, values: Array, **limits: float | bool) -> Measured:
    """A figure of every trial, the design's own the last of `values` (T + 1,); `limits` as `Measured` has
    them.
    """
    return Measured(
        key=key,
        title=title,
        unit=unit,
        what=what,
        values=frozen(values[:-1].copy()),
        nominal=float(values[-1]),
        **limits,  # type: ignore[arg-type]
    )


#: What width and loss are, of whatever filter.
_WIDTH = "From edge to edge where the loss is 6 dB above the least."
_DIAL_LOSS = "The most that it loses anywhere on the dials it serves."


def _of_a_ladder(t: Trials) -> tuple[Measured, ...]:
    width, ripple, least = measure(t.f_hz, t.loss_db)
    return (
        figure("width", "−6 dB width", "Hz", _WIDTH, width, below=0.12, above=0.12, relative=True),
        figure(
            "ripple",
            "ripple",
            "dB",
            "Between least and most loss over the inner 80 % of the −3 dB width.",
            ripple,
            above=2.0,
        ),
        figure("loss", "loss", "dB", "What the filter loses where it passes best.", least, above=2.0),
    )


def _asked_of_a_ladder(scatter: Scatter, measured: dict[str, Measured]) -> Limits:
    return {
        "width": (scatter.width_low_hz, scatter.width_high_hz),
        "ripple": (None, scatter.ripple_db),
        "loss": (None, scatter.loss_db),
    }


def _of_a_band_pass(t: Trials) -> tuple[Measured, ...]:
    worst, width = t.on_dial_db.max(axis=-1), measure(t.f_hz, t.loss_db)[0]
    return (
        figure("dial_loss", "worst loss on the dial", "dB", _DIAL_LOSS, worst, above=2.0),
        figure(
            "dial_spread",
            "unevenness on the dial",
            "dB",
            "Between most and least loss on the dials it serves.",
            worst - t.on_dial_db.min(axis=-1),
            above=1.5,
        ),
        figure("width", "−6 dB width", "Hz", _WIDTH, width, below=0.15, above=0.15, relative=True),
    )


def _of_a_low_pass(t: Trials) -> tuple[Measured, ...]:
    """A return loss of 14 dB is a standing wave ratio of 1.5, common practice."""
    matched = t.return_loss_db.min(axis=-1)
    least_match = min(14.0, float(matched[-1]))
    return (
        figure(
            "dial_match",
            "worst return loss",
            "dB",
            "How far its reflection lies below what comes, where it reflects most on its dials.",
            matched,
            below=float(matched[-1]) - least_match,
        ),
        figure("dial_loss", "worst loss on the dial", "dB", _DIAL_LOSS, t.on_dial_db.max(axis=-1), above=0.5),
        figure(
            "second",
            "second harmonic down",
            "dB",
            "The least that it takes from the second harmonic of its dials.",
            t.second_db.min(axis=-1),
            below=3.0,
        ),
    )


LADDER = Judging(of="ladder", run=run, measured=_of_a_ladder, asked=_asked_of_a_ladder, on_the_dial=False)
BAND_PASS = Judging(of="front_filter", run=run, measured=_of_a_band_pass)
LOW_PASS = Judging(of="front_filter", run=run, measured=_of_a_low_pass)


def measure(f_hz: Array, loss_db: Array) -> tuple[Array, Array, Array]:
    """−6 dB width [Hz], ripple over the inner 80 % of the −3 dB width [dB] and least loss [dB] of rows of
    losses (T, F).

    Edges are interpolated on the grid `f_hz` (F,). A trial whose pass-band leaves the grid has width and
    ripple NaN, which keep no limit.
    """
    low, high, inside = edges(f_hz, loss_db, 6.0)
    start, end = inner_part(*edges(f_hz, loss_db, 3.0)[:2])
    inner = (f_hz >= start[:, None]) & (f_hz <= end[:, None])
    least = loss_db.min(axis=-1)
    top = np.where(inner, loss_db, -np.inf).max(axis=-1)
    return np.where(inside, high - low, np.nan), np.where(inside, top - least, np.nan), least


def edges(f_hz: Array, loss_db: Array, depth_db: float) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Outer frequencies [Hz] at which each row has lost `depth_db` more than at least, and whether both lie
    on the grid.
    """
    level = loss_db.min(axis=-1) + depth_db
    passed = loss_db <= level[:, None]
    first = passed.argmax(axis=-1)
    last = passed.shape[-1] - 1 - passed[:, ::-1].argmax(axis=-1)
    low = _between(f_hz, loss_db, np.maximum(first - 1, 0), first, level)
    high = _between(f_hz, loss_db, last, np.minimum(last + 1, f_hz.size - 1), level)
    return low, high, (first > 0) & (last < f_hz.size - 1)


def _between(
    f_hz: Array, loss_db: Array, near: NDArray[np.int64], far: NDArray[np.int64], level_db: Array
) -> Array:
    """Frequency between two neighbouring points of each row at which the loss has a level."""
    row = np.arange(loss_db.shape[0])
    a, b = loss_db[row, near], loss_db[row, far]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(a == b, 0.0, (level_db - a) / (b - a))
    return np.asarray(f_hz[near] + np.clip(share, 0, 1) * (f_hz[far] - f_hz[near]))


def share(values: Array, width: Array) -> float:
    """How much of a figure's scatter comes from a part's, (T,) each: squared correlation [-]."""
    good = np.isfinite(width)
    if good.sum() < 3 or np.ptp(values[good]) == 0 or np.ptp(width[good]) == 0:
        return 0.0
    return float(np.corrcoef(values[good], width[good])[0, 1] ** 2)
