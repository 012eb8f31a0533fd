"""A power stage into an antenna that does not match: voltage, current and heat at every phase."""

from math import pi

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, ComplexArray, frozen
from core.circuits.power.law import Law
from core.record import record

_PHASES = (np.arange(96) + 0.5) * 2 * pi / 96
_WAVE = np.exp(-1j * _PHASES)
_STEPS = 40


@record(eq=False, kw_only=True)
class Mismatched:
    """Over the phases (P,) of a reflection [rad]: load [ohm], output, supply and heat [W], peak voltage [V]
    and current [A] of one side of the stage.
    """

    phase_rad: Array
    load_ohm: ComplexArray
    output_w: Array
    supply_w: Array
    peak_v: Array
    peak_a: Array

    @property
    def heat_w(self) -> Array:
        """What heats the transistor, W."""
        return self.supply_w - self.output_w


def worst_heat_w(supply_w: float, output_w: float, reflection: float) -> float:
    """The most heat [W] at a reflection of some magnitude and any phase, the matched stage taking `supply_w`
    for `output_w` [W]: P_DC − P (1 − |Γ|)/(1 + |Γ|).

    In the half of phases with low resistance the stage is a source of current: its supply power stays and the
    output falls with the resistance, to 1/SWR of it.
    """
    return supply_w - output_w * (1 - reflection) / (1 + reflection)


def scan(
    law: Law,
    bias_v: float,
    drive_v: float,
    supply_v: float,
    load_ohm: float,
    reflection: float,
    phases_rad: ArrayLike,
) -> Mismatched:
    """The stage at the same drive with its load reflecting `reflection` [-] at phases (P,) [rad].

    Harmonic balance at the fundamental, harmonics shorted: V = −Z I1(V), with the knee cutting the current;
    Newton's method on both parts of V at all phases together, its step shortened where it overshoots.
    """
    phase = np.asarray(phases_rad, dtype=float)
    gamma = reflection * np.exp(1j * phase)
    load = load_ohm * (1 + gamma) / (1 - gamma)
    control = bias_v + drive_v * np.cos(_PHASES)
    volt = np.zeros(phase.shape, dtype=complex)

    def currents(v: ComplexArray) -> tuple[Array, Array]:
        across = supply_v + (v[:, None] * _WAVE.conj()).real
        return across, law.between_a(control, across)

    def missed(v: ComplexArray) -> ComplexArray:
        return np.asarray(v / load + 2 * (currents(v)[1] * _WAVE).mean(-1))

    off = missed(volt)
    for _ in range(_STEPS):
        across, _ = currents(volt)
        slope = law.across_s(control, across)
        # d I1 / d Re V and d I1 / d Im V, complex each.
        by_re = 2 * (slope * _WAVE.real * _WAVE).mean(-1) + 1 / load
        by_im = 2 * (slope * _WAVE.imag * _WAVE).mean(-1) + 1j / load
        det = by_re.real * by_im.imag - by_re.imag * by_im.real
        step = (off.real * by_im.imag - off.imag * by_im.real) / det + 1j * (
            by_re.real * off.imag - by_re.imag * off.real
        ) / det
        size = np.ones(phase.shape)
        for _ in range(12):
            tried = volt - size * step
            found = missed(tried)
            worse = np.abs(found) > np.abs(off) * (1 - 1e-4 * size)
            if not worse.any():
                break
            size = np.where(worse, size / 2, size)
        volt, off = tried, found
        if np.abs(size * step).max() < 1e-7 * supply_v:
            break
    across, current = currents(volt)
    first = 2 * (current * _WAVE).mean(-1)
    return Mismatched(
        phase_rad=frozen(phase),
        load_ohm=frozen(load),
        output_w=frozen(np.abs(first) ** 2 * load.real / 2),
        supply_w=frozen(supply_v * current.mean(-1)),
        peak_v=frozen(across.max(-1)),
        peak_a=frozen(current.max(-1)),
    )
