"""External noise at the antenna by ITU-R P.372, as median noise figures over k T0 B.

Source: Recommendation ITU-R P.372-16 (2022), man-made noise table Fam = c − d lg f[MHz], and its galactic
line. Lightning noise varies with place, season and hour and has no formula; at night below about 10 MHz
it can lie tens of dB higher.
"""

from math import log10

from core.circuits.units import decibels, ratio, thermal_noise_dbm
from core.model.station import Environment

#: c and d [dB] of the man-made noise line for each environment, 0.3 to 250 MHz.
MAN_MADE: dict[Environment, tuple[float, float]] = {
    "city": (76.8, 27.7),
    "residential": (72.5, 27.7),
    "rural": (67.2, 27.7),
    "quiet_rural": (53.6, 28.6),
}
GALACTIC = (52.0, 23.0)
#: Critical frequency of the F2 layer, below which no galactic noise comes through, Hz: an assumption. It
#: wanders between some 3 and 12 MHz with hour, season and the sun; from memory.
ASSUMED_FOF2_HZ = 5e6


def man_made_figure_db(environment: Environment, f_hz: float) -> float:
    """Median man-made noise figure, dB over k T0 B, at `f_hz` [Hz]."""
    c, d = MAN_MADE[environment]
    return c - d * log10(f_hz / 1e6)


def galactic_figure_db(f_hz: float) -> float:
    """Median galactic noise figure, dB over k T0 B, at `f_hz` [Hz]; reaches the ground above foF2 only."""
    c, d = GALACTIC
    return c - d * log10(f_hz / 1e6)


def external_figure_db(environment: Environment, f_hz: float, antenna_loss_db: float = 0.0) -> float:
    """Man-made and galactic noise at `f_hz` [Hz], added as powers, less the antenna's loss, dB over k T0 B.

    Galactic noise counts above ASSUMED_FOF2_HZ only. The lossy antenna's own thermal noise stays below one
    k T0 B and is counted with the receiver.
    """
    together = ratio(man_made_figure_db(environment, f_hz))
    if f_hz > ASSUMED_FOF2_HZ:
        together += ratio(galactic_figure_db(f_hz))
    return decibels(together) - antenna_loss_db


def band_noise_dbm(
    environment: Environment, f_hz: float, bandwidth_hz: float, antenna_loss_db: float = 0.0
) -> float:
    """Noise power from the antenna in `bandwidth_hz` [Hz], dBm."""
    return external_figure_db(environment, f_hz, antenna_loss_db) + thermal_noise_dbm(bandwidth_hz)
