"""What power transistors bear and amplify, by their type, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.record import record
from core.trade.tables import rows

#: Above the last frequency of which it is known gain falls by so much for twice the frequency, dB.
_OCTAVE_DB = 20 * float(np.log10(2))


@record(kw_only=True)
class PowerRow:
    """Breakdown of drain or collector and largest voltage at the control electrode [V], largest current [A],
    thermal resistance from junction to case [K/W], highest junction temperature [°C], drift of the threshold
    or of the base's voltage [V/K], and power gain [dB] at frequencies [Hz] in a matched amplifier.
    """

    device: str
    most_v: float
    most_control_v: float
    most_a: float
    junction_k_w: float
    most_junction_c: float
    control_per_k: float
    gain_hz: tuple[float, ...]
    gain_db: tuple[float, ...]
    source: str
    status: str

    def gain_at_db(self, f_hz: ArrayLike) -> NDArray[np.float64]:
        """Gain [dB] at frequencies [Hz] of any shape."""
        f = np.asarray(f_hz, dtype=float)
        known = np.interp(np.log(f), np.log(self.gain_hz), self.gain_db)
        beyond = np.maximum(np.log2(f / self.gain_hz[-1]), 0.0)
        return np.asarray(known - _OCTAVE_DB * beyond)


@lru_cache(maxsize=1)
def power_devices() -> Mapping[str, PowerRow]:
    """Every power transistor in the table, by its name in the model."""
    listed = ("gain_hz", "gain_db")
    return MappingProxyType(
        {
            row["device"]: PowerRow(**{**row, **{key: tuple(row[key]) for key in listed}})
            for row in rows("power_devices")
        }
    )
