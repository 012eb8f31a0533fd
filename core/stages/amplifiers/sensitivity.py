"""What every part of an amplifier does to its figures: each is made a little larger, and those circuits are
solved together, their bias too.
"""

from functools import lru_cache
from math import log10, sqrt

import numpy as np

from core.circuits.active.large_signal import first_limit_dbm, intercepts_dbm
from core.circuits.active.linear import around
from core.circuits.active.many import at_rest
from core.circuits.active.two_port import of_linear
from core.circuits.circuit import Bipolar, Circuit, CoupledCoils, Part, Transistor
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import TONES
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: By how much a part is made larger to see what it does [-], and the change that is told of [-].
_STEP, TOLD = 1e-3, 0.1


@record(kw_only=True)
class Sensitivity:
    """What a part does that is a tenth larger: changes of gain, reverse gain, noise figure, third-order
    intercept and compression at the output [dB], of the magnitude of either port's impedance and of the
    current taken, as shares [-].

    `what` tells which value of a transistor it is: its current gain β, or the current of a field-effect one.
    """

    ref: str
    what: str
    gain_db: float
    reverse_db: float
    input_share: float
    output_share: float
    noise_db: float
    intercept_db: float
    compression_db: float
    supply_share: float

    @property
    def weight_db(self) -> float:
        """All that it does to a signal on its way together, impedances as the decibels they are [dB]."""
        ports = (20 * log10(1 + abs(share)) for share in (self.input_share, self.output_share))
        levels = (self.gain_db, self.noise_db, self.intercept_db, self.compression_db)
        return sum(map(abs, levels)) + sum(ports)


def values_of(circuit: Circuit) -> tuple[tuple[str, str, str], ...]:
    """The values that a circuit's parts have: a part's reference, what is told of it, and its key among the
    `Times` of circuits that differ in values only.
    """
    found = []
    for part in (branch.part for branch in circuit.branches):
        if isinstance(part, Part | CoupledCoils):
            found.append((part.ref, "", part.ref))
        elif isinstance(part, Transistor):
            what = "β" if isinstance(part.device, Bipolar) else "current"
            found.append((part.ref, what, f"{part.ref}.gain"))
    return tuple(found)


@lru_cache(maxsize=32)
@gate("What its parts do to the amplifier")
def sensitivities(design: AmplifierDesign, f_hz: float) -> tuple[Sensitivity, ...] | Unsolved:
    """Every part of an amplifier at `f_hz` [Hz], that which does most first, by finite differences."""
    circuit, ohm = design.circuit, design.circuit.ports[0].ohm
    values = values_of(circuit)
    # The first circuit is that of the design, each other one has one part larger.
    times = {key: np.ones(len(values) + 1) for _, _, key in values}
    for n, (_, _, key) in enumerate(values, start=1):
        times[key][n] += _STEP
    rests, settled = at_rest(circuit, design.rest, times)
    if not settled.all():
        return Unsolved(
            "The direct currents do not settle with some part a little larger; change the resistors."
        )
    linear = around(circuit, rests, times)
    if isinstance(linear, Unsolved):
        return linear
    port = of_linear(linear, [f_hz])
    if isinstance(port, Unsolved):
        return port
    scale = TOLD / _STEP
    levels = {
        "gain_db": port.gain_db(ohm, ohm)[:, 0],
        "reverse_db": 20 * np.log10(np.abs(port.s(ohm)[0, 1]))[:, 0],
        "noise_db": port.noise_figure_db(ohm)[:, 0],
        "intercept_db": intercepts_dbm(linear, *(share * f_hz for share in TONES)),
        "compression_db": first_limit_dbm(circuit, linear, f_hz, times),
    }
    shares = {
        "input_share": np.abs(port.input_ohm(ohm))[:, 0],
        "output_share": np.abs(port.output_ohm(ohm))[:, 0],
        "supply_share": np.sum([*rests.rails_a.values()], axis=0),
    }
    # A circuit without any product has an infinite intercept, whatever its parts.
    moved = {
        name: scale * (each[1:] - each[0]) if np.isfinite(each[0]) else np.zeros(len(values))
        for name, each in levels.items()
    }
    moved |= {name: scale * (each[1:] / each[0] - 1) for name, each in shares.items()}
    found = [
        Sensitivity(ref=ref, what=what, **{name: float(each[n]) for name, each in moved.items()})
        for n, (ref, what, _) in enumerate(values)
    ]
    return tuple(sorted(found, key=lambda each: -each.weight_db))


def spread_db(found: tuple[Sensitivity, ...], tolerance: float) -> float:
    """Standard deviation of the gain [dB] where each part lies evenly within ± `tolerance` [-].

    Each by itself, to the first order; transistors are left out, their current gain spreads far more.
    """
    parts = (each.gain_db * tolerance / TOLD for each in found if not each.what)
    return sqrt(sum(each**2 for each in parts) / 3)
