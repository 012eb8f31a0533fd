"""The trimmer of a band-pass's resonator, and the fixed capacitor beside it."""

from dataclasses import dataclass
from math import pi

from core.model.stages.filters import BandPassFilter
from core.stages.on_hand import Shelf
from core.trade.series import neighbours

#: A capacitor smaller than this is what the wiring makes of it, F; common practice.
STRAY_F = 1.5e-12
#: Trimmers that are sold, from and to [F], and what they must make up for: tolerance of core and capacitors
#: [-]; common practice, no source.
_TRIMMERS_F = ((2e-12, 10e-12), (3e-12, 20e-12), (5e-12, 30e-12), (6e-12, 50e-12), (10e-12, 100e-12))
_TOLERANCE = 0.05


@dataclass(frozen=True, slots=True)
class Trimming:
    """A trimmer's range (low, high) [F], the fixed capacitors beside it [F], and both in words."""

    range_f: tuple[float, float]
    pieces: tuple[float, ...]
    note: str


def trimming(filter: BandPassFilter, f0: float, value: float, coil_h: float, shelf: Shelf) -> Trimming:
    """Fixed capacitor and trimmer for `value` [F] beside a coil [H] at `f0` [Hz], with what a picofarad does.

    The trimmer reaches as far to both sides as the tolerance of core and capacitors makes necessary. A
    capacitor of the `shelf` that leaves it this reach is taken before one is bought.
    """
    total = 1 / ((2 * pi * f0) ** 2 * coil_h)
    # A capacitor in series with others moves its circuit less.
    per_farad = f0 / (2 * total) if filter.coupling != "shunt_capacitor" else f0 * total / (2 * value**2)
    reach = (
        _TOLERANCE * (value**2 / total if filter.coupling == "shunt_capacitor" else total)
        + _TOLERANCE * value
    )
    low, high = next((each for each in _TRIMMERS_F if each[1] - each[0] >= 2 * reach), _TRIMMERS_F[-1])
    left = value - (low + high) / 2
    pieces: tuple[float, ...] = ()
    if left > STRAY_F:
        series = "E12" if filter.capacitors == "exact" else filter.capacitors
        slack = max((high - low) / 2 - reach, 0.0)
        on_hand = shelf.between(left - slack, left + slack)
        nearest = min(on_hand, key=lambda each: abs(each - left), default=None)
        pieces = (neighbours(left, series)[0] if nearest is None else nearest,)
    fixed = "".join(f"{each * 1e12:.3g} pF and " for each in pieces)
    note = (
        f"{fixed}a trimmer of {low * 1e12:g} to {high * 1e12:g} pF, {per_farad * 1e-15:.2g} kHz a picofarad, "
        "set for the least loss"
    )
    return Trimming((low, high), pieces, note)
