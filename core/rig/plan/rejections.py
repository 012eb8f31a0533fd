"""What the filter in front of the mixer keeps out while the dial is turned."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from core.circuits.ladder import solve
from core.record import record
from core.rig.plan.frequency_plan import BandPlan, image_for
from core.stages.loss import MOST_LOSS_DB
from core.stages.outcome import FilterDesign

_POINTS = 41


@record
class Rejection:
    """How far a filter holds one signal below the wanted one: loss there less loss on the dial, dB.

    `at_hz` and `rejected_db` are for the dial as it stands; `least_db` is the least over the whole band, with
    the signal then at `least_at_hz`.
    """

    name: str
    at_hz: float
    rejected_db: float
    least_at_hz: float
    least_db: float


def _signals(plan: BandPlan) -> dict[str, Callable[[float], float]]:
    """Where the signals that a front filter must keep out lie for a dial frequency [Hz]."""

    def vfo(times: int) -> Callable[[float], float]:
        return lambda dial: times * plan.vfo_at(dial)

    def harmonic(number: int) -> Callable[[float], float]:
        return lambda dial: number * dial

    signals: dict[str, Callable[[float], float]] = {
        "image": lambda dial: image_for(plan.scheme, plan.carrier_hz, plan.vfo_at(dial)),
        "IF": lambda _: plan.carrier_hz,
    }
    if plan.vfo_low_hz > 0:
        signals |= {"VFO": vfo(1), "2 VFO": vfo(2), "3 VFO": vfo(3)}
    return signals | {"harmonic 2": harmonic(2), "harmonic 3": harmonic(3)}


@lru_cache(maxsize=64)
def rejections(design: FilterDesign, plan: BandPlan, dial_hz: float) -> tuple[Rejection, ...]:
    """Rejection of image, IF, VFO and its multiples, and harmonics, with the dial at `dial_hz` [Hz]."""
    dials = np.append(np.linspace(plan.dial_low_hz, plan.dial_high_hz, _POINTS), dial_hz)
    signals = _signals(plan)
    places = np.array([[max(where(float(dial)), 1.0) for dial in dials] for where in signals.values()])
    losses = np.minimum(solve(design.network, np.vstack([dials, places])).loss_db, MOST_LOSS_DB)
    rows = []
    for name, at, rejected in zip(signals, places, losses[1:] - losses[0], strict=True):
        worst = int(np.argmin(rejected[:-1]))
        rows.append(
            Rejection(name, float(at[-1]), float(rejected[-1]), float(at[worst]), float(rejected[worst]))
        )
    return tuple(rows)
