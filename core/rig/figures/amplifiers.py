"""Figures of an amplifier of parts."""

from collections.abc import Callable
from typing import Any

from core.circuits.ladder import Array, ComplexArray
from core.record import record
from core.rig.amplifier_facts import AmplifierFacts
from core.rig.figures.figure import Figure, Table, behind, label
from core.rig.levels.ends import Ends, return_loss_db
from core.stages.amplifiers.figures import TransistorAtRest
from core.stages.amplifiers.sensitivity import Sensitivity, spread_db
from core.trade.devices import spelled

_NODAL = "nodal solution of the whole circuit around its direct currents, between its system resistances"
_NOISE = "thermal, shot and channel noise of every part in the same solution, source at 290 K"

_RING = "admittances of both halves and the system resistance at the terminals, 0.1 MHz to 1 GHz"


def _ohm(value: complex) -> str:
    return f"{value.real:.1f} {'+' if value.imag >= 0 else '−'} j{abs(value.imag):.1f} Ω"


def _ring(key: str, title: str, what: str, get: Callable[[AmplifierFacts], Any], **how: Any) -> Figure[Any]:
    """A figure that only a bilateral pair has."""
    given: dict[str, Any] = {"unit": "dB", "places": 1, "listed": False, "source": _RING} | how
    return Figure(key=key, title=title, what=what, get=get, **given)


def _read(key: str, name: str, unit: str) -> Figure[AmplifierFacts]:
    """A reading that takes the place of a computed figure."""
    return Figure(
        key=f"measured_{key}",
        title=f"{name} as measured",
        what=f"A reading, which counts in every level in the place of the computed {name}.",
        source=f"“{name[0].upper()}{name[1:]} as measured” of the stage",
        get=lambda f: f.read.get(key),
        unit=unit,
        places=1,
        listed=key == "gain_db",
    )


def _round(facts: AmplifierFacts, which: int) -> float | None:
    way = facts.design.way
    return None if facts.ring is None or way is None else facts.ring.on(way)[which]


AMPLIFIER: Table[AmplifierFacts] = (
    Figure(
        key="at_hz",
        title="at",
        what="The frequency at which these figures hold.",
        source="“Gain wanted at” of the stage",
        get=lambda f: f.at_hz,
        unit="Hz",
    ),
    Figure(
        key="transistor",
        title="transistor",
        what="Its type, and where its figures come from.",
        source="the table of devices, or the rig's own transistors",
        get=lambda f: f"{spelled(f.design.transistor)}, {f.design.transistor.status}",
    ),
    Figure(
        key="gain_db",
        title="gain",
        what="Power gain between equal resistances.",
        source=_NODAL,
        get=lambda f: f.figures.gain_db,
        unit="dB",
        places=1,
    ),
    _read("gain_db", "gain", "dB"),
    Figure(
        key="reverse_db",
        title="from output to input",
        what="What of a signal at the output comes back at the input.",
        source=_NODAL,
        get=lambda f: f.figures.reverse_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="input_ohm",
        title="input impedance",
        what="With the system resistance at the output.",
        source=_NODAL,
        get=lambda f: _ohm(f.figures.input_ohm),
    ),
    Figure(
        key="output_ohm",
        title="output impedance",
        what="With the system resistance at the input.",
        source=_NODAL,
        get=lambda f: _ohm(f.figures.output_ohm),
    ),
    Figure(
        key="input_return_loss_db",
        title="return loss, input",
        what="How far what the input reflects lies below what comes.",
        source=_NODAL,
        get=lambda f: f.figures.input_return_loss_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="output_return_loss_db",
        title="return loss, output",
        what="The same at the output.",
        source=_NODAL,
        get=lambda f: f.figures.output_return_loss_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="noise_figure_db",
        title="noise figure",
        what="How much worse signal over noise leaves the stage than it came.",
        source=_NOISE,
        get=lambda f: f.figures.noise_figure_db,
        unit="dB",
        places=1,
    ),
    _read("noise_figure_db", "noise figure", "dB"),
    Figure(
        key="oip3_dbm",
        title="third-order intercept, output",
        what="Where third-order products of two tones would reach the tones.",
        source="nonlinear currents of the transistors on the same equations, two tones 2 % apart",
        get=lambda f: f.figures.oip3_dbm,
        unit="dBm",
        places=1,
    ),
    _read("oip3_dbm", "intercept", "dBm"),
    Figure(
        key="compression_dbm",
        title="1 dB compression, output, ±0.5 dB",
        what="Output at which the gain has fallen by 1 dB: an estimate.",
        source="class A limits of the linear solution and 1.5 dB, an empirical rule on ten simulations",
        get=lambda f: f.figures.compression_dbm,
        unit="dBm",
        places=1,
    ),
    _read("compression_dbm", "compression", "dBm"),
    Figure(
        key="first_limit",
        title="what ends first",
        what="Which transistor leaves class A first, and by what.",
        source="largest current and voltage in the linear solution",
        get=lambda f: f.figures.first_limit,
    ),
    Figure(
        key="least_mu",
        title="least µ",
        what="Above 1 the stage is stable with any passive ends, 0.1 MHz to 1 GHz; wiring is not counted.",
        source="M. L. Edwards, J. H. Sinsky, IEEE Trans. MTT-40 (1992) 2303, from memory",
        get=lambda f: f.stability.least_mu,
        unit="-",
        places=2,
    ),
    Figure(
        key="supply_a",
        title="taken from the supply",
        what="Direct current of the whole stage.",
        source="Newton's method on the circuit's direct currents",
        get=lambda f: f.figures.supply_a,
        unit="A",
    ),
    _ring(
        "ring_db",
        "once round the pair",
        "Gain in phase through this half and back through the other one, which is not fed, where it is "
        "largest; at 0 dB it can howl.",
        lambda f: _round(f, 0),
    ),
    _ring(
        "ring_hz",
        "largest at",
        "The frequency of that.",
        lambda f: _round(f, 1),
        unit="Hz",
        places=None,
    ),
    _ring(
        "both_fed_db",
        "once round, both fed",
        "The same with both halves fed, as by a faulty switch: why they never may be.",
        lambda f: f.ring and f.ring.both_db,
    ),
    _ring(
        "unfed_dbm",
        "unfed half conducts from",
        "Output above which the half that is not fed distorts: the intercept holds below it.",
        lambda f: f.figures.unfed_dbm,
        unit="dBm",
        source="0.6 V across a junction in the linear solution; common practice",
    ),
)


def told(facts: AmplifierFacts) -> Table[AmplifierFacts]:
    """The figures that an amplifier has."""
    return tuple(figure for figure in AMPLIFIER if figure.get(facts) is not None)


#: The same with the stage's name before it, a row a stage.
AMPLIFIERS: Table[AmplifierFacts] = (label("stage", "stage", lambda f: f.name), *AMPLIFIER)
#: A transistor at rest, its name before it.
AT_REST: Table[TransistorAtRest] = (
    Figure(
        key="at_rest",
        title="at rest",
        what="Collector or drain current, voltage across the transistor, and what heats it.",
        source="Newton's method on the circuit's direct currents; device figures typical of data sheets",
        get=lambda each: f"{1e3 * each.output_a:.1f} mA, {each.output_v:.1f} V, {1e3 * each.watt:.0f} mW",
    ),
)


def _worst_db(ohm: ComplexArray, where: Array) -> float | None:
    """Least return loss of an impedance [ohm] over the frequencies marked; None where there are none."""
    found = return_loss_db(ohm)[where.astype(bool)]
    return float(found.min()) if found.size else None


def _range_db(values: Array, where: Array) -> tuple[float, float] | None:
    kept = values[where.astype(bool)]
    return (float(kept.min()), float(kept.max())) if kept.size else None


def _beside(key: str, title: str, what: str, get: Callable[[Ends], Any], **how: Any) -> Figure[Ends]:
    given: dict[str, Any] = {"unit": "dB", "places": 1, "source": _ENDS} | how
    return Figure(key=key, title=title, what=what, get=get, **given)


_ENDS = "two-ports of all stages between two mixers, each with the impedances it really sees"
#: An amplifier with what really stands beside it.
ENDS: Table[Ends] = (
    label("beside", "filter beside it", lambda e: e.beside),
    _beside(
        "seen_pass_db",
        "seen through it, pass-band",
        "Least return loss of what stands on the other side, through this amplifier, where the filter loses "
        "less than 1 dB more than at its best.",
        lambda e: _worst_db(e.seen_ohm, e.passes),
    ),
    _beside(
        "seen_stop_db",
        "seen through it, stop-band",
        "The same where the filter loses more than 20 dB. A mixer wants to see its resistance there too.",
        lambda e: _worst_db(e.seen_ohm, e.stops),
    ),
    _beside(
        "alone_stop_db",
        "the filter's own, stop-band",
        "What would be seen there without the amplifier.",
        lambda e: _worst_db(e.filter_ohm, e.stops),
    ),
    _beside(
        "change_pass_db",
        "gain against 50 Ω, pass-band",
        "How far its gain is another than that of a stage of 50 Ω with the same gain between resistances.",
        lambda e: _range_db(e.gain_change_db, e.passes),
        signed=True,
        keys=("change_pass_low_db", "change_pass_high_db"),
    ),
    _beside(
        "change_stop_db",
        "gain against 50 Ω, stop-band",
        "The same where the filter stops.",
        lambda e: _range_db(e.gain_change_db, e.stops),
        signed=True,
        keys=("change_stop_low_db", "change_stop_high_db"),
    ),
)


def _does(key: str, title: str, what: str, **how: Any) -> Figure[Sensitivity]:
    given: dict[str, Any] = {"places": 2, "get": lambda each: getattr(each, key)} | how
    return Figure(key=key, title=title, what=what, source=_DIFFERENCES, unit="-", signed=True, **given)


_DIFFERENCES = "circuits with one part larger by a thousandth, solved together, the bias of each too"
#: What ordinary tolerances make of the gain.
SPREAD: Table[tuple[Sensitivity, ...]] = (
    Figure(
        key="gain_spread_db",
        title="gain spread, parts ±5 %",
        what="Standard deviation of the gain where every part lies evenly within ±5 %; transistors are left "
        "out.",
        source=f"{_DIFFERENCES}; each by itself",
        get=lambda found: spread_db(found, 0.05),
        unit="dB",
        places=2,
    ),
)
#: What a part does that is 10 % larger.
SENSITIVITY: Table[Sensitivity] = (
    label("ref", "part", lambda each: f"{each.ref} {each.what}".strip()),
    _does("gain_db", "gain, dB", "Change of the gain."),
    _does("reverse_db", "back, dB", "Change of what comes back from output to input."),
    _does("noise_db", "noise, dB", "Change of the noise figure."),
    _does(
        "input_share",
        "in Ω, %",
        "Change of the magnitude of the input impedance.",
        places=1,
        get=lambda each: 100 * each.input_share,
    ),
    _does(
        "output_share",
        "out Ω, %",
        "Change of the magnitude of the output impedance.",
        places=1,
        get=lambda each: 100 * each.output_share,
    ),
    _does("intercept_db", "IP3, dB", "Change of the third-order intercept at the output."),
    _does(
        "compression_db",
        "P1dB, dB",
        "Change of the 1 dB compression at the output, which follows where the first transistor leaves "
        "class A.",
    ),
    _does(
        "supply_share",
        "supply, %",
        "Change of the direct current of the whole stage.",
        places=1,
        get=lambda each: 100 * each.supply_share,
    ),
)


@record(slots=False)
class PartOf:
    """A part of an amplifier, and what it does there."""

    stage: str
    does: Sensitivity


#: The same with the stage before it.
AMPLIFIER_PARTS: Table[PartOf] = (
    label("stage", "stage", lambda p: p.stage),
    *(behind(figure, lambda p: p.does) for figure in SENSITIVITY),
)
#: Where an amplifier is looked at with what stands beside it.
AROUND = Figure[Ends](
    key="middle_hz",
    title="around",
    what="The middle of the frequencies over which the amplifier and the filter beside it are looked at.",
    source="the pass-band of that filter",
    get=lambda e: float(e.f_hz[0] + e.f_hz[-1]) / 2,
    unit="Hz",
    digits=5,
)
