"""Figures of fuse, lead, wrong polarity, regulators, relays and decoupling."""

from collections.abc import Callable
from typing import Any

from core.rig.figures.figure import Figure, Table, label
from core.rig.supply.parts import DecouplingFacts, RegulatorFacts, RelayFacts
from core.rig.supply.polarity import Backwards, FuseFacts, LeadFacts
from core.trade.supply.feeding import regulators

#: Where currents and voltages come from.
BIAS = "direct currents of the stage's circuit at its rail's voltage, or as typed"
STATE = "currents of all that is on, and what source, lead, contacts and fuse lose of the voltage"
_SCHEMES = {
    "none": "nothing",
    "shunt_diode": "diode across, with the fuse",
    "series_diode": "diode in the lead",
    "p_mosfet": "P-channel MOSFET in the lead",
}
_SWITCHES = {
    "antenna": "antenna",
    "antenna_and_supplies": "antenna and supplies",
    "supplies": "supplies",
    "other": "something else",
}


def scheme_words(scheme: str) -> str:
    """A way to stand against wrong polarity, in words."""
    return _SCHEMES[scheme]


def ampere(
    key: str, title: str, what: str, get: Callable[[Any], Any], source: str, **more: Any
) -> Figure[Any]:
    """A figure that is a current."""
    return Figure(key=key, title=title, what=what, source=source, get=get, unit="A", **more)


FUSE: Table[FuseFacts] = (
    label("fuse", "fuse", lambda f: f.name),
    ampere("rated_a", "rated", "Its rated current.", lambda f: f.rated_a, "the project", absent="none"),
    ampere(
        "running_a",
        "largest current",
        "The largest steady current of the rig.",
        lambda f: f.running_a,
        STATE,
    ),
    ampere(
        "carries_a",
        "carries",
        "What the fuse carries for long.",
        lambda f: f.carries_a,
        "its rating times the share that it is loaded to",
    ),
    ampere(
        "wire_a",
        "lead bears",
        "What the lead bears for long.",
        lambda f: f.wire_a,
        "table of leads; from memory",
    ),
    ampere(
        "proposed_a",
        "proposed",
        "The smallest rating that carries the current and that the lead bears.",
        lambda f: f.proposed_a,
        "preferred ratings of IEC 60127 and ISO 8820-3",
    ),
    ampere(
        "short_a",
        "short circuit",
        "What flows into a short circuit in the rig.",
        lambda f: f.short_a,
        "highest voltage over the resistance of source, lead, contacts and fuse, or the source's limit",
        digits=2,
    ),
    Figure(
        key="blows_s",
        title="opens within",
        what="The longest that the fuse takes to open then.",
        source="limits of IEC 60127-2 and ISO 8820-3, from memory; beyond them I²t stays the same",
        get=lambda f: f.blows_s,
        unit="s",
        digits=2,
        absent="nothing is promised",
    ),
    Figure(
        key="cold_ohm",
        title="cold",
        what="Resistance of the fuse when cold.",
        source="table of fuses; from memory",
        get=lambda f: f.cold_ohm,
        unit="Ω",
        digits=2,
    ),
    Figure(
        key="melting_a2s",
        title="melting I²t",
        what="What melts a fuse of middle make.",
        source="table of fuses; from memory, makes differ by a factor of two",
        get=lambda f: f.melting_a2s,
        unit="A²s",
        digits=2,
    ),
)

LEAD: Table[LeadFacts] = (
    Figure(
        key="gauge",
        title="wire, AWG",
        what="American wire gauge of the lead.",
        source="the project",
        get=lambda x: float(x.gauge),
        unit="-",
    ),
    Figure(
        key="length_m",
        title="length",
        what="From source to rig, one way.",
        source="the project",
        get=lambda x: x.length_m,
        unit="m",
    ),
    Figure(
        key="ohm",
        title="both wires",
        what="Resistance of both wires.",
        source="copper at 20 °C, 17.24 nΩm, diameter by ASTM B258",
        get=lambda x: x.ohm,
        unit="Ω",
    ),
    Figure(
        key="lead_v",
        title="lost in it",
        what="Voltage lost in the lead at the largest current.",
        source="Ohm's law",
        get=lambda x: x.lead_v,
        unit="V",
    ),
    Figure(
        key="lost_v",
        title="lost up to the rig",
        what="Voltage lost in source, lead, contacts, fuse and what stands against wrong polarity, at most.",
        source=STATE,
        get=lambda x: x.lost_v,
        unit="V",
    ),
    Figure(
        key="proposed_gauge",
        title="proposed, AWG",
        what="The thinnest wire that bears the fuse and loses at most 4 % of the supply.",
        source="4 % is common practice, no source",
        get=lambda x: None if x.proposed is None else float(x.proposed),
        unit="-",
        absent="none",
    ),
)

POLARITY: Table[Backwards] = (
    label("scheme", "against wrong polarity", lambda b: b.scheme, words=scheme_words),
    label("part", "part", lambda b: b.part),
    Figure(
        key="chosen",
        title="chosen",
        what="Whether the rig has it.",
        source="the project",
        get=lambda b: b.chosen,
    ),
    Figure(
        key="drop_v",
        title="drops",
        what="Voltage that it costs at the largest current.",
        source="forward voltage between two points of a data sheet, or resistance when on; from memory",
        get=lambda b: b.drop_v,
        unit="V",
        digits=2,
    ),
    Figure(
        key="loss_w",
        title="heat",
        what="Heat in it at the largest current.",
        source="voltage times current",
        get=lambda b: b.loss_w,
        unit="W",
        digits=2,
    ),
    Figure(
        key="safe",
        title="survives",
        what="Whether rig and part survive a supply that is connected backwards.",
        source="the fuse's longest time to open against the surge that the diode bears so long; from memory",
        get=lambda b: b.outcome.safe,
    ),
    Figure(
        key="fault_a",
        title="backwards",
        what="The current that flows when the supply is connected backwards.",
        source="voltage over the resistance of source, lead, contacts and fuse, or the source's limit",
        get=lambda b: b.outcome.fault_a,
        unit="A",
        digits=2,
        absent="none",
    ),
    Figure(
        key="opens_s",
        title="fuse opens within",
        what="The longest until the fuse opens.",
        source="limits of IEC 60127-2 and ISO 8820-3, from memory",
        get=lambda b: b.outcome.opens_s,
        unit="s",
        digits=2,
    ),
    Figure(
        key="bears_a",
        title="diode bears",
        what="The direct current that the diode survives for so long.",
        source="surge of one half-wave as I²t, beyond it with the fourth root of time; from memory",
        get=lambda b: b.outcome.bears_a,
        unit="A",
        digits=2,
    ),
    Figure(
        key="happens",
        title="what happens",
        what="What happens when the supply is connected backwards.",
        source="fuse and diode as above",
        get=lambda b: b.outcome.words,
    ),
)

REGULATORS: Table[RegulatorFacts] = (
    label("name", "regulator", lambda r: r.regulator.name),
    label("type", "type", lambda r: r.regulator.type, words=lambda word: regulators()[word].name),
    Figure(
        key="output_v",
        title="output",
        what="Its output voltage.",
        source="the project; as built where it was read",
        get=lambda r: r.output_v,
        unit="V",
    ),
    ampere("load_a", "gives", "The most that what hangs on it draws.", lambda r: r.load_a, BIAS),
    Figure(
        key="room_v",
        title="room, empty",
        what="What its input has above its output with the source empty.",
        source=STATE,
        get=lambda r: r.room_v,
        unit="V",
    ),
    Figure(
        key="drop_out_v",
        title="needs",
        what="What it needs above its output.",
        source="makers' data sheets, typical; from memory",
        get=lambda r: r.row.drop_out_v,
        unit="V",
    ),
    Figure(
        key="heat_w",
        title="heat, full",
        what="Its heat with the source full.",
        source="(input − output) times current, and its own current times the input",
        get=lambda r: r.heat_w,
        unit="W",
        digits=2,
    ),
    Figure(
        key="junction_c",
        title="junction",
        what="Temperature inside it then.",
        source="air in the box, and heat times thermal resistance",
        get=lambda r: r.junction_c,
        unit="°C",
        places=0,
    ),
    Figure(
        key="sink_wanted_k_w",
        title="sink wanted",
        what="The largest thermal resistance of a heat sink that keeps it at 100 °C.",
        source="thermal chain; 100 °C is common practice, no source",
        get=lambda r: r.sink_wanted_k_w,
        unit="K/W",
        digits=2,
        absent="none",
    ),
)

RELAYS: Table[RelayFacts] = (
    label("name", "relay", lambda r: r.relay.name),
    label("switches", "switches", lambda r: r.relay.switches, words=lambda word: _SWITCHES[word]),
    label("powered", "coil on in", lambda r: r.relay.powered),
    ampere("coil_a", "coil", "Current of its coil at the nominal voltage.", lambda r: r.coil_a, "Ohm's law"),
    Figure(
        key="least_v",
        title="gets at least",
        what="Voltage at the rig with the source empty, when it has to pull in.",
        source=STATE,
        get=lambda r: r.least_v,
        unit="V",
    ),
    Figure(
        key="needs_v",
        title="pulls in at",
        what="The voltage that it needs to pull in.",
        source="the project",
        get=lambda r: r.needs_v,
        unit="V",
    ),
    Figure(
        key="let_go_v",
        title="driver sees",
        what="The voltage at its transistor when the coil is let go.",
        source="without anything across it I √(L/C), all of the coil's energy in its stray capacitance of "
        "100 pF, so the most that can be; with a diode 0.7 V above the supply, and a Zener diode's voltage "
        "more with one",
        get=lambda r: r.let_go_v,
        unit="V",
        digits=2,
        absent="a contact",
    ),
    Figure(
        key="driver_bears_v",
        title="bears",
        what="What its transistor bears.",
        source="the project",
        get=lambda r: None if r.let_go_v is None else r.relay.driver_bears_v,
        unit="V",
        digits=2,
    ),
)

DECOUPLING: Table[DecouplingFacts] = (
    label("name", "decoupled", lambda d: d.name),
    Figure(
        key="corner_hz",
        title="corner",
        what="Where it begins to part the stage from the supply.",
        source="1/(2π R C), or 1/(2π √(L C))",
        get=lambda d: d.corner_hz,
        unit="Hz",
    ),
    Figure(
        key="hum_db",
        title="left of 100 Hz",
        what="What is left of hum on the supply.",
        source="divider of series part and capacitor across the stage",
        get=lambda d: d.hum_db,
        unit="dB",
        places=1,
        signed=True,
    ),
    Figure(
        key="speech_db",
        title="left of 1 kHz",
        what="What is left of speech on the supply.",
        source="divider of series part and capacitor across the stage",
        get=lambda d: d.speech_db,
        unit="dB",
        places=1,
        signed=True,
    ),
    Figure(
        key="lost_v",
        title="costs",
        what="Direct voltage lost in it.",
        source="Ohm's law",
        get=lambda d: d.lost_v,
        unit="V",
        digits=2,
    ),
    Figure(
        key="hum_v",
        title="hum that stays",
        what="Hum on the stage's supply, effective value.",
        source="the supply's hum times what is left of it",
        get=lambda d: d.hum_v or None,
        unit="V",
        digits=2,
        absent="none",
    ),
)
