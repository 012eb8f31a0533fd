"""What is bought for audio: what microphones give on speech peaks, and chips, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from core.circuits.devices.chips import ChipDevice, FixedAmplifier, OperationalAmplifier
from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class MicrophoneRow:
    """A type: open voltage on speech peaks [V], source impedance at 1 kHz [ohm]."""

    kind: str
    name: str
    volt: float
    ohm: float
    source: str
    status: str


@lru_cache(maxsize=1)
def microphones() -> Mapping[str, MicrophoneRow]:
    """Every type by its word in the model."""
    return MappingProxyType({row["kind"]: MicrophoneRow(**row) for row in rows("microphones")})


@record(kw_only=True)
class ChipRow:
    """What any chip has: supply from `least_v` to `most_v` [V], heat that it bears at 25 °C [W], kelvin a
    watt to still air [K/W], and the device as a circuit has it. `pins` are its leads, ground, or the bypass
    pin, in their order; empty for one that is not used.
    """

    chip: str
    kind: str
    name: str
    device: ChipDevice
    least_v: float
    most_v: float
    most_watt: float
    kelvin_per_watt: float
    pins: tuple[str, ...]
    source: str
    status: str
    gain_pins: bool = True


_OWN: frozenset[str] = frozenset(ChipRow.__dataclass_fields__) - {"device"}


_KINDS: Mapping[str, type[ChipDevice]] = {"operational": OperationalAmplifier, "fixed": FixedAmplifier}


@lru_cache(maxsize=1)
def audio_chips() -> Mapping[str, ChipRow]:
    """Every chip in the table, by its name in the model."""
    made = {}
    for row in rows("audio_chips"):
        device = _KINDS[row["kind"]](**{name: value for name, value in row.items() if name not in _OWN})
        own = {name: row[name] for name in _OWN if name in row}
        made[row["chip"]] = ChipRow(device=device, **{**own, "pins": tuple(row["pins"])})
    return MappingProxyType(made)
