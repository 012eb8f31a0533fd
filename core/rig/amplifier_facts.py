"""What there is to tell of an amplifier of parts, asked of an analysis."""

from dataclasses import dataclass

from core.model.stages.stage import StageBase
from core.rig.analysis import Analysis
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import (
    AmplifierFigures,
    Stability,
    Sweep,
    figures,
    stability,
    sweep,
)
from core.stages.outcome import Unsolved

#: Over which range an amplifier is looked at, Hz; a choice.
LOOKED_AT_HZ = (1e6, 60e6)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AmplifierFacts:
    """An amplifier's design, its figures at `at_hz` [Hz], over frequency, and its stability; `name` is the
    stage's.
    """

    name: str
    design: AmplifierDesign
    at_hz: float
    figures: AmplifierFigures
    sweep: Sweep
    stability: Stability


def amplifier_facts(analysis: Analysis, stage: StageBase, band: str) -> AmplifierFacts | Unsolved:
    """The facts of an amplifier on a band, at the frequency at which its gain is wanted."""
    design = analysis.design(stage.id, band)
    if isinstance(design, Unsolved):
        return design
    if not isinstance(design, AmplifierDesign):
        return Unsolved(f"{stage.name} is no amplifier of parts.")
    at_hz = design.asked_at_hz
    got, over, steady = figures(design, at_hz), sweep(design, *LOOKED_AT_HZ), stability(design)
    for each in (got, over, steady):
        if isinstance(each, Unsolved):
            return each
    assert not isinstance(got, Unsolved)
    assert not isinstance(over, Unsolved)
    assert not isinstance(steady, Unsolved)
    return AmplifierFacts(
        name=stage.name, design=design, at_hz=at_hz, figures=got, sweep=over, stability=steady
    )


def amplifiers_of(analysis: Analysis) -> list[AmplifierFacts]:
    """The facts of every amplifier of parts that can be made, in the order of the path."""
    band = analysis.project.bands[0].name
    found = [
        amplifier_facts(analysis, analysis.project.stage(row.stage), band)
        for row in analysis.circuits
        if isinstance(row.design, AmplifierDesign)
    ]
    return [each for each in found if isinstance(each, AmplifierFacts)]
