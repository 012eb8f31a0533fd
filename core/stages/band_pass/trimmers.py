"""The trimmer of a band-pass's resonator, and the fixed capacitor beside it."""

from math import pi

from core.model.stages.filters import BandPassFilter
from core.model.values.notation import format_value
from core.record import record
from core.stages.on_hand import Shelf
from core.trade.series import neighbours

#: A capacitor smaller than this is what the wiring makes of it, F; common practice.
STRAY_F = 1.5e-12
#: Trimmers that are sold, from and to [F], and what they must make up for: tolerance of core and capacitors
#: [-]; common practice, no source.
_TRIMMERS_F = ((2e-12, 10e-12), (3e-12, 20e-12), (5e-12, 30e-12), (6e-12, 50e-12), (10e-12, 100e-12))
_TOLERANCE = 0.05
#: A trimmer on hand may be so many times as wide as one that would be bought: a wider one is hard to set; a
#: choice.
_WIDER = 2.0


@record
class Trimming:
    """A trimmer's range (low, high) [F], the fixed capacitors beside it [F], and both in words."""

    range_f: tuple[float, float]
    pieces: tuple[float, ...]
    note: str


def trimming(
    filter: BandPassFilter, f0: float, value: float, coil_h: float, shelf: Shelf, alike: int = 1
) -> Trimming:
    """Fixed capacitor and trimmer for `value` [F] beside a coil [H] at `f0` [Hz], with what a picofarad does.

    The trimmer reaches as far to both sides as the tolerance of core and capacitors makes necessary. A
    trimmer of the `shelf`, where there are enough for all `alike` resonators, and a capacitor that leaves it
    this reach are taken before any is bought.
    """
    total = 1 / ((2 * pi * f0) ** 2 * coil_h)
    # A capacitor in series with others moves its circuit less.
    per_farad = f0 / (2 * total) if filter.coupling != "shunt_capacitor" else f0 * total / (2 * value**2)
    reach = (
        _TOLERANCE * (value**2 / total if filter.coupling == "shunt_capacitor" else total)
        + _TOLERANCE * value
    )
    fitting = [each for each in _TRIMMERS_F if each[1] - each[0] >= 2 * reach] or [_TRIMMERS_F[-1]]
    low, high = fitting[0]
    mine = [
        (each.low_f, each.high_f)
        for each in sorted(shelf.trimmers, key=lambda each: each.high_f - each.low_f)
        if each.many >= alike and 2 * reach <= each.high_f - each.low_f <= _WIDER * (high - low)
    ]
    alone = next((each for each in mine if each[0] <= value - reach and value + reach <= each[1]), None)
    pieces: tuple[float, ...] = ()
    if alone is not None:
        low, high = alone
    else:
        wants = value - (low + high) / 2 > STRAY_F
        # The smallest with which some capacitor leaves the trimmer its reach; with the largest any will.
        for each in (*mine, *(fitting if wants else ())):
            piece = _beside(value, each, reach, filter, shelf)
            if piece is not None:
                (low, high), pieces = each, (piece,)
                break
        else:
            if wants:
                low, high = fitting[-1]
                pieces = (neighbours(max(value - (low + high) / 2, STRAY_F), _series(filter))[0],)
    fixed = "".join(f"{format_value(each, 'F', 3)} and " for each in pieces)
    moved = format_value(per_farad * 1e-12, "Hz", 2)
    reaches = f"a trimmer of {low * 1e12:g} to {high * 1e12:g} pF, {moved} a picofarad"
    note = f"{fixed}{reaches}, set for the least loss"
    return Trimming((low, high), pieces, note)


def _beside(
    value: float, trimmer: tuple[float, float], reach: float, filter: BandPassFilter, shelf: Shelf
) -> float | None:
    """The fixed capacitor [F] with which a trimmer reaches so far around `value` [F]; None where none is."""
    left = value - sum(trimmer) / 2
    slack = (trimmer[1] - trimmer[0]) / 2 - reach
    if left <= STRAY_F or slack < 0:
        return None
    bought = neighbours(left, _series(filter))
    near = shelf.between(left - slack, left + slack) or tuple(c for c in bought if abs(c - left) <= slack)
    return min(near, key=lambda each: abs(each - left), default=None)


def _series(filter: BandPassFilter) -> str:
    return "E12" if filter.capacitors == "exact" else filter.capacitors
