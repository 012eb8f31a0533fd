"""Typical figures of transistors by their type, each row with its source."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from core.trade.tables import rows


@dataclass(frozen=True, slots=True, kw_only=True)
class JfetRow:
    """A junction FET: IDSS [A], magnitude of the pinch-off voltage [V], capacitances [F]."""

    device: str
    name: str
    saturation_a: float
    pinch_off_v: float
    gate_source_f: float
    gate_drain_f: float
    source: str
    status: str
    kind: str = "jfet"


@dataclass(frozen=True, slots=True, kw_only=True)
class BipolarRow:
    """A bipolar transistor: current gain [-], transition frequency [Hz] at a collector current [A], junction
    capacitances [F].
    """

    device: str
    name: str
    current_gain: float
    transition_hz: float
    transition_at_a: float
    base_emitter_f: float
    base_collector_f: float
    source: str
    status: str
    kind: str = "bipolar"


Row = JfetRow | BipolarRow
_KINDS: dict[str, type[JfetRow] | type[BipolarRow]] = {"jfet": JfetRow, "bipolar": BipolarRow}


@lru_cache(maxsize=1)
def devices() -> Mapping[str, Row]:
    """Every transistor in the table, by its name in the model."""
    return MappingProxyType({row["device"]: _KINDS[row["kind"]](**row) for row in rows("devices")})
