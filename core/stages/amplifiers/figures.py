"""What an amplifier of parts does at a frequency, between resistances."""

from functools import lru_cache
from math import exp, log

import numpy as np

from core.circuits.active.large_signal import COMPRESSION_BEYOND_LIMIT_DB, UNFED_V, limits, third_order
from core.circuits.active.two_port import two_port
from core.circuits.ladder import Array, frozen
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.gate import gate
from core.stages.outcome import Unsolved

#: Tones of an intercept, as shares of the frequency below and above it [-].
TONES = (0.99, 1.01)
#: Where stability is looked at, Hz.
_STABILITY_HZ = np.geomspace(0.1e6, 1e9, 161)
#: Figures of an amplifier hardly differ over this share of a frequency [-]: they are kept for a whole one.
#: What it bears, which takes longest to find, is told to half a decibel and kept for a larger share.
_ALIKE, _BEARS_ALIKE = 1e-3, 1e-2


@record(kw_only=True)
class TransistorAtRest:
    """A transistor at rest: currents [A], voltages [V] and what heats it [W]."""

    ref: str
    output_a: float
    control_v: float
    output_v: float
    watt: float


@record(kw_only=True)
class AmplifierFigures:
    """An amplifier at a frequency, between its system resistances.

    Gain, reverse gain, return losses and noise figure in dB, port impedances in ohm, intercept and 1 dB
    compression at the output in dBm; `compression_dbm` is an estimate by rule, half a decibel either way.
    Above `unfed_dbm` at the output transistors beside it that are not fed begin to conduct [dBm], None where
    there are none: distortion then rises beyond what the intercept says, gain hardly falls by it (0.1 dB of
    1 dB by transient simulation of a pair). `supply_a` is what the stage takes [A].
    """

    gain_db: float
    reverse_db: float
    input_return_loss_db: float
    output_return_loss_db: float
    input_ohm: complex
    output_ohm: complex
    noise_figure_db: float
    oip3_dbm: float
    compression_dbm: float
    first_limit: str
    unfed_dbm: float | None
    supply_a: float
    transistors: tuple[TransistorAtRest, ...]

    @property
    def fed(self) -> tuple[TransistorAtRest, ...]:
        """The transistors that have a supply."""
        return tuple(each for each in self.transistors if each.output_v > UNFED_V)

    @property
    def watt(self) -> float:
        """What heats all transistors together, W."""
        return sum(each.watt for each in self.transistors)


def figures(design: AmplifierDesign, f_hz: float) -> AmplifierFigures | Unsolved:
    """Figures at `f_hz` [Hz], to a thousandth of it."""
    return _figures(design, _nearest(f_hz, _ALIKE))


def _nearest(f_hz: float, apart: float) -> float:
    """The nearest of frequencies that are this share of each other apart, Hz."""
    return exp(round(log(f_hz) / apart) * apart)


@lru_cache(maxsize=256)
@gate("The amplifier's figures")
def _figures(design: AmplifierDesign, f_hz: float) -> AmplifierFigures | Unsolved:
    circuit = design.circuit
    ohm = circuit.ports[0].ohm
    port = two_port(circuit, [f_hz])
    if isinstance(port, Unsolved):
        return port
    near_hz = _nearest(f_hz, _BEARS_ALIKE)
    intercept = third_order(circuit, *(share * near_hz for share in TONES))
    limited = limits(circuit, near_hz)
    if isinstance(intercept, Unsolved):
        return intercept
    if isinstance(limited, Unsolved):
        return limited
    (s11, s12), (s21, s22) = 20 * np.log10(np.abs(port.s(ohm)[..., 0]))
    first = next(each for each in limited if each.what != "off")
    unfed = next((each.output_dbm for each in limited if each.what == "off"), None)
    return AmplifierFigures(
        gain_db=float(s21),
        reverse_db=float(s12),
        input_return_loss_db=-float(s11),
        output_return_loss_db=-float(s22),
        input_ohm=complex(port.input_ohm(ohm)[0]),
        output_ohm=complex(port.output_ohm(ohm)[0]),
        noise_figure_db=float(port.noise_figure_db(ohm)[0]),
        oip3_dbm=intercept.output_dbm,
        compression_dbm=first.output_dbm + COMPRESSION_BEYOND_LIMIT_DB,
        first_limit=f"{first.ref} runs out of {first.what}",
        unfed_dbm=unfed,
        supply_a=design.supply_a,
        transistors=tuple(
            TransistorAtRest(
                ref=ref,
                output_a=point.output_a,
                control_v=point.control_v,
                output_v=point.output_v,
                watt=point.watt,
            )
            for ref, point in design.rest.transistors.items()
        ),
    )


@record(eq=False, kw_only=True)
class Sweep:
    """Gain, reverse gain and return losses [dB], noise figure [dB], over a grid, shapes (F,)."""

    f_hz: Array
    gain_db: Array
    reverse_db: Array
    input_return_loss_db: Array
    output_return_loss_db: Array
    noise_figure_db: Array


@lru_cache(maxsize=64)
@gate("The amplifier's response")
def sweep(design: AmplifierDesign, low_hz: float, high_hz: float, points: int = 201) -> Sweep | Unsolved:
    """The amplifier between its system resistances from `low_hz` to `high_hz` [Hz], spread by ratio."""
    f = np.geomspace(low_hz, high_hz, points)
    port = two_port(design.circuit, f)
    if isinstance(port, Unsolved):
        return port
    ohm = design.circuit.ports[0].ohm
    (s11, s12), (s21, s22) = 20 * np.log10(np.abs(port.s(ohm)))
    return Sweep(
        f_hz=frozen(f),
        gain_db=frozen(s21),
        reverse_db=frozen(s12),
        input_return_loss_db=frozen(-s11),
        output_return_loss_db=frozen(-s22),
        noise_figure_db=port.noise_figure_db(ohm),
    )


@record
class Stability:
    """The least factor mu [-] and its frequency [Hz]: stable with any passive ends where it is above 1."""

    least_mu: float
    at_hz: float


@lru_cache(maxsize=64)
@gate("The amplifier's stability")
def stability(design: AmplifierDesign) -> Stability | Unsolved:
    """Where the amplifier is nearest to instability, 0.1 MHz to 1 GHz."""
    port = two_port(design.circuit, _STABILITY_HZ)
    if isinstance(port, Unsolved):
        return port
    _, mu = port.stability(design.circuit.ports[0].ohm)
    at = int(np.argmin(mu))
    return Stability(float(mu[at]), float(_STABILITY_HZ[at]))
