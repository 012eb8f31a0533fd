"""Figures of a power amplifier of parts, of its bands and drivers, and of exposure."""

from collections.abc import Callable
from typing import Any

from core.circuits.power.load_line import LEAST_TOLD_DBC
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, label
from core.rig.power.facts import (
    SPARE_K,
    Driven,
    PowerFacts,
    drivers,
    power_amplifiers_of,
)
from core.rig.sections.power_bands import DRIVERS, EXPOSURE, ON_BANDS
from core.rig.sections.section import Section
from core.stages.power_amplifier.working import BALANCE_DB
from core.trade.devices import spelled

_KNEE = "Vk from the device's own law at the current's peak, RL = (Vdd − Vk)²/2P"
_LINE = "memoryless law of the device on its load line, harmonics shorted"
_CHAIN = "thermal resistances in a row, steady; no derating of the device with temperature"
_NODES = "direct currents of the circuit"
_WOUND = "A_L and section of the core; flux by U = 4.44 f N A B"
_MISMATCH = "harmonic balance at every phase of a reflection of 3 to 1, harmonics shorted"


def _of(
    key: str,
    title: str,
    what: str,
    source: str,
    get: Callable[[PowerFacts], Any],
    unit: str = "",
    **how: Any,
) -> Figure[PowerFacts]:
    return Figure(key=key, title=title, what=what, source=source, get=get, unit=unit, **how)


def _temperature(key: str, title: str, what: str, get: Callable[[PowerFacts], Any]) -> Figure[PowerFacts]:
    return _of(key, title, what, _CHAIN, get, "°C", places=0)


def _heat(
    key: str, title: str, what: str, get: Callable[[PowerFacts], Any], **how: Any
) -> Figure[PowerFacts]:
    return _of(key, title, what, how.pop("source", _LINE), get, "W", digits=3, **how)


def _share(key: str, title: str, what: str, get: Callable[[PowerFacts], float]) -> Figure[PowerFacts]:
    return _of(key, title, what, _LINE, lambda f: 100 * get(f), "%", places=0)


def _third(facts: PowerFacts) -> str:
    output = facts.working.output
    told = f"{output.third_dbc:.0f} dBc".replace("-", "−")
    return f"below {told}, not told" if output.is_artefact else told


def _settles(facts: PowerFacts) -> str:
    drift = facts.working.drift
    if drift.runs_away:
        return "runs away"
    return f"{1e3 * drift.cold_a:.0f} to {1e3 * drift.hot_a:.0f} mA"


def _coil(get: Callable[[Any], Any]) -> Callable[[PowerFacts], Any]:
    return lambda f: None if f.design.output is None else get(f.design.output)


POWER: Table[PowerFacts] = (
    _of(
        "transistor",
        "transistor",
        "Its type, and where what it bears comes from.",
        "the table of power transistors, or the rig's own",
        lambda f: f"{spelled(f.design.transistor)}, {f.design.bears.status}",
    ),
    _of("knee_v", "knee", "Left at the current's peak.", _KNEE, lambda f: f.design.knee_v, "V"),
    _of(
        "load_ohm",
        "load of each side",
        "What the match makes of 50 Ω at one drain, in push-pull half of that from drain to drain.",
        "turns or values as fitted",
        lambda f: f.design.load_ohm,
        "Ω",
    ),
    _of(
        "wanted_ohm",
        "load wanted",
        "What the power wanted asks for there.",
        _KNEE,
        lambda f: f.design.wanted_ohm,
        "Ω",
    ),
    _of(
        "most_w",
        "largest output",
        "Where the swing reaches the knee, at the match's own resistance; counts as compression.",
        _KNEE,
        lambda f: f.design.most_w,
        "W",
    ),
    _of(
        "windings",
        "output transformer",
        "Turns, core, and the frequency from which it serves.",
        "reactance four times the resistance at it; common practice",
        _coil(lambda coil: coil.note),
    ),
    _of(
        "flux_share",
        "flux in its core",
        "Flux at full power on the lowest band, over what keeps a core cool.",
        _WOUND,
        _coil(lambda coil: 100 * coil.flux_t / coil.most_flux_t),
        "%",
        places=0,
    ),
    _of(
        "core_w",
        "lost in it, estimate",
        "Loss of the core at full power on the lowest band.",
        "Q of the material far above its range, a curve drawn through makers' plots, from memory",
        _coil(lambda coil: coil.loss_w),
        "W",
        digits=2,
    ),
    _of(
        "idle_a",
        "idle current",
        "Of each transistor without a signal.",
        _NODES,
        lambda f: f.design.idle_a,
        "A",
    ),
    _of(
        "bias_v",
        "bias",
        "Voltage at the divider that gives it.",
        _NODES,
        lambda f: f.design.rest.volts["bias"],
        "V",
    ),
    _of(
        "bias_range_v",
        "trimmer gives",
        "Bias from one end of the trimmer to the other.",
        _NODES,
        lambda f: f.working.bias_range_v if f.design.trimmer_ohm is not None else None,
        "V",
        keys=("bias_low_v", "bias_high_v"),
    ),
    _of(
        "idle_range_a",
        "which is",
        "Idle current of each transistor there.",
        _NODES,
        lambda f: f.working.idle_range_a if f.design.trimmer_ohm is not None else None,
        "A",
        keys=("idle_low_a", "idle_high_a"),
    ),
    _of("bias_a", "divider takes", "Current from the regulator.", _NODES, lambda f: f.working.bias_a, "A"),
    _of(
        "drift",
        "idle current, cold to hot",
        "At 25 °C, and after two tones without a pause; or that it grows until the transistor is gone.",
        "drift of threshold or base, of the slope, and of what is on the sink; estimates, from memory",
        _settles,
    ),
    _of(
        "supply_a",
        "supply, full power",
        "With a carrier at full power.",
        _LINE,
        lambda f: f.working.output.mean_a,
        "A",
    ),
    _share(
        "efficiency",
        "efficiency, carrier",
        "Output over supply power with a carrier at full power.",
        lambda f: f.working.output.carrier.efficiency,
    ),
    _share(
        "efficiency_two_tones",
        "efficiency, two tones",
        "The same with two tones at full peaks.",
        lambda f: f.working.output.tones.level.efficiency,
    ),
    _share(
        "efficiency_speech",
        "efficiency, speech, estimate",
        "The same with speech, whose amplitudes are taken to fall off exponentially.",
        lambda f: f.working.output.speech.efficiency,
    ),
    _heat(
        "heat_w",
        "heat, carrier",
        "What heats all transistors with a carrier at full power.",
        lambda f: f.working.output.carrier.heat_w,
    ),
    _heat(
        "heat_two_tones_w",
        "heat, two tones",
        "The same with two tones at full peaks.",
        lambda f: f.working.output.tones.level.heat_w,
    ),
    _heat(
        "heat_speech_w",
        "heat, speech, estimate",
        "The same with speech.",
        lambda f: f.working.output.speech.heat_w,
    ),
    _heat(
        "heat_worst_w",
        "heat, worst level",
        "The most at any drive up to full.",
        lambda f: f.working.output.worst_w,
    ),
    _heat(
        "feedback_w",
        "in each feedback resistor",
        "At full power: what it must bear.",
        lambda f: f.working.output.feedback_w or None,
        source="swing of drain and gate, in opposite phase, across it",
    ),
    _heat(
        "swamping_w",
        "in each swamping resistor",
        "At full power.",
        lambda f: f.working.output.swamping_w,
        source="drive at the gate across it",
    ),
    _of(
        "third_dbc",
        "two tones, third order",
        f"Products below a tone; better than {LEAST_TOLD_DBC:.0f} dBc is an artefact of the square law, "
        "perfectly straight in class A, and no prediction.".replace("-", "−"),
        f"{_LINE}; an estimate",
        _third,
    ),
    _of(
        "harmonics_dbc",
        "harmonics 2 to 5",
        "Before any filter; even ones in push-pull "
        f"{BALANCE_DB:.0f} dB lower, and none below what is measured at best.",
        f"{_LINE}; an estimate, from memory",
        lambda f: f.working.output.harmonics_dbc,
        "dBc",
        places=0,
        joint=", ",
    ),
    _temperature(
        "junction_c",
        "junction",
        "After two tones, or a hotter carrier, without a pause.",
        lambda f: f.junction_c,
    ),
    _temperature("sink_c", "sink", "The sink then.", lambda f: f.sink_c),
    _of(
        "sink_s",
        "sink warms in, estimate",
        "Time constant of the sink: after it two thirds of the rise are there.",
        "thermal resistance times mass and specific heat of aluminium",
        lambda f: f.working.chain.sink_s,
        "s",
    ),
    _of(
        "sink_wanted_k_w",
        "sink wanted",
        f"The largest resistance that keeps {SPARE_K:.0f} K to the junction's highest temperature.",
        f"{_CHAIN}; the margin is common practice",
        lambda f: f.sink_wanted_k_w,
        "K/W",
        places=1,
    ),
    _heat(
        "mismatch_w",
        "heat, 3 : 1",
        "The most at any phase of a mismatch of 3 to 1.",
        lambda f: f.working.mismatch_w,
        source=f"{_MISMATCH}, and P_DC − P (1 − |Γ|)/(1 + |Γ|)",
    ),
    _temperature(
        "mismatch_c", "junction, 3 : 1", "The junction after that without a pause.", lambda f: f.mismatch_c
    ),
    _of(
        "peak_v",
        "highest voltage, 3 : 1",
        "At drain or collector; more with harmonics.",
        _MISMATCH,
        lambda f: f.working.peak_v,
        "V",
        digits=3,
    ),
    _of(
        "most_v",
        "it bears",
        "Breakdown of drain or collector.",
        "data sheet",
        lambda f: f.design.bears.most_v,
        "V",
    ),
    _of(
        "peak_a",
        "highest current",
        "Of each transistor, matched or in that mismatch.",
        _MISMATCH,
        lambda f: f.peak_a,
        "A",
    ),
)


def told(facts: PowerFacts) -> Table[PowerFacts]:
    """The figures that a power amplifier has."""
    return tuple(figure for figure in POWER if figure.get(facts) is not None)


def on_paper(facts: PowerFacts) -> tuple[tuple[str, str], ...]:
    """Figures of a power amplifier of parts, on each band, and how far people keep from the antenna."""
    lines = [(figure.title, figure.text(facts)) for figure in told(facts)]
    for rows, (named, *figures), of_what in (
        (facts.bands, ON_BANDS, ""),
        (facts.exposures, EXPOSURE, ", exposure"),
    ):
        of: Any
        for of in rows:
            lines += [(f"{named.text(of)}{of_what}: {figure.title}", figure.text(of)) for figure in figures]
    return tuple(lines)


def _drivers(analysis: Analysis) -> list[Driven]:
    if not power_amplifiers_of(analysis):
        return []
    return [each for band in analysis.project.bands for each in drivers(analysis, band.name)]


#: The tables of a rig's power amplifier.
POWER_SECTIONS = (
    Section("power_amplifiers", (label("stage", "stage", lambda f: f.name), *POWER), power_amplifiers_of),
    Section(
        "power_amplifier_bands", ON_BANDS, lambda a: [b for f in power_amplifiers_of(a) for b in f.bands]
    ),
    Section("drivers", DRIVERS, _drivers),
    Section("exposure", EXPOSURE, lambda a: [e for f in power_amplifiers_of(a) for e in f.exposures]),
)
