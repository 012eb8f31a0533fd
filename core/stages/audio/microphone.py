"""What a microphone is to the amplifier behind it: an open voltage behind an impedance over frequency."""

from math import pi, sqrt

import numpy as np

from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.units import dbm, watts
from core.model.stages.audio import Microphone
from core.record import record
from core.trade.audio import microphones

#: Where the impedance of a type is stated, Hz.
_STATED_HZ = 1000.0
#: Loss of a crystal's capacitance [-], and output resistance of the FET in an electret capsule [ohm]; of no
#: weight beside the rest. From memory.
_CRYSTAL_LOSS, _ELECTRET_OHM = 0.02, 20e3


@record(kw_only=True)
class MicrophoneSource:
    """On speech peaks: open voltage [V effective] and what it comes through. A dynamic one's coil is in
    series with its resistance, a crystal is a capacitor, `capacitance_f` [F], an electret a resistance.
    """

    name: str
    open_v: float
    resistance_ohm: float
    inductance_h: float = 0.0
    capacitance_f: float | None = None

    def impedance_ohm(self, f_hz: Array) -> ComplexArray:
        """Its impedance [ohm] at frequencies [Hz], shape (F,)."""
        w = 2 * np.pi * f_hz
        found = self.resistance_ohm + 1j * w * self.inductance_h
        if self.capacitance_f is not None:
            # A capacitor with a constant loss, besides the resistance.
            found = found + (_CRYSTAL_LOSS - 1j) / (w * self.capacitance_f)
        return frozen(np.asarray(found, dtype=complex))

    @property
    def magnitude_ohm(self) -> float:
        """The magnitude of its impedance at 1 kHz, ohm."""
        return float(abs(self.impedance_ohm(np.array([_STATED_HZ]))[0]))

    @property
    def available_dbm(self) -> float:
        """What it could give to a matched load at 1 kHz, dBm."""
        return dbm(self.open_v**2 / (4 * float(self.impedance_ohm(np.array([_STATED_HZ]))[0].real)))


def source_of(microphone: Microphone, electret_ohm: float | None = None) -> MicrophoneSource:
    """A microphone as a source; a level that is typed in as one of the amplifier's input resistance.

    `electret_ohm` is the resistor through which the amplifier itself feeds an electret capsule [ohm], which
    then is part of the amplifier; without it the capsule has its own, of its stated impedance.
    """
    if microphone.type == "level":
        ohm = microphone.input_ohm
        return MicrophoneSource(
            name="level", open_v=2 * sqrt(watts(microphone.peak_dbm) * ohm), resistance_ohm=ohm
        )
    typical = microphones()[microphone.type]
    open_v = typical.volt if microphone.peak_v is None else microphone.peak_v
    ohm = typical.ohm if microphone.source_ohm is None else microphone.source_ohm
    if microphone.type == "crystal":
        return MicrophoneSource(
            name=typical.name,
            open_v=open_v,
            resistance_ohm=0.0,
            capacitance_f=1 / (2 * pi * _STATED_HZ * ohm),
        )
    if microphone.type == "electret" and electret_ohm is not None:
        # A current that the stated resistor and the FET's own turned into the stated voltage.
        inner = max(_ELECTRET_OHM, ohm)
        return MicrophoneSource(name=typical.name, open_v=open_v * inner / ohm, resistance_ohm=inner)
    coil_h = microphone.inductance_h if microphone.type == "dynamic" else 0.0
    return MicrophoneSource(name=typical.name, open_v=open_v, resistance_ohm=ohm, inductance_h=coil_h)
