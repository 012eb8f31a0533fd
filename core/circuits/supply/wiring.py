"""Leads, decoupling, and coils that are let go."""

from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.coils.wire import awg_m, resistance_ohm_m
from core.circuits.ladder import Array

#: Capacitance that a relay's coil and its wiring have of their own, F; from memory.
COIL_STRAY_F = 100e-12


def lead_ohm(length_m: float, gauge: int) -> float:
    """Resistance of both wires of a lead [ohm] of copper at 20 °C, `length_m` [m] one way, of an American
    wire gauge (ASTM B258).

    >>> round(lead_ohm(1.0, 16), 4)
    0.0264

    """
    return 2 * length_m * resistance_ohm_m(awg_m(gauge))


def decoupled(
    f_hz: ArrayLike, series_ohm: float, choke_h: float, capacitor_f: float, load_ohm: float
) -> Array:
    """What is left of a voltage behind a resistor [ohm] and a choke [H] in series and a capacitor [F] across
    the load [ohm], as a ratio of amplitudes [-], at `f_hz` (F,) [Hz].

    |1 / (1 + (R + jωL)(jωC + 1/RL))|. A choke without resistance resonates with the capacitor, where more
    than all is left.
    """
    w = 2 * np.pi * np.asarray(f_hz, dtype=float)
    series = series_ohm + 1j * w * choke_h
    return np.asarray(1 / np.abs(1 + series * (1j * w * capacitor_f + 1 / load_ohm)))


def corner_hz(series_ohm: float, choke_h: float, capacitor_f: float) -> float:
    """Where a resistor and a capacitor, or a choke and a capacitor begin to part a stage from its supply, Hz:
    1/(2π R C) or 1/(2π √(L C)), whichever is lower.
    """
    of_choke = 1 / (2 * pi * sqrt(choke_h * capacitor_f)) if choke_h else None
    of_resistor = 1 / (2 * pi * series_ohm * capacitor_f) if series_ohm else None
    return min(each for each in (of_choke, of_resistor) if each is not None)


def let_go_v(current_a: float, coil_h: float, stray_f: float = COIL_STRAY_F) -> float:
    """The voltage across a coil [V] whose current [A] is cut off with nothing across it but `stray_f` [F]:
    all of its energy L I²/2 in the capacitance, I √(L/C); less where something breaks down before.

    >>> round(let_go_v(0.1, 1.0, 1e-8))
    1000

    """
    return current_a * sqrt(coil_h / stray_f)


def open_contact_db(contact_f: float, f_hz: float, ohm: float = 50.0) -> float:
    """What an open contact's capacitance [F] keeps between source and load of `ohm` [ohm] at `f_hz` [Hz], dB:
    20 log |1 + Z/(2 R)|, Z that of the capacitance.
    """
    across = 1 / (2 * pi * f_hz * contact_f) / (2 * ohm)
    return 10 * float(np.log10(1 + across**2))
