"""Capacitors on hand for an audio stage's corners, judged by its response with all of them."""

from collections.abc import Callable, Mapping
from math import log, sqrt

from core.stages.audio.design import TONE_HZ
from core.stages.on_hand import Shelf, first_on_hand
from core.stages.outcome import Unsolved
from core.stages.parts import Key

#: Lost at the lowest frequency at most, and an octave below it at least, so that the corner lies between, as
#: more bass is more hum [dB]; how far the high corner may be off [nepers]: choices.
_LOST_DB, _OCTAVE_DB, _HIGH_OFF = 3.05, 3.0, 0.1

#: Gain from the source on [dB] with values of the parts at a frequency [Hz].
Response = Callable[[Mapping[Key, float], float], float | Unsolved]


def cornered(
    wanted: Mapping[Key, float],
    bought: Mapping[Key, float],
    shelf: Shelf,
    response: Response,
    low_hz: float,
    high_hz: float | None,
    *,
    asked_high: bool = True,
) -> dict[Key, float]:
    """Values of a stage's parts with as many capacitors of a shelf as leave its corners where they are asked,
    or no further off than those that would be bought.

    `wanted` are exact values [F] of the capacitors that make the corners, `bought` all parts' preferred ones.
    The low corner is asked at `low_hz` [Hz], the high one at `high_hz` [Hz], None for none; with `asked_high`
    false it stays where what is bought has it.
    """
    named = {f"{role}:{which}": (role, which) for role, which in wanted}

    def placed(farads: Mapping[str, float]) -> dict[Key, float]:
        return {**bought, **{named[name]: farad for name, farad in farads.items()}}

    def high(values: Mapping[Key, float], tone_db: float) -> float:
        """By how many nepers the high corner, that of one pole, lies below `high_hz`."""
        assert high_hz is not None
        there = response(values, high_hz)
        lost = 10 ** ((tone_db - there) / 10) - 1 if isinstance(there, float) else 0.0
        return log(sqrt(max(lost, 1e-6)))

    def figures(farads: Mapping[str, float], goal: float) -> tuple[float, ...]:
        """What is lost at both frequencies over and below its limit, and how far the high corner is off."""
        values = placed(farads)
        tone, at, below = (response(values, f) for f in (TONE_HZ, low_hz, low_hz / 2))
        if not isinstance(tone, float) or not isinstance(at, float) or not isinstance(below, float):
            return (float("inf"),) * 3
        off = 0.0 if high_hz is None else abs(high(values, tone) - goal)
        return (tone - at) / _LOST_DB, _OCTAVE_DB / max(tone - below, 1e-6), off

    bought_f, goal = {name: bought[key] for name, key in named.items()}, 0.0
    tone = response(bought, TONE_HZ)
    if high_hz is not None and not asked_high and isinstance(tone, float):
        goal = high(bought, tone)
    limits = zip(figures(bought_f, goal), (1.0, 1.0, _HIGH_OFF), strict=True)
    wanted_f: dict[tuple[str, ...], float] = {(name,): wanted[key] for name, key in named.items()}
    worst = [max(limit) for limit in limits]
    return placed(first_on_hand(wanted_f, bought_f, shelf, lambda farads: figures(farads, goal), worst))
