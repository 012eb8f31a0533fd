"""Rules on amplifiers of parts: gain, heat and stability."""

from collections.abc import Iterator

from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding
from core.rig.rules.rule import rule
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import figures, stability
from core.stages.outcome import Unsolved

#: A transistor without a sink is run up to this share of what it may take in still air [-].
_SHARE_OF_HEAT = 0.7
#: So much of the gain asked preferred values alone may cost, dB; common practice, no source.
_GAIN_MISSED_DB = 1.5


@rule
def transistor_hot(analysis: Analysis) -> Iterator[Finding]:
    """A transistor at rest should take well less than its data sheet allows in still air."""
    for row in analysis.circuits:
        if not isinstance(row.design, AmplifierDesign):
            continue
        stage = analysis.project.stage(row.stage)
        most = _SHARE_OF_HEAT * row.design.transistor.most_watt
        heat = {ref: point.watt for ref, point in row.design.rest.transistors.items()}
        ref = max(heat, key=lambda each: heat[each])
        watt = heat[ref]
        if watt > most:
            yield Finding(
                severity="caution",
                rule="transistor_hot",
                stage=row.stage,
                path=("stages", row.stage, "current_a"),
                words=f"{ref} of {stage.name} takes <figure> at rest where <limit> is wise without a sink.",
                figure=watt,
                limit=most,
                unit="W",
                shown="2",
                remedy="Ask for less current or a lower supply, take a larger transistor, or give it a sink.",
                source=COMMON_PRACTICE,
            )


@rule
def amplifier_conditional(analysis: Analysis) -> Iterator[Finding]:
    """An amplifier that some passive ends would make oscillate wants to be known as one."""
    for row in analysis.circuits:
        if not isinstance(row.design, AmplifierDesign):
            continue
        found, stage = stability(row.design), analysis.project.stage(row.stage)
        if isinstance(found, Unsolved) or found.least_mu >= 1:
            continue
        yield Finding(
            severity="note",
            rule="amplifier_conditional",
            stage=row.stage,
            path=("stages", row.stage, "topology"),
            words=f"{stage.name} is stable with ordinary ends only: µ is <figure> at "
            f"{format_value(found.at_hz, 'Hz', 3)} where <limit> would do for any.",
            figure=found.least_mu,
            limit=1.0,
            at_least=True,
            unit="",
            shown=".2f",
            remedy="Keep leads short, put a small resistor in series with base or gate, and watch it with a "
            "long cable at either end; three transistors are stable with any.",
            source="µ of the two-port (Edwards and Sinsky, 1992, from memory); wiring is not counted",
        )


@rule
def amplifier_gain(analysis: Analysis) -> Iterator[Finding]:
    """A circuit that does not come to the gain asked of it; a follower is asked for none."""
    for row in analysis.circuits:
        if not isinstance(row.design, AmplifierDesign):
            continue
        stage = analysis.project.stage(row.stage)
        asked_db = row.design.asked_db
        found = figures(row.design, row.design.asked_at_hz)
        if asked_db is None or isinstance(found, Unsolved) or asked_db - found.gain_db <= _GAIN_MISSED_DB:
            continue
        yield Finding(
            severity="caution",
            rule="amplifier_gain",
            stage=row.stage,
            path=("stages", row.stage, "gain_db"),
            words=f"{stage.name} has <figure> of gain where <limit> is asked.",
            figure=found.gain_db,
            limit=asked_db,
            at_least=True,
            unit="dB",
            shown=".1f",
            remedy="Ask for what this circuit gives, or take one with three transistors.",
            source="linear solution of the circuit on its fitted parts",
        )
