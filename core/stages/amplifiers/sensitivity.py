"""What every part of an amplifier does to its figures: each a little larger, and the bias found anew."""

from dataclasses import replace
from functools import lru_cache
from math import log10, sqrt

import numpy as np

from core.circuits.active.linear import around
from core.circuits.active.nudged import nudged
from core.circuits.active.two_port import alike
from core.circuits.circuit import Bipolar, Branch, CoupledCoils, Part, Transistor
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: By how much a part is made larger to see what it does [-], and the change that is told of [-].
_STEP, TOLD = 1e-3, 0.1


@record(kw_only=True)
class Sensitivity:
    """What a part does that is a tenth larger: changes of gain and noise figure [dB], of the magnitude of
    either port's impedance and of the current taken, as shares [-].

    `what` tells which value of a transistor it is: its current gain β, or the current of a field-effect one.
    """

    ref: str
    what: str
    gain_db: float
    input_share: float
    output_share: float
    noise_db: float
    supply_share: float

    @property
    def weight_db(self) -> float:
        """All that it does to a signal together, impedances as the decibels they are [dB]."""
        ports = (20 * log10(1 + abs(share)) for share in (self.input_share, self.output_share))
        return abs(self.gain_db) + abs(self.noise_db) + sum(ports)


def _larger(branch: Branch) -> tuple[str, Branch] | None:
    """A branch whose value is a little larger, and which value of a transistor that is."""
    part, more = branch.part, 1 + _STEP
    if isinstance(part, Part):
        return "", replace(branch, part=replace(part, value=part.value * more))
    if isinstance(part, CoupledCoils):
        wound = replace(part, primary_h=part.primary_h * more, secondary_h=part.secondary_h * more)
        return "", replace(branch, part=wound)
    if isinstance(part, Transistor):
        device = part.device
        if isinstance(device, Bipolar):
            other = replace(device, current_gain=device.current_gain * more)
            return "β", replace(branch, part=replace(part, device=other))
        stronger = replace(device, slope_a_v2=device.slope_a_v2 * more)
        return "current", replace(branch, part=replace(part, device=stronger))
    return None


@lru_cache(maxsize=32)
@gate("What its parts do to the amplifier")
def sensitivities(design: AmplifierDesign, f_hz: float) -> tuple[Sensitivity, ...] | Unsolved:
    """Every part of an amplifier at `f_hz` [Hz], that which does most first.

    Finite differences of circuits that are solved together; the bias follows to the first order.
    """
    circuit, ohm = design.circuit, design.circuit.ports[0].ohm
    told = [(each, _larger(each)) for each in circuit.branches]
    changes = [(was, now[1], now[0]) for was, now in told if now is not None]
    rests = nudged(circuit, design.rest, [(was, now) for was, now, _ in changes])
    solved = [around(circuit, design.rest)]
    for (was, now, _), rest in zip(changes, rests, strict=True):
        branches = tuple(now if each is was else each for each in circuit.branches)
        solved.append(around(replace(circuit, branches=branches), rest))
    linear = [each for each in solved if not isinstance(each, Unsolved)]
    port = alike(linear, f_hz)
    if isinstance(port, Unsolved):
        return port
    gain_db, noise_db = port.gain_db(ohm, ohm), port.noise_figure_db(ohm)
    into, out = np.abs(port.input_ohm(ohm)), np.abs(port.output_ohm(ohm))
    scale = TOLD / _STEP
    found = [
        Sensitivity(
            ref=was.part.ref,
            what=what,
            gain_db=scale * float(gain_db[n] - gain_db[0]),
            input_share=scale * float(into[n] / into[0] - 1),
            output_share=scale * float(out[n] / out[0] - 1),
            noise_db=scale * float(noise_db[n] - noise_db[0]),
            supply_share=scale * (sum(rest.rails_a.values()) / design.supply_a - 1),
        )
        for n, ((was, _, what), rest) in enumerate(zip(changes, rests, strict=True), start=1)
    ]
    return tuple(sorted(found, key=lambda each: -each.weight_db))


def spread_db(found: tuple[Sensitivity, ...], tolerance: float) -> float:
    """Standard deviation of the gain [dB] where each part lies evenly within ± `tolerance` [-].

    Each by itself, to the first order; transistors are left out, their current gain spreads far more.
    """
    parts = (each.gain_db * tolerance / TOLD for each in found if not each.what)
    return sqrt(sum(each**2 for each in parts) / 3)
