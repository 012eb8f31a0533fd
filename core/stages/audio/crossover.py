"""What a complementary pair makes of a tone where it hands over from one transistor to the other.

Taken one instant after the other, as charges do not count at 1 kHz: the large capacitors hold the voltage
that they have at rest, the small ones are open, and the direct currents of the whole circuit are solved at
every phase of the tone. Feedback and bootstrap count so. Derived here.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from core.circuits.active.operating import bias_near
from core.circuits.active.two_port import of_linear
from core.circuits.circuit import GROUND, Branch, Circuit, ControlledSource, Part, Rail
from core.stages.audio.design import TONE_HZ, AudioDesign, voltage_gain_db
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: Phases of a tone that are solved, and harmonics that are counted.
_PHASES, _HARMONICS = 32, 10
#: Capacitors that hold their voltage at the tone, and of how many siemens what stands for them is [S].
_HOLDS, _SIEMENS = ("coupling", "bootstrap"), 1e3


@lru_cache(maxsize=32)
@gate("The distortion of the pair")
def distortion(design: AudioDesign, output_v: float) -> float | Unsolved | None:
    """Harmonics of a tone over the tone itself [-] with so much at the load [V effective]; None of a stage
    without a complementary pair.
    """
    if design.board != "complementary":
        return None
    port = of_linear(design.linear, [TONE_HZ])
    if isinstance(port, Unsolved):
        return port
    _, load = design.ends_ohm
    peak_v = np.sqrt(2) * output_v / 10 ** (float(voltage_gain_db(port, load)[0]) / 20)
    held, rest, out = _held(design), design.rest, []
    for volt in peak_v * np.sin(2 * np.pi * (np.arange(_PHASES) + 0.5) / _PHASES):
        found = bias_near(replace(held, rails=(*held.rails, Rail("in", float(volt)))), rest)
        if isinstance(found, Unsolved):
            return found
        rest = found
        out.append(found.volts["out"])
    lines = np.abs(np.fft.rfft(out))
    return float(np.sqrt(np.sum(lines[2 : _HARMONICS + 1] ** 2)) / lines[1])


def _held(design: AudioDesign) -> Circuit:
    """The circuit with batteries in the place of its large capacitors and without the small ones."""
    volts, branches, rails = design.rest.volts, [], list(design.circuit.rails)
    for branch in design.circuit.branches:
        part = branch.part
        if not isinstance(part, Part) or part.kind != "capacitor":
            branches.append(branch)
        elif part.role in _HOLDS:
            a, b = branch.nodes
            rail = f"{part.ref} held"
            rails.append(Rail(rail, volts.get(a, 0.0) - volts.get(b, 0.0)))
            # A conductance, and beside it as much current the other way as it takes at that voltage.
            branches.append(Branch(Part(part.ref, "resistor", 1 / _SIEMENS), (a, b)))
            branches.append(Branch(ControlledSource(f"{part.ref} source", _SIEMENS), (b, a, rail, GROUND)))
    return Circuit(tuple(branches), design.circuit.ports, tuple(rails))
