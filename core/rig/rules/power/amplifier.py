"""Rules on a power amplifier of parts: heat, mismatch, bias, drive."""

from collections.abc import Iterator

from core.circuits.circuit import Bipolar
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, Severity, rule
from core.rig.power.facts import (
    TOUCHED_C,
    PowerFacts,
    power_amplifiers_of,
    power_facts,
)
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Idle current may grow by so much as the stage warms [-]; common practice, no source.
_GROWS = 1.3
_CHAIN = "thermal resistances in a row, steady; what is left to the junction is common practice"
_MISMATCH = "harmonic balance at every phase, harmonics shorted; data sheet"


def told(facts: PowerFacts, severity: Severity, name: str, field: str, **told: object) -> Finding:
    """A finding on a power amplifier, or on one of its fields."""
    path = ("stages", facts.stage, field) if field else ("stages", facts.stage)
    given: dict[str, object] = {"severity": severity, "rule": name, "stage": facts.stage, "path": path}
    return Finding(**given | told)  # type: ignore[arg-type]


@rule
def power_unsolved(analysis: Analysis) -> Iterator[Finding]:
    """A power amplifier whose parts are known and whose work has no answer."""
    for row in analysis.circuits:
        stage = analysis.project.stage(row.stage)
        if kind_of(stage).role != "power_amplifier" or isinstance(row.design, Unsolved):
            continue
        found = power_facts(analysis, stage)
        if isinstance(found, Unsolved):
            yield Finding(
                severity="fault",
                rule="power_unsolved",
                stage=stage.id,
                path=("stages", stage.id),
                words=f"{stage.name}: {found.reason}",
                remedy="Give it more swamping or less feedback, or take back the value changed last.",
                source="nodal solution at full drive",
            )


@rule
def power_hot(analysis: Analysis) -> Iterator[Finding]:
    """Junctions stay below what they bear, with something in hand, through the sink that there is."""
    for facts in power_amplifiers_of(analysis):
        bears = facts.design.bears.most_junction_c
        if facts.sink_wanted_k_w <= 0:
            yield told(
                facts,
                "fault",
                "power_no_sink",
                "power_w",
                words=f"No heat sink keeps {facts.name} cool: <figure> would be wanted, and every sink "
                "has more "
                "than <limit>.",
                figure=facts.sink_wanted_k_w,
                limit=0.0,
                at_least=True,
                unit="K/W",
                shown=".1f",
                remedy="Ask for less power or idle current, take two transistors or a larger one, or "
                "cooler air.",
                source=_CHAIN,
            )
        elif facts.junction_c > facts.most_junction_c:
            yield told(
                facts,
                "fault" if facts.junction_c > bears else "caution",
                "power_hot",
                "sink_k_w",
                words=f"Junctions of {facts.name} come to <figure> with two tones or a carrier without a "
                "pause, "
                "where <limit> is wise.",
                figure=facts.junction_c,
                limit=facts.most_junction_c,
                unit="°C",
                remedy=f"Take a heat sink of {facts.sink_wanted_k_w:.1f} K/W or less, or ask for less.",
                source=_CHAIN,
            )


@rule
def power_sink_burns(analysis: Analysis) -> Iterator[Finding]:
    """A hot heat sink burns whoever touches it."""
    for facts in power_amplifiers_of(analysis):
        if facts.sink_c > TOUCHED_C:
            yield told(
                facts,
                "note",
                "power_sink_burns",
                "sink_k_w",
                words=f"The heat sink of {facts.name} comes to <figure>; from <limit> on a touch burns.",
                figure=facts.sink_c,
                limit=TOUCHED_C,
                unit="°C",
                remedy="Guard it, or take a larger one; keep cables and capacitors off it.",
                source=COMMON_PRACTICE,
            )


@rule
def power_mismatch(analysis: Analysis) -> Iterator[Finding]:
    """An antenna of 3 to 1 at any phase should not break the device: heat, voltage, current."""
    for facts in power_amplifiers_of(analysis):
        bears = facts.design.bears
        if facts.sink_wanted_k_w > 0 and facts.mismatch_c > bears.most_junction_c:
            yield told(
                facts,
                "caution",
                "power_mismatch_heat",
                "sink_k_w",
                words=f"At the worst phase of a mismatch of 3 to 1 junctions of {facts.name} come to "
                "<figure> and "
                "bear <limit>.",
                figure=facts.mismatch_c,
                limit=bears.most_junction_c,
                unit="°C",
                remedy="Take a larger heat sink or less power, or have the drive cut back by reflected "
                "power.",
                source="P_DC − P (1 − |Γ|)/(1 + |Γ|); " + _CHAIN,
            )
        if facts.working.peak_v > bears.most_v:
            yield told(
                facts,
                "fault",
                "power_volts",
                "supply_v",
                words=f"{facts.design.transistor.name} of {facts.name} sees <figure> at some phase of a "
                "mismatch "
                "of 3 to 1 and bears <limit>.",
                figure=facts.working.peak_v,
                limit=bears.most_v,
                unit="V",
                remedy="Lower the supply, or take a transistor that bears more than twice of it.",
                source=_MISMATCH,
            )
        if facts.peak_a > bears.most_a:
            yield told(
                facts,
                "caution",
                "power_current",
                "power_w",
                words=f"Each {facts.design.transistor.name} of {facts.name} passes <figure> at the peak "
                "and bears "
                "<limit>.",
                figure=facts.peak_a,
                limit=bears.most_a,
                unit="A",
                shown="3",
                remedy="Ask for less power, take two transistors, or a larger one.",
                source=_MISMATCH,
            )


@rule
def power_bias(analysis: Analysis) -> Iterator[Finding]:
    """A lost lower arm leaves the regulator's whole voltage at the gate, and the drive adds to the bias."""
    for facts in power_amplifiers_of(analysis):
        design = facts.design
        if isinstance(design.transistor.model, Bipolar):
            continue
        most = design.bears.most_control_v
        swing = design.rest.volts["bias"] + facts.working.output.drive_v
        highest = max(design.stage.regulator_v, swing)
        if highest > most:
            yield told(
                facts,
                "fault",
                "power_bias_above",
                "regulator_v",
                words=f"The gate of {facts.name} can come to <figure>"
                + (" where the divider breaks" if highest > swing else "")
                + ", and bears <limit>.",
                figure=highest,
                limit=most,
                unit="V",
                shown=".3g",
                remedy="Take the bias from a regulator of 5 or 8 V.",
                source="data sheet",
            )


@rule
def power_drift(analysis: Analysis) -> Iterator[Finding]:
    """Idle current that grows with heat makes more heat."""
    for facts in power_amplifiers_of(analysis):
        drift = facts.working.drift
        tracked = facts.design.stage.tracking != "none"
        what = "what follows the heat does not keep up" if tracked else "nothing follows the heat"
        if drift.runs_away:
            yield told(
                facts,
                "fault",
                "power_runs_away",
                "tracking",
                words=f"{facts.name} runs away once it is hot: {what}, and its idle current of <figure> "
                "grows until "
                "the transistor is gone.",
                figure=drift.hot_a,
                unit="A",
                shown="3",
                remedy="Put a transistor as a diode on the sink, or a resistor into emitter or source.",
                source="drift of the device and of the bias, thermal resistances; estimates, from memory",
            )
        elif drift.hot_a > _GROWS * drift.cold_a:
            yield told(
                facts,
                "caution",
                "power_drifts",
                "tracking",
                words=f"The idle current of {facts.name} grows to <figure> as it warms, as {what}; "
                "<limit> is "
                "decent.",
                figure=drift.hot_a,
                limit=_GROWS * drift.cold_a,
                unit="A",
                shown="3",
                remedy="Put a transistor as a diode, or a thermistor, on the sink, or take a larger sink.",
                source="drift of the device and of the bias, from memory; the limit is common practice",
            )
