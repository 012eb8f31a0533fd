"""What the parts of a low-pass see at full power: volts, amperes and heat, into any antenna."""

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from math import ceil, pi, sqrt

import numpy as np

from core.circuits.circuit import PartKind
from core.circuits.ladder import Array, ComplexArray, Network, stresses
from core.model.bands import Dials
from core.model.stages.filters import LowPassFilter
from core.record import record
from core.stages.filters import low_pass
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import Unsolved

#: The mismatch that parts are made for, and its reflection coefficient.
STANDING_WAVES = 3.0
_REFLECTION = (STANDING_WAVES - 1) / (STANDING_WAVES + 1)
#: Phases of the reflection that are tried, and places on each band.
_PHASES, _PLACES = 24, 5
#: Voltages that capacitors are sold for, V, and how much of them is left in reserve.
_RATED_V, _RESERVE = (50, 100, 200, 500, 1000), 1.5
#: Amperes at HF that a small capacitor of each kind carries without getting hot; common practice, no source.
_C0G_A, _MICA_A = 1.0, 2.0


@record(kw_only=True)
class PartStress:
    """What one part sees at full power: peak volts across, rms amperes through, watts lost in it.

    The mismatched ones are the most into a mismatch of 3:1, whatever its phase; None where nobody asked.
    """

    ref: str
    peak_v: float
    rms_a: float
    loss_w: float
    mismatched_v: float | None = None
    mismatched_a: float | None = None
    mismatched_w: float | None = None
    kind: PartKind = "capacitor"

    @property
    def wants_mica(self) -> bool:
        """Whether a capacitor carries more than a small C0G one stands."""
        return self.kind == "capacitor" and (self.mismatched_a or 0.0) > _C0G_A

    @property
    def stands_it(self) -> str | None:
        """The kind of capacitor that stands the mismatch; None for a coil, or where nobody asked for one.

        Half as many volts again, and an ampere for a small C0G or two for silver mica (common practice, no
        source).
        """
        if self.kind != "capacitor" or self.mismatched_v is None or self.mismatched_a is None:
            return None
        volts = next((each for each in _RATED_V if each >= _RESERVE * self.mismatched_v), None)
        if volts is None:
            return f"transmitting mica of {_RESERVE * self.mismatched_v:.0f} V or more"
        for kind, amperes in (("C0G", _C0G_A), ("silver mica", _MICA_A)):
            if self.mismatched_a <= amperes:
                return f"{kind}, {volts} V"
        return f"{ceil(self.mismatched_a / _MICA_A)} silver mica in parallel, {volts} V"


@lru_cache(maxsize=128)
def worst_stress(
    filter: LowPassFilter, dials: Dials, power_w: float, shelf: Shelf = ALL_BOUGHT
) -> tuple[PartStress, ...]:
    """The most that each part sees with `power_w` [W] offered anywhere on the bands it serves, its capacitors
    from the `shelf` where that does.

    Into a matched antenna, and into one that reflects half the voltage at any phase; the power amplifier is
    taken to be a source of the resistance around. Empty when the filter cannot be designed or serves no band.
    """
    made = low_pass.design(filter, dials, shelf)
    if isinstance(made, Unsolved) or not dials:
        return ()
    network = made.network
    f = np.concatenate([np.linspace(low, high, _PLACES) for low, high in dials])
    turns = _REFLECTION * np.exp(2j * pi * np.arange(_PHASES) / _PHASES)
    # A load for every phase, the frequencies behind it as the last axis.
    loads = (network.load_ohm * (1 + turns) / (1 - turns))[:, np.newaxis]
    kinds = {part.ref: part.kind for part in network.parts}
    mismatched = {
        ref: (_most(volts), _most(amperes), _most(lost))
        for ref, volts, amperes, lost in _seen(network, power_w, np.tile(f, (_PHASES, 1)), loads)
    }
    found = []
    for ref, volts, amperes, lost in _seen(network, power_w, f):
        matched = PartStress(ref=ref, peak_v=_most(volts), rms_a=_most(amperes), loss_w=_most(lost))
        worst_v, worst_a, worst_w = mismatched[ref]
        found.append(
            replace(
                matched, mismatched_v=worst_v, mismatched_a=worst_a, mismatched_w=worst_w, kind=kinds[ref]
            )
        )
    return tuple(found)


def part_stress(filter: LowPassFilter, dials: Dials, power_w: float, f_hz: float) -> tuple[PartStress, ...]:
    """Peak volts, rms amperes and lost watts of every part with `power_w` [W] offered at `f_hz` [Hz], into a
    matched antenna; empty when the filter cannot be designed.
    """
    made = low_pass.design(filter, dials)
    if isinstance(made, Unsolved):
        return ()
    return tuple(
        PartStress(ref=ref, peak_v=_most(volts), rms_a=_most(amperes), loss_w=_most(lost))
        for ref, volts, amperes, lost in _seen(made.network, power_w, np.array([f_hz]))
    )


def _most(values: Array) -> float:
    return float(values.max())


def _seen(
    network: Network, power_w: float, f: Array, load_ohm: ComplexArray | None = None
) -> Iterator[tuple[str, Array, Array, Array]]:
    """Reference, peak volts, rms amperes and lost watts of every part, shapes of `f` [Hz].

    The source's EMF amplitude is sqrt(8 P R). Loss by the parts' unloaded Q: I² ωL/Q in a coil,
    V² ωC/Q in a capacitor (rms values).
    """
    emf = sqrt(8 * power_w * network.source_ohm)
    w = 2 * pi * f
    parts = {each.ref: each for each in network.parts}
    for stress in stresses(network, f, load_ohm):
        volts, amperes = emf * stress.volts, emf * stress.amperes / sqrt(2)
        for ref in stress.refs:
            one = parts[ref]
            reactance = w * one.value if one.kind == "inductor" else 1 / (w * one.value)
            # In an arm of several parts side by side, each carries what its own reactance draws.
            through = volts / sqrt(2) / reactance if len(stress.refs) > 1 else amperes
            yield ref, volts, through, through**2 * reactance / (one.q or float("inf"))
