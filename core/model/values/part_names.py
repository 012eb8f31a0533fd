"""What parts are called.

A part's role and number are its identity; its reference is for people. The table below is the one place
where a reference's letters are made, and nothing reads them back.
"""

from core.model.values.parts import Family, NamedKind, Role, Which, taken_apart
from core.record import record


@record
class Naming:
    """What parts of a role are in a circuit: their kind, and the letters of their references."""

    kind: NamedKind
    letters: str


_LADDER: dict[Role, Naming] = {
    "crystal": Naming("crystal", "X"),
    "coupling": Naming("capacitor", "C"),
    "series": Naming("capacitor", "CS"),
    "match_coil": Naming("inductor", "LM"),
    "match_capacitor": Naming("capacitor", "CM"),
    "match_transformer": Naming("transformer", "T"),
}
_BAND_PASS: dict[Role, Naming] = {
    "coil": Naming("inductor", "L"),
    "resonator": Naming("capacitor", "C"),
    "coupling": Naming("capacitor", "CC"),
    "end": Naming("capacitor", "CE"),
    "tap_upper": Naming("capacitor", "CA"),
    "tap_lower": Naming("capacitor", "CB"),
    "link": Naming("transformer", "T"),
    "mutual": Naming("coupling", "K"),
}
_LOW_PASS: dict[Role, Naming] = {
    "shunt": Naming("capacitor", "C"),
    "coil": Naming("inductor", "L"),
    "trap": Naming("capacitor", "CT"),
}
_TANK: dict[Role, Naming] = {
    "coil": Naming("inductor", "L1"),
    "tuning": Naming("capacitor", "CV"),
    "padder": Naming("capacitor", "CS"),
    "parallel": Naming("capacitor", "CP"),
    "trimmer": Naming("capacitor", "CT"),
    "shift": Naming("capacitor", "CB"),
    "compensating": Naming("capacitor", "CK"),
    "differential": Naming("capacitor", "CD"),
    "differential_cold": Naming("capacitor", "CD cold"),
    "feedback_upper": Naming("capacitor", "C1"),
    "feedback_lower": Naming("capacitor", "C2"),
    "coupling": Naming("capacitor", "CC"),
    "bias_gate": Naming("resistor", "RG"),
    "bias_upper": Naming("resistor", "RB1"),
    "bias_lower": Naming("resistor", "RB2"),
    "bias_source": Naming("resistor", "RS"),
    "bias_emitter": Naming("resistor", "RE"),
    "choke": Naming("inductor", "LC"),
    "load": Naming("resistor", "buffer"),
    "decoupling": Naming("capacitor", "CD1"),
    "stray": Naming("capacitor", ""),
    "device": Naming("resistor", "device"),
}
_CRYSTAL_OSCILLATOR: dict[Role, Naming] = {
    "crystal": Naming("crystal", "X"),
    "coil": Naming("inductor", "L"),
    "trimmer": Naming("capacitor", "CT"),
    "feedback_upper": Naming("capacitor", "C1"),
    "feedback_lower": Naming("capacitor", "C2"),
    "transistor": Naming("transistor", "Q"),
    "bias_upper": Naming("resistor", "RBU"),
    "bias_lower": Naming("resistor", "RBL"),
    "bias_gate": Naming("resistor", "RG"),
    "bias_emitter": Naming("resistor", "RE"),
    "bias_source": Naming("resistor", "RS"),
    "degeneration": Naming("resistor", "RD"),
    "bypass": Naming("capacitor", "CE"),
    "coupling": Naming("capacitor", "CC"),
    "input_resistor": Naming("resistor", "RI"),
    "damping_resistor": Naming("resistor", "RZ"),
    "choke": Naming("inductor", "LC"),
    "feed": Naming("resistor", "RV"),
    "decoupling": Naming("capacitor", "CD"),
    "relay": Naming("relay", "K"),
}
_AMPLIFIER: dict[Role, Naming] = {
    "transistor": Naming("transistor", "Q"),
    "coupling": Naming("capacitor", "C"),
    "bias_upper": Naming("resistor", "RB1"),
    "bias_lower": Naming("resistor", "RB2"),
    "bias_gate": Naming("resistor", "RG"),
    "feedback": Naming("resistor", "RF"),
    "feedback_block": Naming("capacitor", "CF"),
    "degeneration": Naming("resistor", "RD"),
    "emitter": Naming("resistor", "RE"),
    "bypass": Naming("capacitor", "CE"),
    "collector": Naming("resistor", "RC"),
    "source": Naming("resistor", "RS"),
    "choke": Naming("inductor", "LC"),
    "output_resistor": Naming("resistor", "RO"),
    "output_transformer": Naming("transformer", "T"),
}
#: Every part of a pair has a number, so that the two of the divider are told apart by letters.
_PAIR: dict[Role, Naming] = _AMPLIFIER | {
    "bias_upper": Naming("resistor", "RBU"),
    "bias_lower": Naming("resistor", "RBL"),
}
_POWER: dict[Role, Naming] = {
    "transistor": Naming("transistor", "Q"),
    "input_transformer": Naming("transformer", "TI"),
    "coupling": Naming("capacitor", "C"),
    "swamping": Naming("resistor", "RS"),
    "swamping_block": Naming("capacitor", "CS"),
    "bias_upper": Naming("resistor", "RBU"),
    "bias_trimmer": Naming("resistor", "RV"),
    "bias_lower": Naming("resistor", "RBL"),
    "thermistor": Naming("resistor", "RT"),
    "tracker": Naming("transistor", "QT"),
    "bias_choke": Naming("inductor", "LB"),
    "bypass": Naming("capacitor", "CB"),
    "feedback": Naming("resistor", "RF"),
    "feedback_block": Naming("capacitor", "CF"),
    "degeneration": Naming("resistor", "RD"),
    "choke": Naming("inductor", "LC"),
    "decoupling": Naming("capacitor", "CD"),
    "output_transformer": Naming("transformer", "TO"),
    "match_coil": Naming("inductor", "LM"),
    "match_capacitor": Naming("capacitor", "CM"),
}
_AUDIO: dict[Role, Naming] = {
    "transistor": Naming("transistor", "Q"),
    "chip": Naming("chip", "U"),
    "electret": Naming("resistor", "RM"),
    "input_load": Naming("resistor", "RI"),
    "coupling": Naming("capacitor", "C"),
    "bias_upper": Naming("resistor", "RB1"),
    "bias_lower": Naming("resistor", "RB2"),
    "bias_bypass": Naming("capacitor", "CB"),
    "bias_gate": Naming("resistor", "RG"),
    "feedback": Naming("resistor", "RF"),
    "gain_resistor": Naming("resistor", "RK"),
    "gain_block": Naming("capacitor", "CK"),
    "load": Naming("resistor", "RL"),
    "degeneration": Naming("resistor", "RD"),
    "emitter": Naming("resistor", "RE"),
    "source": Naming("resistor", "RS"),
    "bypass": Naming("capacitor", "CE"),
    "high_cut": Naming("capacitor", "CH"),
    "feed": Naming("resistor", "RV"),
    "feed_bypass": Naming("capacitor", "CV"),
    "output_resistor": Naming("resistor", "RO"),
}
_AUDIO_POWER: dict[Role, Naming] = {
    "transistor": Naming("transistor", "Q"),
    "chip": Naming("chip", "U"),
    "coupling": Naming("capacitor", "C"),
    "input_resistor": Naming("resistor", "RI"),
    "feedback": Naming("resistor", "RF"),
    "bias_lower": Naming("resistor", "RB"),
    "load": Naming("resistor", "RL"),
    "bootstrap": Naming("capacitor", "CB"),
    "bias_bypass": Naming("capacitor", "CP"),
    "emitter": Naming("resistor", "RE"),
    "gain_resistor": Naming("resistor", "RK"),
    "gain_block": Naming("capacitor", "CK"),
    "high_cut": Naming("capacitor", "CH"),
    "feed": Naming("resistor", "RV"),
    "feed_bypass": Naming("capacitor", "CV"),
    "damping_resistor": Naming("resistor", "RZ"),
    "damping_capacitor": Naming("capacitor", "CZ"),
    "output_resistor": Naming("resistor", "RO"),
}
_VOLUME: dict[Role, Naming] = {"potentiometer": Naming("resistor", "P")}
_SUPPLY: dict[Role, Naming] = {
    "supply_connector": Naming("connector", "J"),
    "fuse": Naming("fuse", "F"),
    "on_switch": Naming("switch", "S"),
    "polarity_diode": Naming("diode", "D"),
    "polarity_mosfet": Naming("transistor", "QP"),
    "polarity_gate": Naming("resistor", "RP"),
    "polarity_zener": Naming("diode", "DP"),
    "suppressor": Naming("diode", "DT"),
    "smoothing": Naming("capacitor", "CF"),
    "regulator": Naming("regulator", "U"),
    "regulator_input": Naming("capacitor", "CI"),
    "regulator_output": Naming("capacitor", "CO"),
    "adjust_upper": Naming("resistor", "RA"),
    "adjust_lower": Naming("resistor", "RB"),
    "relay": Naming("relay", "K"),
    "let_go_diode": Naming("diode", "DK"),
    "let_go_zener": Naming("diode", "DZ"),
    "relay_driver": Naming("transistor", "QK"),
    "relay_base": Naming("resistor", "RK"),
    "rail_switch": Naming("transistor", "QR"),
    "rail_pull": Naming("resistor", "RR"),
    "rail_control": Naming("resistor", "RC"),
    "rail_driver": Naming("transistor", "QD"),
    "rail_base": Naming("resistor", "RD"),
    "decoupling_resistor": Naming("resistor", "RF"),
    "decoupling_choke": Naming("inductor", "LF"),
    "decoupling_capacitor": Naming("capacitor", "CD"),
}
_MIXER: dict[Role, Naming] = {
    "diode": Naming("diode", "D"),
    "transformer": Naming("transformer", "T"),
    "potentiometer": Naming("resistor", "RV"),
    "balance_resistor": Naming("resistor", "RS"),
    "trimmer": Naming("capacitor", "CV"),
    "balance_capacitor": Naming("capacitor", "CS"),
    "termination": Naming("resistor", "RT"),
    "termination_block": Naming("capacitor", "CT"),
    "choke": Naming("inductor", "LC"),
    "bypass": Naming("capacitor", "CB"),
    "coupling": Naming("capacitor", "C"),
    "stray": Naming("resistor", "core "),
    "transistor": Naming("transistor", "Q"),
    "degeneration": Naming("resistor", "RD"),
    "emitter": Naming("resistor", "RE"),
    "oscillator_load": Naming("resistor", "RO"),
    "input_load": Naming("resistor", "RI"),
    "load": Naming("resistor", "RL"),
    "collector": Naming("resistor", "RC"),
    "bias_upper": Naming("resistor", "RBU"),
    "bias_middle": Naming("resistor", "RBM"),
    "bias_lower": Naming("resistor", "RBL"),
    "high_cut": Naming("capacitor", "CH"),
}
#: Every role that the parts of a circuit may have.
NAMES: dict[Family, dict[Role, Naming]] = {
    "ladder": _LADDER,
    "band_pass": _BAND_PASS,
    "low_pass": _LOW_PASS,
    "tank": _TANK,
    "crystal_oscillator": _CRYSTAL_OSCILLATOR,
    "amplifier": _AMPLIFIER,
    "pair": _PAIR,
    "power": _POWER,
    "audio": _AUDIO,
    "audio_power": _AUDIO_POWER,
    "volume": _VOLUME,
    "supply": _SUPPLY,
    "mixer": _MIXER,
}


def reference(family: Family, role: Role, which: Which = None) -> str:
    """What a part is called on paper, as in `C3` or `CB20m`.

    >>> reference("ladder", "series", 3), reference("tank", "shift", "20m"), reference("tank", "padder")
    ('CS3', 'CB20m', 'CS')
    """
    return f"{NAMES[family][role].letters}{'' if which is None else which}"


def spelled(family: Family, key: str) -> str:
    """What a part is called whose key this is, as in `X1.lm`; what no part is called is left as it is."""
    role, which, figure = taken_apart(key)
    if role == "other" and which:
        return which
    naming = NAMES[family].get(role)  # type: ignore[call-overload]
    return key if naming is None else f"{naming.letters}{which or ''}{figure and f'.{figure}'}"
