"""The spur chart read backwards: heard at this dial, moving so fast and that way, so it is probably that."""

from collections.abc import Iterable
from typing import Literal

from core.record import record
from core.rig.spurs.spurs import AUDIBLE_HZ, Spur

#: Whether a tone's pitch goes the way an ordinary signal's does when the dial is turned, or the other way.
Direction = Literal["with", "against"]
#: Slower than this share of an ordinary signal's motion a tone stands still [-].
_STILL = 1e-6


@record
class Candidate:
    """A product that would be heard there, and how far up the dial [Hz] from there it should lie."""

    spur: Spur
    miss_hz: float


def candidates(
    spurs: Iterable[Spur],
    dial_low_hz: float,
    dial_high_hz: float,
    heard_hz: float,
    moves: float | None = None,
    direction: Direction | None = None,
) -> tuple[Candidate, ...]:
    """Products of one band, the likeliest first, for a tone heard with the dial at `heard_hz` [Hz].

    `moves` is how many times as fast as an ordinary signal's the tone moves and `direction` which way, when
    the builder could tell; only products within half a time of it, and that way, then count. Products that
    would all be audible there are equally near, and the strong ones come first among them. A tone that
    stands still is heard all over the dial, or not at all.
    """
    share = (heard_hz - dial_low_hz) / (dial_high_hz - dial_low_hz)
    found = []
    for spur in spurs:
        still = abs(spur.moves) < _STILL
        if moves is not None and abs(abs(spur.moves) - abs(moves)) > 0.5:
            continue
        if direction is not None and (still or (spur.moves > 0) != (direction == "with")):
            continue
        if still and not spur.crosses:
            continue
        tone_hz = spur.offset_at(share)
        # An ordinary signal's offset falls by what the dial rises; this one's by as many times as it moves.
        found.append((tone_hz, Candidate(spur, 0.0 if still else tone_hz / spur.moves)))
    found.sort(key=lambda each: (round(abs(each[0]) / AUDIBLE_HZ), -each[1].spur.level_dbc))
    return tuple(candidate for _, candidate in found)
