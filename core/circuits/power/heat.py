"""From junction to air: thermal resistances in a row, steady and over time."""

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array
from core.record import record

#: Specific heat of aluminium, J/(kg K).
ALUMINIUM_J_KG_K = 897.0
#: How long a power transistor's case takes to follow its heat, s; an estimate, from memory.
CASE_S = 1.0


@record(kw_only=True)
class Chain:
    """Thermal resistances [K/W] from junction to case, through the insulator, and from the sink to the air of
    `ambient_c` [°C], and the sink's mass [kg], taken as aluminium. `count` transistors share the sink.
    """

    junction_k_w: float
    insulator_k_w: float
    sink_k_w: float
    ambient_c: float
    sink_kg: float
    count: int = 1

    @property
    def sink_s(self) -> float:
        """The sink's time constant, s: its thermal resistance times mass and specific heat; an estimate, as
        air moves faster by a hot sink.
        """
        return self.sink_k_w * self.sink_kg * ALUMINIUM_J_KG_K

    def sink_c(self, heat_w: ArrayLike) -> Array:
        """Temperature of the sink [°C] with all transistors' heat [W], steady."""
        return np.asarray(self.ambient_c + np.asarray(heat_w) * self.sink_k_w)

    def junction_c(self, heat_w: ArrayLike) -> Array:
        """Temperature of the junctions [°C] with all heat [W], steady.

        Tj = Ta + P (RθJC + RθCS)/count + P RθSA.
        """
        inner = (self.junction_k_w + self.insulator_k_w) / self.count
        return np.asarray(self.sink_c(heat_w) + np.asarray(heat_w) * inner)

    def over_time(self, heat_w: float, time_s: ArrayLike) -> tuple[Array, Array]:
        """Junction and sink [°C] at times (T,) [s] after a heat [W] begins, all at ambient before."""
        time = np.asarray(time_s, dtype=float)
        sink = self.ambient_c + heat_w * self.sink_k_w * -np.expm1(-time / self.sink_s)
        inner = heat_w * (self.junction_k_w + self.insulator_k_w) / self.count
        return sink + inner * -np.expm1(-time / CASE_S), np.asarray(sink)

    def sink_wanted_k_w(self, heat_w: float, most_junction_c: float) -> float:
        """The largest thermal resistance [K/W] of a sink that keeps junctions below a temperature [°C] at a
        heat [W]; below zero where none can.
        """
        inner = heat_w * (self.junction_k_w + self.insulator_k_w) / self.count
        return (most_junction_c - self.ambient_c - inner) / heat_w
