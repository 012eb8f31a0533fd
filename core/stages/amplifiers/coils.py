"""The choke and the output transformer of an amplifier as they are wound on a core."""

from collections.abc import Mapping
from math import pi

from core.model.stages.built_amplifier import WITH_COILS, BuiltAmplifier
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.stages.amplifiers.topologies import BOARDS, Winding
from core.stages.coils.winding import at_least, broadband, known
from core.stages.outcome import Unsolved
from core.stages.wound import Wound

#: A choke of any make, H.
CHOKE_H = 47e-6
#: Turns of an output transformer: 200 ohm at the collector of a feedback stage; 16 to 1 at a drain.
_RATIOS = {"feedback_transformer": 2, "common_gate": 4}
#: Reactance of the smaller winding at the lowest frequency of use over the impedance [-]; common practice.
_REACTANCE, _LOWEST_HZ = 4.0, 1.8e6
#: What the windings are called, a transformer's first and second one.
CHOKE = reference("amplifier", "choke")
_TRANSFORMER = reference("amplifier", "output_transformer")
FIRST, SECOND = f"{_TRANSFORMER}, first winding", f"{_TRANSFORMER}, second winding"

#: Windings by what they are called.
Coils = Mapping[str, Wound]


def coils_of(stage: BuiltAmplifier) -> Coils | Unsolved:
    """The choke and the windings of the output transformer on their core; empty where none was chosen."""
    if not stage.core or stage.topology not in WITH_COILS:
        return {}
    core, ratio = known(stage.core), _RATIOS.get(stage.topology)
    if isinstance(core, Unsolved):
        return core
    found: dict[str, Wound] = {}
    if any(slot.role == "choke" for slot in BOARDS[stage.topology]):
        choke = at_least(core, CHOKE_H, stage.designed_at_hz)
        if isinstance(choke, Unsolved):
            return choke
        found[CHOKE] = choke
    if ratio is not None:
        second = at_least(core, _least_h(stage), stage.designed_at_hz, beside=ratio)
        if isinstance(second, Unsolved):
            return second
        turns = ratio * second.turns
        first = broadband(core, turns, stage.designed_at_hz, beside=second.turns)
        if isinstance(first, Unsolved):
            return first
        found |= {FIRST: first, SECOND: second}
    return found


def winding_of(stage: BuiltAmplifier, coils: Coils) -> Winding | None:
    """The output transformer, with the inductance that its turns or its use give it; None without one."""
    ratio = _RATIOS.get(stage.topology)
    if ratio is None:
        return None
    return Winding(ratio, coils[SECOND].inductance_h if SECOND in coils else _least_h(stage))


def note_of(winding: Winding, coils: Coils) -> str:
    """How the transformer is wound, for a parts list."""
    if SECOND not in coils:
        return f"turns {winding.ratio} to 1, the smaller winding {1e6 * winding.secondary_h:.0f} µH or more"
    first, second = coils[FIRST], coils[SECOND]
    metres = format_value(first.length_m + second.length_m, "m", 2)
    return (
        f"{first.turns} and {second.turns} turns on {second.on}, {1e3 * second.wire_m:g} mm wire, {metres} "
        "of it with leads"
    )


def _least_h(stage: BuiltAmplifier) -> float:
    """What the smaller winding must have for the lowest band, H."""
    return _REACTANCE * stage.system_ohm / (2 * pi * _LOWEST_HZ)
