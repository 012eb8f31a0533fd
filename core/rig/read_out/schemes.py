"""The schemes by which a simple counter can show the dial of one band, and what speaks against each.

A module counts, and adds or subtracts a stored number; a negative result shows zeros. Whatever is counted
must therefore rise with the dial: count = dial - offset. The VFO does so where the dial is a sum or the
VFO the higher; where the dial is carrier - VFO a helper crystal turns it round: (helper - VFO) rises. All
frequencies are straight lines against the dial, so that a plan over every helper crystal is arithmetic on
arrays.
"""

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.readout import Counter
from core.record import record
from core.rig.plan.frequency_plan import BandPlan, higher, image_for, lower
from core.rig.spurs.spurs import AUDIBLE_HZ, vfo_line

Direction = Literal["add", "subtract", "none"]
Arrangement = Literal["direct", "both", "mixed_up", "helper"]
#: Harmonics up to this of the helper and of what is counted are strong: counters want square waves.
STRONG_HARMONIC = 3
#: The counter squares what it counts, and the square's harmonics up to this are birdies.
SQUARE_HARMONICS = 15
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
    "harmonic": 2.0,
    "near": 1.0,
}
_SCHEME_WORDS = {"sum": "carrier + VFO", "if_minus_vfo": "carrier − VFO", "vfo_minus_if": "VFO − carrier"}


@record
class Refusal:
    """A scheme that was turned down, and why: `words`, with a place `{}` for each of these frequencies `hz`.

    `helpers_hz` are the helper crystals [Hz] of which it is true, empty for a scheme without one.
    """

    scheme: str
    words: str
    hz: tuple[float, ...] = ()
    helpers_hz: tuple[float, ...] = ()


@record(kw_only=True)
class Reading:
    """One scheme that shows the dial of one band.

    `counted_hz` is what the counter sees at the lower and upper dial edge; `offset_hz` is stored and added or
    subtracted; `shows_hz` is the display at both edges as the module would form it. `filter_hz` brings the
    counted product out of the helper's mixer: a low-pass up to there, or a band-pass from and to; empty
    where there is none. `birdies` counts weaker products of the helper that cross the dial, and harmonics of
    what is counted that are heard on it. `counts` are the multiples of VFO and helper that make what is
    counted.
    """

    band: str
    arrangement: Arrangement
    scheme: str
    helper_hz: float | None
    counted_hz: tuple[float, float]
    offset_hz: float
    direction: Direction
    shows_hz: tuple[float, float]
    filter_hz: tuple[float, ...]
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
        if reason is not None:
            refused.append(Refusal(name, *reason))
        else:
            readings.append(
                reading_of(band, counter, "direct", name, None, vfo, carrier, direction, (), heard, noise)
            )
    both = f"VFO and carrier both counted, {_SCHEME_WORDS[band.scheme]}"
    if counter.inputs < 2:
        refused.append(Refusal(both, "The counter has one input and cannot count two frequencies in turn."))
    elif reason := _out_of_range(counter, (*vfo, carrier)):
        refused.append(Refusal(both, *reason))
    else:
        readings.append(
            reading_of(band, counter, "both", both, None, ends, 0.0, "none", (), heard, COST["both"] + noise)
        )
    refused.append(
        Refusal(
            f"{_SCHEME_WORDS[band.scheme]} mixed up to the operating frequency and counted",
            "The display would be right, but a strong signal on the very dial frequency is heard everywhere "
            "on the dial.",
        )
    )
    return readings, refused


#: Why a scheme is turned down, and the frequencies in it [Hz].
_Reason = tuple[str, tuple[float, ...]]


def _cannot(counter: Counter, counted: tuple[float, ...], direction: str) -> _Reason | None:
    if direction == "add" and not counter.adds:
        return "The counter cannot add.", ()
    if direction == "subtract" and not counter.subtracts:
        return "The counter cannot subtract.", ()
    return _out_of_range(counter, counted)


def _out_of_range(counter: Counter, counted: tuple[float, ...]) -> _Reason | None:
    if min(counted) < counter.lowest_hz or max(counted) > counter.highest_hz:
        ends = (min(counted), max(counted), counter.lowest_hz, counter.highest_hz)
        return "{} to {} is outside what the counter counts ({} to {}).", ends
    return None


def _wrong(
    counter: Counter,
    ends: tuple[float, float],
    counted: tuple[float, ...],
    offset: float,
    direction: Direction,
) -> _Reason | None:
    """Why the display would be wrong; None when it is right at both edges."""
    shows = [shown_hz(counter, each, offset, direction) for each in counted]
    # Carrier and VFO are each cut to a step.
    if all(abs(a - b) <= 2.5 * resolution_hz(counter) for a, b in zip(shows, ends, strict=True)):
        return None
    if direction == "subtract" and max(counted) < offset:
        return "{} less {} is negative, and the module shows zeros for that.", (counted[0], offset)
    if abs(counted[0] + offset - ends[0]) < 1 and ends[1] >= 10**counter.digits * resolution_hz(counter):
        step = resolution_hz(counter)
        return f"The dial's first digit is lost: {counter.digits} digits of {{}} are too few.", (step,)
    turned = " and runs the wrong way" if (shows[1] - shows[0]) * (ends[1] - ends[0]) < 0 else ""
    return f"It would show {{}} for a dial of {{}}{turned}.", (shows[0], ends[0])


def reading_of(
    band: BandPlan,
    counter: Counter,
    arrangement: Arrangement,
    scheme: str,
    helper_hz: float | None,
    counted: tuple[float, ...],
    offset: float,
    direction: Direction,
    filter_hz: tuple[float, ...],
    birdies: int,
    cost: float,
    counts: tuple[int, int] = (1, 0),
) -> Reading:
    """A reading with what the module shows for it; `counted` at both dial edges and `offset` in Hz."""
    shows = tuple(shown_hz(counter, each, offset, direction) for each in counted)
    return Reading(
        band=band.band,
        arrangement=arrangement,
        scheme=scheme,
        helper_hz=helper_hz,
        counted_hz=(counted[0], counted[1]),
        offset_hz=offset,
        direction=direction,
        shows_hz=(shows[0], shows[1]),
        filter_hz=filter_hz,
        birdies=birdies,
        cost=cost,
        counts=counts,
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
        lowest = np.maximum(lower((place - reach) / once), 1)
        highest = np.minimum(higher((place + reach) / once), SQUARE_HARMONICS)
        count += np.maximum(np.floor(highest) - np.ceil(lowest) + 1, 0)
    return count.astype(int)
