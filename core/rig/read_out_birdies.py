"""What the read-out itself puts on the air: its helper oscillator, their products with the VFO, its clock.

Straight lines against the dial like the other birdies, with levels by the same assumptions.
"""

from collections.abc import Callable
from functools import lru_cache
from math import log10

import numpy as np

from core.circuits.ladder import Array
from core.model.oscillators import Oscillator
from core.rig.frequency_plan import BandPlan
from core.rig.levels import S9_DBM
from core.rig.spurs import (
    ASSUMED_LEAKAGE_DB,
    ASSUMED_STRAY_MIXING_DB,
    AUDIBLE_HZ,
    Spur,
    all_lines,
    harmonic_dbc,
    meeting,
    vfo_line,
)

#: Highest a + b of a VFO and b helper looked at.
HIGHEST_ORDER = 6
#: Harmonics of the counter's clock looked at; it is a square wave.
CLOCK_HARMONICS = 15
#: Level of the counter's clock inside its module, dBm; an assumption until measured.
ASSUMED_CLOCK_DBM = 0.0
#: Lines that do not cross are listed when they come this near, Hz.
_NEAR_HZ = 100e3


@lru_cache(maxsize=32)
def read_out_birdies(
    plan: BandPlan,
    helper_hz: float | None,
    helper_dbm: float,
    clock_hz: float,
    vfo: Oscillator,
    if_pass_band_hz: tuple[float, float],
    receive_loss: Callable[[Array], Array],
) -> tuple[Spur, ...]:
    """Birdies on a band of a helper of `helper_hz` [Hz] and `helper_dbm` [dBm] (None: none), and of the
    counter's clock [Hz], on the dial or inside the IF's pass-band [Hz].

    `receive_loss` gives the front filters' loss in dB on an array of frequencies.
    """
    slope, start = vfo_line(plan)
    ends = np.array([plan.dial_low_hz, plan.dial_high_hz])
    names: list[str] = []
    rises: list[int] = []
    orders: list[int] = []
    levels: list[float] = []
    places: list[Array] = []
    for number in range(1, CLOCK_HARMONICS + 1):
        names.append(_term(number, "counter clock"))
        rises.append(0)
        orders.append(number)
        levels.append(ASSUMED_CLOCK_DBM - 20 * log10(number) - ASSUMED_LEAKAGE_DB)
        places.append(np.full(2, number * clock_hz))
    if helper_hz is not None:
        lines = all_lines(HIGHEST_ORDER)
        for a, b in zip(lines.a.tolist(), lines.b.tolist(), strict=True):
            if b == 0:
                continue
            raw = a * (slope * ends + start) + b * helper_hz
            sign = -1 if raw.mean() < 0 else 1
            names.append(_name(a * sign, b * sign))
            rises.append(a * sign)
            orders.append(a + abs(b))
            levels.append(_level(a, abs(b), helper_dbm, vfo))
            places.append(raw * sign)
    at = np.array(places)
    level, rising = np.array(levels), np.array(rises)
    found = []
    # On the dial, through the front filters; and straight into the IF, past them.
    middle = sum(if_pass_band_hz) / 2
    half = (if_pass_band_hz[1] - if_pass_band_hz[0]) / 2
    for offsets, reach, moves, tail in (
        (at - ends, AUDIBLE_HZ, 1.0 - rising * slope, ""),
        (at - middle, half, 1.0 * rising * slope, ", in the IF"),
    ):
        dials, crosses = meeting(offsets, ends, reach)
        lost = receive_loss(dials) if not tail else np.zeros(dials.shape)
        near = np.abs(offsets).min(axis=-1) < _NEAR_HZ
        for n in np.flatnonzero(crosses | (near & (not tail))):
            found.append(
                Spur(
                    plan.band,
                    "birdie",
                    names[n] + tail,
                    int(rising[n]),
                    0,
                    orders[n],
                    float(dials[n]),
                    bool(crosses[n]),
                    float(level[n] + lost[n] - S9_DBM),
                    float(moves[n]),
                    float(offsets[n, 0]),
                    float(offsets[n, 1]),
                )
            )
    return tuple(found)


def _level(a: int, b: int, helper_dbm: float, vfo: Oscillator) -> float:
    """Estimated level of a VFO ± b helper at the receive mixer's input, dBm; `helper_dbm` is in dBm."""
    helper = helper_dbm + harmonic_dbc(Oscillator(), b)
    if a == 0:
        return helper - ASSUMED_LEAKAGE_DB
    weaker = min(helper_dbm, vfo.output_dbm) + harmonic_dbc(Oscillator(), b) + harmonic_dbc(vfo, a)
    return weaker - ASSUMED_LEAKAGE_DB - ASSUMED_STRAY_MIXING_DB


def _term(number: int, word: str) -> str:
    return word if number == 1 else f"{number} {word}"


def _name(a: int, b: int) -> str:
    terms = sorted(((a, "VFO"), (b, "helper")), key=lambda term: term[0] < 0)
    text = ""
    for count, word in terms:
        if count:
            each = _term(abs(count), word)
            text = f"{text} {'−' if count < 0 else '+'} {each}" if text else each
    return text
