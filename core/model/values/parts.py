"""What a part is: the circuit it is of, its role and number, which are its identity, and its kind."""

from typing import Literal

#: The circuits whose parts have names: three kinds of filter, the VFO's tank, a crystal oscillator,
#: amplifiers, pairs of them, power amplifiers, audio amplifiers and power stages, a volume control, the
#: supply, and mixers.
Family = Literal[
    "ladder",
    "band_pass",
    "low_pass",
    "tank",
    "crystal_oscillator",
    "amplifier",
    "pair",
    "power",
    "audio",
    "audio_power",
    "volume",
    "supply",
    "mixer",
]
Role = Literal[
    "crystal",
    "coil",
    "coupling",
    "series",
    "shunt",
    "trap",
    "resonator",
    "end",
    "tap_upper",
    "tap_lower",
    "link",
    "mutual",
    "match_coil",
    "match_capacitor",
    "match_transformer",
    "tuning",
    "padder",
    "parallel",
    "trimmer",
    "shift",
    "compensating",
    "differential",
    "differential_cold",
    "feedback_upper",
    "feedback_lower",
    "bias_gate",
    "bias_upper",
    "bias_lower",
    "bias_source",
    "bias_emitter",
    "choke",
    "load",
    "decoupling",
    "stray",
    "device",
    "transistor",
    "feedback",
    "feedback_block",
    "degeneration",
    "emitter",
    "bypass",
    "collector",
    "source",
    "output_resistor",
    "output_transformer",
    "input_transformer",
    "swamping",
    "swamping_block",
    "bias_trimmer",
    "bias_choke",
    "thermistor",
    "tracker",
    "chip",
    "electret",
    "input_load",
    "input_resistor",
    "high_cut",
    "feed",
    "feed_bypass",
    "bias_bypass",
    "gain_resistor",
    "gain_block",
    "bootstrap",
    "damping_resistor",
    "damping_capacitor",
    "potentiometer",
    "supply_connector",
    "fuse",
    "on_switch",
    "polarity_diode",
    "polarity_mosfet",
    "polarity_gate",
    "polarity_zener",
    "suppressor",
    "smoothing",
    "regulator",
    "regulator_input",
    "regulator_output",
    "adjust_upper",
    "adjust_lower",
    "relay",
    "let_go_diode",
    "let_go_zener",
    "relay_driver",
    "relay_base",
    "rail_switch",
    "rail_pull",
    "rail_control",
    "rail_driver",
    "rail_base",
    "decoupling_resistor",
    "decoupling_choke",
    "decoupling_capacitor",
    "diode",
    "transformer",
    "balance_resistor",
    "balance_capacitor",
    "termination",
    "termination_block",
    "oscillator_load",
    "bias_middle",
    "other",
]
#: Which one of its role: a number along the signal, or the name of the band that it is switched in for.
Which = int | str | None

#: A transistor has a type instead of a value.
TYPE = "type"
UNIT_OF_KIND = {
    "resistor": "Ω",
    "inductor": "H",
    "capacitor": "F",
    "crystal": "Hz",
    "coupling": "-",
    "transformer": "-",
    "transistor": TYPE,
    "chip": TYPE,
    "diode": TYPE,
    "fuse": TYPE,
    "connector": TYPE,
    "switch": TYPE,
    "relay": TYPE,
    "regulator": TYPE,
}
#: Kinds of parts that have a type instead of a value.
TYPED = tuple(kind for kind, unit in UNIT_OF_KIND.items() if unit == TYPE)
#: What a part is: what has a value, what is wound or coupled, and what has a type.
NamedKind = Literal[
    "resistor",
    "inductor",
    "capacitor",
    "crystal",
    "coupling",
    "transformer",
    "transistor",
    "chip",
    "diode",
    "fuse",
    "connector",
    "switch",
    "relay",
    "regulator",
]

#: Roles of the parts that a shifted band has of its own, by its name: its capacitor and its trimmer.
SWITCHED: tuple[Role, ...] = ("shift", "trimmer")
#: Roles of the parts that bring a ladder's end resistance to that around it.
END_MATCH: frozenset[Role] = frozenset({"match_coil", "match_capacitor", "match_transformer"})
#: Figures of a crystal that are told beside its series resonance.
CRYSTAL_FIGURES = ("lm", "c0", "q")


#: Of these the kinds that have a value and two leads.
ValuedKind = Literal["resistor", "inductor", "capacitor", "crystal", "coupling"]


def valued(kind: NamedKind) -> ValuedKind:
    """The same kind, of a part that has a value and two leads."""
    assert kind in ("resistor", "inductor", "capacitor", "crystal", "coupling"), kind
    return kind


def key(role: str, which: Which = None, figure: str = "") -> str:
    """The identity of a part as it is written in a file; `figure` is a crystal's other one.

    >>> key("coupling", 3), key("shift", "20m"), key("padder"), key("crystal", "1A", "lm")
    ('coupling:3', 'shift:20m', 'padder', 'crystal:1A.lm')
    """
    return f"{role}{'' if which is None else f':{which}'}{figure and f'.{figure}'}"


def crystal_keys(which: Which) -> tuple[str, ...]:
    """The keys of a crystal's series resonance and of its other figures."""
    return tuple(key("crystal", which, figure) for figure in ("", *CRYSTAL_FIGURES))


def taken_apart(key: str) -> tuple[str, str | None, str]:
    """Role, number or name, and figure of a key."""
    role, colon, which = key.partition(":")
    figure = ""
    if role == "crystal":
        which, _, figure = which.partition(".")
    return role, which if colon else None, figure
