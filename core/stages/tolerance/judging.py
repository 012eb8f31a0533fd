"""What every tolerance run has: how a circuit is judged, the figures of its trials, and its results."""

from collections.abc import Callable, Mapping
from typing import Any, Protocol

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.bands import Dials
from core.model.bench import Scatter, Scattered
from core.record import record
from core.stages.outcome import Design, Unsolved

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


def share(values: Array, width: Array) -> float:
    """How much of a figure's scatter comes from a part's, (T,) each: squared correlation [-]."""
    good = np.isfinite(width)
    if good.sum() < 3 or np.ptp(values[good]) == 0 or np.ptp(width[good]) == 0:
        return 0.0
    return float(np.corrcoef(values[good], width[good])[0, 1] ** 2)
