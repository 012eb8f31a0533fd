"""Every helper crystal with every product of its mixer on one band, as arithmetic on arrays.

Where the dial is carrier − VFO a helper turns the count round: (helper − VFO) rises with the dial.
"""

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.readout import Counter
from core.record import record
from core.rig.plan.frequency_plan import BandPlan, higher, lower
from core.rig.read_out.schemes import (
    COST,
    STRONG_HARMONIC,
    Direction,
    Reading,
    Refusal,
    harmonics_heard,
    reading_of,
    resolution_hz,
)
from core.rig.spurs.spurs import AUDIBLE_HZ, all_lines, vfo_line

#: Products of helper and VFO up to this order are looked at as birdies; higher ones are too weak to matter.
BIRDIE_ORDER = 6
#: A product must be this far in ratio from the other signals at the mixer to be filtered out of them.
SEPARABLE_RATIO = 1.15
#: A low-pass does when the nearest unwanted signal is this many times as high; else it takes a band-pass.
_LOW_PASS_RATIO = 1.5
#: What stands this near to the dial, as a share of it, an ordinary band-pass lets into the mixer.
_BESIDE = 0.02
#: A helper nearer than this ratio to the VFO pulls it, or beats with it at low frequencies.
_NEAR_RATIO = 1.3
#: What is taken from the helper's mixer: signs of helper and VFO, and its name.
_PRODUCTS: tuple[tuple[int, int, str], ...] = (
    (1, -1, "helper − VFO"),
    (-1, 1, "VFO − helper"),
    (1, 1, "helper + VFO"),
)
#: Why a helper is turned down, in the order in which reasons are tried.
_REASONS = (
    "the product falls when the dial rises, and the module cannot subtract a count",
    "the product is outside what the counter counts",
    "the counter cannot add or subtract as this needs",
    "the display has too few digits for it",
    "the product cannot be filtered from the helper, the VFO and the other product",
    "it makes a strong signal on the dial frequency",
    "it makes a strong signal in the IF",
    "it makes a strong signal that stays beside the dial, inside the band-pass, over the whole band",
)


@record
class Pick:
    """One scheme of one band, reduced to what the choice needs; `crystal` and `number` only with a helper."""

    cost: float
    offset_hz: float
    direction: Direction
    crystal: int | None = None
    number: int = 0


def strong(signals: Array, ends: Array, if_hz: tuple[float, float]) -> tuple[NDArray[np.bool_], ...]:
    """Whether one of some signals meets the dial, lies in the IF, or stays beside the dial, shapes (...).

    `signals`, shape (..., signals, 2), lie where they are with the dial at its `ends`, (2,); all in Hz.
    """
    away, low, high = signals - ends, lower(signals), higher(signals)
    meets = (lower(away) <= AUDIBLE_HZ) & (higher(away) >= -AUDIBLE_HZ)
    inside = (low <= if_hz[1] + AUDIBLE_HZ) & (high >= if_hz[0] - AUDIBLE_HZ)
    beside = higher(np.abs(away) / ends) <= _BESIDE
    return tuple(np.asarray(each.any(axis=-1)) for each in (meets, inside, beside))


class Helped:
    """Every helper crystal with every product on one band, as arrays of shape (crystals, products)."""

    def __init__(
        self, band: BandPlan, counter: Counter, if_hz: tuple[float, float], helpers_hz: Array
    ) -> None:
        self.band, self.counter, self.helpers = band, counter, helpers_hz
        slope, start = vfo_line(band)
        ends = np.array([band.dial_low_hz, band.dial_high_hz])
        vfo = slope * ends + start
        h = helpers_hz[:, None, None]
        signs = np.array([(a, b) for a, b, _ in _PRODUCTS], dtype=float)
        # (crystals, products, 2)
        self.counted = signs[:, 0, None] * h + signs[:, 1, None] * vfo
        #: Added when positive, subtracted when negative; the same at both ends where the product rises.
        self.offset = (ends - self.counted)[..., 0]
        low, high = lower(self.counted), higher(self.counted)
        other = np.abs(signs[:, 0, None] * h - signs[:, 1, None] * vfo)
        rivals = np.stack(
            [np.broadcast_to(h, self.counted.shape), np.broadcast_to(vfo, self.counted.shape), other], axis=0
        )
        #: Nearest unwanted signal below and above the product, as ratios above 1.
        with np.errstate(divide="ignore", invalid="ignore"):
            above = np.where(rivals >= low[..., None], rivals / high[..., None], np.inf)
            below = np.where(rivals <= high[..., None], low[..., None] / rivals, np.inf)
        ratio_above, ratio_below = lower(above.min(axis=0)), lower(below.min(axis=0))
        self.low_pass = (ratio_above >= _LOW_PASS_RATIO) & (ratio_below == np.inf)
        self.ratio_above, self.ratio_below = ratio_above, ratio_below
        step, digits = resolution_hz(counter), 10**counter.digits
        on_dial, in_if, beside = self._strong(ends, vfo, if_hz)
        wrong = [
            np.broadcast_to(signs[:, 1] * slope < 0, low.shape),
            (low < counter.lowest_hz) | (high > counter.highest_hz),
            np.where(self.offset >= 0, not counter.adds, not counter.subtracts),
            np.broadcast_to(ends[1] >= digits * step, low.shape),
            np.minimum(ratio_above, ratio_below) < SEPARABLE_RATIO,
            on_dial,
            in_if,
            beside,
        ]
        self.wrong = np.stack(wrong)
        self.usable: NDArray[np.bool_] = np.asarray(~self.wrong.any(axis=0))
        heard = harmonics_heard(band, if_hz, self.counted)
        self.birdies = self._birdies(ends, slope, start)[:, None] + heard
        self.cost = (
            COST["helper"]
            + np.where(self.low_pass, 0.0, COST["band_pass"])
            + COST["birdie"] * (self.birdies - heard)
            + COST["harmonic"] * heard
            + np.where(self._nearness(vfo) < _NEAR_RATIO, COST["near"], 0.0)[:, None]
        )

    def _nearness(self, vfo: Array) -> Array:
        """How near each helper comes to the VFO, as a ratio above 1."""
        # A VFO that stands still at an end of the dial is as far away as can be.
        with np.errstate(divide="ignore"):
            ratio = self.helpers[:, None] / vfo
        inside = (lower(ratio) < 1) & (higher(ratio) > 1)
        return np.where(inside, 1.0, lower(np.maximum(ratio, 1 / ratio)))

    def _strong(self, ends: Array, vfo: Array, if_hz: tuple[float, float]) -> tuple[NDArray[np.bool_], ...]:
        """Whether a strong signal of the scheme meets the dial, lies in the IF, or stays beside the dial."""
        h = self.helpers[:, None, None]
        sum_, difference = h + vfo, np.abs(h - vfo)
        times = np.arange(1, STRONG_HARMONIC + 1)[:, None]
        helper = np.broadcast_to(times * h, (self.helpers.size, STRONG_HARMONIC, 2))
        # Both products and the helper's harmonics whatever is counted, (crystals, 1, signals, 2), and
        # harmonics of what is counted, (crystals, products, signals, 2).
        shared = np.concatenate([helper, sum_, difference], axis=1)[:, None]
        of_each = [strong(shared, ends, if_hz), strong(times * self.counted[:, :, None, :], ends, if_hz)]
        return tuple(one | other for one, other in zip(*of_each, strict=True))

    def _birdies(self, ends: Array, slope: int, start: float) -> NDArray[np.int64]:
        """How many weaker products a VFO + b helper cross the dial, by crystal."""
        lines = all_lines(BIRDIE_ORDER)
        only = np.abs(lines.b) > 0
        a, b = lines.a[only], lines.b[only]
        raw = a[:, None] * (slope * ends + start) + b[:, None] * self.helpers[:, None, None]
        away = np.abs(raw) - ends
        meets = (lower(away) <= AUDIBLE_HZ) & (higher(away) >= -AUDIBLE_HZ)
        return np.asarray(meets.sum(axis=-1))

    def reading(self, crystal: int, number: int) -> Reading:
        """The reading with one crystal and product."""
        helper = float(self.helpers[crystal])
        counted = tuple(float(each) for each in self.counted[crystal, number])
        offset = float(self.offset[crystal, number])
        direction: Direction = "add" if offset >= 0 else "subtract"
        high = max(counted)
        if self.low_pass[crystal, number]:
            room = min(float(self.ratio_above[crystal, number]), 2.0)
            filter_hz: tuple[float, ...] = (high * room**0.5,)
        else:
            filter_hz = (min(counted), high)
        birdies = int(self.birdies[crystal, number])
        cost = float(self.cost[crystal, number])
        return reading_of(
            self.band,
            self.counter,
            "helper",
            _PRODUCTS[number][2],
            helper,
            counted,
            abs(offset),
            direction,
            filter_hz,
            birdies,
            cost,
            (_PRODUCTS[number][1], _PRODUCTS[number][0]),
        )

    def pick(self, crystal: int) -> Pick | None:
        """The best scheme with a crystal; None when none works."""
        cost = np.where(self.usable[crystal], self.cost[crystal], np.inf)
        number = int(np.argmin(cost))
        if not np.isfinite(cost[number]):
            return None
        offset = float(self.offset[crystal, number])
        way: Direction = "add" if offset >= 0 else "subtract"
        return Pick(float(cost[number]), abs(offset), way, crystal, number)

    def best(self, most: int) -> list[Reading]:
        """The best readings, one a crystal."""
        if self.helpers.size == 0:
            return []
        cost = np.where(self.usable, self.cost, np.inf)
        number, least = np.asarray(cost.argmin(axis=-1)), np.asarray(cost.min(axis=-1))
        order = [int(n) for n in np.argsort(least, kind="stable")[:most] if np.isfinite(least[n])]
        return [self.reading(n, int(number[n])) for n in order]

    def refusals(self) -> tuple[Refusal, ...]:
        """Why helper products were turned down: for a single crystal each, else counted by reason."""
        found = []
        for number, (*_, name) in enumerate(_PRODUCTS):
            first: NDArray[np.intp] = np.asarray(np.argmax(self.wrong[:, :, number], axis=0))
            bad = self.wrong[:, :, number].any(axis=0)
            for reason in np.unique(first[bad]):
                crystals = self.helpers[bad & (first == reason)]
                why = f"Refused because {_REASONS[int(reason)]}."
                found.append(Refusal(name, why, helpers_hz=tuple(map(float, crystals))))
        return tuple(found)
