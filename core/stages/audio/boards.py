"""How audio amplifiers are soldered: each circuit as its parts between nodes, by role and number.

The direct-coupled pair and the complementary output with its driver's load lifted by a capacitor are as in
the textbooks on audio; from memory.
"""

from collections.abc import Mapping
from dataclasses import replace

from core.circuits.circuit import (
    GROUND,
    Branch,
    Circuit,
    Device,
    Part,
    Port,
    Rail,
    Transistor,
)
from core.circuits.devices.chips import BYPASS_PIN, Chip, ChipDevice
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import Family, Role, Which, valued
from core.stages.parts import Key

SUPPLY, FED = "supply", "fed"
#: A place on the board: role, number and nodes of its leads.
Slot = tuple[Role, Which, tuple[str, ...]]

_FEED: tuple[Slot, ...] = (
    ("feed", None, (SUPPLY, FED)),
    ("feed_bypass", None, (FED, GROUND)),
    ("electret", None, (FED, "in")),
    ("input_load", None, ("in", GROUND)),
)
_OUT: tuple[Slot, ...] = (("coupling", 2, ("c", "out")),)
BOARDS: dict[str, tuple[Slot, ...]] = {
    "single": (
        *_FEED,
        ("coupling", 1, ("in", "b")),
        ("bias_upper", None, (FED, "b")),
        ("bias_lower", None, ("b", GROUND)),
        ("transistor", 1, ("c", "b", "e")),
        ("degeneration", None, ("e", "x")),
        ("emitter", 1, ("x", GROUND)),
        ("bypass", None, ("x", GROUND)),
        ("load", None, (FED, "c")),
        ("high_cut", None, ("c", GROUND)),
        *_OUT,
    ),
    "single_jfet": (
        *_FEED,
        ("coupling", 1, ("in", "g")),
        ("bias_gate", None, ("g", GROUND)),
        ("transistor", 1, ("c", "g", "s")),
        ("degeneration", None, ("s", "x")),
        ("source", None, ("x", GROUND)),
        ("bypass", None, ("x", GROUND)),
        ("load", None, (FED, "c")),
        ("high_cut", None, ("c", GROUND)),
        *_OUT,
    ),
    "pair": (
        *_FEED,
        ("coupling", 1, ("in", "b")),
        ("feedback", None, ("e1", "b")),
        ("transistor", 1, ("c", "b", "e")),
        ("degeneration", None, ("e", GROUND)),
        ("load", None, (FED, "c")),
        ("high_cut", None, ("c", GROUND)),
        ("transistor", 2, (FED, "c", "e2")),
        ("emitter", 1, ("e2", "e1")),
        ("emitter", 2, ("e1", GROUND)),
        ("bypass", None, ("e1", GROUND)),
        ("coupling", 2, ("e2", "out")),
    ),
    "operational": (
        *_FEED,
        ("coupling", 1, ("in", "p")),
        ("bias_upper", None, (FED, "m")),
        ("bias_lower", None, ("m", GROUND)),
        ("bias_bypass", None, ("m", GROUND)),
        ("bias_gate", None, ("m", "p")),
        ("chip", None, ("o", "p", "n", FED)),
        ("feedback", None, ("o", "n")),
        ("high_cut", None, ("o", "n")),
        ("gain_resistor", None, ("n", "k")),
        ("gain_block", None, ("k", GROUND)),
        ("output_resistor", None, ("o", "c")),
        *_OUT,
    ),
    "chip": (
        ("coupling", 1, ("in", "i")),
        ("chip", None, ("o", "i", "g1", "g8", SUPPLY)),
        ("gain_resistor", None, ("g1", "k")),
        ("gain_block", None, ("k", "g8")),
        # What the supply's rejection in the table is stated with.
        ("bias_bypass", None, (BYPASS_PIN, GROUND)),
        ("damping_resistor", None, ("o", "z")),
        ("damping_capacitor", None, ("z", GROUND)),
        ("coupling", 2, ("o", "y")),
        ("output_resistor", None, ("y", "out")),
        ("feed_bypass", None, (SUPPLY, GROUND)),
    ),
    "complementary": (
        ("input_resistor", None, ("in", "i")),
        ("coupling", 1, ("i", "b")),
        ("bias_lower", None, ("b", GROUND)),
        ("feedback", None, ("m", "b")),
        ("high_cut", None, ("c", "b")),
        ("transistor", 1, ("c", "b", GROUND)),
        # Two transistors as diodes between the bases, which follow the heat of the pair.
        ("transistor", 4, ("d", "d", "c")),
        ("transistor", 5, ("u", "u", "d")),
        ("load", 1, ("v", "u")),
        ("load", 2, (SUPPLY, "v")),
        ("bootstrap", None, ("m", "v")),
        ("transistor", 2, (SUPPLY, "u", "e2")),
        ("emitter", 1, ("e2", "m")),
        ("emitter", 2, ("m", "e3")),
        ("transistor", 3, (GROUND, "c", "e3")),
        ("damping_resistor", None, ("m", "z")),
        ("damping_capacitor", None, ("z", GROUND)),
        ("coupling", 2, ("m", "y")),
        ("output_resistor", None, ("y", "out")),
        ("feed_bypass", None, (SUPPLY, GROUND)),
    ),
}
#: Of a power stage: what is left out where it has no value, so that its two nodes are one.
_ONE_NODE: dict[Role, tuple[str, str]] = {"output_resistor": ("y", "out"), "gain_resistor": ("k", "g1")}
#: The transistor of the pair that is a pnp one.
_PNP = {("complementary", 3)}


def soldered(
    board: str,
    values: Mapping[Key, float],
    ends: tuple[float, float, float],
    device: Device | None = None,
    chip: ChipDevice | None = None,
) -> Circuit:
    """The circuit with these values [SI], parts without one left out; `ends` are source and load [ohm] and
    the supply [V].
    """
    family: Family = "audio_power" if board in ("chip", "complementary") else "audio"
    joined: dict[str, str] = {}
    for role, (gone, kept) in _ONE_NODE.items():
        if family == "audio_power" and (role, None) not in values:
            joined[gone] = kept
    made = []
    for role, which, named in BOARDS[board]:
        nodes = tuple(joined.get(node, node) for node in named)
        kind, ref = NAMES[family][role].kind, reference(family, role, which)
        if kind == "transistor":
            assert device is not None
            made.append(Branch(Transistor(ref, _turned(board, which, device), role, which), nodes))
        elif kind == "chip":
            assert chip is not None
            made.append(Branch(Chip(ref, chip, role, which), nodes))
        elif (role, which) in values:
            made.append(Branch(Part(ref, valued(kind), values[role, which], role=role, which=which), nodes))
    source_ohm, load_ohm, supply_v = ends
    ports = (Port("in", source_ohm), Port("out", load_ohm))
    return Circuit(tuple(made), ports, (Rail(SUPPLY, supply_v),))


def _turned(board: str, which: Which, device: Device) -> Device:
    return replace(device, sign=-1) if (board, which) in _PNP else device
