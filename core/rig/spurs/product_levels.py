"""How strong a mixer's products are: the one estimate that spur chart, findings and IF survey share.

Everything broadcasts over arrays of orders m (of the VFO) and n (of the signal or IF). Suppressions are
those of the mixer's circuit at the drive that it gets, or typical of its type; what the filters do afterwards
is the caller's to subtract.
"""

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array
from core.record import record
from core.stages.mixers.figures import MixerFigures

#: How far a transmit mixer's signal stays under compression on speech peaks in a new rig, dB; it is 10.2 to
#: 10.9 there by its own levels.
ORDINARY_BACKOFF_DB = 10.0


@record(kw_only=True)
class Worked:
    """How a transmit mixer is worked: the VFO delivered to it, the wanted signal at its output [dBm], and
    how far the signal at its input stays under 1 dB compression [dB].
    """

    vfo_dbm: float
    wanted_dbm: float
    backoff_db: float


def ordinarily_worked(mixer: MixerFigures) -> Worked:
    """A mixer with the drive it wants and a signal ORDINARY_BACKOFF_DB under compression."""
    wanted = mixer.p1db_in_dbm - ORDINARY_BACKOFF_DB + mixer.gain_db
    return Worked(vfo_dbm=mixer.drive_dbm, wanted_dbm=wanted, backoff_db=ORDINARY_BACKOFF_DB)


def sent_dbc(mixer: MixerFigures, worked: Worked, m: ArrayLike, n: ArrayLike) -> Array:
    """Level of m x VFO ± n x IF at the transmit mixer's output, dB relative to the wanted signal there.

    `m`, `n` >= 0 [-] broadcast. Without the IF (n = 0) it is the VFO's leak: drive less isolation, against
    the wanted signal's own level.
    """
    m, n = np.broadcast_arrays(np.asarray(m), np.asarray(n))
    mixed = -mixer.suppression_db(m, np.maximum(n, 1), worked.backoff_db, sending=True)
    return np.where(n == 0, mixer.leak_dbm(worked.vfo_dbm, m, "sent") - worked.wanted_dbm, mixed)


def response_db(mixer: MixerFigures, m: ArrayLike, n: ArrayLike) -> Array:
    """How loud the receive mixer takes an input that reaches the IF by m x VFO and n x input, dB relative
    to an equally strong wanted signal at the mixer; `m` >= 0, `n` >= 1 [-] broadcast.

    For n >= 2 this holds for a signal 10 dB under the mixer's compression; weaker ones are heard less.
    """
    return -mixer.suppression_db(m, n)
