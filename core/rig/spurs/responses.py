"""Receive responses: other inputs that the receive mixer brings into the IF, beside the wanted one."""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array
from core.model.bands import Scheme
from core.rig.plan.frequency_plan import BandPlan, turned_over, vfo_for, vfo_slope
from core.rig.spurs.product_levels import response_db
from core.rig.spurs.spurs import (
    HIGHEST_ORDER,
    Lines,
    Loss,
    Products,
    Spur,
    least_beyond,
    listing,
    meeting,
    name_of,
)
from core.stages.mixers.figures import MixerFigures

#: Highest multiple of the VFO looked at where the signal enters once: odd ones are strong in a switched
#: mixer.
HIGHEST_VFO_MULTIPLE = 11
#: Responses weaker than this are not listed, dB.
_WEAKEST_DB = -120.0
#: Lowest input looked at, Hz.
_LOWEST_HZ = 1e3
_IMAGE, _BREAKTHROUGH = "image", "IF breakthrough"
#: The responses that the mixer takes as readily as the signal, or nearly so.
FILTERED_ONLY = (_IMAGE, _BREAKTHROUGH)


@lru_cache(maxsize=1)
def response_lines() -> Lines:
    """The signed multiples (m, n) of VFO and input with m VFO + n input = IF, arrays of shape (R,)."""
    pairs = []
    for n in range(1, HIGHEST_ORDER + 1):
        for m in range((HIGHEST_VFO_MULTIPLE if n == 1 else HIGHEST_ORDER - n) + 1):
            pairs += [(m, n), (-m, n), (m, -n)] if m else [(0, n)]
    m, n = np.array(pairs).T
    return Lines(m, n)


def responses_heard(
    lines: Lines,
    scheme: Scheme,
    carrier_hz: Array,
    if_hz: Array,
    ends: Array,
    mixer: MixerFigures,
    receive_loss: Loss,
) -> Products:
    """Inputs with m VFO ± n input = IF (m and n are the `lines`) on a dial with these `ends` [Hz], each with
    its own carrier and middle of the IF pass-band [Hz], shape (L,) or (1,).

    `receive_loss` gives the loss of the filters ahead of the mixer; it is called once. The level is that of
    the dial setting where they hold the response least, −inf for the wanted input and those below zero.
    """
    m, n = lines.a, lines.b
    slope, start = vfo_slope(scheme), vfo_for(scheme, carrier_hz, 0.0)
    inputs = (np.asarray(if_hz)[:, None] - m[:, None] * (slope * ends + start[:, None])) / n[:, None]
    # The wanted input is the one that is the dial itself, but for the carrier's distance from the middle.
    once = (np.abs(m) == 1) & (np.abs(n) == 1)
    aside = np.abs(np.asarray(if_hz) - carrier_hz)[:, None] + 1.0
    wanted = once & np.all(np.abs(inputs - ends) < aside, axis=-1)
    real = np.all(inputs > _LOWEST_HZ, axis=-1) & ~wanted
    offsets = inputs - ends
    meets, crosses = meeting(offsets, ends)
    at_meeting = (if_hz - m * (slope * meets + start)) / n
    # Filters are asked only of what there is: a third of the lines lie below zero.
    level = np.where(real, response_db(mixer, np.abs(m), np.abs(n)), -np.inf)
    level[real] -= least_beyond(receive_loss, inputs[real], at_meeting[real], ends, meets[real])
    return Products(
        m=m,
        n=n,
        offsets_hz=offsets,
        meets_hz=meets,
        crosses=crosses & real,
        level_dbc=level,
    )


def receive_responses(plan: BandPlan, if_hz: float, mixer: MixerFigures, receive_loss: Loss) -> list[Spur]:
    """Inputs with m VFO ± n input = IF other than the wanted one, on a band whose IF pass-band has its
    middle at `if_hz` [Hz].

    `receive_loss` gives the loss of the filters ahead of the mixer; it is called once.
    """
    ends, carrier = np.array([plan.dial_low_hz, plan.dial_high_hz]), np.array([plan.carrier_hz])
    heard = responses_heard(
        response_lines(), plan.scheme, carrier, np.array([if_hz]), ends, mixer, receive_loss
    )
    # At the IF the wanted signal's tone falls as the dial rises, unless mixing turns the sideband over.
    turn = 1 if turned_over(plan.scheme) else -1
    moves = np.asarray(heard.m * plan.vfo_rises * turn, dtype=float)
    return listing(plan.band, "receive", heard, heard.level_dbc >= _WEAKEST_DB, moves, response_name)


def response_name(m: int, n: int) -> str:
    """What a response m VFO + n input = IF is called."""
    if abs(n) == 1 and abs(m) <= 1:
        return _IMAGE if m else _BREAKTHROUGH
    return name_of(m, n, "signal")
