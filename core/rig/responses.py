"""Receive responses: other inputs that the receive mixer brings into the IF, beside the wanted one."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.rig.frequency_plan import BandPlan, turned_over
from core.rig.product_levels import response_db
from core.rig.spurs import AUDIBLE_HZ, HIGHEST_ORDER, Loss, Spur, least_beyond, meeting, name_of, vfo_line
from core.stages.mixer import MixerFigures

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
def _orders() -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The signed multiples (m, n) of VFO and input with m VFO + n input = IF, arrays of shape (R,)."""
    pairs = []
    for n in range(1, HIGHEST_ORDER + 1):
        for m in range((HIGHEST_VFO_MULTIPLE if n == 1 else HIGHEST_ORDER - n) + 1):
            pairs += [(m, n), (-m, n), (m, -n)] if m else [(0, n)]
    m, n = np.array(pairs).T
    return m, n


def receive_responses(plan: BandPlan, if_hz: float, mixer: MixerFigures, receive_loss: Loss) -> list[Spur]:
    """Inputs with m VFO ± n input = IF other than the wanted one, on a band whose IF pass-band has its
    middle at `if_hz` [Hz].

    `receive_loss` gives the loss of the filters ahead of the mixer; it is called once. The level is that of
    the dial setting where they hold the response least.
    """
    slope, start = vfo_line(plan)
    ends = np.array([plan.dial_low_hz, plan.dial_high_hz])
    m, n = _orders()
    inputs = (if_hz - m[:, None] * (slope * ends + start)) / n[:, None]
    # The wanted input is the one that is the dial itself, but for the carrier's distance from the middle.
    once = (np.abs(m) == 1) & (np.abs(n) == 1)
    wanted = once & np.all(np.abs(inputs - ends) < 2 * AUDIBLE_HZ, axis=-1)
    keep = np.all(inputs > _LOWEST_HZ, axis=-1) & ~wanted
    m, n, inputs = m[keep], n[keep], inputs[keep]
    offsets = inputs - ends
    meets, crosses = meeting(offsets, ends)
    at_meeting = (if_hz - m * (slope * meets + start)) / n
    level = response_db(mixer, np.abs(m), np.abs(n))
    level = level - least_beyond(receive_loss, inputs, at_meeting, ends, meets)
    # At the IF the wanted signal's tone falls as the dial rises, unless mixing turns the sideband over.
    moves = m * slope * (1 if turned_over(plan.scheme) else -1)
    return [
        Spur(
            band=plan.band,
            kind="receive",
            products=_name(int(m[r]), int(n[r])),
            m=int(m[r]),
            n=int(n[r]),
            order=abs(int(m[r])) + abs(int(n[r])),
            dial_hz=float(meets[r]),
            crosses=bool(crosses[r]),
            level_dbc=float(level[r]),
            moves=float(moves[r]),
            offset_low_hz=float(offsets[r, 0]),
            offset_high_hz=float(offsets[r, 1]),
        )
        for r in np.flatnonzero(level >= _WEAKEST_DB)
    ]


def _name(m: int, n: int) -> str:
    if abs(n) == 1 and abs(m) <= 1:
        return _IMAGE if m else _BREAKTHROUGH
    return name_of(m, n, "signal")
