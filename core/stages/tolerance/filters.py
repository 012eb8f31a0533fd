"""Tolerance run of a filter: many filters with scattered parts, and what comes of them.

Every trial solves the exact network of its drawn parts and is measured on the common frequency grid. What has
a trimmer is set before for the least loss on the dial, as the builder does.
One broadcast solution takes a chunk of trials; nothing loops over frequency or trials.
"""

import numpy as np

from core.circuits.ladder import Response, frozen
from core.circuits.response import served_grid
from core.model.bands import Dials
from core.model.bench import Scatter
from core.stages.outcome import TwoPort, Unsolved
from core.stages.tolerance.curves import measure
from core.stages.tolerance.drawn import draw, peaked, trimming_hz
from core.stages.tolerance.judging import (
    Judging,
    Limits,
    Measured,
    Spreads,
    ToleranceRun,
    Trials,
    Watch,
    figure,
    share,
)

#: Trials solved at once: their arrays still fit into a processor's cache.
_CHUNK = 20
#: Points over each range of the dial at which a front filter is measured.
_DIAL_POINTS = 21


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
    over = served_grid(dials, _DIAL_POINTS)
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
