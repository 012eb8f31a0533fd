"""The VFO's tank as a network of fitted parts, and its resonance on each band."""

from collections.abc import Mapping
from functools import cached_property, lru_cache
from math import sqrt
from types import MappingProxyType
from typing import Literal

import numpy as np

from core.circuits import resonator
from core.circuits.circuit import GROUND, Branch, Circuit, Part
from core.circuits.ladder import Array
from core.circuits.resonator import Capacitor, Mode, capacitors_of
from core.model.stages.tank import Tank, TuningCapacitor
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import UNIT_OF_KIND, Role, Which
from core.record import record
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow
from core.stages.parts import part
from core.stages.vfo.oscillator import ASSUMED_CAPACITOR_Q, ASSUMED_CHOKE_Q, GATE, SOURCE, operating
from core.stages.wound import Wound
from core.trade.cores import cores
from core.trade.temperature import Coefficient, coefficients

Shift = Literal["none", "parallel", "series"]
#: How sure a core's temperature coefficient is where no table says, ppm/K: an assumption.
_MIX_TOLERANCE_PPM = 50.0
#: Frequencies that differ by less than this share are the same [-].
_ROUNDING = 1e-9


@record
class WantedRange:
    """Frequencies [Hz] that the VFO must reach on a band, and how it is shifted there."""

    band: str
    low_hz: float
    high_hz: float
    shift: Shift = "none"


@record(kw_only=True)
class RangeCover:
    """What a band wants and what the fitted parts cover there, Hz."""

    band: str
    wanted_low_hz: float
    wanted_high_hz: float
    covers_low_hz: float
    covers_high_hz: float
    shift: Shift

    @property
    def covers(self) -> bool:
        """Whether the whole wanted range is reached."""
        low, high = self.covers_low_hz * (1 - _ROUNDING), self.covers_high_hz * (1 + _ROUNDING)
        return low <= self.wanted_low_hz and high >= self.wanted_high_hz


@record
class Limit:
    """What stands in the way of the wanted ranges, and what to do about it; clauses without a full stop.

    `tells_range` says that the first names what is tuned instead.
    """

    what: str
    remedy: str
    tells_range: bool = False

    def __str__(self) -> str:
        return f"{self.what}; {self.remedy}."


@record(eq=False, kw_only=True, slots=False)
class TankDesign:
    """The tank on its resulting parts; compared by identity, as filters' designs are.

    `fixed` and `found` say in words which parts were given and which computed; `limits` tell
    what stands in the way where the wanted ranges cannot be had, the parts then being the nearest that can.
    `wound` is the coil where it was said how it is wound, `shelf` what was taken before any was bought.
    """

    tank: Tank
    parts: tuple[PartRow, ...]
    ranges: tuple[RangeCover, ...]
    fixed: tuple[str, ...]
    found: tuple[str, ...]
    limits: tuple[Limit, ...]
    wound: Wound | None = None
    shelf: Shelf = ALL_BOUGHT

    @property
    def coil_q(self) -> float:
        """Unloaded Q of the coil [-]: of its winding, else as it was typed in."""
        return self.tank.coil_q if self.wound is None else self.wound.quality

    @property
    def coil_kind(self) -> Coefficient:
        """The coil's temperature coefficient: of its core or former, else of the kind that was chosen."""
        table = coefficients()
        if self.wound is None:
            return table[self.tank.coil_type]
        if not self.tank.core:
            return table["air_coil"]
        mix = cores()[self.wound.on].of
        tolerance = table[mix.mix].tolerance_ppm if mix.mix in table else _MIX_TOLERANCE_PPM
        return Coefficient(
            type=mix.mix,
            name=self.wound.on,
            ppm=self.wound.ppm,
            tolerance_ppm=tolerance,
            source=mix.source,
            status=mix.status,
        )

    @cached_property
    def fitted(self) -> Mapping[tuple[str, Which], float]:
        """The fitted values [F or H] by role and number."""
        return MappingProxyType({(row.role, row.which): row.fitted for row in self.parts})

    def value(self, role: Role, which: Which = None) -> float | None:
        """The fitted value [F or H] of a part that was found, None where the tank has none such."""
        return self.fitted.get((role, which))

    @property
    def values(self) -> Mapping[str, float]:
        """The fitted values by reference, as they are printed and typed in."""
        return MappingProxyType({row.ref: row.fitted for row in self.parts})

    @property
    def coil_h(self) -> float:
        """The coil, H."""
        return self.fitted["coil", None]

    def range_of(self, band: str) -> RangeCover | None:
        """What a band wants and gets; None when the design does not know the band."""
        return next((each for each in self.ranges if each.band == band), None)


def tuning_f(variable: TuningCapacitor, position: Array) -> Array:
    """Capacitance [F] at positions 0 (meshed) to 1 (open) of the travel, same shape.

    Straight-line frequency is such that the capacitor alone with a coil would tune evenly: 1/sqrt(C) runs
    straight. A measured table is followed by a monotone cubic (F. Fritsch, R. Carlson, SIAM J. Numer. Anal.
    17 (1980) 238, as scipy has it).
    """
    low, high = variable.span_f
    if variable.law == "straight_capacitance":
        return high - (high - low) * position
    if variable.law == "straight_frequency":
        return (1 / sqrt(high) + (1 / sqrt(low) - 1 / sqrt(high)) * position) ** -2
    from scipy.interpolate import PchipInterpolator

    places, farads = zip(*((each.travel, each.capacitance_f) for each in variable.table), strict=True)
    return np.asarray(PchipInterpolator(places, farads)(position))


#: Nodes of the circuit besides the device's: what the coil tunes, inside the tuning branch, under the choke.
TANK = "tank"
SHIFTED, _INNER, _BIAS = "shifted", "inner", "bias"
#: Fixed capacitors across the tuning, where there are some.
_ACROSS: tuple[Role, ...] = ("parallel", "trimmer", "compensating")


@lru_cache(maxsize=64)
def circuit(made: TankDesign, band: str) -> Circuit:
    """All that is soldered on a band, with the device's own capacitances and what bias and buffer draw.

    The tuning capacitor stands at its largest. The supply is ground for the signal. Q of capacitors and
    choke are assumptions (`oscillator`).
    """
    tank, feedback = made.tank, made.tank.feedback
    device = operating(feedback)
    branches: list[Branch] = []

    def put(a: str, b: str, role: Role, which: Which = None, value: float | None = None) -> None:
        fitted = made.value(role, which) if value is None else value
        if not fitted:
            return
        kind = NAMES["tank"][role].kind
        q = ASSUMED_CAPACITOR_Q if kind == "capacitor" else None
        if kind == "inductor":
            q = made.coil_q if role == "coil" else ASSUMED_CHOKE_Q
        branches.append(Branch(part("tank", role, which, fitted, q), (a, b)))

    behind_coil = GROUND if tank.tuned == "parallel" else GATE
    put(TANK, behind_coil, "coil")
    put(GATE, SOURCE, "feedback_upper")
    put(SOURCE, GROUND, "feedback_lower")
    put(GATE, SOURCE, "stray", "input", device.input_f)
    put(GATE, GROUND, "stray", "feed-through", device.through_f)
    put(TANK, behind_coil, "stray", "coil", tank.coil_self_f)
    put(TANK, GROUND, "stray", "stray", tank.stray_f)
    put(TANK, GATE, "coupling")
    for role in _ACROSS:
        put(TANK, GROUND, role)
    at = TANK
    if made.value("trimmer", band) is not None:
        put(TANK, GROUND, "shift", band)
        put(TANK, GROUND, "trimmer", band)
    elif made.value("shift", band) is not None:
        at = SHIFTED
    whole = made.value("differential")
    if whole is not None:
        put(TANK, GROUND, "differential_cold", None, tank.differential_share * whole)
        put(TANK, GROUND, "differential", None, (1 - tank.differential_share) * whole)
    if at == SHIFTED:
        put(TANK, at, "shift", band)
    if made.value("padder") is not None:
        put(at, _INNER, "padder")
        at = _INNER
    put(at, GROUND, "tuning", None, tank.variable.span_f[1])
    if device.kind == "jfet":
        put(GATE, GROUND, "bias_gate", None, feedback.gate_ohm)
    else:
        put(GATE, GROUND, "bias_upper", None, feedback.base_upper_ohm)
        put(GATE, GROUND, "bias_lower", None, feedback.base_lower_ohm)
        put(GATE, SOURCE, "device", None, 1 / device.input_s if device.input_s else None)
    below = SOURCE if feedback.choke_h is None else _BIAS
    put(SOURCE, below, "choke", None, feedback.choke_h)
    bias: Role = "bias_source" if device.kind == "jfet" else "bias_emitter"
    put(below, GROUND, bias, None, feedback.bias_ohm)
    put(SOURCE, GROUND, "load", None, feedback.load_ohm)
    return Circuit(tuple(branches))


#: What grounds the drain or collector for the signal, F; customary at HF.
DECOUPLING_F = 100e-9
_BIAS_ROLES: tuple[Role, ...] = (
    "bias_gate",
    "bias_upper",
    "bias_lower",
    "choke",
    "bias_source",
    "bias_emitter",
)


@lru_cache(maxsize=64)
def given_parts(made: TankDesign) -> tuple[PartRow, ...]:
    """What is soldered besides the parts that are designed: tuning capacitor, bias parts, device, decoupling.

    They are as the builder chose them, so designed is what they are; the device counts as one piece.
    """
    tank = made.tank
    variable, known = tank.variable.span_f, circuit(made, made.ranges[0].band)
    soldered = {branch.part.role: branch.part for branch in known.branches if isinstance(branch.part, Part)}

    def row(role: Role, value: float, note: str) -> PartRow:
        kind = NAMES["tank"][role].kind
        ref, unit = reference("tank", role), UNIT_OF_KIND[kind]
        return PartRow(
            ref=ref,
            kind=kind,
            designed=value,
            preferred=value,
            as_built=None,
            unit=unit,
            note=note,
            role=role,
        )

    span = f"tuning capacitor, from {format_value(variable[0], 'F', 3)} up"
    device = operating(tank.feedback)
    return (
        row("tuning", variable[1], span),
        *(row(role, soldered[role].value, _NOTES[role]) for role in _BIAS_ROLES if role in soldered),
        row("decoupling", DECOUPLING_F, "drain or collector to ground, X7R will do"),
        PartRow(
            ref="Q1",
            kind="transistor",
            designed=1,
            preferred=1,
            as_built=None,
            unit="piece",
            note=f"{device.name}, at {format_value(device.current_a, 'A', 2)}",
            role="device",
            type=device.name,
        ),
    )


_NOTES: dict[Role, str] = {
    "bias_gate": "gate to ground",
    "bias_upper": "supply to base",
    "bias_lower": "base to ground",
    "choke": "in series with the bias resistor",
    "bias_source": "source to ground",
    "bias_emitter": "emitter to ground",
}
_TUNING = reference("tank", "tuning")


def capacitors(made: TankDesign, band: str, tuning: Array | float) -> tuple[Capacitor, ...]:
    """Every capacitor of the tank on a band, the tuning capacitor at `tuning` [F] of any shape.

    Nodes: 1 tuning, 2 gate or base, 3 source or emitter, 4 and 5 inside the tuning branch.
    """
    return capacitors_of(circuit(made, band), {_TUNING: tuning})


def resonance(made: TankDesign, band: str, position: Array) -> Mode:
    """The tank's resonance on a band at positions 0 (meshed) to 1 (open), shape (P,)."""
    return resonator.resonance(circuit(made, band), "coil", {_TUNING: tuning_f(made.tank.variable, position)})
