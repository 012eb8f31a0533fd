"""What current a power transistor passes for a voltage at its control electrode, memoryless.

Two laws, each with a resistance in the common lead: the square law of a field-effect transistor, and the
exponential one of a bipolar transistor (`Law`). Several alike in parallel are one with a larger slope.
"""

from functools import cached_property
from math import log

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.bias import omega
from core.circuits.circuit import THERMAL_V, Bipolar, Device, SquareLaw
from core.circuits.ladder import Array
from core.record import record

#: Below this voltage across it a bipolar power transistor saturates, V; common practice, no source.
SATURATION_V = 0.7


@record(slots=False)
class Law:
    """The law of `count` transistors in parallel, each with `series_ohm` [ohm] in emitter or source."""

    device: Device
    series_ohm: float = 0.0
    count: int = 1

    @cached_property
    def common_ohm(self) -> float:
        """The resistance in the common lead of all together, ohm; a bipolar one's base counts by its gain."""
        own = self.device.base_ohm / self.device.current_gain if isinstance(self.device, Bipolar) else 0.0
        return (self.series_ohm + own) / self.count

    def current_a(self, control_v: ArrayLike) -> Array:
        """Drain or collector current [A] in saturation at a voltage [V] of any shape.

        I = k (U − R I)² above the threshold, solved for I; or I R/VT + ln(I R/VT) = U/VT + ln(Is R/VT), which
        is Wright's omega.
        """
        volt = np.asarray(control_v, dtype=float)
        if isinstance(self.device, Bipolar):
            return self._omega(volt) * THERMAL_V / self.common_ohm
        k, ohm = self.device.slope_a_v2 * self.count, self.common_ohm
        beyond = np.maximum(volt - self.device.threshold_v, 0.0)
        # Written so that nothing is lost where the resistance is small.
        found: Array = k * (2 * beyond / (1 + np.sqrt(1 + 4 * k * ohm * beyond))) ** 2
        return found

    def slope_s(self, control_v: ArrayLike) -> Array:
        """Transconductance [S] there: the derivative of `current_a`."""
        volt = np.asarray(control_v, dtype=float)
        if isinstance(self.device, Bipolar):
            x = self._omega(volt)
            found: Array = x / (1 + x) / self.common_ohm
            return found
        inner = 2 * np.sqrt(self.device.slope_a_v2 * self.count * self.current_a(volt))
        return np.asarray(inner / (1 + self.common_ohm * inner))

    def control_v(self, current_a: float) -> float:
        """The voltage [V] at the control electrode that passes a current above zero [A]."""
        dropped = self.common_ohm * current_a
        if isinstance(self.device, Bipolar):
            return THERMAL_V * log(current_a / (self.device.saturation_a * self.count)) + dropped
        return self.device.threshold_v + self._beyond_v(current_a) + dropped

    def knee_v(self, peak_a: ArrayLike) -> Array:
        """The voltage [V] across transistor and resistance below which a peak current [A] falls short.

        √(I/k) of a square law, where it leaves saturation; of a bipolar transistor a customary one.
        """
        peak = np.asarray(peak_a, dtype=float)
        knee = SATURATION_V if isinstance(self.device, Bipolar) else self._beyond_v(peak)
        return np.asarray(knee + self.common_ohm * peak)

    def between_a(self, control_v: ArrayLike, across_v: ArrayLike) -> Array:
        """The current [A] at a voltage `across_v` [V] from drain to source, the knee included.

        What a channel passes forwards less what it passes back, F(U) − F(U − V): the square law's triode
        region exactly, and a bipolar transistor's transport current.
        """
        control, across = np.asarray(control_v, dtype=float), np.asarray(across_v, dtype=float)
        return self.current_a(control) - self.current_a(control - self._seen(across))

    def across_s(self, control_v: ArrayLike, across_v: ArrayLike) -> Array:
        """The derivative [S] of `between_a` by the voltage across."""
        control, across = np.asarray(control_v, dtype=float), np.asarray(across_v, dtype=float)
        return self.slope_s(control - self._seen(across))

    def _seen(self, across_v: Array) -> Array:
        # A bipolar power transistor's collector has a resistance of its own, here one drop for any current.
        offset = SATURATION_V / 2 if isinstance(self.device, Bipolar) else 0.0
        return across_v - offset

    def _beyond_v(self, current_a: float | Array) -> float:
        assert isinstance(self.device, SquareLaw)
        return (current_a / (self.device.slope_a_v2 * self.count)) ** 0.5  # type: ignore[return-value]

    def _omega(self, volt: Array) -> Array:
        assert isinstance(self.device, Bipolar)
        start = log(self.device.saturation_a * self.count * self.common_ohm / THERMAL_V)
        return omega(volt / THERMAL_V + start)
