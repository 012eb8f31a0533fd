"""What a supply's parts are by the table: diodes, and regulators with what sets them."""

from math import exp, log

from core.circuits.circuit import THERMAL_V, Diode
from core.model.supply.supply import Regulator
from core.model.values.quantities import RailVolt, limits_of
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


def gives_v(regulator: Regulator) -> float:
    """What a regulator gives as it was built [V]: as read, else by the resistors that set it as they were
    fitted, else what was asked; within what any regulator can give.
    """
    built, row = dict(regulator.as_built), regulators()[regulator.type]
    if "regulator" in built:
        return built["regulator"]
    if not row.reference_v or not {"adjust_upper", "adjust_lower"} & built.keys():
        return regulator.output_v
    upper, lower, _ = adjusting(regulator)
    upper, lower = built.get("adjust_upper", upper), built.get("adjust_lower", lower)
    low, high, _ = limits_of(RailVolt)
    return min(max(row.reference_v * (1 + lower / upper) + row.adjust_a * lower, low), high)
