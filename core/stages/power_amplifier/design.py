"""A power amplifier's parts for the power, the supply and the idle current asked.

Load first, from the knee that the device's own law has at the current the power takes; then windings of
whole turns that give the power (or an L or pi), the input's swamping, and the bias on preferred values.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import pi, sqrt

from core.circuits.active.operating import Bias, bias
from core.circuits.circuit import (
    Bipolar,
    Branch,
    Circuit,
    Component,
    CoupledCoils,
    Part,
    Port,
    Rail,
    Transistor,
)
from core.circuits.power.law import Law
from core.circuits.power.load_line import most_power
from core.model.bands import Dials
from core.model.notebook.junk_box import FILTER_TYPES
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.transistors import OwnTransistor
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import valued
from core.record import record
from core.stages.gate import gate
from core.stages.nameless import nameless
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built
from core.stages.power_amplifier.bias import divided, follows_v_per_k, idle_of, nearest, trackers_for
from core.stages.power_amplifier.board import INPUT, OUTPUT, REGULATOR, SUPPLY, Key, Slot, board
from core.stages.power_amplifier.match import PORT_OHM, input_windings, output_match
from core.stages.power_amplifier.transformer import Windings
from core.stages.transistors import power_row, transistor
from core.stages.wound import Wound
from core.trade.devices import Row, devices
from core.trade.power_devices import PowerRow

#: Coupling, blocking and bypass capacitors [F]; they count by their reactance.
_BLOCK_F = 100e-9
#: Reactance of a choke over the load, and of a transformer's smaller winding, at the lowest frequency [-].
_CHOKE = 10.0
#: Q of a coil that no core was chosen for [-].
_COIL_Q = 150.0
#: Class B stands at the edge of conduction: so much of the peak current flows when idle [-].
_EDGE = 1e-3
#: What is wired as a diode on the sink.
_TRACKER = "2n3904"


@record(eq=False, kw_only=True)
class PowerDesign:
    """A power amplifier on its resulting parts, at rest.

    `law` is that of one side (of both transistors where they are parallel), `load_ohm` what one side sees of
    the match without its reactances [ohm], `wanted_ohm` what the power wants there, `knee_v` the knee at it,
    `most_w` the largest output [W], `full_w` that wanted, or the largest if less. `bias_v` is what the law
    takes for the idle current at rest, `follows_per_k` how the bias moves with the sink [V/K]. `input` and
    `output` are windings, None where there are none; `trimmer_ohm` the trimmer's whole resistance, `wound`
    the coil of an L or pi on a core, by its reference.
    """

    stage: BuiltPowerAmplifier
    transistor: Row
    bears: PowerRow
    circuit: Circuit
    parts: tuple[PartRow, ...]
    rest: Bias
    law: Law
    load_ohm: float
    wanted_ohm: float
    knee_v: float
    most_w: float
    full_w: float
    idle_a: float
    bias_v: float
    follows_per_k: float
    trackers: int
    trimmer_ohm: float | None
    input: Windings | None
    output: Windings | None
    span_hz: tuple[float, float]
    wound: tuple[tuple[str, Wound], ...] = ()

    @property
    def drawing(self) -> "PowerDesign":
        """Drawn as it is."""
        return self

    @property
    def cores(self) -> tuple[tuple[str, str], ...]:
        """What each of its transformers is wound on, by reference."""
        coils = {"input_transformer": self.input, "output_transformer": self.output}
        rows = ((row.ref, coils.get(row.role)) for row in self.parts)
        return tuple((ref, coil.core) for ref, coil in rows if coil is not None)

    @property
    def supply_a(self) -> float:
        """What the stage takes from its supply without a signal, A."""
        return sum(self.rest.rails_a.values())

    def values(self) -> dict[Key, float]:
        """The parts' values as fitted, by role and number."""
        return {(row.role, row.which): row.fitted for row in self.parts}  # type: ignore[misc]

    def with_values(self, values: Mapping[Key, float]) -> Circuit:
        """The circuit with some parts of other values."""
        other = {reference("power", *key): value for key, value in values.items()}
        branches = tuple(
            replace(branch, part=replace(branch.part, value=other[branch.part.ref]))
            if isinstance(branch.part, Part) and branch.part.ref in other
            else branch
            for branch in self.circuit.branches
        )
        return replace(self.circuit, branches=branches)


def design(
    stage: BuiltPowerAmplifier,
    own: Sequence[OwnTransistor] = (),
    dials: Dials = (),
    shelf: Shelf = ALL_BOUGHT,
) -> PowerDesign | Unsolved:
    """The stage's parts for the dials (low, high) [Hz] that it serves; `own` are the builder's own
    transistors. An L or pi takes capacitors of the `shelf`, and transformers cores of it, where power and
    current are hardly worse for it.
    """
    of = transistor(stage.device, own)
    if isinstance(of, Unsolved):
        return of
    bears = power_row(stage.device, own)
    if isinstance(bears, Unsolved):
        return bears
    span = (min(low for low, _ in dials), max(high for _, high in dials)) if dials else None
    at = stage.designed_at_hz
    bare = nameless(stage, "measured_gain_db")
    taken = shelf.cores_alone
    if stage.match != "transformer":
        taken = Shelf(shelf.of(*FILTER_TYPES).pieces, cores=shelf.cores)
    return _design(bare, of, bears, (0.9 * at, 1.1 * at) if span is None else span, taken)


@lru_cache(maxsize=64)
@gate("The power amplifier")
def _design(
    stage: BuiltPowerAmplifier, of: Row, bears: PowerRow, span_hz: tuple[float, float], shelf: Shelf
) -> PowerDesign | Unsolved:
    if of.kind == "jfet":
        return Unsolved(f"{of.name} is a junction FET; a power stage wants a MOSFET or a bipolar transistor.")
    if stage.topology == "push_pull" and stage.match != "transformer":
        return Unsolved("Push-pull wants a transformer at its output, which joins its halves; choose it.")
    law = Law(of.model, stage.degeneration_ohm, 2 if stage.topology == "parallel" else 1)
    matched = output_match(stage, law, span_hz, shelf)
    if isinstance(matched, Unsolved):
        return matched
    load = matched.load_ohm
    most, knee = (float(each) for each in most_power(stage.supply_v, 1 / load, law))
    full = min(stage.power_w / stage.sides, most)
    fundamental = sqrt(2 * full / load)
    # Idle in class A is the mean of a current that never ends.
    idle = {"a": fundamental, "ab": stage.idle_a * law.count, "b": _EDGE * 2 * fundamental}[
        stage.working_class
    ]
    wanted_in = input_windings(stage, span_hz, shelf, matched.windings)
    if isinstance(wanted_in, Unsolved):
        return wanted_in
    ring, swamping = wanted_in
    fixed = {**matched.values, **_fixed(stage, load, swamping, span_hz)}
    trackers = trackers_for(stage, law, bears, idle)
    below = matched.wanted_ohm <= PORT_OHM
    slots = board(stage, bipolar=isinstance(of.model, Bipolar), trackers=trackers, below_ohm=below)
    wound = {"input_transformer": ring, "output_transformer": matched.windings}

    def circuit_of(values: Mapping[Key, float]) -> Circuit:
        return _soldered(stage, slots, {**fixed, **values}, of, wound)

    found = divided(stage, law, bears, idle / law.count, max(fundamental * 2 / pi, idle), circuit_of)
    if isinstance(found, Unsolved):
        return found
    built = Built("power", stage.as_built)
    rows, fitted = [], {}
    preferred = {**fixed, **found.values}
    for role, which, _ in slots:
        rows.append(
            _row(
                built, role, which, matched.exact.get((role, which)), preferred, of, wound, found.trimmer_ohm
            )
        )
        if rows[-1].kind not in ("transistor", "transformer"):
            fitted[role, which] = rows[-1].fitted
    coil = next((row for row in rows if row.role == "match_coil"), None)
    wound_coil: tuple[tuple[str, Wound], ...] = ()
    if coil is not None and matched.coil is not None:
        rows[rows.index(coil)] = replace(coil, note=matched.coil.note)
        wound_coil = ((coil.ref, matched.coil),)
    circuit = _soldered(stage, slots, fitted, of, wound)
    rest = bias(circuit)
    if isinstance(rest, Unsolved):
        return rest
    idles = idle_of(rest)
    return PowerDesign(
        stage=stage,
        transistor=of,
        bears=bears,
        circuit=circuit,
        parts=tuple(rows),
        rest=rest,
        law=law,
        load_ohm=load,
        wanted_ohm=matched.wanted_ohm,
        knee_v=knee,
        most_w=stage.sides * most,
        full_w=stage.sides * full,
        idle_a=idles,
        bias_v=law.control_v(max(idles * law.count, 1e-9)),
        follows_per_k=follows_v_per_k(stage, fitted, found.trackers, rest.volts["bias"]),
        trackers=found.trackers,
        trimmer_ohm=found.trimmer_ohm,
        input=ring,
        output=matched.windings,
        span_hz=span_hz,
        wound=wound_coil,
    )


def _fixed(
    stage: BuiltPowerAmplifier, load_ohm: float, swamping_ohm: float, span_hz: tuple[float, float]
) -> dict[Key, float]:
    choke = nearest(_CHOKE * load_ohm / (2 * pi * span_hz[0]), "E6")
    # At a base it stands beside the swamping resistor instead.
    small = nearest(_CHOKE * swamping_ohm / (2 * pi * span_hz[0]), "E6")
    found: dict[Key, float] = {("bypass", None): _BLOCK_F, ("decoupling", None): _BLOCK_F}
    found["coupling", 3] = _BLOCK_F
    for which in (1, 2):
        found["coupling", which] = found["swamping_block", which] = found["feedback_block", which] = _BLOCK_F
        found["swamping", which], found["bias_choke", which] = swamping_ohm, small
        found["choke", which] = choke
        found["feedback", which] = stage.feedback_ohm or 1.0
        found["degeneration", which] = max(stage.degeneration_ohm, 1e-3)
    return found


def _soldered(
    stage: BuiltPowerAmplifier,
    slots: Sequence[Slot],
    values: Mapping[Key, float],
    of: Row,
    wound: Mapping[str, Windings | None],
) -> Circuit:
    made = []
    for role, which, nodes in slots:
        ref, kind = reference("power", role, which), NAMES["power"][role].kind
        component: Component
        if role == "tracker":
            component = Transistor(ref, devices()[_TRACKER].model, role, which)
        elif kind == "transistor":
            component = Transistor(ref, of.model, role, which)
        elif kind == "transformer":
            coil = wound[role]
            assert coil is not None
            # What the core loses is counted beside the circuit: its leakage has no such loss.
            component = CoupledCoils(ref, coil.primary_h, coil.secondary_h, coil.coupling, None, role, which)
        else:
            q = _COIL_Q if role == "match_coil" else None
            component = Part(ref, valued(kind), values[role, which], q, role=role, which=which)
        made.append(Branch(component, nodes))
    ports = (Port(INPUT, PORT_OHM), Port(OUTPUT, PORT_OHM))
    return Circuit(tuple(made), ports, (Rail(SUPPLY, stage.supply_v), Rail(REGULATOR, stage.regulator_v)))


def _row(
    built: Built,
    role: str,
    which: int | str | None,
    exact: float | None,
    preferred: Mapping[Key, float],
    of: Row,
    wound: Mapping[str, Windings | None],
    trimmer_ohm: float | None,
) -> PartRow:
    key: Key = (role, which)  # type: ignore[assignment]
    if role == "tracker":
        name = devices()[_TRACKER].name
        return built.row(*key, 1.0, 1.0, f"{name}, collector and base joined, on the sink", name)
    if role == "transistor":
        return built.row(*key, 1.0, 1.0, f"{of.name}, on the sink", of.name)
    coil = wound.get(role)
    if coil is not None:
        ratio = coil.primary / coil.secondary
        return built.row(*key, ratio, ratio, coil.note, f"{coil.primary} to {coil.secondary}")
    note = {
        "bias_trimmer": f"trimmer of {format_value(trimmer_ohm or 0.0, 'Ω', 3)}, set to this",
        "thermistor": "NTC at 25 °C, on the sink",
    }.get(role, "")
    value = preferred[key]
    return built.row(*key, value if exact is None else exact, value, note)
