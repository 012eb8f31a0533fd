"""How the model's words are spelled on screen."""

import re
from functools import lru_cache
from typing import Any

from core.model.bands import SCHEME_WORDS
from core.model.project import Project
from core.model.stages.stage import Way
from core.model.values.base import Model, Path
from core.model.values.errors import DesignError
from core.model.values.quantities import spelled
from core.stages.kinds.table import KINDS
from core.trade.audio import audio_chips
from core.trade.devices import devices
from core.trade.devices import spelled as spelled_device
from core.trade.diodes import diodes
from core.trade.supply.feeding import polarity_diodes, polarity_mosfets, regulators, supply_parts

#: Values of the model's choices, in full; `field.value` where it hangs on the field.
_CHOICES: dict[str, str] = {
    **SCHEME_WORDS,
    "butterworth": "Butterworth",
    "chebyshev": "Chebyshev",
    "equal_coupling": "equal coupling",
    "paired_ends": "paired ends",
    "chebyshev_trap": "Chebyshev, traps",
    "traps.second": "second harmonic",
    "second_and_third": "second and third",
    "second_of_each_band": "second, every band",
    "exact": "exact values",
    "junk_box": "junk box",
    "E12_pairs": "pairs of E12",
    "E24_pairs": "pairs of E24",
    "l_network": "L-network",
    "feedback": "one with feedback",
    "feedback_transformer": "with transformer",
    "three_transistors": "three transistors",
    "topology.pair": "direct-coupled pair",
    "operational": "op-amp",
    "topology.chip": "chip",
    "complementary": "complementary pair",
    **{name: row.name for name, row in audio_chips().items()},
    "common_source": "one MOSFET",
    "common_gate": "common gate",
    "jfet": "junction FET",
    "mosfet": "MOSFET",
    **{name: spelled_device(row) for name, row in devices().items()},
    "emitter_follower": "emitter follower",
    "source_follower": "source follower",
    "single": "one transistor",
    "topology.parallel": "two in parallel",
    "push_pull": "push-pull",
    "working_class.a": "A",
    "working_class.ab": "AB",
    "working_class.b": "B",
    "match.l": "L",
    "match.pi": "pi",
    "tracking.diode": "diodes",
    "level": "typed-in level",
    "as_designed": "without loss",
    "for_the_crystals": "with their Q",
    "top_capacitor": "top capacitors",
    "shunt_capacitor": "shunt capacitors",
    "mutual_inductance": "inductive",
    "series_capacitor": "series capacitors",
    "tapped_capacitor": "tapped capacitors",
    "tapped_coil": "tapped coils",
    "link": "link windings",
    "two_diode": "two-diode balanced",
    "ring": "four-diode ring",
    "transistor_array": "transistor array",
    "figures_from.type": "typical",
    "figures_from.circuit": "of its circuit",
    "as_they_come": "as they come",
    "balance_trimmed.resistance": "potentiometer",
    "balance_trimmed.both": "pot and trimmer",
    "not_at_all": "nothing",
    **{name: f"{row.name}, {row.made}" for name, row in diodes().items()},
    "direction.vfo": "behind the VFO",
    "direction.carrier": "behind the carrier",
    "vfo": "VFO",
    "carrier": "carrier oscillator",
    "both": "both directions",
    "quiet_rural": "quiet rural",
    "by_hand": "by hand",
    "method.bandwidth": "−3 dB width",
    "method.series_capacitor": "series C shift",
    "method.parallel_capacitor": "fs and fp",
    "method.sweep": "sweep of S21",
    "of_file": "as the file states",
    "of_fixture": "source and load",
    "wire": "a wire",
    "available_power": "available power",
    "padder_and_parallel": "padder, parallel",
    "coil_and_parallel": "coil, parallel",
    "coil_and_padder": "coil, padder",
    "straight_capacitance": "even capacitance",
    "straight_frequency": "even frequency",
    "table": "as measured",
    "air_coil": "air coil",
    "iron_2": "iron, mix 2",
    "iron_6": "iron, mix 6",
    "iron_7": "iron, mix 7",
    "c0g": "C0G (NP0)",
    "silver_mica": "silver mica",
    "air_variable": "air variable",
    "line": "a line",
    "battery": "battery",
    "regulated": "regulated supply",
    "mains": "for the mains",
    "glass_fast": "glass, fast",
    "glass_slow": "glass, time-lag",
    "shunt_diode": "diode across",
    "series_diode": "diode in the lead",
    "p_mosfet": "P-channel MOSFET",
    "as_it_works": "as it works",
    "powered.both": "both",
    "antenna_and_supplies": "antenna, supplies",
    "other": "something else",
    "suppressor.none": "nothing",
    "diode_and_zener": "diode and Zener",
}
#: Temperature codes of capacitors: p100, n750.
_CODE = re.compile(r"[pn]\d+")
_SEVERITIES = {"fault": "Fault", "caution": "Caution", "note": "Note"}


#: Fields whose choices are parts of supplies.
_OF_TRADE = frozenset({"diode", "mosfet", "rail_mosfet", "type", "connector", "on_switch", "suppressor"})


@lru_cache(maxsize=1)
def _of_trade() -> dict[str, str]:
    """Parts of supplies by their names, which only their own page asks for."""
    found = {name: row.name for name, row in polarity_diodes().items()}
    found |= {name: row.name for name, row in polarity_mosfets().items()}
    found |= {name: row.name for name, row in supply_parts().items()}
    return found | {f"type.{name}": row.name for name, row in regulators().items()}


def choice(value: str, field: str = "") -> str:
    """A choice of the model, spelled out; some words mean something else in one `field`."""
    names = (f"{field}.{value}", value)
    spelled = next((_CHOICES[each] for each in names if each in _CHOICES), None)
    if spelled is None and field in _OF_TRADE:
        spelled = next((_of_trade()[each] for each in names if each in _of_trade()), None)
    return spelled or (value.upper() if _CODE.fullmatch(value) else value)


def kind(value: str) -> str:
    """A kind of stage, spelled out."""
    return KINDS[value].spelled


def severity(value: str) -> str:
    """A finding's severity."""
    return _SEVERITIES[value]


def band(name: str) -> str:
    """A band as builders write it: `20 m`, never broken at the end of a line."""
    return spelled(name).replace(" ", "\u00a0")


def way(value: Way) -> str:
    """A direction, as on its button."""
    return "Receive" if value == "receive" else "Transmit"


def counted(count: int, one: str, many: str = "") -> str:
    """`1 fault`, `3 faults`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def title_of(project: Project, path: Path) -> str:
    """What a place is called: the field's title, behind the name of the stage or band it belongs to."""
    owner = title = ""
    value: Any = project
    for depth, step in enumerate(path):
        field = type(value).model_fields.get(str(step)) if isinstance(value, Model) else None
        if field is not None:
            title = field.title or str(step)
        try:
            value = project.at(path[: depth + 1])
        except DesignError:
            break
        if isinstance(value, Model):
            owner = getattr(value, "name", "") or (title if field is not None else owner)
    if not owner or owner == title:
        return title
    return f"{owner}: {title[:1].lower()}{title[1:]}" if title[1:2].islower() else f"{owner}: {title}"
