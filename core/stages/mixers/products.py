"""What a mixer's circuit makes besides the wanted product, at a drive and for a signal of any size.

Solved on the circuit (`core.circuits.switching.products`) at nodes of drive and signal, each kept, and read
between them in decibels, so that a drive that a turn of the IF changes by hundredths costs nothing. An
estimate even so: stray capacitances are left out, and what devices and windings differ by is as asked. Where
products cancel at one strength of the signal that is nothing to count on: at each node it is the mean of two
signals, the order's own decibels taken out.
"""

from dataclasses import replace
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, frozen
from core.circuits.switching.products import HIGHEST, Lines, lines_of_array, lines_of_diodes
from core.circuits.units import dbm
from core.model.stages.mixers import Mixer
from core.record import record
from core.stages.mixers.drive import (
    BOARDS,
    DRIVES_DBM,
    PORT_OHM,
    PORTS_OHM,
    circuit_of,
    difference_v,
    diode_of,
    emf_v,
    pair_of,
    peak_v,
)

#: Where a mixer's oscillator is looked for: at the input in receive, on the antenna's side; at the output in
#: transmit; at the output in receive, in the IF.
Port = Literal["antenna", "sent", "if"]
#: Steps of drive, dB; signals, rising, over what devices are switched by: the drive, in an array the voltage
#: that moves its tail current [dB]. At the least orders follow their law.
_STEP_DB = 2.0
SIGNALS_DB = frozen(np.array([-30.0, -18.0, -12.0, -8.0, -4.0, 0.0]))
#: The last of the drives.
_LAST = int((DRIVES_DBM[-1] - DRIVES_DBM[0]) / _STEP_DB)
#: The other signal that counts at a node, dB.
_OTHER_DB = -3.0
#: Weaker than this share of the wanted product nothing is told of, as wiring decides; and of a watt [-].
_LEAST, _NOTHING = 1e-6, 1e-28


@record(eq=False, kw_only=True)
class _Node:
    """Lines at one drive and signal, of shape (2, M, M), with n from 1 on below the wanted product at the
    output [-] and less their order's law.
    """

    whole: Array
    per_volt: Array
    uneven: Array
    second: Array


@record(kw_only=True)
class Products:
    """A mixer of a circuit at a drive [dBm], what its devices [V] and windings [-] differ by, and the second
    harmonic of what drives it [dBc].
    """

    mixer: Mixer
    drive_dbm: float
    stray_v: float
    uneven: float
    second_dbc: float

    def suppression_db(self, m: ArrayLike, n: ArrayLike, signal_dbm: float, sending: bool) -> Array:
        """How far m x oscillator ± n x signal lies below the wanted product, dB, for a signal [dBm] at the
        input, that of transmit when `sending`; m >= 0 and n >= 1 broadcast, those beyond HIGHEST count as it.
        """
        times, orders = (np.minimum(each, HIGHEST) for each in np.broadcast_arrays(m, n))
        # The signal passes its transformer first, or last.
        lost_db = 0.0 if sending else self._transformer_db
        over = min(signal_dbm - lost_db - _switches_dbm(self.mixer, self.drive_dbm), float(SIGNALS_DB[-1]))
        inside = max(over, float(SIGNALS_DB[0]))
        place = min(int(np.searchsorted(SIGNALS_DB, inside, side="right")), SIGNALS_DB.size - 1)
        low, high = SIGNALS_DB[place - 1], SIGNALS_DB[place]
        share = (inside - low) / (high - low)
        found = np.zeros(times.shape)
        for signal, weight in ((place - 1, 1 - share), (place, share)):
            if weight:
                found = found + weight * self._at_signal(signal, sending)[times, orders]
        return np.asarray(found - (orders - 1) * over)

    def alone_db(self, m: ArrayLike, port: Port) -> Array:
        """How far m x oscillator lies below the drive [dB] at a port; `m` >= 1, beyond HIGHEST as there."""
        times = np.minimum(np.asarray(m), HIGHEST)
        found = np.zeros(times.shape)
        for drive, weight in self._drives():
            if weight:
                amplitude = self._together(_alone(self.mixer, drive, port != "if"))[0, times, 0]
                found = found + weight * (_drive_dbm(drive) - self._level_dbm(amplitude, port))
        return found

    @property
    def _transformer_db(self) -> float:
        """What a transformer loses on the antenna's side."""
        return 0.0 if self.mixer.type == "transistor_array" else self.mixer.transformer_loss_db

    def _level_dbm(self, amplitude: Array, port: Port) -> Array:
        """Level that leaves a port [dBm] of an amplitude inside [V, of an array A]."""
        if self.mixer.type == "transistor_array":
            # Half of the collectors' current leaves through a matched load.
            watt = amplitude**2 * self.mixer.inner_ohm / 32
        else:
            watt = amplitude**2 / (2 * PORT_OHM)
        lost_db = 0.0 if port == "if" else self._transformer_db
        return np.asarray(10 * np.log10(np.maximum(watt, _NOTHING) / 1e-3) - lost_db)

    def _drives(self) -> tuple[tuple[int, float], ...]:
        """The nodes of drive beside it, and how much each counts."""
        steps = (min(max(self.drive_dbm, _drive_dbm(0)), _drive_dbm(_LAST)) - _drive_dbm(0)) / _STEP_DB
        low = min(int(steps), _LAST - 1)
        return (low, 1 - (steps - low)), (low + 1, steps - low)

    def _at_signal(self, signal: int, sending: bool) -> Array:
        """Suppressions at a node of signals, less their order's law [dB]; shape (M, M)."""
        found = np.zeros((HIGHEST + 1, HIGHEST + 1))
        for drive, weight in self._drives():
            if weight:
                node = _node(self.mixer, drive, signal, sending)
                power = (self._together(node) ** 2).mean(axis=0)
                found = found - weight * 10 * np.log10(np.maximum(power, _LEAST**2))
        return found

    def _together(self, of: "_Node | Lines") -> Array:
        """What is there in any case and what balance leaves, added as powers; root of them."""
        second = 10 ** (self.second_dbc / 20)
        parts = [of.whole, self.stray_v * of.per_volt, self.uneven * of.uneven, second * of.second]
        return np.asarray(np.sqrt(np.square(parts).sum(axis=0)))


def _drive_dbm(node: int) -> float:
    return float(DRIVES_DBM[0]) + _STEP_DB * node


def _switches_dbm(mixer: Mixer, drive_dbm: float) -> float:
    """What signals are held against [dBm]."""
    if mixer.type == "transistor_array":
        return dbm(pair_of(mixer).spread_v ** 2 / (2 * mixer.inner_ohm))
    return drive_dbm


def products_of(mixer: Mixer, drive_dbm: float, second_dbc: float) -> Products:
    """A mixer's products at a drive [dBm] whose second harmonic is known [dBc]."""
    differ = difference_v(mixer)
    return Products(
        mixer=circuit_of(mixer),
        drive_dbm=drive_dbm,
        # Two diodes differ by the root of two times what each strays; of transistors pairs are counted.
        stray_v=differ if mixer.type == "transistor_array" else differ / np.sqrt(2.0),
        uneven=mixer.uneven_share,
        second_dbc=second_dbc,
    )


@lru_cache(maxsize=128)
def _alone(mixer: Mixer, drive: int, sending: bool) -> Lines:
    """The oscillator's own lines at the node of that number of drives, without a signal."""
    return _lines(mixer, _drive_dbm(drive), np.zeros(1), sending)


@record(eq=False, kw_only=True)
class OverDrives:
    """What is held down at the nodes of drive [dBm], shape (D,): the oscillator at the signal's port below
    the drive, and lines below the wanted product for a signal of one level, by (m, n) [dB].
    """

    drive_dbm: Array
    isolation_db: Array
    lines_db: tuple[tuple[tuple[int, int], Array], ...]


#: Drives at which that is told: below a mixer does nothing, and above few oscillators go [dBm].
_TOLD_DBM = (-8.0, 18.0)
#: Lines that are told: what the oscillator's balance holds down, the signal's, and third order.
TOLD_LINES = ((2, 1), (1, 2), (1, 3))


@lru_cache(maxsize=16)
def over_drives(products: Products, signal_dbm: float, sending: bool) -> OverDrives:
    """A mixer's lines over drives for a signal of a level [dBm], whatever its own drive is."""
    nodes = [_drive_dbm(node) for node in range(_LAST + 1)]
    drives = [each for each in nodes if _TOLD_DBM[0] <= each <= _TOLD_DBM[1]]
    at = [replace(products, drive_dbm=each) for each in drives]
    m, n = np.array(TOLD_LINES).T
    lines = np.array([each.suppression_db(m, n, signal_dbm, sending) for each in at])
    return OverDrives(
        drive_dbm=frozen(np.array(drives)),
        isolation_db=frozen(np.array([float(each.alone_db(1, "sent")) for each in at])),
        lines_db=tuple(zip(TOLD_LINES, map(frozen, lines.T), strict=True)),
    )


@lru_cache(maxsize=256)
def _node(mixer: Mixer, drive: int, signal: int, sending: bool) -> _Node:
    """Lines at the node of that number of drives, and of SIGNALS_DB."""
    drive_dbm, over = _drive_dbm(drive), SIGNALS_DB[signal] + np.array([0.0, _OTHER_DB])
    made = _lines(mixer, drive_dbm, peak_v(_switches_dbm(mixer, drive_dbm) + over), sending)
    wanted = made.whole[:, 1, 1][:, None, None]
    law = 10 ** (-over[:, None, None] * (np.arange(HIGHEST + 1) - 1) / 20)
    relative = {
        name: frozen(getattr(made, name) / wanted * law) for name in ("whole", "per_volt", "uneven", "second")
    }
    return _Node(**relative)


def _lines(mixer: Mixer, drive_dbm: float, signal_v: Array, sending: bool) -> Lines:
    """Lines for signals of so many volts at 50 ohm [V, peak]."""
    if mixer.type == "transistor_array":
        # Matched, so that half of the EMF stands there, stepped up to the bases.
        at_bases = signal_v * np.sqrt(mixer.inner_ohm / PORT_OHM)
        return lines_of_array(pair_of(mixer), float(peak_v(drive_dbm)), at_bases)
    diode, emf = diode_of(mixer), float(emf_v(mixer, drive_dbm))
    return lines_of_diodes(BOARDS[mixer.type], diode, emf, 2 * signal_v, PORTS_OHM, backwards=sending)
