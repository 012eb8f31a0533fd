"""Values of scattered parts, and trimmers set as the builder of each such filter does.

Every trial draws each capacitor and coil evenly within its tolerance and each crystal's series resonance, Lm,
C0 and Q from a normal distribution.
"""

from collections.abc import Mapping

import numpy as np

from core.circuits.circuit import Circuit
from core.circuits.ladder import Array, Network, Part
from core.circuits.response import served_grid
from core.model.bands import Dials
from core.stages.outcome import TwoPort, Unsolved
from core.stages.tolerance.judging import Spreads

#: Steps by which trimmers are turned, as shares of the capacitance [-]: together they make up for coils and
#: capacitors a tenth off.
_TRIMMER_STEPS = (0.04, 0.04, 0.04, 0.04, 0.02, 0.02, 0.01, 0.01, 0.005, 0.005)


def draw(network: Network | Circuit, spreads: Spreads, trials: int, seed: int = 0) -> dict[str, Array]:
    """Part values of `trials` scattered filters: reference (`X1.q` for a crystal's Q) to an array (T, 1)."""
    generator = np.random.default_rng(seed)
    values: dict[str, Array] = {}

    def evenly(part: Part, share: float) -> None:
        values[part.ref] = part.value * (1 + share * generator.uniform(-1, 1, (trials, 1)))

    def normally(part: Part, name: str, value: float, share: float) -> None:
        factor = np.maximum(1 + share * generator.normal(size=(trials, 1)), 0.05)
        values[f"{part.ref}.{name}"] = value * factor

    for part in network.parts:
        if part.kind == "capacitor":
            evenly(part, spreads.capacitor)
        elif part.kind == "inductor" and spreads.coil > 0:
            evenly(part, spreads.coil)
        elif part.kind == "coupling" and spreads.coupling > 0:
            evenly(part, spreads.coupling)
        elif part.kind == "crystal":
            values[part.ref] = part.value + spreads.crystal_hz * generator.normal(size=(trials, 1))
            if part.q is not None:
                normally(part, "q", part.q, spreads.q)
            if spreads.lm > 0:
                normally(part, "lm", part.motional_inductance_h, spreads.lm)
            if spreads.c0 > 0:
                normally(part, "c0", part.holder_capacitance_f, spreads.c0)
    return values


def trimming_hz(dials: Dials) -> Array:
    """Frequencies [Hz] on the dials [Hz] for which a builder sets trimmers; shape (F,)."""
    return served_grid(dials, 5)


def peaked(made: TwoPort, f_hz: Array, values: Mapping[str, Array]) -> dict[str, Array]:
    """The values of trials, arrays (T, 1), with those trimmed set for the least mean loss at `f_hz` [Hz].

    Each trimmer in turn is tried a step up and a step down in all trials at once, with ever smaller steps.
    """
    now = {ref: np.asarray(each, dtype=float) for ref, each in values.items()}
    for step in _TRIMMER_STEPS:
        for ref in made.trimmed:
            tried = now[ref] * np.array([1 - step, 1.0, 1 + step])[:, None, None]
            found = made.response(f_hz, {**now, ref: tried})
            if isinstance(found, Unsolved):
                return now
            lost = found.loss_db.mean(axis=-1)
            now[ref] = np.take_along_axis(tried[..., 0], lost.argmin(axis=0)[None], axis=0)[0][:, None]
    return now
