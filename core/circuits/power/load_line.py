"""A power stage on its load line: knee, load, currents at any drive, two tones, products.

The load is a resistance at the fundamental and a short at harmonics, the transistor memoryless. A square law
in class A is perfectly linear, which no real transistor is: products below some −30 dBc are an artefact of
the model and no prediction (`LEAST_TOLD_DBC`).
"""

from math import pi

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array
from core.circuits.power.law import Law
from core.record import record

#: Products of two tones below this are not told of a power stage, dBc.
LEAST_TOLD_DBC = -30.0
#: Phases over half a period, in the middles of as many equal steps.
_PHASES = (np.arange(128) + 0.5) * pi / 128
_COS = np.cos(_PHASES)
#: Phases of the envelope of two tones over a quarter of its period.
_BEATS = (np.arange(48) + 0.5) * pi / 96
_STEPS = 80


def load_for(supply_v: float, power_w: float, law: Law) -> tuple[float, float]:
    """Load [ohm] and knee [V] for a power [W]: Vk = knee(Ipk), Ipk = 2·2P/(Vdd − Vk), RL = (Vdd − Vk)²/2P.

    By iteration from no knee on, which comes to the smaller of two answers; the load is NaN where there is
    none, because so much power takes more current than the supply leaves a knee for.
    """
    knee = 0.0
    for _ in range(_STEPS):
        left = supply_v - knee
        if left <= 0:
            return float("nan"), knee
        found = float(law.knee_v(4 * power_w / left))
        if abs(found - knee) < 1e-9 * supply_v:
            break
        knee = found
    return (supply_v - knee) ** 2 / (2 * power_w), knee


def most_power(supply_v: float, admittance_s: ArrayLike, law: Law) -> tuple[Array, Array]:
    """Largest power [W] into loads of an admittance [S, complex], and the knee there [V], shape alike.

    The swing (Vdd − Vk) drives the current |Y| (Vdd − Vk), whose peak is twice that; found by halving.
    """
    load = np.asarray(admittance_s)
    low, high = np.zeros(load.shape), np.full(load.shape, supply_v)
    for _ in range(50):
        middle = (low + high) / 2
        wanted = law.knee_v(2 * np.abs(load) * (supply_v - middle))
        above = wanted > middle
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    swing = supply_v - high
    return swing**2 * load.real / 2, high


@record(eq=False)
class Driven:
    """Currents at drive amplitudes (D,) [V]: mean [A], and harmonics 1 to 5, shape (5, D) [A peak]."""

    drive_v: Array
    mean_a: Array
    harmonics_a: Array
    peak_a: Array


def driven(law: Law, bias_v: float, drive_v: ArrayLike) -> Driven:
    """What flows at a bias [V] and drive amplitudes [V], shape (D,)."""
    drive = np.atleast_1d(np.asarray(drive_v, dtype=float))
    current = law.current_a(bias_v + drive[:, None] * _COS)
    harmonics = np.array([2 * (current * np.cos(n * _PHASES)).mean(-1) for n in range(1, 6)])
    return Driven(drive, current.mean(-1), harmonics, current.max(-1))


def drive_for(law: Law, bias_v: float, fundamental_a: float) -> float:
    """The drive amplitude [V] whose fundamental is a current [A peak]: Newton's method, from above."""
    drive = max(law.control_v(4 * fundamental_a) - bias_v, 1e-3)
    for _ in range(40):
        volt = bias_v + drive * _COS
        missed = 2 * float((law.current_a(volt) * _COS).mean()) - fundamental_a
        slope = 2 * float((law.slope_s(volt) * _COS**2).mean())
        step = missed / slope
        drive = max(drive - step, drive / 4)
        if abs(step) < 1e-10 * drive:
            break
    return drive


@record(kw_only=True)
class Level:
    """A stage with one kind of signal: output and supply power [W]."""

    output_w: float
    supply_w: float

    @property
    def heat_w(self) -> float:
        """What heats the transistor, W."""
        return self.supply_w - self.output_w

    @property
    def efficiency(self) -> float:
        """Output over what the supply gives [-]."""
        return self.output_w / self.supply_w


@record(kw_only=True)
class TwoTone:
    """A stage with two equal tones at full peaks, and third- and fifth-order products [dBc, below a tone]."""

    level: Level
    third_dbc: float
    fifth_dbc: float


def at_levels(law: Law, bias_v: float, drive_v: Array, supply_v: float, load_ohm: float) -> tuple[Array, ...]:
    """Output and supply power [W] at drive amplitudes, shape (D,) each."""
    found = driven(law, bias_v, drive_v)
    return found.harmonics_a[0] ** 2 * load_ohm / 2, supply_v * found.mean_a


def two_tone(law: Law, bias_v: float, drive_v: float, supply_v: float, load_ohm: float) -> TwoTone:
    """The stage with two tones whose peaks are those of a drive [V]."""
    envelope = np.cos(_BEATS)
    found = driven(law, bias_v, drive_v * envelope)
    fundamental = found.harmonics_a[0]
    # The envelope is even in its quarters; of odd products the cosine keeps a quarter's mean.
    tone, third, fifth = (2 * float((fundamental * np.cos(n * _BEATS)).mean()) for n in (1, 3, 5))
    level = Level(
        output_w=float((fundamental**2).mean()) * load_ohm / 2,
        supply_w=supply_v * float(found.mean_a.mean()),
    )
    return TwoTone(level=level, third_dbc=_below(third, tone), fifth_dbc=_below(fifth, tone))


def _below(part: float, whole: float) -> float:
    return 20 * float(np.log10(max(abs(part / whole), 1e-10)))


def ideal_efficiency(conduction_rad: ArrayLike) -> Array:
    """Efficiency [-] of a stage that conducts over an angle [rad], shape alike, without a knee.

    η = (θ − sin θ)/(4 (sin θ/2 − (θ/2) cos θ/2)): 50 % in class A, π/4 in class B.
    """
    angle = np.asarray(conduction_rad, dtype=float)
    half = angle / 2
    return np.asarray((angle - np.sin(angle)) / (4 * (np.sin(half) - half * np.cos(half))))


def ideal_harmonic_dbc(conduction_rad: ArrayLike, number: int) -> Array:
    """A harmonic of the current [dBc] of a stage that conducts over an angle [rad], before any filter."""
    half = np.asarray(conduction_rad, dtype=float)[..., None] / 2
    phase = (np.arange(4096) + 0.5) * pi / 4096
    current = np.maximum(np.cos(phase) - np.cos(half), 0.0)
    part = np.abs((current * np.cos(number * phase)).mean(-1))
    return np.asarray(20 * np.log10(np.maximum(part / (current * np.cos(phase)).mean(-1), 1e-10)))
