"""A mixer's figures: the builder's readings where there are any, else those typical of its type."""

from dataclasses import dataclass
from functools import lru_cache

from core.model.mixers import Mixer
from core.trade.mixers import suppression_db, typical

#: The figures that a reading can replace.
_FIGURES = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "drive_dbm", "oscillator_leak_db")


@dataclass(frozen=True, slots=True)
class MixerFigures:
    """Conversion gain and noise figure [dB], input intercept and compression [dBm], drive wanted [dBm],
    oscillator level at the signal port below the drive [dB]; `estimated` names those taken from the type.
    """

    type: str
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float
    p1db_in_dbm: float
    drive_dbm: float
    oscillator_leak_db: float
    estimated: tuple[str, ...]

    def suppression_db(self, m: int, n: int) -> float:
        """How far m x oscillator ± n x signal lies below the wanted product, dB; an estimate."""
        return suppression_db(typical(self.type), m, n)


@lru_cache(maxsize=64)
def figures(mixer: Mixer) -> MixerFigures:
    """Resolve a mixer's figures."""
    usual = typical(mixer.type)
    values = {name: getattr(mixer, name) for name in _FIGURES}
    estimated = tuple(name for name in _FIGURES if values[name] is None)
    chosen = {name: getattr(usual, name) if value is None else value for name, value in values.items()}
    return MixerFigures(mixer.type, **chosen, estimated=estimated)
