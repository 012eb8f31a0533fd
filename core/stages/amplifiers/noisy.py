"""An amplifier of parts with its noise as a two-port at the frequencies of a path."""

from functools import lru_cache
from math import exp, floor, log

import numpy as np

from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.ladder import frozen
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.outcome import Unsolved

#: An amplifier is solved at frequencies that are this share of each other apart, so that what an edit or the
#: dial moves by less costs nothing; between two of them it is a straight line [-].
_APART = 1e-2


@lru_cache(maxsize=256)
def noisy(
    design: AmplifierDesign,
    f_hz: tuple[float, ...],
    measured_gain_db: float | None = None,
    measured_noise_db: float | None = None,
) -> TwoPort | None:
    """The amplifier at frequencies `f_hz` [Hz], interpolated within a hundredth of each; None where
    it has no answer.

    A gain as measured between its system resistances [dB] at the first of them replaces the computed one;
    impedances and noise referred to the input stay. So does a noise figure as measured there [dB], by which
    all that the amplifier adds is more or less in proportion.
    """
    at = [log(each) / _APART for each in f_hz]
    below = [floor(each) for each in at]
    known = sorted({*below, *(each + 1 for each in below)})
    found = _solved(design, tuple(exp(each * _APART) for each in known))
    if found is None:
        return None
    share = np.zeros((len(known), len(at)))
    for n, (place, cell) in enumerate(zip(at, below, strict=True)):
        first = known.index(cell)
        share[first, n], share[first + 1, n] = cell + 1 - place, place - cell
    chain, noise = found.chain @ share, found.noise @ share
    if measured_gain_db is not None:
        ohm = design.circuit.ports[0].ohm
        computed_db = float(TwoPort(frozen(np.asarray(f_hz)), chain, noise).gain_db(ohm, ohm)[0])
        chain = chain * 10 ** ((computed_db - measured_gain_db) / 20)
    if measured_noise_db is not None:
        plain = TwoPort(frozen(np.asarray(f_hz)), chain, noise)
        added = 10 ** (float(plain.noise_figure_db(design.circuit.ports[0].ohm)[0]) / 10) - 1
        noise = noise * (10 ** (measured_noise_db / 10) - 1) / added
    return TwoPort(frozen(np.asarray(f_hz)), frozen(chain), frozen(noise))


@lru_cache(maxsize=256)
def _solved(design: AmplifierDesign, f_hz: tuple[float, ...]) -> TwoPort | None:
    found = two_port(design.circuit, f_hz)
    if isinstance(found, Unsolved) or not np.isfinite(found.chain).all():
        return None
    return found
