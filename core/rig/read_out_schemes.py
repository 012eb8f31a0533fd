"""The schemes by which a simple counter can show the dial of one band, and what speaks against each.

A module counts, and adds or subtracts a stored number; a negative result shows zeros. Whatever is counted
must therefore rise with the dial: count = dial - offset. The VFO does so where the dial is a sum or the
VFO the higher; where the dial is carrier - VFO a helper crystal turns it round: (helper - VFO) rises. All
frequencies are straight lines against the dial, so that a plan over every helper crystal is arithmetic on
arrays.
"""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.notation import format_frequency, format_value
from core.model.readout import Counter
from core.rig.frequency_plan import BandPlan, image_for
from core.rig.spurs import AUDIBLE_HZ, all_lines, vfo_line

Direction = Literal["add", "subtract", "none"]
Arrangement = Literal["direct", "both", "mixed_up", "helper"]
#: Harmonics up to this of the helper and of what is counted are strong: counters want square waves.
STRONG_HARMONIC = 3
#: The counter squares what it counts, and the square's harmonics up to this are birdies.
SQUARE_HARMONICS = 15
#: Products of helper and VFO up to this order are looked at as birdies; higher ones are too weak to matter.
BIRDIE_ORDER = 6
#: A product must be this far in ratio from the other signals at the mixer to be filtered out of them.
SEPARABLE_RATIO = 1.15
#: A low-pass does when the nearest unwanted signal is this many times as high; else it takes a band-pass.
_LOW_PASS_RATIO = 1.5
#: What stands this near to the dial, as a share of it, an ordinary band-pass lets into the mixer.
_BESIDE = 0.02
#: What a scheme costs in the ranking: a helper oscillator with its mixer and filter, a second counter input,
#: a band-pass rather than a low-pass, a further programme, a helper that is switched, one birdie by stray
#: mixing, one harmonic of the counter's square wave that is heard on the dial, a helper near the VFO. They
#: only rank.
COST = {
    "helper": 4.0,
    "both": 1.0,
    "band_pass": 1.0,
    "programme": 0.5,
    "switched": 0.5,
    "birdie": 0.3,
    "harmonic": 1.0,
    "near": 1.0,
}
#: A helper nearer than this ratio to the VFO pulls it, or beats with it at low frequencies.
_NEAR_RATIO = 1.3
_SCHEME_WORDS = {"sum": "carrier + VFO", "if_minus_vfo": "carrier − VFO", "vfo_minus_if": "VFO − carrier"}


@dataclass(frozen=True, slots=True)
class Refusal:
    """A scheme that was turned down, and why."""

    scheme: str
    reason: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One scheme that shows the dial of one band.

    `counted_hz` is what the counter sees at the lower and upper dial edge; `offset_hz` is stored and added or
    subtracted; `shows_hz` is the display at both edges as the module would form it. `filter` says what brings
    the counted product out of the helper's mixer. `birdies` counts weaker products of the helper that cross
    the dial, and harmonics of what is counted that are heard on it. `counts` are the multiples of VFO and
    helper that make what is counted.
    """

    band: str
    arrangement: Arrangement
    scheme: str
    helper_hz: float | None
    counted_hz: tuple[float, float]
    offset_hz: float
    direction: Direction
    shows_hz: tuple[float, float]
    filter: str
    birdies: int
    cost: float
    counts: tuple[int, int] = (1, 0)


def resolution_hz(counter: Counter) -> float:
    """Smallest step of the display [Hz]: prescaler over gate time."""
    return counter.prescaler / counter.gate_s


def shown_hz(counter: Counter, counted_hz: float, offset_hz: float, direction: Direction) -> float:
    """What the module displays, Hz, for a counted frequency and a stored offset [Hz].

    The count is cut to whole counts, the offset is stored in whole counts, a negative result shows zeros,
    and digits beyond the display's are lost.
    """
    step = resolution_hz(counter)
    counts = int(counted_hz / step + 1e-6)
    stored = round(offset_hz / step)
    result = counts + (stored if direction == "add" else -stored if direction == "subtract" else 0)
    return max(result, 0) % 10**counter.digits * step


# -- without a helper -----------------------------------------------------------------------------------


def without_helper(
    band: BandPlan, counter: Counter, if_pass_band_hz: tuple[float, float]
) -> tuple[list[Reading], list[Refusal]]:
    """Readings that need no helper, and those that were turned down; the IF's edges are in Hz."""
    readings: list[Reading] = []
    refused: list[Refusal] = []
    slope, start = vfo_line(band)
    ends = (band.dial_low_hz, band.dial_high_hz)
    vfo = tuple(slope * end + start for end in ends)
    carrier = band.carrier_hz
    heard = int(harmonics_heard(band, if_pass_band_hz, np.array(vfo)))
    noise = COST["harmonic"] * heard
    for direction in ("add", "subtract"):
        name = f"VFO counted, carrier {'added' if direction == 'add' else 'subtracted'}"
        reason = _cannot(counter, vfo, direction) or _wrong(counter, ends, vfo, carrier, direction)
        if reason:
            refused.append(Refusal(name, reason))
        else:
            readings.append(
                _reading(band, counter, "direct", name, None, vfo, carrier, direction, "", heard, noise)
            )
    both = f"VFO and carrier both counted, {_SCHEME_WORDS[band.scheme]}"
    if counter.inputs < 2:
        refused.append(Refusal(both, "The counter has one input and cannot count two frequencies in turn."))
    elif reason := _out_of_range(counter, (*vfo, carrier)):
        refused.append(Refusal(both, reason))
    else:
        readings.append(
            _reading(band, counter, "both", both, None, ends, 0.0, "none", "", heard, COST["both"] + noise)
        )
    refused.append(
        Refusal(
            f"{_SCHEME_WORDS[band.scheme]} mixed up to the operating frequency and counted",
            "The display would be right, but a strong signal on the very dial frequency is heard everywhere "
            "on the dial.",
        )
    )
    return readings, refused


def _cannot(counter: Counter, counted: tuple[float, ...], direction: str) -> str:
    if direction == "add" and not counter.adds:
        return "The counter cannot add."
    if direction == "subtract" and not counter.subtracts:
        return "The counter cannot subtract."
    return _out_of_range(counter, counted)


def _out_of_range(counter: Counter, counted: tuple[float, ...]) -> str:
    if min(counted) < counter.lowest_hz or max(counted) > counter.highest_hz:
        return (
            f"{_mhz(min(counted))} to {_mhz(max(counted))} is outside what the counter counts "
            f"({_mhz(counter.lowest_hz)} to {_mhz(counter.highest_hz)})."
        )
    return ""


def _wrong(
    counter: Counter,
    ends: tuple[float, float],
    counted: tuple[float, ...],
    offset: float,
    direction: Direction,
) -> str:
    """Why the display would be wrong; empty when it is right at both edges."""
    shows = [shown_hz(counter, each, offset, direction) for each in counted]
    # Carrier and VFO are each cut to a step.
    if all(abs(a - b) <= 2.5 * resolution_hz(counter) for a, b in zip(shows, ends, strict=True)):
        return ""
    if direction == "subtract" and max(counted) < offset:
        return f"{_mhz(counted[0])} less {_mhz(offset)} is negative, and the module shows zeros for that."
    if abs(counted[0] + offset - ends[0]) < 1 and ends[1] >= 10**counter.digits * resolution_hz(counter):
        step = resolution_hz(counter)
        return f"The dial's first digit is lost: {counter.digits} digits of {step:.0f} Hz are too few."
    turned = " and runs the wrong way" if (shows[1] - shows[0]) * (ends[1] - ends[0]) < 0 else ""
    return f"It would show {_mhz(shows[0])} for a dial of {_mhz(ends[0])}{turned}."


def _reading(
    band: BandPlan,
    counter: Counter,
    arrangement: Arrangement,
    scheme: str,
    helper_hz: float | None,
    counted: tuple[float, ...],
    offset: float,
    direction: Direction,
    filter: str,
    birdies: int,
    cost: float,
    counts: tuple[int, int] = (1, 0),
) -> Reading:
    shows = tuple(shown_hz(counter, each, offset, direction) for each in counted)
    return Reading(
        band.band,
        arrangement,
        scheme,
        helper_hz,
        (counted[0], counted[1]),
        offset,
        direction,
        (shows[0], shows[1]),
        filter,
        birdies,
        cost,
        counts,
    )


def harmonics_heard(band: BandPlan, if_pass_band_hz: tuple[float, float], counted_hz: Array) -> NDArray[Any]:
    """How many harmonics of what is counted are heard on the dial, shape (...).

    `counted_hz` is what the counter sees at the dial's ends, shape (..., 2) [Hz]. They are heard on the dial
    frequency, on the image, and inside the IF's pass-band [Hz].
    """
    ends = np.array([band.dial_low_hz, band.dial_high_hz])
    image = np.array([image_for(band.scheme, band.carrier_hz, band.vfo_at(float(end))) for end in ends])
    count = np.zeros(counted_hz.shape[:-1])
    half = (if_pass_band_hz[1] - if_pass_band_hz[0]) / 2
    once = np.maximum(counted_hz, 1.0)
    for place, reach in ((ends, AUDIBLE_HZ), (image, AUDIBLE_HZ), (sum(if_pass_band_hz) / 2, half)):
        # A line that is above the place at one end of the dial and below it at the other meets it.
        lowest = np.maximum(((place - reach) / once).min(axis=-1), 1)
        highest = np.minimum(((place + reach) / once).max(axis=-1), SQUARE_HARMONICS)
        count += np.maximum(np.floor(highest) - np.ceil(lowest) + 1, 0)
    return count.astype(int)


def _mhz(hz: float) -> str:
    return format_frequency(hz, 1000)


# -- with a helper --------------------------------------------------------------------------------------

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


@dataclass(frozen=True, slots=True)
class Pick:
    """One scheme of one band, reduced to what the choice needs; `crystal` and `number` only with a helper."""

    cost: float
    offset_hz: float
    direction: Direction
    crystal: int | None = None
    number: int = 0


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
        low, high = self.counted.min(axis=-1), self.counted.max(axis=-1)
        other = np.abs(signs[:, 0, None] * h - signs[:, 1, None] * vfo)
        rivals = np.stack(
            [np.broadcast_to(h, self.counted.shape), np.broadcast_to(vfo, self.counted.shape), other], axis=0
        )
        #: Nearest unwanted signal below and above the product, as ratios above 1.
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio_above = np.where(rivals >= low[..., None], rivals / high[..., None], np.inf).min(
                axis=(0, -1)
            )
            ratio_below = np.where(rivals <= high[..., None], low[..., None] / rivals, np.inf).min(
                axis=(0, -1)
            )
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
        ratio = self.helpers[:, None] / vfo
        inside = (ratio < 1).any(axis=-1) & (ratio > 1).any(axis=-1)
        return np.where(inside, 1.0, np.maximum(ratio, 1 / ratio).min(axis=-1))

    def _strong(self, ends: Array, vfo: Array, if_hz: tuple[float, float]) -> tuple[NDArray[np.bool_], ...]:
        """Whether a strong signal of the scheme meets the dial, lies in the IF, or stays beside the dial."""
        h = self.helpers[:, None, None]
        sum_, difference = np.abs(h + vfo), np.abs(h - vfo)
        times = np.arange(1, STRONG_HARMONIC + 1)[:, None]
        helper = np.broadcast_to(times * h, (self.helpers.size, STRONG_HARMONIC, 2))
        # (crystals, products, signals, 2): both products, harmonics of the helper and of what is counted.
        counted = times * self.counted[:, :, None, :]
        shared = np.concatenate([helper, sum_, difference], axis=1)[:, None]
        signals = np.concatenate(
            [np.broadcast_to(shared, (*counted.shape[:2], *shared.shape[2:])), counted], axis=2
        )
        away = signals - ends
        meets = (away.min(axis=-1) <= AUDIBLE_HZ) & (away.max(axis=-1) >= -AUDIBLE_HZ)
        inside = (signals.min(axis=-1) <= if_hz[1] + AUDIBLE_HZ) & (
            signals.max(axis=-1) >= if_hz[0] - AUDIBLE_HZ
        )
        beside: NDArray[np.bool_] = np.asarray((np.abs(away) <= _BESIDE * ends).all(axis=-1).any(axis=-1))
        return meets.any(axis=-1), inside.any(axis=-1), beside

    def _birdies(self, ends: Array, slope: int, start: float) -> NDArray[np.int64]:
        """How many weaker products a VFO + b helper cross the dial, by crystal."""
        lines = all_lines(BIRDIE_ORDER)
        only = np.abs(lines.b) > 0
        a, b = lines.a[only], lines.b[only]
        raw = a[:, None] * (slope * ends + start) + b[:, None] * self.helpers[:, None, None]
        away = np.abs(raw) - ends
        meets = (away.min(axis=-1) <= AUDIBLE_HZ) & (away.max(axis=-1) >= -AUDIBLE_HZ)
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
            filter = f"low-pass at {format_value(high * room**0.5, 'Hz', 3)}"
        else:
            filter = f"band-pass {format_value(min(counted), 'Hz', 3)} to {format_value(high, 'Hz', 3)}"
        name = f"{_PRODUCTS[number][2]}, helper {format_frequency(helper, 100)}"
        birdies = int(self.birdies[crystal, number])
        cost = float(self.cost[crystal, number])
        return _reading(
            self.band,
            self.counter,
            "helper",
            name,
            helper,
            counted,
            abs(offset),
            direction,
            filter,
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
                each = format_frequency(float(crystals[0]), 100)
                who = f"helper {each}" if crystals.size == 1 else f"{crystals.size} helper crystals"
                found.append(Refusal(f"{name}, {who}", f"Refused because {_REASONS[int(reason)]}."))
        return tuple(found)
