"""What an amplifier's transistors see at an output: voltages and currents at the peaks of its swing."""

from functools import lru_cache

from core.circuits.active.linear import linear
from core.circuits.active.swing import swings
from core.circuits.units import watts
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.gate import gate
from core.stages.outcome import Unsolved


@record(kw_only=True)
class Peak:
    """The largest `what` of a transistor, volt between its outer electrodes or ampere, and what it bears at
    most, None where its data sheet is not known.
    """

    ref: str
    what: str
    peak: float
    most: float | None


@lru_cache(maxsize=64)
@gate("The amplifier's peaks")
def peaks(design: AmplifierDesign, f_hz: float, output_dbm: float) -> tuple[Peak, ...] | Unsolved:
    """Every transistor's peaks at `f_hz` [Hz] with `output_dbm` [dBm] in the system's resistance: at rest and
    as much again as the linear solution swings, which twice the rest bounds in current and voltage.
    """
    around = linear(design.circuit)
    if isinstance(around, Unsolved):
        return around
    ohm = design.circuit.ports[1].ohm
    output_v = (2 * ohm * watts(output_dbm)) ** 0.5
    most = {"voltage": design.transistor.most_v, "current": design.transistor.most_a}
    found = []
    for each in swings(design.circuit, around, f_hz):
        rest = design.rest.transistors[each.ref]
        at_rest = abs(rest.output_v if each.what == "voltage" else rest.output_a)
        swing = abs(each.per_volt + each.per_ampere / ohm) * output_v
        peak = at_rest + min(swing, at_rest)
        found.append(Peak(ref=each.ref, what=each.what, peak=peak, most=most[each.what]))
    return tuple(found)
