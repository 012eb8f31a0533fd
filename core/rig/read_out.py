"""Read-out plan: how a simple counter can show the dial on every band, and what it may not put on the air.

A module counts, and adds or subtracts a stored number; a negative result shows zeros. Whatever is counted
must therefore rise with the dial: count = dial - offset. The VFO does so where the dial is a sum or the
VFO the higher; where the dial is carrier - VFO a helper crystal turns it round: (helper - VFO) rises. All
frequencies are straight lines against the dial, so that a plan over every helper crystal is arithmetic on
arrays.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.notation import format_frequency, format_value
from core.model.readout import Counter, ReadOut
from core.rig.frequency_plan import BandPlan
from core.rig.spurs import AUDIBLE_HZ, all_lines, vfo_line
from core.stages.outcome import Unsolved

Direction = Literal["add", "subtract", "none"]
Arrangement = Literal["direct", "both", "mixed_up", "helper"]
#: Harmonics up to this of the helper and of what is counted are strong: counters want square waves.
STRONG_HARMONIC = 3
#: Products of helper and VFO up to this order are looked at as birdies; higher ones are too weak to matter.
BIRDIE_ORDER = 6
#: A product must be this far in ratio from the other signals at the mixer to be filtered out of them.
SEPARABLE_RATIO = 1.15
#: A low-pass does when the nearest unwanted signal is this many times as high; else it takes a band-pass.
_LOW_PASS_RATIO = 1.5
#: Two offsets nearer than this are one programme, Hz.
_SAME_OFFSET_HZ = 0.5
#: What a scheme costs in the ranking: a helper oscillator with its mixer and filter, a second counter input,
#: a band-pass rather than a low-pass, a further programme, a helper that is switched, one birdie, a helper
#: near the VFO. They only rank.
_COST = {
    "helper": 4.0,
    "both": 1.0,
    "band_pass": 1.0,
    "programme": 0.5,
    "switched": 0.5,
    "birdie": 0.3,
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
    subtracted; `shows_hz` is the display at both edges as the module would form it. `error_hz` is what the
    counter's reference is off at the upper edge. `filter` says what brings the counted product out of the
    helper's mixer. `birdies` counts weaker products of the helper that cross the dial.
    """

    band: str
    arrangement: Arrangement
    scheme: str
    helper_hz: float | None
    counted_hz: tuple[float, float]
    offset_hz: float
    direction: Direction
    shows_hz: tuple[float, float]
    error_hz: float
    filter: str
    birdies: int
    cost: float


@dataclass(frozen=True, slots=True)
class BandReadOut:
    """The plan of one band: the scheme chosen with its stored programme, or the reason why none works."""

    band: str
    reading: Reading | Unsolved
    programme: int | None


@dataclass(frozen=True, slots=True)
class ReadOutPlan:
    """The plan of the rig: one helper crystal or none, a row a band, what the display resolves, and what
    switching bands must change."""

    helper_hz: float | None
    bands: tuple[BandReadOut, ...]
    resolution_hz: float
    switching: tuple[str, ...]

    def of(self, band: str) -> BandReadOut | None:
        """The plan of a band; None when it has none."""
        return next((each for each in self.bands if each.band == band), None)


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
    own = [_without_helper(band, counter)[0] for band in bands]
    helped = _helped(bands, read_out, if_pass_band_hz, helpers_hz)
    helper, picks = _choose(own, helped, counter)
    rows = []
    programmes: list[tuple[float, Direction]] = []
    for band, pick in zip(bands, picks, strict=True):
        place = None
        if isinstance(pick, Reading) and pick.direction != "none":
            place = _programme(programmes, pick.offset_hz, pick.direction)
        rows.append(BandReadOut(band.band, pick, place))
    return ReadOutPlan(helper, tuple(rows), resolution_hz(counter), _switching(rows, counter, helper))


@dataclass(frozen=True, slots=True)
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
        readings, refused = _without_helper(band, read_out.counter)
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
) -> "tuple[_Helped, ...]":
    crystals = np.array(helpers_hz if read_out.helper_hz is None else (read_out.helper_hz,), dtype=float)
    return tuple(_Helped(band, read_out.counter, if_pass_band_hz, crystals) for band in bands)


def _programme(programmes: list[tuple[float, Direction]], offset_hz: float, direction: Direction) -> int:
    """Number of the stored programme with this offset [Hz], from 1; a new one is appended."""
    for number, (offset, way) in enumerate(programmes):
        if way == direction and abs(offset - offset_hz) < _SAME_OFFSET_HZ:
            return number + 1
    programmes.append((offset_hz, direction))
    return len(programmes)


def _needed(picks: "Sequence[_Pick | Unsolved]") -> int:
    """How many programmes the picks need."""
    programmes: list[tuple[float, Direction]] = []
    for pick in picks:
        if isinstance(pick, _Pick) and pick.direction != "none":
            _programme(programmes, pick.offset_hz, pick.direction)
    return len(programmes)


# -- without a helper -----------------------------------------------------------------------------------


def _without_helper(band: BandPlan, counter: Counter) -> tuple[list[Reading], list[Refusal]]:
    """Readings that need no helper, and those that were turned down."""
    readings: list[Reading] = []
    refused: list[Refusal] = []
    slope, start = vfo_line(band)
    ends = (band.dial_low_hz, band.dial_high_hz)
    vfo = tuple(slope * end + start for end in ends)
    carrier = band.carrier_hz
    for direction in ("add", "subtract"):
        name = f"VFO counted, carrier {'added' if direction == 'add' else 'subtracted'}"
        reason = _cannot(counter, vfo, direction) or _wrong(counter, ends, vfo, carrier, direction)
        if reason:
            refused.append(Refusal(name, reason))
        else:
            readings.append(
                _reading(band, counter, "direct", name, None, vfo, carrier, direction, "", 0, 0.0)
            )
    both = f"VFO and carrier both counted, {_SCHEME_WORDS[band.scheme]}"
    if counter.inputs < 2:
        refused.append(Refusal(both, "The counter has one input and cannot count two frequencies in turn."))
    elif reason := _out_of_range(counter, (*vfo, carrier)):
        refused.append(Refusal(both, reason))
    else:
        readings.append(_reading(band, counter, "both", both, None, ends, 0.0, "none", "", 0, _COST["both"]))
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
) -> Reading:
    shows = tuple(shown_hz(counter, each, offset, direction) for each in counted)
    error = max(counted) * counter.reference_ppm / 1e6
    return Reading(
        band.band,
        arrangement,
        scheme,
        helper_hz,
        (counted[0], counted[1]),
        offset,
        direction,
        (shows[0], shows[1]),
        error,
        filter,
        birdies,
        cost,
    )


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
)


@dataclass(frozen=True, slots=True)
class _Pick:
    """One scheme of one band, reduced to what the choice needs; `crystal` and `number` only with a helper."""

    cost: float
    offset_hz: float
    direction: Direction
    crystal: int | None = None
    number: int = 0


class _Helped:
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
        on_dial, in_if = self._strong(ends, vfo, if_hz)
        wrong = [
            np.broadcast_to(signs[:, 1] * slope < 0, low.shape),
            (low < counter.lowest_hz) | (high > counter.highest_hz),
            np.where(self.offset >= 0, not counter.adds, not counter.subtracts),
            np.broadcast_to(ends[1] >= digits * step, low.shape),
            np.minimum(ratio_above, ratio_below) < SEPARABLE_RATIO,
            on_dial,
            in_if,
        ]
        self.wrong = np.stack(wrong)
        self.usable: NDArray[np.bool_] = np.asarray(~self.wrong.any(axis=0))
        self.birdies = self._birdies(ends, slope, start)
        self.cost = (
            _COST["helper"]
            + np.where(self.low_pass, 0.0, _COST["band_pass"])
            + _COST["birdie"] * self.birdies[:, None]
            + np.where(self._nearness(vfo) < _NEAR_RATIO, _COST["near"], 0.0)[:, None]
        )

    def _nearness(self, vfo: Array) -> Array:
        """How near each helper comes to the VFO, as a ratio above 1."""
        ratio = self.helpers[:, None] / vfo
        inside = (ratio < 1).any(axis=-1) & (ratio > 1).any(axis=-1)
        return np.where(inside, 1.0, np.maximum(ratio, 1 / ratio).min(axis=-1))

    def _strong(
        self, ends: Array, vfo: Array, if_hz: tuple[float, float]
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Whether a strong signal of the scheme meets the dial, and whether one lies in the IF."""
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
        return meets.any(axis=-1), inside.any(axis=-1)

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
        birdies = int(self.birdies[crystal])
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
        )

    def pick(self, crystal: int) -> _Pick | None:
        """The best scheme with a crystal; None when none works."""
        cost = np.where(self.usable[crystal], self.cost[crystal], np.inf)
        number = int(np.argmin(cost))
        if not np.isfinite(cost[number]):
            return None
        offset = float(self.offset[crystal, number])
        way: Direction = "add" if offset >= 0 else "subtract"
        return _Pick(float(cost[number]), abs(offset), way, crystal, number)

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


#: How many crystals are compared in full; the others cost more on every band taken by itself.
_FINALISTS = 8
#: Costs more than anything that shows the band.
_UNSHOWN = 1000.0


_MISSING = Unsolved(
    "No scheme shows this band: see the reasons for those that were turned down; a counter with two inputs "
    "or another helper crystal may do."
)


def _choose(
    own: list[list[Reading]], helped: "Sequence[_Helped]", counter: Counter
) -> tuple[float | None, list[Reading | Unsolved]]:
    """The helper, or None, and a reading a band, such that most bands are shown at the least cost."""
    direct = [min(readings, key=lambda r: r.cost, default=None) for readings in own]
    straight = [None if r is None else _Pick(r.cost, r.offset_hz, r.direction) for r in direct]
    too_many = Unsolved(
        f"The counter keeps {counter.programmes} programmes and the bands need more; take one with more, or "
        "let bands share a scheme."
    )

    def limited(picks: Sequence[_Pick | Unsolved]) -> list[_Pick | Unsolved]:
        """The picks, later ones given up when there are not enough programmes."""
        kept: list[_Pick | Unsolved] = []
        for pick in picks:
            kept.append(pick if _needed([*kept, pick]) <= counter.programmes else too_many)
        return kept

    best = limited([each or _MISSING for each in straight])
    # Only where a band is not shown without one is a helper worth its parts.
    if not all(isinstance(pick, _Pick) for pick in best):
        worth = _worth(best)
        for crystal in _finalists(direct, helped):
            choices: list[list[_Pick | Unsolved]] = []
            for plain, of in zip(straight, helped, strict=True):
                with_it = of.pick(crystal)
                both = [each for each in (plain, with_it) if each is not None]
                choices.append([*both] or [_MISSING])
            for combination in product(*choices):
                picks = limited(combination)
                now = _worth(picks)
                if now < worth:
                    best, worth = picks, now
    helper: float | None = None
    readings: list[Reading | Unsolved] = []
    for pick, plain_reading, of in zip(best, direct, helped, strict=True):
        if isinstance(pick, Unsolved):
            readings.append(pick)
        elif pick.crystal is None:
            readings.append(plain_reading or _MISSING)
        else:
            helper = float(of.helpers[pick.crystal])
            readings.append(of.reading(pick.crystal, pick.number))
    return helper, readings


def _finalists(direct: list[Reading | None], helped: "Sequence[_Helped]") -> list[int]:
    """The crystals that show most bands at the least cost, each band taken by itself."""
    if not helped or helped[0].helpers.size == 0:
        return []
    total = np.zeros(helped[0].helpers.size)
    for straight, of in zip(direct, helped, strict=True):
        cost = np.where(of.usable, of.cost, np.inf).min(axis=-1)
        total += np.minimum(np.where(np.isinf(cost), _UNSHOWN, cost), straight.cost if straight else np.inf)
    return [int(n) for n in np.argsort(total, kind="stable")[:_FINALISTS]]


def _worth(picks: Sequence[_Pick | Unsolved]) -> tuple[int, float]:
    """What picks are worth, the least being the best: bands not shown, then cost."""
    shown = [p for p in picks if isinstance(p, _Pick)]
    helped = sum(p.crystal is not None for p in shown)
    cost = sum(p.cost for p in shown) + _COST["programme"] * _needed(picks)
    # One helper serves all bands: it is built once, and switched where only some bands want it.
    cost -= _COST["helper"] * max(helped - 1, 0)
    if 0 < helped < len(shown):
        cost += _COST["switched"]
    return len(picks) - len(shown), cost


def _switching(rows: Sequence[BandReadOut], counter: Counter, helper_hz: float | None) -> tuple[str, ...]:
    """What changes from band to band, a sentence a band."""
    how = {"jumper": "by its jumper", "line": "by a line from the band switch", "button": "by its button"}
    texts = []
    for row in rows:
        if isinstance(row.reading, Unsolved):
            continue
        r = row.reading
        if row.programme is None:
            text = f"{row.band}: nothing is stored; count both inputs"
        else:
            text = (
                f"{row.band}: programme {row.programme} {how[counter.selected_by]}, "
                f"{r.direction} {r.offset_hz / 1e6:.6f} MHz"
            )
        if helper_hz is not None:
            text += (
                ", helper on" if r.arrangement == "helper" else ", helper off, VFO straight to the counter"
            )
        texts.append(f"{text}.")
    return tuple(texts)
