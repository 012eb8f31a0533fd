"""What a supply's parts are by the table: diodes, regulators with what sets them, and the fuse."""

from math import exp, log

from core.circuits.circuit import THERMAL_V, Diode
from core.model.supply.supply import Regulator
from core.rig.supply.consumers import Feeding
from core.rig.supply.state import fuse_row
from core.trade.series import preferred
from core.trade.supply.feeding import PolarityDiodeRow, regulators

#: Between output and adjustment of a regulator [ohm]; common practice, no source.
_UPPER_OHM = (240.0, 220.0, 200.0, 180.0, 270.0)


def diode_of(row: PolarityDiodeRow) -> Diode:
    """A diode through both of its stated points: I = Is exp(V/(n VT))."""
    per_e = (row.high_v - row.low_v) / log(row.high_a / row.low_a)
    return Diode(saturation_a=row.low_a * exp(-row.low_v / per_e), ideality=per_e / THERMAL_V, series_ohm=0.0)


def marked(regulator: Regulator) -> str:
    """What is written on a regulator: `78L08`; of an adjustable one its family."""
    row = regulators()[regulator.type]
    return row.marked if row.reference_v else f"{row.marked}{round(regulator.output_v):02d}"


def lower_ohm(regulator: Regulator, upper_ohm: float) -> float:
    """What an adjustable regulator wants from its adjustment to ground beside an upper resistor [ohm]."""
    row = regulators()[regulator.type]
    return (regulator.output_v - row.reference_v) / (row.reference_v / upper_ohm + row.adjust_a)


def adjusting(regulator: Regulator) -> tuple[float, float, float]:
    """The resistors of an adjustable regulator from output to adjustment and from there to ground [ohm], and
    what it gives with them [V]: of a few usual upper ones with the E24 value below that comes nearest.

    V = Vref (1 + R2/R1) + Iadj R2, as in the data sheets.
    """
    row = regulators()[regulator.type]
    found = []
    for upper in _UPPER_OHM:
        lower = preferred(max(lower_ohm(regulator, upper), 1.0), "E24")
        gives = row.reference_v * (1 + lower / upper) + row.adjust_a * lower
        found.append((abs(gives - regulator.output_v), upper, lower, gives))
    _, upper, lower, gives = min(found)
    return upper, lower, gives


def fuse_ohm(of: Feeding) -> float:
    """Resistance of the fuse when cold; nothing without one [ohm]."""
    row = fuse_row(of.supply)
    return 0.0 if row is None else row.cold_ohm
