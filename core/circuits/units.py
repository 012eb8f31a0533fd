"""Decibels, powers, and sound."""

from math import log10

import numpy as np
from numpy.typing import ArrayLike

#: Boltzmann's constant [J/K] and the reference temperature of noise figures [K].
BOLTZMANN = 1.380649e-23
T0_KELVIN = 290.0


def ratio(db: float) -> float:
    """Power ratio [-] of decibels."""
    return 10.0 ** (db / 10)


def decibels(power_ratio: float) -> float:
    """Decibels of a power ratio [-] above zero."""
    return 10 * log10(power_ratio)


def watts(dbm: float) -> float:
    """Watts of a level in dBm."""
    return 1e-3 * ratio(dbm)


def dbm(watt: float) -> float:
    """Level in dBm of a power in watts above zero."""
    return decibels(watt / 1e-3)


def power_sum_dbm(levels_dbm: ArrayLike) -> float:
    """Level in dBm of independent powers together; `levels_dbm` of shape (N,)."""
    return float(10 * np.log10(np.sum(10 ** (np.asarray(levels_dbm, dtype=float) / 10))))


def thermal_noise_dbm(bandwidth_hz: float) -> float:
    """k T0 B in dBm for a bandwidth in Hz."""
    return dbm(BOLTZMANN * T0_KELVIN * bandwidth_hz)


def sound_pressure_db_spl(power_w: float, sensitivity_db_spl: float, distance_m: float) -> float:
    """Sound pressure level at a distance [m] from a speaker: sensitivity (1 W, 1 m) + 10 lg P − 20 lg d.

    Free field; in a room it falls more slowly than this at a distance.
    """
    return sensitivity_db_spl + decibels(power_w) - 20 * log10(distance_m)
