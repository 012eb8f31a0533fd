"""A mixer's figures: the builder's readings where there are any, else those typical of its type."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array
from core.model.stages.mixers import Mixer
from core.trade.mixers import TABLE_BACKOFF_DB, suppression_db, typical

#: The figures that a reading can replace.
_FIGURES = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "drive_dbm", "oscillator_leak_db")


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerFigures:
    """Conversion gain and noise figure [dB], input intercept and compression [dBm], drive wanted [dBm],
    oscillator level at the signal port below the drive [dB]; `estimated` names those taken from the type.
    `input_ohm` and `output_ohm` are the impedances of its ports to the signal, each at its own frequency
    [ohm], and `reverse_db` the conversion gain backwards [dB].
    """

    type: str
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float
    p1db_in_dbm: float
    drive_dbm: float
    oscillator_leak_db: float
    estimated: tuple[str, ...]
    input_ohm: complex = 50.0
    output_ohm: complex = 50.0
    reverse_db: float = -40.0

    def suppression_db(self, m: ArrayLike, n: ArrayLike, backoff_db: float = TABLE_BACKOFF_DB) -> Array:
        """How far m x oscillator ± n x signal lies below the wanted product, dB; an estimate.

        `m` >= 0, `n` >= 1 [-] broadcast; the signal is `backoff_db` under the mixer's compression.
        """
        return suppression_db(typical(self.type), m, n, backoff_db)

    def leak_dbm(self, oscillator_dbm: float, m: ArrayLike) -> Array:
        """Level of m x oscillator [-] at the signal port, dBm, for `oscillator_dbm` [dBm] delivered.

        The fundamental by the isolation, harmonics as 1/m of it; an estimate.
        """
        times = np.maximum(np.asarray(m, dtype=float), 1.0)
        return np.asarray(oscillator_dbm - self.oscillator_leak_db - 20 * np.log10(times))


@lru_cache(maxsize=64)
def figures(mixer: Mixer) -> MixerFigures:
    """Resolve a mixer's figures."""
    usual = typical(mixer.type)
    values = {name: getattr(mixer, name) for name in _FIGURES}
    estimated = tuple(name for name in _FIGURES if values[name] is None)
    chosen = {name: getattr(usual, name) if value is None else value for name, value in values.items()}
    # Diodes convert alike in both directions; a transistor array sends back what its wiring lets pass.
    reverse_db = chosen["gain_db"] if usual.passive else -usual.oscillator_leak_db
    return MixerFigures(type=mixer.type, **chosen, estimated=estimated, reverse_db=reverse_db)
