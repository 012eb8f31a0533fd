"""What microphones give on speech peaks, by type, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

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
