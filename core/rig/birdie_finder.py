"""The spur chart read backwards: heard at this dial, moving so fast, so it is probably that."""

from collections.abc import Iterable
from dataclasses import dataclass

from core.rig.spurs import Spur


@dataclass(frozen=True, slots=True)
class Candidate:
    """A product that would be heard there, and how far [Hz] from the dial it should lie; the best first."""

    spur: Spur
    miss_hz: float


def candidates(
    spurs: Iterable[Spur],
    dial_low_hz: float,
    dial_high_hz: float,
    heard_hz: float,
    moves: float | None = None,
) -> tuple[Candidate, ...]:
    """Products of one band, ranked for a tone heard with the dial at `heard_hz` [Hz].

    `moves` is how many times as fast as an ordinary signal's the tone moves, when the builder could tell;
    only products within half a turn of it then count. Crossing dials are compared, strong products first
    among equally near ones.
    """
    found = []
    for spur in spurs:
        if moves is not None and abs(abs(spur.moves) - abs(moves)) > 0.5:
            continue
        share = (heard_hz - dial_low_hz) / (dial_high_hz - dial_low_hz)
        miss = spur.offset_low_hz + share * (spur.offset_high_hz - spur.offset_low_hz)
        found.append(Candidate(spur, miss))
    return tuple(sorted(found, key=lambda c: (round(abs(c.miss_hz) / 3e3), -c.spur.level_dbc)))
