"""Read-out plan: how one counter shows every band with one helper crystal at most.

The schemes of a band are in `core.rig.read_out.schemes`, those with a helper in `core.rig.read_out.helper`;
here they are chosen together, ranked by parts and by what they put on the air.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import product

import numpy as np

from core.model.readout import Counter, ReadOut
from core.model.values.notation import format_value
from core.record import record
from core.rig.plan.frequency_plan import BandPlan
from core.rig.read_out.error import DialError, dial_error
from core.rig.read_out.helper import Helped, Pick
from core.rig.read_out.schemes import COST, Direction, Reading, Refusal, resolution_hz, without_helper
from core.stages.outcome import Unsolved

#: Two offsets nearer than this are one programme, Hz.
_SAME_OFFSET_HZ = 0.5


@record
class BandReadOut:
    """The plan of one band: the scheme chosen with its stored programme and how far it may be off, or the
    reason why none works.
    """

    band: str
    reading: Reading | Unsolved
    programme: int | None
    error: DialError | None


@record
class ReadOutPlan:
    """The plan of the rig: one helper crystal or none [Hz], a row a band, and the display's step [Hz]."""

    helper_hz: float | None
    bands: tuple[BandReadOut, ...]
    resolution_hz: float

    def of(self, band: str) -> BandReadOut | None:
        """The plan of a band; None when it has none."""
        return next((each for each in self.bands if each.band == band), None)


@lru_cache(maxsize=16)
def plan(
    bands: tuple[BandPlan, ...],
    read_out: ReadOut,
    if_pass_band_hz: tuple[float, float],
    helpers_hz: tuple[float, ...],
) -> ReadOutPlan:
    """The best read-out of all bands with one helper crystal at most.

    `bands` carry the carriers as measured or computed; `if_pass_band_hz` are the ladder's edges [Hz];
    `helpers_hz` the crystals a helper may have [Hz].
    """
    counter = read_out.counter
    own = [without_helper(band, counter, if_pass_band_hz)[0] for band in bands]
    helped = _helped(bands, read_out, if_pass_band_hz, helpers_hz)
    helper, picks = _choose(own, helped, counter)
    rows = []
    programmes: list[tuple[float, Direction]] = []
    for band, pick in zip(bands, picks, strict=True):
        place = None
        if isinstance(pick, Reading) and pick.direction != "none":
            place = _programme(programmes, pick.offset_hz, pick.direction)
        error = dial_error(pick, band, read_out) if isinstance(pick, Reading) else None
        rows.append(BandReadOut(band.band, pick, place, error))
    return ReadOutPlan(helper, tuple(rows), resolution_hz(counter))


@record
class Options:
    """What else was looked at for a band: the next best readings, and the schemes turned down."""

    band: str
    alternatives: tuple[Reading, ...]
    refused: tuple[Refusal, ...]


@lru_cache(maxsize=16)
def options(
    bands: tuple[BandPlan, ...],
    read_out: ReadOut,
    if_pass_band_hz: tuple[float, float],
    helpers_hz: tuple[float, ...],
) -> tuple[Options, ...]:
    """The other schemes of every band; arguments as for `plan` [Hz]."""
    made = plan(bands, read_out, if_pass_band_hz, helpers_hz)
    helped = _helped(bands, read_out, if_pass_band_hz, helpers_hz)
    found = []
    for band, of, row in zip(bands, helped, made.bands, strict=True):
        readings, refused = without_helper(band, read_out.counter, if_pass_band_hz)
        others = (r for r in (*readings, *of.best(_FINALISTS)) if r != row.reading)
        ranked = tuple(sorted(others, key=lambda r: r.cost))
        found.append(Options(band.band, ranked[:_FINALISTS], (*refused, *of.refusals())))
    return tuple(found)


@lru_cache(maxsize=4)
def _helped(
    bands: tuple[BandPlan, ...],
    read_out: ReadOut,
    if_pass_band_hz: tuple[float, float],
    helpers_hz: tuple[float, ...],
) -> tuple[Helped, ...]:
    # One that was measured is built; one that was chosen is bought.
    settled = read_out.helper_measured_hz or read_out.helper_hz
    crystals = np.array(helpers_hz if settled is None else (settled,), dtype=float)
    return tuple(Helped(band, read_out.counter, if_pass_band_hz, crystals) for band in bands)


def _programme(programmes: list[tuple[float, Direction]], offset_hz: float, direction: Direction) -> int:
    """Number of the stored programme with this offset [Hz], from 1; a new one is appended."""
    for number, (offset, way) in enumerate(programmes):
        if way == direction and abs(offset - offset_hz) < _SAME_OFFSET_HZ:
            return number + 1
    programmes.append((offset_hz, direction))
    return len(programmes)


def _needed(picks: Sequence[Pick | Unsolved]) -> int:
    """How many programmes the picks need."""
    programmes: list[tuple[float, Direction]] = []
    for pick in picks:
        if isinstance(pick, Pick) and pick.direction != "none":
            _programme(programmes, pick.offset_hz, pick.direction)
    return len(programmes)


#: How many crystals are compared in full; the others cost more on every band taken by itself.
_FINALISTS = 8
#: Costs more than anything that shows the band.
_UNSHOWN = 1000.0


_MISSING = Unsolved(
    "No scheme shows this band: see the reasons for those that were turned down; a counter with two inputs "
    "or another helper crystal may do."
)


def _choose(
    own: list[list[Reading]], helped: Sequence[Helped], counter: Counter
) -> tuple[float | None, list[Reading | Unsolved]]:
    """The helper, or None, and a reading a band, such that most bands are shown at the least cost."""
    direct = [min(readings, key=lambda r: r.cost, default=None) for readings in own]
    picks = _best_picks(direct, helped, counter.programmes)
    unlimited = picks
    if not all(isinstance(pick, Pick) for pick in picks):
        unlimited = _best_picks(direct, helped, len(picks))
    taken = next((p.crystal for p in picks if isinstance(p, Pick) and p.crystal is not None), None)
    helper = None if taken is None else float(helped[0].helpers[taken])
    readings: list[Reading | Unsolved] = []
    for pick, free, plain, of in zip(picks, unlimited, direct, helped, strict=True):
        if isinstance(pick, Unsolved):
            readings.append(_lacking(isinstance(free, Pick), counter.programmes, of, helper))
        elif pick.crystal is None:
            readings.append(plain or _MISSING)
        else:
            readings.append(of.reading(pick.crystal, pick.number))
    return helper, readings


def _lacking(with_more: bool, programmes: int, of: Helped, helper_hz: float | None) -> Unsolved:
    """Why a band is not shown; `with_more`: more programmes alone would show it."""
    if with_more:
        return Unsolved(
            f"The counter keeps {programmes} programme{'' if programmes == 1 else 's'} and the bands need "
            "more; take one with more, or let bands share a scheme."
        )
    if helper_hz is not None and of.usable.any():
        return Unsolved(
            f"The helper of {format_value(helper_hz, 'Hz', 8)}, which the other bands need, does not serve "
            "this one, and another would not serve them; a counter with two inputs or another scheme may do."
        )
    return _MISSING


def _best_picks(
    direct: Sequence[Reading | None], helped: Sequence[Helped], programmes: int
) -> list[Pick | Unsolved]:
    """A pick a band with one helper at most, such that most bands are shown at the least cost."""
    straight = [None if r is None else Pick(r.cost, r.offset_hz, r.direction) for r in direct]

    def limited(picks: Sequence[Pick | Unsolved]) -> list[Pick | Unsolved]:
        """The picks, later ones given up when there are not enough programmes."""
        if len(picks) <= programmes:
            return list(picks)
        kept: list[Pick | Unsolved] = []
        for pick in picks:
            kept.append(pick if _needed([*kept, pick]) <= programmes else _MISSING)
        return kept

    best = limited([each or _MISSING for each in straight])
    # Only where a band is not shown without one is a helper worth its parts.
    if not all(isinstance(pick, Pick) for pick in best):
        worth = _worth(best)
        for crystal in _finalists(direct, helped):
            choices: list[list[Pick | Unsolved]] = []
            for plain, of in zip(straight, helped, strict=True):
                with_it = of.pick(crystal)
                both = [each for each in (plain, with_it) if each is not None]
                choices.append([*both] or [_MISSING])
            for combination in product(*choices):
                picks = limited(combination)
                now = _worth(picks)
                if now < worth:
                    best, worth = picks, now
    return best


def _finalists(direct: Sequence[Reading | None], helped: Sequence[Helped]) -> list[int]:
    """The crystals that show most bands at the least cost, each band taken by itself."""
    if not helped or helped[0].helpers.size == 0:
        return []
    total = np.zeros(helped[0].helpers.size)
    for straight, of in zip(direct, helped, strict=True):
        cost = np.where(of.usable, of.cost, np.inf).min(axis=-1)
        total += np.minimum(np.where(np.isinf(cost), _UNSHOWN, cost), straight.cost if straight else np.inf)
    return [int(n) for n in np.argsort(total, kind="stable")[:_FINALISTS]]


def _worth(picks: Sequence[Pick | Unsolved]) -> tuple[int, float]:
    """What picks are worth, the least being the best: bands not shown, then cost."""
    shown = [p for p in picks if isinstance(p, Pick)]
    helped = sum(p.crystal is not None for p in shown)
    cost = sum(p.cost for p in shown) + COST["programme"] * _needed(picks)
    # One helper serves all bands: it is built once, and switched where only some bands want it.
    cost -= COST["helper"] * max(helped - 1, 0)
    if 0 < helped < len(shown):
        cost += COST["switched"]
    return len(picks) - len(shown), cost
