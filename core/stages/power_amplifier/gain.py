"""A power amplifier's gain, load and largest output over frequency at full drive.

The circuit is the one that is soldered: at full power each transistor stands in it as the current that its
law gives for its drive (a describing function), beside its capacitances. The gain so found is never told
above what the device is known to give at that frequency.
"""

from functools import lru_cache
from math import exp, log

import numpy as np

from core.circuits.circuit import GROUND, Bipolar, Branch, Circuit, ControlledSource, Part, Transistor
from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.nodal import solve
from core.circuits.power.load_line import drive_for, most_power
from core.model.values.notation import format_value
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.board import REGULATOR, SUPPLY, electrodes
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.match import PORT_OHM
from core.stages.power_amplifier.transformer import Windings

#: Figures hardly differ over this share of a frequency [-]: they are kept for a whole one.
_ALIKE = 1e-3


@record(eq=False, kw_only=True)
class OverFrequency:
    """A power amplifier over frequencies (F,) [Hz] at full drive.

    `gain_db` is its power gain from 50 ohm into 50 ohm, `network_db` what its circuit alone would give and
    `device_db` what the device is known to give, whose lesser it is. `load_ohm` is what each side's current
    sees, with the device's own capacitance, `most_w` the largest output [W], `drive_w` what it takes for the
    output wanted [W], `swr` that of the input.
    """

    f_hz: Array
    gain_db: Array
    network_db: Array
    device_db: Array
    load_ohm: ComplexArray
    most_w: Array
    drive_w: Array
    swr: Array
    reverse_db: Array


def drive_v(design: PowerDesign) -> float:
    """The amplitude at gate or base [V] for full power."""
    fundamental = (2 * design.full_w / design.stage.sides / design.load_ohm) ** 0.5
    return drive_for(design.law, design.bias_v, fundamental)


def _signal(design: PowerDesign) -> Circuit:
    """The circuit for the signal at full drive: rails at ground, each transistor as its current and its
    capacitances.
    """
    law, stage = design.law, design.stage
    side_w = design.full_w / stage.sides
    fundamental = (2 * side_w / design.load_ohm) ** 0.5
    inner = drive_v(design) - law.common_ohm * fundamental
    siemens = fundamental / inner / law.count
    rails = {SUPPLY, REGULATOR}
    found: list[Branch] = []
    for branch in design.circuit.branches:
        nodes = tuple(GROUND if node in rails else node for node in branch.nodes)
        part = branch.part
        if isinstance(part, Transistor):
            if part.role == "transistor":
                found += _at_work(part, nodes, siemens)
        elif len(set(nodes)) > 1:
            found.append(Branch(part, nodes))
    # What was wired as a diode is small beside the resistor it stands at, and bypassed.
    trackers = [f"t{which}" for which in range(1, design.trackers + 1)]
    found += [Branch(Part(node, "resistor", 1.0), (node, GROUND)) for node in trackers]
    return Circuit(tuple(found), design.circuit.ports)


def _at_work(part: Transistor, nodes: tuple[str, ...], siemens: float) -> list[Branch]:
    out, control, common = nodes
    device, ref = part.device, part.ref

    def capacitor(name: str, farad: float, a: str, b: str) -> Branch:
        return Branch(Part(f"{ref} {name}", "capacitor", farad), (a, b))

    if isinstance(device, Bipolar):
        within = f"{ref} base"
        diffusion = siemens * device.transit_s
        return [
            Branch(Part(f"{ref} rb", "resistor", device.base_ohm), (control, within)),
            Branch(Part(f"{ref} rpi", "resistor", device.current_gain / siemens), (within, common)),
            capacitor("cpi", device.emitter_f + diffusion, within, common),
            capacitor("cmu", device.feedback_f, within, out),
            Branch(ControlledSource(ref, siemens), (out, common, within, common)),
        ]
    return [
        capacitor("cgs", device.gate_source_f, control, common),
        capacitor("cgd", device.gate_drain_f, control, out),
        capacitor("cds", device.drain_source_f, out, common),
        Branch(ControlledSource(ref, siemens), (out, common, control, common)),
    ]


def at(design: PowerDesign, f_hz: float) -> OverFrequency | Unsolved:
    """Figures at `f_hz` [Hz], to a thousandth of it."""
    return over(design, (float(exp(round(log(f_hz) / _ALIKE) * _ALIKE)),))


@lru_cache(maxsize=256)
@gate("The power amplifier's gain")
def over(design: PowerDesign, f_hz: tuple[float, ...]) -> OverFrequency | Unsolved:
    """The amplifier at frequencies [Hz]."""
    circuit, f = _signal(design), np.asarray(f_hz)
    found = solve(circuit, f)
    if isinstance(found, Unsolved):
        return found
    stage = design.stage
    drain, _, common = electrodes(stage)[0]
    # The first transistor's; those of a pair do the same.
    within = next(each for each in circuit.branches if isinstance(each.part, ControlledSource))
    assert isinstance(within.part, ControlledSource)

    def volt(node: str) -> ComplexArray:
        return found.at(node) if node != GROUND else np.zeros(f.shape, dtype=complex)

    current = design.law.count * within.part.siemens * (volt(within.nodes[2]) - volt(common))
    load = -(volt(drain) - volt(common)) / current
    cores = np.array([_passed(design.input, each) for each in f_hz])
    behind = np.array([_passed(design.output, each) for each in f_hz])
    network = 20 * np.log10(np.abs(found.s[1, 0])) + 10 * np.log10(cores * behind)
    device = design.bears.gain_at_db(f)
    gain = np.minimum(network, device)
    # Of what each side gives, a share reaches the output.
    given = stage.sides * np.abs(current) ** 2 * load.real / 2
    through = np.abs(volt("out")) ** 2 / (2 * PORT_OHM) / given
    if (load.real <= 0).any():
        at_hz = format_value(float(f[np.argmin(load.real)]), "Hz", 3)
        return Unsolved(
            f"At {at_hz} more comes back through the device than goes out, so that it has no largest output; "
            "give it more swamping, less feedback, or a match that is made for that frequency."
        )
    most = stage.sides * most_power(stage.supply_v, 1 / load, design.law)[0] * through * behind
    reflected = np.minimum(np.abs(found.s[0, 0]), 0.9999)
    return OverFrequency(
        f_hz=frozen(f),
        gain_db=frozen(gain),
        network_db=frozen(network),
        device_db=frozen(device),
        load_ohm=frozen(load),
        most_w=frozen(most),
        drive_w=frozen(np.minimum(most, design.full_w) / 10 ** (gain / 10)),
        swr=frozen((1 + reflected) / (1 - reflected)),
        reverse_db=frozen(20 * np.log10(np.abs(found.s[0, 1]))),
    )


def _passed(coil: Windings | None, f_hz: float) -> float:
    return 1.0 if coil is None else coil.passes(f_hz)
