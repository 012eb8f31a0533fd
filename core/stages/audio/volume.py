"""A volume control's potentiometer: what it loads the stage before it with."""

from functools import lru_cache

import numpy as np

from core.circuits.active.two_port import TwoPort, passive
from core.circuits.circuit import GROUND, Branch, Circuit, Port
from core.circuits.ladder import frozen
from core.circuits.units import T0_KELVIN
from core.model.stages.gain_control import GainControl
from core.record import record
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built, part


@record(eq=False, kw_only=True)
class VolumeDesign:
    """A potentiometer, full up: its track across the signal."""

    circuit: Circuit
    parts: tuple[PartRow, ...]
    span_hz: tuple[float, float] = (20.0, 20e3)

    @property
    def track_ohm(self) -> float:
        """Resistance of its track as fitted, ohm."""
        return self.parts[0].fitted

    @property
    def drawing(self) -> "VolumeDesign":
        """Drawn as it is."""
        return self


@lru_cache(maxsize=32)
def design(control: GainControl) -> VolumeDesign | Unsolved:
    """The control's potentiometer as asked or as built; a control without one is no circuit."""
    if control.track_ohm is None:
        return Unsolved(f"{control.name} has no potentiometer; give its resistance to see its circuit.")
    row = Built("volume", control.as_built).row(
        "potentiometer", None, control.track_ohm, control.track_ohm, "logarithmic"
    )
    track = part("volume", "potentiometer", None, row.fitted)
    ends = (Port("in", row.fitted), Port("in", row.fitted))
    return VolumeDesign(circuit=Circuit((Branch(track, ("in", GROUND)),), ends), parts=(row,))


@lru_cache(maxsize=64)
def full_up(track_ohm: float, f_hz: tuple[float, ...]) -> TwoPort:
    """The track across the signal, at 290 K, at frequencies [Hz]."""
    one = np.ones(len(f_hz), dtype=complex)
    chain = np.array([[one, 0 * one], [one / track_ohm, one]])
    return passive(np.asarray(f_hz), frozen(chain), T0_KELVIN)


def wiper(track_ohm: float, source_ohm: float, load_ohm: float, taken_db: float) -> float:
    """Where the wiper stands, as share of the track from its foot [-], for so much less than full up [dB].

    Divider of the track with source and load at its wiper [ohm]: bisection, as it falls all the way down.
    """
    aim = 10 ** (-taken_db / 20)

    def out(share: float) -> float:
        lower = share * track_ohm * load_ohm / (share * track_ohm + load_ohm)
        return lower / (source_ohm + (1 - share) * track_ohm + lower)

    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if out(middle) < aim * out(1.0) else (low, middle)
    return (low + high) / 2
