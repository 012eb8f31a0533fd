"""Decibels and powers."""

from math import expm1, inf, log, log10

#: Boltzmann's constant [J/K] and the reference temperature of noise figures [K].
BOLTZMANN = 1.380649e-23
T0_KELVIN = 290.0
#: More decibels than this are no float any more.
_MOST_DB = 3080.0


def ratio(db: float) -> float:
    """Power ratio [-] of decibels; infinite beyond what a float holds."""
    return inf if db > _MOST_DB else 10.0 ** (db / 10)


def decibels(power_ratio: float) -> float:
    """Decibels of a power ratio [-] above zero."""
    return 10 * log10(power_ratio)


def watts(dbm: float) -> float:
    """Watts of a level in dBm."""
    return 1e-3 * ratio(dbm)


def dbm(watt: float) -> float:
    """Level in dBm of a power in watts above zero."""
    return decibels(watt / 1e-3)


def added_db(one: float, other: float) -> float:
    """Level of two independent powers together, from their levels in dB or dBm; −∞ is no power.

    The powers themselves are never formed, so no level is too high or too low.
    """
    low, high = sorted((one, other))
    return high if low == -inf else high + 10 * log10(1 + 10 ** ((low - high) / 10))


def excess_db(noise_figure_db: float) -> float:
    """Decibels of F − 1, what a stage of a noise figure [dB] adds over k T0 B; −∞ for none."""
    share = -expm1(-noise_figure_db * log(10) / 10)
    return noise_figure_db + 10 * log10(share) if share > 0 else -inf


def thermal_noise_dbm(bandwidth_hz: float) -> float:
    """k T0 B in dBm for a bandwidth in Hz."""
    return dbm(BOLTZMANN * T0_KELVIN * bandwidth_hz)
