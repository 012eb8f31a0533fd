"""What an amplifier's transistors see at an output, voltages and currents at the peaks of its swing, and how
fast they are.
"""

from functools import lru_cache
from math import inf, pi

from core.circuits.active.linear import linear
from core.circuits.active.swing import swings
from core.circuits.circuit import Bipolar
from core.circuits.units import watts
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: A transistor without a sink is run up to this share of what it may take in still air [-]; common practice,
#: no source.
SHARE_OF_HEAT = 0.7


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


def speeds_hz(design: AmplifierDesign) -> dict[str, float]:
    """Up to which frequency each transistor amplifies current at rest, by reference [Hz]: transconductance
    over 2π times its capacitances, fT of a bipolar one at its current.
    """
    found = {}
    for part, _ in design.circuit.transistors:
        device, series = part.device, design.rest.transistors[part.ref].series
        if isinstance(device, Bipolar):
            farad = abs(float(series.charge[1, 0])) + device.emitter_f + device.feedback_f
        else:
            farad = device.gate_source_f + device.gate_drain_f
        slope_s = abs(float(series.output[1, 0]))
        found[part.ref] = slope_s / (2 * pi * farad) if farad else inf
    return found
