"""Typical figures of transistors by their type, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from core.circuits.bias import JUNCTION_A
from core.circuits.circuit import Bipolar, SquareLaw
from core.record import record
from core.trade.tables import rows

#: Least and largest value that a maker lets through.
Range = tuple[float, float]
#: How many times a figure is what the table says, at the least and the largest value of its range [-].
Ends = tuple[float, float]


def _ends(value: float, range_: Range | None) -> Ends:
    return (1.0, 1.0) if range_ is None else (range_[0] / value, range_[1] / value)


@record(kw_only=True)
class JfetRow:
    """A junction FET: IDSS [A], magnitude of the pinch-off voltage [V], capacitances [F], what it bears from
    drain to source at most [V] and carries [A].
    """

    device: str
    name: str
    saturation_a: float
    pinch_off_v: float
    gate_source_f: float
    gate_drain_f: float
    source: str
    status: str
    kind: str = "jfet"
    channel_per_v: float = 0.01
    most_watt: float = 0.35
    saturation_range_a: Range | None = None
    pinch_off_range_v: Range | None = None
    most_v: float | None = None
    most_a: float | None = None

    @property
    def spread(self) -> Mapping[str, Ends]:
        """How far specimens scatter, by the names of `Times`: IDSS and pinch-off rise together."""
        volts = _ends(self.pinch_off_v, self.pinch_off_range_v)
        amperes = _ends(self.saturation_a, self.saturation_range_a)
        low, high = (ampere / volt**2 for ampere, volt in zip(amperes, volts, strict=True))
        return {"gain": (low, high), "threshold": volts}

    @property
    def model(self) -> SquareLaw:
        """The transistor as a circuit has it."""
        return SquareLaw(
            slope_a_v2=self.saturation_a / self.pinch_off_v**2,
            threshold_v=-self.pinch_off_v,
            channel_per_v=self.channel_per_v,
            gate_source_f=self.gate_source_f,
            gate_drain_f=self.gate_drain_f,
        )


@record(kw_only=True)
class BipolarRow:
    """A bipolar transistor: current gain [-], transition frequency [Hz] at a collector current [A], junction
    capacitances [F], what it bears from collector to emitter at most [V] and carries [A].
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
    base_ohm: float = 20.0
    early_v: float = 80.0
    most_watt: float = 0.5
    current_gain_range: Range | None = None
    most_v: float | None = None
    most_a: float | None = None

    @property
    def spread(self) -> Mapping[str, Ends]:
        """How far specimens scatter, by the names of `Times`."""
        return {"gain": _ends(self.current_gain, self.current_gain_range)}

    @property
    def model(self) -> Bipolar:
        """The transistor as a circuit has it."""
        return Bipolar(
            saturation_a=JUNCTION_A,
            current_gain=self.current_gain,
            transition_hz=self.transition_hz,
            transition_at_a=self.transition_at_a,
            feedback_f=self.base_collector_f,
            emitter_f=self.base_emitter_f,
            base_ohm=self.base_ohm,
            early_v=self.early_v,
        )


@record(kw_only=True)
class MosfetRow:
    """An enhancement MOSFET, n-channel: transconductance [S] at a drain current [A] in saturation, threshold
    voltage [V], input, reverse transfer and output capacitance (Ciss, Crss, Coss) [F], what it bears from
    drain to source at most [V] and carries [A].
    """

    device: str
    name: str
    transconductance_s: float
    transconductance_at_a: float
    threshold_v: float
    input_f: float
    transfer_f: float
    output_f: float
    source: str
    status: str
    kind: str = "mosfet"
    channel_per_v: float = 0.01
    most_watt: float = 0.35
    threshold_range_v: Range | None = None
    most_v: float | None = None
    most_a: float | None = None

    @property
    def spread(self) -> Mapping[str, Ends]:
        """How far specimens scatter, by the names of `Times`; their slope hardly does."""
        return {"threshold": _ends(self.threshold_v, self.threshold_range_v)}

    @property
    def model(self) -> SquareLaw:
        """The transistor as a circuit has it: Id = k (Vgs − Vth)² and gm² = 4 k Id, Ciss = Cgs + Cgd,
        Crss = Cgd, Coss = Cds + Cgd.
        """
        return SquareLaw(
            slope_a_v2=self.transconductance_s**2 / (4 * self.transconductance_at_a),
            threshold_v=self.threshold_v,
            channel_per_v=self.channel_per_v,
            gate_source_f=max(self.input_f - self.transfer_f, 0.0),
            gate_drain_f=self.transfer_f,
            drain_source_f=max(self.output_f - self.transfer_f, 0.0),
        )


Row = JfetRow | BipolarRow | MosfetRow
_KINDS: dict[str, type[JfetRow] | type[BipolarRow] | type[MosfetRow]] = {
    "jfet": JfetRow,
    "bipolar": BipolarRow,
    "mosfet": MosfetRow,
}
#: How a kind is spelled behind a name.
KIND_WORDS = {"jfet": "JFET", "bipolar": "bipolar", "mosfet": "MOSFET"}


#: From so many letters on a name is long.
_LONG = 7


def spelled(row: Row) -> str:
    """A transistor's name with its kind, as in `J310 (JFET)`; MOS behind a long name of the table's, so that
    both can be read in a narrow form.
    """
    short = row.kind == "mosfet" and row.device != row.name and len(row.name) > _LONG
    return f"{row.name} ({'MOS' if short else KIND_WORDS[row.kind]})"


@lru_cache(maxsize=1)
def devices() -> Mapping[str, Row]:
    """Every transistor in the table, by its name in the model."""
    made = {}
    for row in rows("devices"):
        # A range is a list in JSON, and a row a key of caches.
        plain: dict[str, Any] = {
            key: tuple(each) if isinstance(each, list) else each for key, each in row.items()
        }
        made[row["device"]] = _KINDS[row["kind"]](**plain)
    return MappingProxyType(made)
