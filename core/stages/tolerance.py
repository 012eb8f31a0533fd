"""Tolerance run of the ladder: many filters with scattered parts, and what comes of them.

Every trial draws each capacitor evenly within its tolerance and each crystal's series resonance and Q from
a normal distribution, solves the exact network, and is measured on the common frequency grid. One broadcast
solution takes a chunk of trials; nothing loops over frequency or trials.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, Network, Part, Values, frozen, solve
from core.model.filters import LadderFilter
from core.stages import ladder_filter
from core.stages.outcome import Unsolved

#: Trials solved at once: their arrays still fit into a processor's cache.
_CHUNK = 20


@dataclass(frozen=True, slots=True)
class Spreads:
    """How far parts scatter: capacitors evenly within ± `capacitor` [-], crystals with a standard deviation
    of `crystal_hz` [Hz] in series resonance and of `q` [-] of their Q.
    """

    capacitor: float = 0.05
    crystal_hz: float = 50.0
    q: float = 0.2


@dataclass(frozen=True, slots=True)
class Limits:
    """What a filter must keep: −6 dB width [Hz] within limits, ripple and least loss [dB] below theirs."""

    width_low_hz: float
    width_high_hz: float
    ripple_db: float
    loss_db: float


@dataclass(frozen=True)
class ToleranceRun:
    """Results; arrays over frequency have shape (F,), those over trials (T,); read-only.

    `low_db` and `high_db` are the 5th and 95th percentile of the loss at each frequency. `shares` tells by
    part how much of the scatter of the width comes from it (squared correlation, 0 to 1), largest first.
    """

    f_hz: Array
    nominal_db: Array
    low_db: Array
    high_db: Array
    width_hz: Array
    ripple_db: Array
    loss_db: Array
    shares: tuple[tuple[str, float], ...]

    def good(self, limits: Limits) -> float:
        """Share of the trials [-] that keep every limit; a trial without a pass-band keeps none."""
        width = self.width_hz
        keeps = (width >= limits.width_low_hz) & (width <= limits.width_high_hz)
        keeps &= (self.ripple_db <= limits.ripple_db) & (self.loss_db <= limits.loss_db)
        return float(np.mean(keeps))


@dataclass(frozen=True, eq=False)
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


def draw(network: Network, spreads: Spreads, trials: int, seed: int = 0) -> dict[str, Array]:
    """Part values of `trials` scattered filters: reference (`X1.q` for a crystal's Q) to an array (T, 1)."""
    generator = np.random.default_rng(seed)
    values: dict[str, Array] = {}

    def scattered(part: Part) -> None:
        if part.kind == "capacitor":
            values[part.ref] = part.value * (1 + spreads.capacitor * generator.uniform(-1, 1, (trials, 1)))
        elif part.kind == "crystal":
            values[part.ref] = part.value + spreads.crystal_hz * generator.normal(size=(trials, 1))
            if part.q is not None:
                factor = np.maximum(1 + spreads.q * generator.normal(size=(trials, 1)), 0.05)
                values[f"{part.ref}.q"] = part.q * factor

    for part in network.parts:
        scattered(part)
    return values


def run(
    ladder: LadderFilter,
    if_hz: float,
    spreads: Spreads,
    *,
    trials: int = 1000,
    points: int = 501,
    seed: int = 0,
    on_hand: tuple[float, ...] = (),
    watch: Callable[[float], bool] | None = None,
) -> ToleranceRun | Unsolved | None:
    """Scatter the ladder's parts at an IF of `if_hz` [Hz] and measure every trial.

    `watch` is told the share done between chunks and ends the run, with None, by returning False.
    """
    made = ladder_filter.design(ladder, if_hz, on_hand)
    if isinstance(made, Unsolved):
        return made
    low, high = made.span_hz
    f = np.linspace(low, high, points)
    values = draw(made.network, spreads, trials, seed)
    loss = np.empty((trials, points))
    for first in range(0, trials, _CHUNK):
        if watch is not None and not watch(first / trials):
            return None
        some: Values = {ref: each[first : first + _CHUNK] for ref, each in values.items()}
        loss[first : first + _CHUNK] = solve(made.network, f, values=some).loss_db
    width, ripple, least = measure(f, loss)
    shares = [(ref, _share(each[:, 0], width)) for ref, each in values.items()]
    shares.sort(key=lambda pair: -pair[1])
    envelope = np.percentile(loss, [5, 95], axis=0)
    return ToleranceRun(
        frozen(f),
        solve(made.network, f).loss_db,
        frozen(envelope[0].copy()),
        frozen(envelope[1].copy()),
        frozen(width),
        frozen(ripple),
        frozen(least),
        tuple(shares),
    )


def measure(f_hz: Array, loss_db: Array) -> tuple[Array, Array, Array]:
    """−6 dB width [Hz], ripple over the inner 80 % of it [dB] and least loss [dB] of rows of losses (T, F).

    Edges are interpolated on the grid `f_hz` (F,). A trial whose pass-band leaves the grid has width NaN,
    which keeps no limit.
    """
    least = loss_db.min(axis=-1)
    passed = loss_db <= least[:, None] + 6.0
    first = passed.argmax(axis=-1)
    last = passed.shape[-1] - 1 - passed[:, ::-1].argmax(axis=-1)
    inside = (first > 0) & (last < f_hz.size - 1)
    low = _between(f_hz, loss_db, np.maximum(first - 1, 0), first, least + 6.0)
    high = _between(f_hz, loss_db, last, np.minimum(last + 1, f_hz.size - 1), least + 6.0)
    width = np.where(inside, high - low, np.nan)
    margin = 0.1 * (high - low)
    inner = (f_hz >= (low + margin)[:, None]) & (f_hz <= (high - margin)[:, None])
    top = np.where(inner, loss_db, -np.inf).max(axis=-1)
    return width, np.where(inside, top - least, np.nan), least


def _between(
    f_hz: Array, loss_db: Array, near: NDArray[np.int64], far: NDArray[np.int64], level_db: Array
) -> Array:
    """Frequency between two neighbouring points of each row at which the loss has a level."""
    row = np.arange(loss_db.shape[0])
    a, b = loss_db[row, near], loss_db[row, far]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(a == b, 0.0, (level_db - a) / (b - a))
    return np.asarray(f_hz[near] + np.clip(share, 0, 1) * (f_hz[far] - f_hz[near]))


def _share(values: Array, width: Array) -> float:
    good = np.isfinite(width)
    if good.sum() < 3 or np.ptp(values[good]) == 0 or np.ptp(width[good]) == 0:
        return 0.0
    return float(np.corrcoef(values[good], width[good])[0, 1] ** 2)
