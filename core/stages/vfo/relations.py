"""What a tank's fixed parts make of a frequency, and the equations that its other parts follow from.

The tuning capacitance T that a frequency needs follows from the coil and from what the feedback divider puts
across it; two frequencies give the swing that the tuning capacitor with its padder must make, and the rest
is fixed. Those relations are exact for these networks. Derived here; for a parallel-tuned tank without a
divider they are the handbook's padding equations.
"""

from collections.abc import Callable, Mapping
from math import inf, pi, sqrt
from types import MappingProxyType

import numpy as np

from core.circuits.ladder import Array
from core.circuits.resonator import in_series
from core.model.stages.tank import Tank
from core.model.values.parts import Role
from core.stages.parts import Built
from core.stages.vfo.oscillator import operating
from core.stages.vfo.tank import WantedRange

#: The swing wanted may come this near to all that the capacitor has.
WHOLE_SWING = 0.999


#: Coils between which one is looked for, H: a choice far beyond any VFO's.
COILS_H = (1e-8, 1e-2)


_GRID = 241


def built_of(tank: Tank) -> Built:
    """What is fitted in a tank as built, by role."""
    return Built("tank", tank.as_built)


def feedback_of(tank: Tank) -> dict[Role, tuple[float, str]]:
    """The divider's capacitors as asked [F], and what each is."""
    feedback = tank.feedback
    found: dict[Role, tuple[float, str]] = {
        "feedback_upper": (feedback.upper_f, "feedback, upper"),
        "feedback_lower": (feedback.lower_f, "feedback, lower"),
    }
    if tank.tuned == "parallel":
        found["coupling"] = (feedback.coupling_f, "coupling to the gate")
    return found


class Bench:
    """What a tank's fixed parts make of a frequency: the tuning capacitance that it needs.

    `taken` are capacitors on hand [F], by role, that stand where others were asked for.
    """

    def __init__(self, tank: Tank, taken: Mapping[str, float] = MappingProxyType({})) -> None:
        self.tank = tank
        built = built_of(tank)
        feedback, device = tank.feedback, operating(tank.feedback)
        self.upper = built.get("feedback_upper") or taken.get("feedback_upper") or feedback.upper_f
        self.lower = built.get("feedback_lower") or taken.get("feedback_lower") or feedback.lower_f
        self.coupling = built.get("coupling") or taken.get("coupling") or feedback.coupling_f
        divider = in_series(self.upper + device.input_f, self.lower) + device.through_f
        self.across = in_series(self.coupling, divider) if tank.tuned == "parallel" else divider
        #: Fixed capacitance across the tuning that is neither parallel capacitor nor trimmer.
        self.rest = tank.stray_f + (tank.compensation_f or 0.0) + (tank.differential_f or 0.0)
        self.open_f, self.meshed_f = tank.variable.span_f

    def needed_f(self, f_hz: float, coil_h: Array | float) -> Array:
        """Tuning capacitance for `f_hz` [Hz] with a coil [H] of any shape; infinite where none will do."""
        left = 1 / ((2 * pi * f_hz) ** 2 * np.asarray(coil_h, dtype=float)) - self.tank.coil_self_f
        if self.tank.tuned == "parallel":
            return left - self.across
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(
                (left > 0) & (left < self.across),
                1 / (1 / left - 1 / self.across),
                np.where(left > 0, inf, -inf),
            )

    def swing_f(self, wanted: WantedRange, coil_h: Array | float) -> Array:
        """Change of tuning capacitance over a range, F."""
        with np.errstate(invalid="ignore"):
            return self.needed_f(wanted.low_hz, coil_h) - self.needed_f(wanted.high_hz, coil_h)

    def branch_f(self, padder_f: Array | float) -> tuple[Array, Array]:
        """Tuning capacitor with its padder, meshed and open, F; an infinite padder is a wire."""
        padder = 1 / np.asarray(padder_f, dtype=float)
        return 1 / (1 / self.meshed_f + padder), 1 / (1 / self.open_f + padder)

    def padder_for(self, swing_f: Array | float) -> Array:
        """Padder [F] with which the tuning capacitor swings by `swing_f`; infinite where it just does."""
        span = self.meshed_f - self.open_f
        left = span - np.asarray(swing_f, dtype=float)
        total, product = self.meshed_f + self.open_f, self.meshed_f * self.open_f
        with np.errstate(divide="ignore", invalid="ignore"):
            root = swing_f * (total + np.sqrt(total**2 + 4 * left * product / swing_f)) / (2 * left)
        return np.where(left > (1 - WHOLE_SWING) * span, root, inf)


def series_for(target: float, capacitance: float) -> float:
    """What in series with `capacitance` [F] makes `target` [F]; infinite when it is that already."""
    if target <= 0:
        return 0.0
    return inf if target >= capacitance else 1 / (1 / target - 1 / capacitance)


def root(miss: Callable[[Array], Array]) -> float | None:
    """Coil [H] where `miss`, a function of arrays, changes its sign; None when it does not."""
    low, high = COILS_H
    for _ in range(4):
        coils = np.geomspace(low, high, _GRID)
        with np.errstate(invalid="ignore"):
            values = miss(coils)
        signs = np.sign(values)
        turns = np.flatnonzero(signs[:-1] * signs[1:] < 0)
        if turns.size == 0:
            return None
        low, high = float(coils[turns[0]]), float(coils[turns[0] + 1])
    return sqrt(low * high)
