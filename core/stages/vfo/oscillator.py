"""The VFO's device at its operating point, and what tank and device make of each other.

Bias follows from the resistors in the circuit, never from a wish: a JFET's from its source resistor, a
bipolar transistor's from the divider at its base and its emitter resistor.
"""

from functools import lru_cache
from math import pi

from core.circuits import bias
from core.circuits.circuit import THERMAL_V
from core.circuits.resonator import Mode
from core.model.stages.tank import Feedback, Tank
from core.record import record
from core.trade.devices import BipolarRow, JfetRow, devices

#: Nodes of the VFO's circuit at the device: gate or base, source or emitter.
GATE, SOURCE = "gate", "source"
#: Unloaded Q of the tank's capacitors, an assumption: class 1 ceramic and air are better than this.
ASSUMED_CAPACITOR_Q = 1000.0
#: Q of an ordinary choke below its own resonance, an assumption; common practice, no source.
ASSUMED_CHOKE_Q = 50.0


@record(kw_only=True)
class Operating:
    """A device at its bias: drain or collector current [A], transconductance [S], capacitances [F] from input
    to source and through to the drain, conductance [S] from input to source, and that of the bias parts from
    input to ground.
    """

    name: str
    kind: str
    current_a: float
    transconductance_s: float
    input_f: float
    through_f: float
    input_s: float
    bias_s: float


@lru_cache(maxsize=128)
def typical(feedback: Feedback) -> dict[str, float]:
    """The type's figures by the fields that a builder's own are typed into: of a JFET its IDSS [A] and
    pinch-off [V].
    """
    row = devices()[feedback.device]
    if not isinstance(row, JfetRow):
        return {}
    return {"saturation_a": row.saturation_a, "pinch_off_v": row.pinch_off_v}


def operating(feedback: Feedback) -> Operating:
    """The operating point; figures typed in replace the type's.

    A bipolar transistor's input capacitance holds its diffusion charge, gm TF with
    TF = 1/(2 pi fT) - (Cbe + Cbc) VT/Ic at the current at which fT is stated.
    """
    row = devices()[feedback.device]
    if isinstance(row, JfetRow):
        full, cut = feedback.saturation_a or row.saturation_a, feedback.pinch_off_v or row.pinch_off_v
        current = bias.jfet_self_bias_a(full, cut, feedback.bias_ohm)
        gm = bias.jfet_transconductance_s(full, cut, current)
        into, through = row.gate_source_f, row.gate_drain_f
        conductance, divider = 0.0, 1 / feedback.gate_ohm
    else:
        assert isinstance(row, BipolarRow)
        gain = feedback.beta or row.current_gain
        upper, lower = feedback.base_upper_ohm, feedback.base_lower_ohm
        current = bias.bipolar_bias_a(feedback.supply_v, upper, lower, feedback.bias_ohm, gain)
        gm = current / THERMAL_V
        into, through = row.base_emitter_f + gm * _transit_s(row), row.base_collector_f
        conductance, divider = gm / gain, 1 / upper + 1 / lower
    return Operating(
        name=row.name,
        kind=row.kind,
        current_a=current,
        transconductance_s=gm,
        input_f=feedback.input_f or into,
        through_f=feedback.drain_f or through,
        input_s=conductance,
        bias_s=divider,
    )


def lead_volts(feedback: Feedback) -> tuple[tuple[str, float], ...]:
    """Direct voltage [V] at each lead of the device that is not at ground, before it oscillates."""
    device, supply = operating(feedback), feedback.supply_v
    if device.kind == "jfet":
        return ("drain", supply), ("source", device.current_a * feedback.bias_ohm)
    # The divider's other current, into the base, is the conductance from base to emitter times VT.
    into_a = device.input_s * THERMAL_V
    emitter_v = (device.current_a + into_a) * feedback.bias_ohm
    upper, lower = feedback.base_upper_ohm, feedback.base_lower_ohm
    base_v = (supply / upper - into_a) / (1 / upper + 1 / lower)
    return ("collector", supply), ("base", base_v), ("emitter", emitter_v)


def _transit_s(row: BipolarRow) -> float:
    whole = 1 / (2 * pi * row.transition_hz)
    return max(whole - (row.base_emitter_f + row.base_collector_f) * THERMAL_V / row.transition_at_a, 0.0)


def source_loss_s(feedback: Feedback, f_hz: float) -> float:
    """Conductance [S] that bias branch and buffer put from source or emitter to ground at `f_hz` [Hz].

    The bias branch is the resistor, in series with the choke where there is one; the choke's reactance stands
    across the lower capacitor, is many times its, and is left out of the resonance.
    """
    branch = complex(feedback.bias_ohm)
    if feedback.choke_h is not None:
        reactance = 2 * pi * f_hz * feedback.choke_h
        branch += reactance * complex(1 / ASSUMED_CHOKE_Q, 1)
    return (1 / branch).real + (1 / feedback.load_ohm if feedback.load_ohm else 0.0)


def margin(tank: Tank, coil: tuple[float, float], found: Mode, place: int) -> float:
    """How many times the device gives back what a tank with a `coil` of so many H and Q [-] loses [-].

    With the lossless mode's voltages at one `place` of its positions: gm (vg - vs) vs against the losses of
    coil, capacitors (Q assumed), bias parts, buffer and the device's own input. That is gm n (1 - n) Rp for a
    Colpitts tank and gm / (w^2 C1 C2 Rs) for a Clapp tank. Common practice wants 3 to 5.
    """
    gate, source = (float(found.at(node)[place]) for node in (GATE, SOURCE))
    given = operating(tank.feedback).transconductance_s * (gate - source) * source
    return given / losses_s(tank, coil, found, place)


def losses_s(tank: Tank, coil: tuple[float, float], found: Mode, place: int) -> float:
    """All losses as a conductance across the coil [S], as for `margin`."""
    feedback = tank.feedback
    device = operating(feedback)
    f = float(found.f_hz[place])
    w = 2 * pi * f
    gate, source = (float(found.at(node)[place]) for node in (GATE, SOURCE))
    coil_h, coil_q = coil
    lost = 1 / (coil_q * w * coil_h)
    lost += w * float(found.capacitance_f[place]) / ASSUMED_CAPACITOR_Q
    lost += source**2 * source_loss_s(feedback, f)
    lost += gate**2 * device.bias_s + (gate - source) ** 2 * device.input_s
    return lost
