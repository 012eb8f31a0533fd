"""An amplifier of parts with its noise as a two-port at the frequencies of a path."""

from functools import lru_cache
from math import exp, log

import numpy as np

from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.ladder import frozen
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.outcome import Unsolved

#: Over this share of a frequency an amplifier is taken to be the same [-].
_ALIKE = 1e-2


@lru_cache(maxsize=256)
def noisy(
    design: AmplifierDesign, f_hz: tuple[float, ...], measured_gain_db: float | None = None
) -> TwoPort | None:
    """The amplifier at frequencies `f_hz` [Hz], to a hundredth of each; None where it has no answer.

    A gain as measured between its system resistances [dB] at the first of them replaces the computed one;
    impedances and noise referred to the input stay.
    """
    cells = [round(log(each) / _ALIKE) for each in f_hz]
    known = sorted(set(cells))
    places = [known.index(each) for each in cells]
    found = _solved(design, tuple(exp(each * _ALIKE) for each in known))
    if found is None:
        return None
    chain = found.chain[..., places]
    if measured_gain_db is not None:
        ohm = design.circuit.ports[0].ohm
        computed_db = float(found.gain_db(ohm, ohm)[places[0]])
        chain = chain * 10 ** ((computed_db - measured_gain_db) / 20)
    return TwoPort(frozen(np.asarray(f_hz)), frozen(chain), frozen(found.noise[..., places]))


@lru_cache(maxsize=256)
def _solved(design: AmplifierDesign, f_hz: tuple[float, ...]) -> TwoPort | None:
    found = two_port(design.circuit, f_hz)
    if isinstance(found, Unsolved) or not np.isfinite(found.chain).all():
        return None
    return found
