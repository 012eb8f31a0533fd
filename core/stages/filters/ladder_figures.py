"""Figures of a ladder beyond its pass-band: how deep it stops, how C0 flares, and what rounding costs."""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import solve
from core.circuits.response import noise_bandwidth_hz
from core.circuits.shapes.flat_couplings import LEAST_FLAT
from core.model.stages.filters import LadderFilter
from core.model.values.notation import format_value
from core.model.values.parts import END_MATCH
from core.record import record
from core.stages.filters import ladder_filter, ladder_meshes
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.gate import gate
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved

#: The far stop-band: this many −6 dB widths away from the pass-band's edges, from and to.
FAR_WIDTHS = (3.0, 30.0)
#: How far above series resonance a flare is looked for, in spacings to parallel resonance.
_FLARE_SPACINGS = 4.0
_POINTS = 301
#: How far beyond the −6 dB edges noise is counted, in −6 dB widths: a two-pole's skirts pass 0.1 % beyond.
_NOISE_WIDTHS = 4.0


@record
class Flare:
    """How the loss above the pass-band comes back beyond its largest value, which C0 puts near parallel
    resonance: `peak_hz` where it is largest, `back_db` how far it has come down by `low_hz` [dB].
    """

    peak_hz: float
    back_db: float
    low_hz: float


@record
class StopBand:
    """Least loss of the far stop-band below and above the pass-band, dB over the filter's least loss, and
    the flare above; None where the loss only rises. Parts alone: wiring leaks past them.
    """

    below_db: float
    above_db: float
    flare: Flare | None

    @property
    def ultimate_db(self) -> float:
        """The ultimate attenuation: the lesser of the two sides, dB."""
        return min(self.below_db, self.above_db)


@record
class Rounding:
    """The price of preferred values: figures with exact capacitors and with those of the series."""

    exact: FilterFigures
    preferred: FilterFigures


@lru_cache(maxsize=64)
@gate("The ladder's stop-band")
def stop_band(solved: SolvedLadder) -> StopBand | Unsolved:
    """The stop-band of a ladder on its resulting parts."""
    crystal, band = solved.asked.ladder.crystal, solved.band
    low, high = band.edges_hz[6.0]
    if low is None or high is None or crystal is None:
        return Unsolved(ladder_filter.no_pass_band(solved.asked.ladder))
    away = (high - low) * np.geomspace(*FAR_WIDTHS, _POINTS)
    under, over = low - away, high + away
    spacing = ladder_meshes.parallel_spacing_hz(solved.asked.fs_hz, crystal)
    # A narrow filter's flare lies beyond what counts as far for its width.
    beyond = high + np.geomspace(away[0], max(away[-1], _FLARE_SPACINGS * spacing), 2 * _POINTS)
    below, above, flared = (
        solve(solved.design.network, np.maximum(f, low / 10)).loss_db - band.least_loss_db
        for f in (under, over, beyond)
    )
    peak = int(np.argmax(flared))
    least = peak + int(np.argmin(flared[peak:]))
    flare = None
    if least > peak:
        flare = Flare(float(beyond[peak]), float(flared[peak] - flared[least]), float(beyond[least]))
    return StopBand(float(below.min()), float(above.min()), flare)


@lru_cache(maxsize=64)
@gate("The ladder's noise bandwidth")
def noise_bandwidth(
    solved: SolvedLadder, at_hz: float | None = None, ends_ohm: tuple[complex, complex] | None = None
) -> float | Unsolved:
    """Noise bandwidth [Hz] of a ladder, integrated over its exact response.

    Over its least loss, or that at `at_hz` [Hz]; between its own resistances, or between `ends_ohm`.
    """
    low, high = solved.band.edges_hz[6.0]
    if low is None or high is None:
        return Unsolved(ladder_filter.no_pass_band(solved.asked.ladder))
    reach = _NOISE_WIDTHS * (high - low)
    found = noise_bandwidth_hz(
        solved.design.network, low - reach, high + reach, at_hz=at_hz, ends_ohm=ends_ohm
    )
    return found if np.isfinite(found) else Unsolved(ladder_filter.no_pass_band(solved.asked.ladder))


def rounding(asked: AskedLadder) -> Rounding | Unsolved | None:
    """What preferred values cost a ladder; None when its capacitors are exact.

    As-built values are left out, as they are no matter of rounding.
    """
    if asked.ladder.capacitors == "exact":
        return None
    preferred = ladder_filter.figures(asked.bare)
    exact = ladder_filter.figures(asked.bare.edited(("capacitors",), "exact"))
    if isinstance(preferred, Unsolved):
        return preferred
    return exact if isinstance(exact, Unsolved) else Rounding(exact, preferred)


@lru_cache(maxsize=64)
def flatness(asked: AskedLadder) -> tuple[FilterFigures | Unsolved, FilterFigures | Unsolved] | None:
    """What counting the crystals' Q brings and costs: figures of the ladder designed without loss, and with
    their Q.

    As-built values are left out. None for shapes whose capacitors are alike by intent.
    """
    if asked.ladder.shape not in ("butterworth", "chebyshev") or asked.ladder.poles < LEAST_FLAT:
        return None
    bare = asked.bare
    without, with_q = (
        ladder_filter.figures(bare.edited(("flatness",), each))
        for each in ("as_designed", "for_the_crystals")
    )
    return without, with_q


def shape_factor(figures: FilterFigures) -> float | None:
    """The −60 dB width over the −6 dB width [-]; None when the curve never reaches one of them."""
    wide, narrow = figures.bandwidth_60db_hz, figures.bandwidth_6db_hz
    return None if wide is None or not narrow else wide / narrow


def end_match(ladder: LadderFilter, made: FilterDesign) -> str:
    """How a ladder's ends meet the resistance around, with turns or parts; `none` where they meet it bare."""
    parts = [p for p in made.parts if p.role in END_MATCH]
    told = [
        p.note if p.kind == "transformer" else f"{p.ref} {format_value(p.fitted, p.unit, 3)}" for p in parts
    ]
    return "; ".join([ladder.end_match.replace("_", " "), *told]) if parts else "none"
