"""What width and Q cost a band-pass: loss over bandwidth for coils of several Q."""

from functools import lru_cache
from math import log

import numpy as np

from core.circuits.ladder import Array, frozen
from core.circuits.shapes.prototypes import prototype
from core.model.bands import Dials
from core.model.stages.filters import BandPassFilter
from core.record import record
from core.stages.band_pass.band_pass import design, figures
from core.stages.band_pass.first_design import centre_of
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import Unsolved

#: Unloaded Q of coils that builders wind [-], the best last; common practice.
QUALITIES = (80.0, 120.0, 180.0, 270.0)
#: Widths that are looked at, as shares of the centre [-].
_SHARES = (0.01, 0.15)
_POINTS = 41


@record(eq=False, kw_only=True)
class LossOverWidth:
    """Loss in the middle of a band-pass over its bandwidth, an estimate for each of `QUALITIES`: shapes (F,)
    [Hz] and (Q, F) [dB]; and where the filter itself stands: width [Hz], exact least loss [dB], its coils' Q.
    """

    width_hz: Array
    loss_db: Array
    here_hz: float
    here_db: float
    here_q: float


@lru_cache(maxsize=32)
def loss_over_width(
    filter: BandPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT
) -> LossOverWidth | Unsolved:
    """The loss of filters like this one of other widths, and of this one; `dials` in Hz.

    For small losses 10 lg e · Σg f0/(Q B) dB, the prototype's elements each losing by itself (S. B. Cohn,
    Proc. IRE 47 (1959) 1342, from memory); a few per cent too much for a decibel, a tenth for six.
    """
    found, made, f0 = figures(filter, dials, shelf), design(filter, dials, shelf), centre_of(filter, dials)
    if isinstance(found, Unsolved) or isinstance(made, Unsolved):
        return made if isinstance(made, Unsolved) else Unsolved("The band-pass has no pass-band.")
    assert f0 is not None  # it has a design
    total = sum(prototype(filter.shape, filter.resonators, filter.ripple_db).g)
    width = f0 * np.geomspace(*_SHARES, _POINTS)
    loss = 10 / log(10) * total * f0 / np.multiply.outer(QUALITIES, width)
    return LossOverWidth(
        width_hz=frozen(width),
        loss_db=frozen(loss),
        here_hz=filter.bandwidth_hz,
        here_db=found.insertion_loss_db,
        here_q=min(part.q or np.inf for part in made.network.parts if part.kind == "inductor"),
    )
