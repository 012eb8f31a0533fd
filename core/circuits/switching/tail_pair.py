"""Mixers of transistors: a pair that makes currents of the signal, and four that the oscillator switches.

Exponential law of each transistor (B. Gilbert, IEEE J. Solid-State Circuits SC-3 (1968) 365, from memory):
of its tail current I a pair without degeneration steers the share tanh(v/2VT). The switching four see a tail
current only and add no third order as long as the oscillator's voltage alone decides which of them conducts.
"""

import numpy as np

from core.circuits.circuit import ELECTRON, TEMPERATURE_K, THERMAL_V
from core.circuits.ladder import Array
from core.circuits.units import BOLTZMANN, T0_KELVIN
from core.record import record

_PHASES = 128
#: Newton's steps for the lower pair's share, and when it stands still [-].
_MOST_STEPS, _STILL = 60, 1e-12
_SHARES = np.tanh(np.linspace(-6.0, 6.0, 401))


@record(kw_only=True)
class TailPair:
    """A four-quadrant mixer: tail current [A], degeneration at each emitter of the lower pair [ohm], resistor
    across its bases and across the collectors [ohm], each matched to its port, current gain and base
    resistance of each transistor [-, ohm].
    """

    tail_a: float
    degeneration_ohm: float
    inner_ohm: float
    current_gain: float = 100.0
    base_ohm: float = 50.0

    @property
    def spread_v(self) -> float:
        """The input voltage over which the tail current changes sides, 2 VT + I RE [V]."""
        return 2 * THERMAL_V + self.tail_a * self.degeneration_ohm

    @property
    def slope_s(self) -> float:
        """Difference of the lower pair's collector currents per volt between its bases [S]."""
        return self.tail_a / self.spread_v


@record(eq=False, kw_only=True)
class Switched:
    """Transducer gain [-], and noise factor with terminations at 290 K on every sideband [-], shape (D,)."""

    gain: Array
    noise_factor: Array


def switched(pair: TailPair, drive_v: Array) -> Switched:
    """Small signals with `drive_v` [V, peak] between the switching bases, shape (D,).

    Conversion transconductance I/(2VT + I RE) times the fundamental of tanh(v/2VT), 2/pi when it is a square
    wave. Noise: source, the resistor across the bases, base resistances, degeneration, shot noise of both
    currents of the lower pair and of the switching four while several of them conduct, and the collectors'
    resistor.
    """
    wave = np.cos((np.arange(_PHASES) + 0.5) * np.pi / _PHASES)
    share = np.tanh(drive_v[:, None] * wave / (2 * THERMAL_V))
    fundamental = (share * wave).mean(axis=-1)
    on = (share**2).mean(axis=-1)
    ohm, slope, shot = pair.inner_ohm, pair.slope_s, 2 * ELECTRON * pair.tail_a
    # Half of the source's EMF stands between the bases. Half of the difference of the collectors' currents
    # goes round from one to the other, and half of that through the load.
    gain = (slope * fundamental * ohm / 4) ** 2
    thermal = 4 * BOLTZMANN * TEMPERATURE_K
    source = 4 * BOLTZMANN * T0_KELVIN * ohm / 4
    # Tail current's noise is common to both sides; what crosses counts over the whole spread.
    crossing = shot * (2 * THERMAL_V / pair.spread_v) ** 2 / slope**2
    of_bases = shot / (2 * pair.current_gain) / 2 * (ohm / 2) ** 2
    before = (
        source + thermal * (ohm / 4 + 2 * pair.base_ohm + 2 * pair.degeneration_ohm) + crossing + of_bases
    )
    # The collectors' resistor sends round what a difference of currents twice as large would.
    behind = (shot * (1 - on) + 4 * thermal / ohm) / slope**2
    return Switched(gain=gain, noise_factor=(on * before + behind) / (fundamental**2 * source))


def shares_at(pair: TailPair, volt: Array) -> tuple[Array, Array]:
    """Share of the tail current that `volt` [V] between the lower bases moves to one side [-], and its slope
    [1/V], any shape: v = 2VT artanh(y) + I RE y by Newton's method from below.
    """
    degenerated = pair.tail_a * pair.degeneration_ohm
    x = volt / pair.spread_v
    for _ in range(_MOST_STEPS):
        share = np.tanh(x)
        bend = 1 - share**2
        step = (volt - 2 * THERMAL_V * x - degenerated * share) / (2 * THERMAL_V + degenerated * bend)
        x = x + step
        if np.abs(step).max() < _STILL:
            break
    share = np.tanh(x)
    bend = 1 - share**2
    return share, bend / (2 * THERMAL_V + degenerated * bend)


def intercept_w(pair: TailPair) -> float:
    """Third-order input intercept, available power of each tone at the matched input [W].

    v = 2VT artanh(y) + I RE y turned over: y = v/a − 2VT v³/(3 a⁴) with a = 2VT + I RE, so that the amplitude
    is sqrt(2 a³/VT); 4 VT without degeneration.
    """
    return float(2 * pair.spread_v**3 / THERMAL_V / (2 * pair.inner_ohm))


def compression_w(pair: TailPair) -> float:
    """Available power at the matched input at which the gain has fallen by 1 dB [W]: fundamental of the whole
    transfer curve under a sine.
    """
    at_v = 2 * THERMAL_V * np.arctanh(_SHARES) + pair.tail_a * pair.degeneration_ohm * _SHARES
    amplitude = pair.spread_v * np.geomspace(0.05, 4.0, 97)
    wave = np.cos((np.arange(_PHASES) + 0.5) * np.pi / _PHASES)
    share = np.interp(amplitude[:, None] * wave, at_v, _SHARES)
    lost_db = -20 * np.log10(2 * (share * wave).mean(axis=-1) * pair.spread_v / amplitude)
    return float(np.interp(1.0, lost_db, amplitude) ** 2 / (2 * pair.inner_ohm))
