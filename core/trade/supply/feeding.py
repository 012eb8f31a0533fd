"""Fuses, leads, connectors, regulators, and what stands against wrong polarity, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class FuseRow:
    """A fuse: rated current [A], resistance when cold [ohm], melting integral [A² s]."""

    type: str
    rated_a: float
    cold_ohm: float
    melting_a2s: float
    source: str
    status: str


@record(kw_only=True)
class FuseTypeRow:
    """A type of fuse: the longest [s] that it may take at multiples of its rating [-], rising."""

    type: str
    name: str
    longest: tuple[tuple[float, float], ...]
    source: str
    status: str


@record(kw_only=True)
class WireRow:
    """A wire by its American gauge and what a lead of two such bears for long [A]."""

    gauge: int
    bears_a: float
    source: str
    status: str


@record(kw_only=True)
class PolarityDiodeRow:
    """A diode: forward voltage at a low and at its rated current [V, A], steady current [A], surge of one
    half-wave of 60 Hz [A], reverse voltage [V]; its package.
    """

    diode: str
    name: str
    low_v: float
    low_a: float
    high_v: float
    high_a: float
    steady_a: float
    surge_a: float
    reverse_v: float
    package: str
    source: str
    status: str


@record(kw_only=True)
class PolarityMosfetRow:
    """A P-channel MOSFET: resistance when on [ohm], what gate and drain bear [V]; package and order of its
    leads.
    """

    mosfet: str
    name: str
    on_ohm: float
    gate_v: float
    drain_v: float
    package: str
    order: tuple[str, ...]
    source: str
    status: str


@record(kw_only=True)
class RegulatorRow:
    """A family of regulator: drop-out [V], largest and own current [A], thermal resistance to the air without
    a sink and to the case [K/W], highest input [V], outputs that it is made for [V], empty: any.

    `marked` is written on it ahead of its voltage; capacitors that it wants at either side [F]; of an
    adjustable one its reference [V] and what its adjustment draws [A]; how far it takes ripple down [dB];
    package and order of leads, empty where makers differ.
    """

    type: str
    name: str
    drop_out_v: float
    most_a: float
    own_a: float
    air_k_w: float
    case_k_w: float
    most_in_v: float
    made_v: tuple[float, ...]
    marked: str
    input_f: float
    output_f: float
    reference_v: float
    adjust_a: float
    rejection_db: float
    package: str
    order: tuple[str, ...]
    source: str
    status: str


@record(kw_only=True)
class SupplyPartRow:
    """A connector, switch or suppressor: what it bears [A], of a suppressor the voltage that it leaves alone
    and the most that it lets pass [V]; its package.
    """

    word: str
    what: str
    name: str
    package: str
    source: str
    status: str
    bears_a: float | None = None
    leaves_v: float | None = None
    most_v: float | None = None


@lru_cache(maxsize=1)
def fuses() -> Mapping[str, tuple[FuseRow, ...]]:
    """The fuses of every type, by rising rating."""
    found: dict[str, tuple[FuseRow, ...]] = {}
    for row in sorted((FuseRow(**row) for row in rows("fuses")), key=lambda each: each.rated_a):
        found[row.type] = (*found.get(row.type, ()), row)
    return MappingProxyType(found)


@lru_cache(maxsize=1)
def fuse_types() -> Mapping[str, FuseTypeRow]:
    """The types of fuse, by their name in the model."""
    return MappingProxyType(
        {
            row["type"]: FuseTypeRow(**{**row, "longest": tuple(map(tuple, row["longest"]))})
            for row in rows("fuse_types")
        }
    )


@lru_cache(maxsize=1)
def wires() -> Mapping[int, WireRow]:
    """Leads by their gauge, the thickest first."""
    return MappingProxyType({row["gauge"]: WireRow(**row) for row in rows("wires")})


@lru_cache(maxsize=1)
def polarity_diodes() -> Mapping[str, PolarityDiodeRow]:
    """Diodes against wrong polarity, by their name in the model."""
    return MappingProxyType({row["diode"]: PolarityDiodeRow(**row) for row in rows("polarity_diodes")})


@lru_cache(maxsize=1)
def polarity_mosfets() -> Mapping[str, PolarityMosfetRow]:
    """MOSFETs against wrong polarity, by their name in the model."""
    return MappingProxyType(
        {
            row["mosfet"]: PolarityMosfetRow(**{**row, "order": tuple(row["order"])})
            for row in rows("polarity_mosfets")
        }
    )


@lru_cache(maxsize=1)
def supply_parts() -> Mapping[str, SupplyPartRow]:
    """Connectors, switches and suppressors, by their name in the model."""
    return MappingProxyType({row["word"]: SupplyPartRow(**row) for row in rows("supply_parts")})


@lru_cache(maxsize=1)
def regulators() -> Mapping[str, RegulatorRow]:
    """Families of regulator, by their name in the model."""
    return MappingProxyType(
        {
            row["type"]: RegulatorRow(**{**row, "made_v": tuple(row["made_v"]), "order": tuple(row["order"])})
            for row in rows("regulators")
        }
    )
