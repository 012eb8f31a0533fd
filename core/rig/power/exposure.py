"""RF exposure, arithmetic only: from what distance on the power flux keeps below a published limit.

47 CFR 1.1310 Table 1, general population; local rules and licensed practice decide. Nearer than λ/2π the
estimate does not hold.
"""

from math import pi, sqrt

from core.circuits.coils.cored import LIGHT_M_S
from core.record import record

#: Share of the time that a transmitter of speech sends at its peaks, its antenna's gain over an isotropic
#: one [dB] (a half-wave dipole), and what ground adds to the power flux [-] (OET Bulletin 65, from memory).
SHARE, GAIN_DBI, GROUND = 0.2, 2.15, 2.56
#: The range in which the limit below holds, Hz.
_FROM_HZ, _TO_HZ = 1.34e6, 30e6


@record(kw_only=True)
class Exposure:
    """A distance from the antenna [m] at `at_hz` [Hz] with an average power [W], and the limit [W/m²];
    `near_m` is where the near field ends [m].
    """

    band: str
    at_hz: float
    average_w: float
    limit_w_m2: float
    distance_m: float
    near_m: float

    @property
    def holds(self) -> bool:
        """Whether the estimate holds at that distance."""
        return self.distance_m >= self.near_m


def limit_w_m2(f_hz: float) -> float | None:
    """Power flux for the general population [W/m²] at `f_hz` [Hz]: 180/f² mW/cm², f in MHz; 100 mW/cm² below
    1.34 MHz, 0.2 above 30. None beyond 300 MHz.
    """
    if f_hz > 300e6:
        return None
    mhz = f_hz / 1e6
    return 10 * (100.0 if f_hz < _FROM_HZ else 180 / mhz**2 if f_hz <= _TO_HZ else 0.2)


def distance_m(average_w: float, gain_dbi: float, limit: float, ground: float) -> float:
    """Distance [m] at which S = P G k/(4 π R²) comes to a limit [W/m²]; `ground` is k [-]."""
    return sqrt(average_w * 10 ** (gain_dbi / 10) * ground / (4 * pi * limit))


def exposure(band: str, f_hz: float, power_w: float) -> Exposure | None:
    """What a transmitter of `power_w` [W] at its peaks asks for at `f_hz` [Hz]; None where no limit is
    known.
    """
    limit = limit_w_m2(f_hz)
    if limit is None:
        return None
    average = SHARE * power_w
    return Exposure(
        band=band,
        at_hz=f_hz,
        average_w=average,
        limit_w_m2=limit,
        distance_m=distance_m(average, GAIN_DBI, limit, GROUND),
        near_m=LIGHT_M_S / f_hz / (2 * pi),
    )
