"""What of a crystal oscillator is soldered between which nodes."""

from collections.abc import Iterable, Mapping

from core.circuits.active.oscillation import InARow, parts_of
from core.circuits.circuit import GROUND, Bipolar, Branch, Circuit, Hardware, Part, Port, Rail, Transistor
from core.circuits.devices.hardware import Joined
from core.model.values.part_names import reference
from core.model.values.parts import Family
from core.record import record
from core.stages.crystal_oscillator.asked import Asked
from core.stages.parts import Key, part
from core.trade.devices import Row, devices

FAMILY: Family = "crystal_oscillator"
RAIL, FED, BASE, EMITTER, SERIES, OUT = "supply", "fed", "base", "emitter", "series", "out"
_BUFFER_BASE, _BUFFER_EMITTER, _BUFFER_LOW, _COLLECTOR = (
    "buffer base",
    "buffer emitter",
    "below",
    "collector",
)
#: What tells the relay the sideband, and its leads.
SIDEBAND_LINE = "sideband line"
RELAY_LEADS = ("coil", "coil's other end", "common 1", "closed 1", "open 1")
#: Oscillator and buffer among the transistors.
OSCILLATOR, BUFFER = 1, 2
#: Unloaded Q of a coil that nobody wound, of a choke, and of capacitors: assumptions; common practice.
COIL_Q, CHOKE_Q, CAPACITOR_Q = 80.0, 50.0, 1000.0


def device_of(asked: Asked) -> Row:
    """The oscillator's transistor."""
    return devices()[asked.circuit.device]


def is_jfet(asked: Asked) -> bool:
    """Whether the oscillator's transistor is a JFET, which has a resistor at its gate and no divider."""
    return device_of(asked).kind == "jfet"


@record(eq=False, kw_only=True)
class Fitted:
    """The values [SI] of an oscillator's parts by role and number, its crystal, and the Q of each coil."""

    values: Mapping[Key, float]
    crystal: Part
    coil_q: Mapping[str | None, float]


def row_of(fitted: Fitted, which: str | None) -> tuple[Part | tuple[Part, ...], ...]:
    """Crystal, coil where there is one with what damps it, and trimmer that are switched in for a frequency,
    from base to ground.
    """
    found: list[Part | tuple[Part, ...]] = [fitted.crystal]
    values = fitted.values
    if values.get(("coil", which)):
        coil = part(FAMILY, "coil", which, values["coil", which], fitted.coil_q[which])
        damping = values.get(("damping_resistor", which))
        found.append(coil if damping is None else (coil, part(FAMILY, "damping_resistor", which, damping)))
    return *found, part(FAMILY, "trimmer", which, values["trimmer", which], CAPACITOR_Q)


def circuit_on(asked: Asked, which: str | None, fitted: Fitted) -> tuple[Circuit, InARow]:
    """The circuit as it works with one row of parts switched in, and that row."""
    row = row_of(fitted, which)
    branches = (
        *_rest(asked, fitted.values),
        Branch(fitted.crystal, (BASE, SERIES)),
        *_joined(row[1:], SERIES, which),
    )
    return _whole(asked, branches), row


def soldered(asked: Asked, fitted: Fitted) -> Circuit:
    """All that is soldered: coil and trimmer for each of several frequencies begin at a node of their own,
    where switch or relay joins them to the crystal.
    """
    branches = [*_rest(asked, fitted.values), Branch(fitted.crystal, (BASE, SERIES))]
    for place in asked.places:
        row = row_of(fitted, place.which)[1:]
        branches += _joined(row, _start(asked, place.which), place.which)
    return _whole(asked, branches)


def with_relay(asked: Asked, circuit: Circuit) -> Circuit:
    """What is soldered, with the relay that joins the crystal to the row of one sideband or of the other: it
    rests at the first, and the line that tells the sideband feeds its coil. A switch stands on the panel, and
    its wires end where the rows begin.
    """
    if len(asked.places) != 2 or asked.circuit.switched_by != "relay":
        return circuit
    first, other = (_start(asked, place.which) for place in asked.places)
    relay = Hardware(reference(FAMILY, "relay"), RELAY_LEADS, Joined(), "relay")
    nodes = (SIDEBAND_LINE, GROUND, SERIES, first, other)
    return Circuit((*circuit.branches, Branch(relay, nodes)), circuit.ports, circuit.rails)


def _start(asked: Asked, which: str | None) -> str:
    """The node at which a row begins."""
    return f"switch {which}" if len(asked.places) > 1 else SERIES


def _joined(row: InARow, start: str, which: str | None) -> list[Branch]:
    """A coil, where there is one, and the trimmer from a node to ground."""
    between = start if len(row) == 1 else f"trimmer {which or ''}".strip()
    *coil, trimmer = parts_of(row)
    return [*(Branch(each, (start, between)) for each in coil), Branch(trimmer, (between, GROUND))]


def _whole(asked: Asked, branches: Iterable[Branch]) -> Circuit:
    return Circuit(tuple(branches), (Port(OUT, asked.port_ohm),), (Rail(RAIL, asked.circuit.supply_v),))


def _rest(asked: Asked, values: Mapping[Key, float]) -> list[Branch]:
    """Both transistors with their parts, without what is switched."""
    found: list[Branch] = []

    def put(key: Key, a: str, b: str, q: float | None = None) -> None:
        if key in values:
            found.append(Branch(part(FAMILY, *key, values[key], q), (a, b)))

    put(("feed", None), RAIL, FED)
    put(("decoupling", OSCILLATOR), FED, GROUND)
    put(("bias_upper", OSCILLATOR), FED, BASE)
    put(("bias_lower", OSCILLATOR), BASE, GROUND)
    put(("bias_gate", None), BASE, GROUND)
    put(("feedback_upper", None), BASE, EMITTER, CAPACITOR_Q)
    put(("feedback_lower", None), EMITTER, GROUND, CAPACITOR_Q)
    put(("bias_emitter", OSCILLATOR), EMITTER, GROUND)
    below = "below source" if ("choke", OSCILLATOR) in values else EMITTER
    put(("choke", OSCILLATOR), EMITTER, below, CHOKE_Q)
    put(("bias_source", None), below, GROUND)
    ref = reference(FAMILY, "transistor", OSCILLATOR)
    transistor = Transistor(ref, device_of(asked).model, "transistor", OSCILLATOR)
    found.append(Branch(transistor, (FED, BASE, EMITTER)))
    before = "before buffer" if ("input_resistor", None) in values else _BUFFER_BASE
    put(("coupling", OSCILLATOR), EMITTER, before)
    put(("input_resistor", None), before, _BUFFER_BASE)
    put(("decoupling", BUFFER), RAIL, GROUND)
    put(("bias_upper", BUFFER), RAIL, _BUFFER_BASE)
    put(("bias_lower", BUFFER), _BUFFER_BASE, GROUND)
    ref = reference(FAMILY, "transistor", BUFFER)
    buffer = Transistor(ref, devices()[asked.circuit.buffer].model, "transistor", BUFFER)
    found.append(Branch(buffer, (_COLLECTOR, _BUFFER_BASE, _BUFFER_EMITTER)))
    put(("degeneration", None), _BUFFER_EMITTER, _BUFFER_LOW)
    put(("bias_emitter", BUFFER), _BUFFER_LOW, GROUND)
    put(("bypass", None), _BUFFER_LOW, GROUND)
    put(("choke", BUFFER), RAIL, _COLLECTOR, CHOKE_Q)
    put(("coupling", BUFFER), _COLLECTOR, OUT)
    return found


def bias_ohm(asked: Asked, values: Mapping[Key, float]) -> float:
    """What the bias puts behind base and emitter, or gate and source, of the oscillator, as its mean output
    current sees it [ohm].
    """
    if is_jfet(asked):
        return values["bias_source", None]
    of = device_of(asked).model
    assert isinstance(of, Bipolar)
    upper, lower = values["bias_upper", OSCILLATOR], values["bias_lower", OSCILLATOR]
    base_ohm = upper * lower / (upper + lower) + of.base_ohm
    return values["bias_emitter", OSCILLATOR] * (1 + 1 / of.current_gain) + base_ohm / of.current_gain
