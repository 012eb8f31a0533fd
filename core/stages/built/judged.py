"""Whether a measured curve is that of the design: held against what scattered parts make of it.

The same trials as those of the shade of tolerances (`corridor`) are solved at the frequencies of the curve.
It must lie among them in the pass-band and in what it holds back, and its edges among theirs, but for what a
simple instrument errs. The shade itself would be no measure: a tenth of all filters lies outside of it at
any frequency, and more than that somewhere. Of a design without trials a curve may be off as is usual.
"""

from math import isfinite

import numpy as np
from numpy.typing import NDArray

from core.circuits.active.linear import around
from core.circuits.active.many import at_rest, only
from core.circuits.active.two_port import of_linear
from core.circuits.ladder import Array, frozen
from core.circuits.response import inner_part
from core.model.bands import Dials
from core.model.values.notation import format_value
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.scattered import draw as draw_amplifiers
from core.stages.outcome import TwoPort, Unsolved
from core.stages.tolerance.curves import edges
from core.stages.tolerance.drawn import draw, peaked, trimming_hz
from core.stages.tolerance.judging import Spreads

#: Trials: another one lies beyond all of them once in sixty-five times. Solved so many at once.
TRIALS, _CHUNK = 64, 16
#: What a simple instrument errs in the pass-band, and below it [dB]; how far a design without trials may
#: usually be off [dB], its edges by this share [-]. Common practice, no source.
_ERRS_DB, _ERRS_BELOW_DB = 0.5, 3.0
_USUAL_DB, _USUAL_SHARE = 1.0, 0.1
#: An edge is where so much more is lost than at least; what is held back begins so far down [dB].
_EDGE_DB, _BELOW_DB = 6.0, 20.0
#: Losses beyond this are all one to a simple instrument, dB.
_FLOOR_DB = 60.0
_MOST_DB = 1e3
#: Fewest points of a curve in the pass-band.
_LEAST = 5


@record(eq=False, kw_only=True)
class Expected:
    """What a sweep should show at `f_hz` (F,) [Hz]: loss [dB] of the design, (F,), and of trials with
    scattered parts, (T, F), T being 0 where none are known. `gains`: it is an amplifier's, so that a loss
    below zero is told as the gain that it is.
    """

    f_hz: Array
    loss_db: Array
    trials_db: Array
    gains: bool = False


@record(kw_only=True)
class Off:
    """How far a curve is `off` in one respect, and how far it may be, from `low` to `high`, all in `unit`:
    `what` says in which respect, `at_hz` [Hz] where that was found.
    """

    what: str
    unit: str
    off: float
    low: float
    high: float
    at_hz: float

    @property
    def within(self) -> bool:
        """Whether it is no further off than it may be."""
        return self.low <= self.off <= self.high

    @property
    def words(self) -> str:
        """The same in words: `loss in the pass-band up to 0.4 dB more, at 14.21 MHz (0.9 dB may be)`."""
        most, at = abs(self.high if self.off > 0 else self.low), format_value(self.at_hz, "Hz", 6)
        if self.unit == "Hz":
            off, may = (format_value(abs(each), "Hz", 2) for each in (self.off, most))
            return f"{self.what} at {at}, {off} {'high' if self.off > 0 else 'low'} ({may} may be)"
        way = "more" if self.off > 0 else "less"
        return f"{self.what} up to {abs(self.off):.1f} dB {way}, at {at} ({most:.1f} dB may be)"


@record(kw_only=True)
class CurveVerdict:
    """A measured curve against what is expected of it, respect by respect."""

    offs: tuple[Off, ...]

    @property
    def within(self) -> bool:
        """Whether it is the design's in every respect."""
        return all(each.within for each in self.offs)

    @property
    def words(self) -> str:
        """What is out, or how close all is: `loss in the pass-band up to 0.2 dB more, at …`."""
        # What is held back is told where it is not.
        told = [each for each in self.offs if (isfinite(each.high) if self.within else not each.within)]
        return f"{'; '.join(each.words for each in told)}."


def scattered(design: TwoPort, f_hz: Array, spreads: Spreads, dials: Dials) -> Expected | Unsolved:
    """What a sweep of a design should show at frequencies (F,) [Hz]; `dials` [Hz] are what its trimmers,
    where it has any, are set for.
    """
    nominal = design.response(f_hz)
    if isinstance(nominal, Unsolved):
        return nominal
    values = draw(design.circuit, spreads, TRIALS)
    if design.trimmed and dials:
        values = peaked(design, trimming_hz(dials), values)
    trials = []
    for first in range(0, TRIALS, _CHUNK):
        some = {ref: each[first : first + _CHUNK] for ref, each in values.items()}
        tried = design.response(f_hz, some)
        if isinstance(tried, Unsolved):
            return tried
        trials.append(np.broadcast_to(tried.loss_db, (len(next(iter(some.values()))), f_hz.size)))
    return Expected(
        f_hz=f_hz,
        loss_db=frozen(nominal.loss_db),
        trials_db=frozen(np.minimum(np.vstack(trials), _MOST_DB)),
    )


def scattered_gain(
    design: AmplifierDesign, f_hz: Array, gain_db: Array, spreads: Spreads, ends_ohm: tuple[float, float]
) -> Expected:
    """The same of an amplifier that counts with a gain (F,) [dB], its parts and transistors scattered,
    between the resistances of what it is measured with [ohm].
    """
    circuit = design.circuit
    times, _ = draw_amplifiers(circuit, design.transistor, spreads, TRIALS)
    # The last trial is the amplifier itself, which the others are told against.
    times = {key: np.append(each, 1.0) for key, each in times.items()}
    nothing = Expected(
        f_hz=f_hz, loss_db=frozen(-gain_db), trials_db=frozen(np.empty((0, f_hz.size))), gains=True
    )
    if not times:
        return nothing
    rests, settled = at_rest(circuit, design.rest, times)
    linear = around(circuit, rests, only(times, settled))
    port = linear if isinstance(linear, Unsolved) else of_linear(linear, f_hz)
    if isinstance(port, Unsolved) or not settled[-1]:
        return nothing
    gains = port.gain_db(*ends_ohm)
    trials = frozen(-(gains[:-1] - gains[-1] + gain_db))
    return Expected(f_hz=f_hz, loss_db=nothing.loss_db, trials_db=trials, gains=True)


def judged(loss_db: Array, of: Expected) -> CurveVerdict | Unsolved:
    """The loss (F,) [dB] that was measured where `of` is known, ascending, against what is expected there."""
    f = of.f_hz
    rows = np.vstack([loss_db, of.loss_db, of.trials_db])
    inside = _pass_band(f, of.loss_db)
    if np.count_nonzero(inside) < _LEAST:
        low, high = (format_value(float(each), "Hz", 5) for each in (f[0], f[-1]))
        return Unsolved(
            f"This curve has {np.count_nonzero(inside)} points in the pass-band, from {low} to {high}; sweep "
            f"that with {_LEAST} points at least, or take the curve of this stage."
        )
    offs = [_in_band(f[inside], rows[:, inside], gains=of.gains)]
    offs += _at_edges(f, rows)
    below = of.loss_db > of.loss_db.min() + _BELOW_DB
    if below.any() and not of.gains:
        offs.append(_held_back(f[below], rows[:, below]))
    return CurveVerdict(offs=tuple(offs))


def _pass_band(f_hz: Array, loss_db: Array) -> NDArray[np.bool_]:
    """Where ripple is judged; of what has no edge on the curve all that is within 3 dB of its top."""
    low, high, both = edges(f_hz, loss_db[np.newaxis], 3.0)
    if both[0]:
        low, high = inner_part(low, high)
    return np.asarray((f_hz >= low) & (f_hz <= high) & (loss_db <= loss_db.min() + 3.0))


def _in_band(f_hz: Array, rows: Array, *, gains: bool) -> Off:
    """The point of the pass-band that lies furthest out, of what it may be."""
    measured, nominal, trials = rows[0], rows[1], rows[2:]
    off = measured - nominal
    low, high = _among(trials - nominal, _ERRS_DB, _USUAL_DB)
    at = _furthest(off, low, high)
    worst, least, most = (float(each[at]) for each in (off, low, high))
    what = "loss in the pass-band"
    if gains:
        what, worst, least, most = "gain", -worst, -most, -least
    return Off(what=what, unit="dB", off=worst, low=least, high=most, at_hz=float(f_hz[at]))


def _at_edges(f_hz: Array, rows: Array) -> list[Off]:
    """The edges that the curve reaches, by their names."""
    found = []
    low, high, _ = edges(f_hz, rows, _EDGE_DB)
    for name, there, end in (("lower edge", low, f_hz[0]), ("upper edge", high, f_hz[-1])):
        measured, nominal, trials = float(there[0]), float(there[1]), there[2:]
        if nominal == end:
            continue
        least, most = _among((trials - nominal)[:, np.newaxis], 0.0, _USUAL_SHARE * nominal)
        # A curve knows an edge no better than to a fraction of its own step.
        step = float(np.interp(nominal, f_hz[1:], np.diff(f_hz))) / 4
        found.append(
            Off(
                what=f"{name} (−{_EDGE_DB:.0f} dB)",
                unit="Hz",
                off=measured - nominal,
                low=float(least[0]) - step,
                high=float(most[0]) + step,
                at_hz=measured,
            )
        )
    return found


def _held_back(f_hz: Array, rows: Array) -> Off:
    """Where most is let through that should be held back."""
    measured, nominal, trials = np.minimum(rows[0], _FLOOR_DB), np.minimum(rows[1], _FLOOR_DB), rows[2:]
    off = measured - nominal
    low, _ = _among(np.minimum(trials, _FLOOR_DB) - nominal, _ERRS_BELOW_DB, _ERRS_BELOW_DB)
    at = _furthest(np.minimum(off, 0.0), low, -low)
    return Off(
        what="loss where it holds back",
        unit="dB",
        off=float(off[at]),
        low=float(low[at]),
        high=np.inf,
        at_hz=float(f_hz[at]),
    )


def _among(trials: Array, errs: float, usual: float) -> tuple[Array, Array]:
    """How far off (F,) a curve may be, below and above, by trials (T, F) and what an instrument errs."""
    if not trials.size:
        nothing = np.zeros(trials.shape[-1])
        return nothing - usual, nothing + usual
    return np.minimum(trials.min(axis=0), 0.0) - errs, np.maximum(trials.max(axis=0), 0.0) + errs


def _furthest(off: Array, low: Array, high: Array) -> int:
    return int(np.argmax(np.maximum(off / high, off / low)))
