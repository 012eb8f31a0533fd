"""What one filter does to a signal and to noise, and what it shows its neighbours."""

from functools import lru_cache

import numpy as np

from core.circuits.active.two_port import TwoPort, of_ladder, pad
from core.circuits.ladder import solve
from core.circuits.units import T0_KELVIN
from core.stages.outcome import FilterDesign

#: A loss beyond this, dB, is as good as none of the signal: sums and differences of losses stay numbers.
MOST_LOSS_DB = 1000.0


@lru_cache(maxsize=256)
def port_ohm(design: FilterDesign, f_hz: float, *, far_end: bool) -> complex:
    """What is seen into the antenna's side of a filter, or into its `far_end`, at `f_hz` [Hz], in ohm.

    The other side stands in the resistance that it is designed for. Infinite where it is open.
    """
    network = design.network.reversed() if far_end else design.network
    s11 = complex(solve(network, np.array([f_hz])).s11[0])
    return complex(np.inf) if s11 == 1 else network.source_ohm * (1 + s11) / (1 - s11)


@lru_cache(maxsize=256)
def noisy(design: FilterDesign, f_hz: tuple[float, ...], *, from_far_end: bool = False) -> TwoPort:
    """A filter with its thermal noise at 290 K as a two-port at frequencies `f_hz` [Hz].

    Its input is the antenna's side, or the far end. Where nothing passes at all it is a pad that lets as good
    as nothing through.
    """
    network = design.network.reversed() if from_far_end else design.network
    found = of_ladder(network, f_hz, temperature_k=T0_KELVIN)
    if np.isfinite(found.chain).all() and np.isfinite(found.noise).all():
        return found
    return pad(MOST_LOSS_DB, network.source_ohm, found.f_hz)
