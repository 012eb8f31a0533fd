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
    clock = np.arange(1, CLOCK_HARMONICS + 1)
    # Multiples of VFO, helper and clock, one row a product.
    multiples = np.stack([0 * clock, 0 * clock, clock], axis=-1)
    if helper_hz is not None:
        lines = all_lines(HIGHEST_ORDER)
        a, b = lines.a[lines.b != 0], lines.b[lines.b != 0]
        multiples = np.concatenate([multiples, np.stack([a, b, 0 * a], axis=-1)])
    vfo_hz = slope * ends + start
    sources = np.stack([vfo_hz, np.full(2, helper_hz or 0.0), np.full(2, clock_hz)])
    at = multiples @ sources
    sign = np.where(at.mean(axis=-1) < 0, -1, 1)
    at, multiples = at * sign[:, None], multiples * sign[:, None]
    rising = multiples[:, 0]
    found = []
    # On the dial, through the front filters; and straight into the IF, past them.
    middle = sum(if_pass_band_hz) / 2
    half = (if_pass_band_hz[1] - if_pass_band_hz[0]) / 2
    for offsets, reach, moves, tail in (
        (at - ends, AUDIBLE_HZ, 1.0 - rising * slope, ""),
        (at - middle, half, 1.0 * rising * slope, ", in the IF"),
    ):
        dials, crosses = meeting(offsets, ends, reach)
        near = np.abs(offsets).min(axis=-1) < _NEAR_HZ
        hits = np.flatnonzero(crosses | (near & (not tail)))
        lost = receive_loss(dials[hits]) if hits.size and not tail else np.zeros(hits.size)
        for n, loss in zip(hits, lost, strict=True):
            m, h, c = (int(each) for each in multiples[n])
            level = _clock_dbm(c) if c else _level(abs(m), abs(h), helper_dbm, vfo)
            found.append(
                Spur(
                    plan.band,
                    "birdie",
                    (_term(c, "counter clock") if c else _name(m, h)) + tail,
                    m,
                    0,
                    abs(m) + abs(h) + abs(c),
                    float(dials[n]),
                    bool(crosses[n]),
                    float(level + loss - S9_DBM),
                    float(moves[n]),
                    float(offsets[n, 0]),
                    float(offsets[n, 1]),
                )
            )
    return tuple(found)


def _clock_dbm(number: int) -> float:
    """Estimated level of a harmonic of the counter's clock at the receive mixer's input, dBm."""
    return ASSUMED_CLOCK_DBM - 20 * log10(abs(number)) - ASSUMED_LEAKAGE_DB


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
