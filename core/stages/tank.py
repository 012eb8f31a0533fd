"""The VFO's tank as a network of fitted parts, and its resonance on each band."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import sqrt
from typing import Literal

import numpy as np

from core.circuits.ladder import Array
from core.circuits.resonator import Capacitor, Mode, mode
from core.model.tank import Tank, TuningCapacitor
from core.stages.oscillator import operating
from core.stages.outcome import PartRow

Shift = Literal["none", "parallel", "series"]
#: Frequencies that differ by less than this share are the same [-].
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class WantedRange:
    """Frequencies [Hz] that the VFO must reach on a band, and how it is shifted there."""

    band: str
    low_hz: float
    high_hz: float
    shift: Shift = "none"


@dataclass(frozen=True, slots=True)
class RangeCover:
    """What a band wants and what the fitted parts cover there, Hz."""

    band: str
    wanted_low_hz: float
    wanted_high_hz: float
    covers_low_hz: float
    covers_high_hz: float
    shift: Shift

    @property
    def covers(self) -> bool:
        """Whether the whole wanted range is reached."""
        low, high = self.covers_low_hz * (1 - _ROUNDING), self.covers_high_hz * (1 + _ROUNDING)
        return low <= self.wanted_low_hz and high >= self.wanted_high_hz


@dataclass(frozen=True, eq=False)
class TankDesign:
    """The tank on its resulting parts; compared by identity, as filters' designs are.

    `fixed` and `found` say in words which parts were given and which computed; `limits` are sentences about
    what stands in the way where the wanted ranges cannot be had, the parts then being the nearest that can.
    """

    tank: Tank
    parts: tuple[PartRow, ...]
    ranges: tuple[RangeCover, ...]
    fixed: tuple[str, ...]
    found: tuple[str, ...]
    limits: tuple[str, ...]
    values: Mapping[str, float] = field(repr=False)

    @property
    def coil_h(self) -> float:
        """The coil, H."""
        return self.values["L1"]

    def range_of(self, band: str) -> RangeCover | None:
        """What a band wants and gets; None when the design does not know the band."""
        return next((each for each in self.ranges if each.band == band), None)


def tuning_f(variable: TuningCapacitor, position: Array) -> Array:
    """Capacitance [F] at positions 0 (meshed) to 1 (open) of the travel, same shape.

    Straight-line frequency is such that the capacitor alone with a coil would tune evenly: 1/sqrt(C) runs
    straight. A measured table is followed by a monotone cubic (F. Fritsch, R. Carlson, SIAM J. Numer. Anal.
    17 (1980) 238, as scipy has it).
    """
    low, high = variable.span_f
    if variable.law == "straight_capacitance":
        return high - (high - low) * position
    if variable.law == "straight_frequency":
        return (1 / sqrt(high) + (1 / sqrt(low) - 1 / sqrt(high)) * position) ** -2
    from scipy.interpolate import PchipInterpolator

    places, farads = zip(*variable.points, strict=True)
    return np.asarray(PchipInterpolator(places, farads)(position))


#: Nodes of the network: tank, gate, source, between padder and tuning capacitor, behind a series shift.
_TANK, _GATE, _SOURCE, _INNER, _SHIFTED = 1, 2, 3, 4, 5


def capacitors(made: TankDesign, band: str, tuning: Array | float) -> tuple[Capacitor, ...]:
    """Every capacitor of the tank on a band, the tuning capacitor at `tuning` [F] of any shape.

    Nodes: 1 tuning, 2 gate or base, 3 source or emitter, 4 and 5 inside the tuning branch. In a
    series-tuned tank the coil lies between 1 and 2, else between 1 and ground.
    """
    tank, values = made.tank, made.values
    device = operating(tank.feedback)
    found = [
        Capacitor("C1", _GATE, _SOURCE, values["C1"]),
        Capacitor("C2", _SOURCE, 0, values["C2"]),
        Capacitor("input", _GATE, _SOURCE, device.input_f),
        Capacitor("feed-through", _GATE, 0, device.through_f),
        Capacitor("coil", _TANK, 0 if tank.tuned == "parallel" else _GATE, tank.coil_self_f),
        Capacitor("stray", _TANK, 0, tank.stray_f),
    ]
    if tank.tuned == "parallel":
        found.append(Capacitor("CC", _TANK, _GATE, values["CC"]))
    across = ["CP", "CT", "CK"]
    shift = f"CB{band}"
    in_line = []
    if f"CT{band}" in values:
        across += [shift, f"CT{band}"]
    elif shift in values:
        in_line.append(Capacitor(shift, _TANK, _SHIFTED, values[shift]))
    found += [Capacitor(ref, _TANK, 0, values[ref]) for ref in across if ref in values]
    if "CD" in values:
        cold = tank.differential_share
        found.append(Capacitor("CD cold", _TANK, 0, cold * values["CD"]))
        found.append(Capacitor("CD", _TANK, 0, (1 - cold) * values["CD"]))
    at = _SHIFTED if in_line else _TANK
    if "CS" in values:
        in_line.append(Capacitor("CS", at, _INNER, values["CS"]))
        at = _INNER
    found += in_line
    found.append(Capacitor("CV", at, 0, tuning))
    return _renumbered(found)


def _renumbered(found: list[Capacitor]) -> tuple[Capacitor, ...]:
    """The same with the numbers of nodes that do not occur closed up (the first three always do)."""
    used = sorted({node for c in found for node in (c.a, c.b)})
    place = {node: n for n, node in enumerate(used)}
    return tuple(Capacitor(c.ref, place[c.a], place[c.b], c.farad) for c in found)


def resonance(made: TankDesign, band: str, position: Array) -> Mode:
    """The tank's resonance on a band at positions 0 (meshed) to 1 (open), shape (P,)."""
    coil = (_TANK, 0) if made.tank.tuned == "parallel" else (_TANK, _GATE)
    return mode(capacitors(made, band, tuning_f(made.tank.variable, position)), made.coil_h, coil)
