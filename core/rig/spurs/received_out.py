"""What of the VFO leaves by the antenna while the rig receives: through the mixer's balance, and backwards
through what stands before it.
"""

import numpy as np

from core.circuits.ladder import Array
from core.record import record
from core.rig.plan.frequency_plan import BandPlan
from core.rig.spurs.spurs import Loss
from core.stages.mixers.figures import MixerFigures

#: What a receiver may send by its antenna below 1 GHz, dBm: 2 nW (CEPT/ERC Recommendation 74-01 and ETSI
#: EN 301 783, from memory).
RECEIVER_LIMIT_DBM = -57.0
#: Multiples of the VFO that are looked at.
_MULTIPLES = 6
_PLACES = 9


@record(kw_only=True)
class AtAntenna:
    """The strongest multiple of the VFO at the antenna in receive: which, where [Hz], its level there and at
    the mixer's input [dBm], and what filters and stages take between [dB].
    """

    band: str
    times: int
    f_hz: float
    level_dbm: float
    at_mixer_dbm: float
    filters_db: float
    stages_db: float


def at_antenna(plan: BandPlan, mixer: MixerFigures, vfo_dbm: float, back_db: float, loss: Loss) -> AtAntenna:
    """The VFO's strongest multiple at the antenna over a band's dial, for `vfo_dbm` [dBm] of drive.

    `back_db` is the gain backwards of the stages before the mixer that are no filters, at their own
    frequency, and `loss` what the filters there lose [dB].
    """
    times = np.arange(1, _MULTIPLES + 1)
    vfo_hz = np.linspace(plan.vfo_low_hz, plan.vfo_high_hz, _PLACES)
    f_hz: Array = times[:, None] * vfo_hz
    at_mixer_dbm = mixer.leak_dbm(vfo_dbm, times, "antenna")
    filters_db = loss(f_hz)
    level = at_mixer_dbm[:, None] - filters_db + back_db
    n, place = np.unravel_index(int(np.argmax(level)), level.shape)
    return AtAntenna(
        band=plan.band,
        times=int(times[n]),
        f_hz=float(f_hz[n, place]),
        level_dbm=float(level[n, place]),
        at_mixer_dbm=float(at_mixer_dbm[n]),
        filters_db=float(filters_db[n, place]),
        stages_db=-back_db,
    )
