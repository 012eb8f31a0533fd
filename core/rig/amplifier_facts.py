"""What there is to tell of an amplifier of parts, asked of an analysis."""

from collections.abc import Mapping

from core.model.stages.stage import StageBase, Way
from core.record import record
from core.rig.analysis import Analysis
from core.stages.amplifiers import sensitivity
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import (
    AmplifierFigures,
    Stability,
    Sweep,
    figures,
    stability,
    sweep,
)
from core.stages.amplifiers.pair import PairDesign, Ring, amplifiers_in, ring
from core.stages.amplifiers.sensitivity import Sensitivity
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Over which range an amplifier is looked at, Hz; a choice.
LOOKED_AT_HZ = (1e6, 60e6)


@record(eq=False, kw_only=True)
class AmplifierFacts:
    """An amplifier's design, its figures at `at_hz` [Hz], over frequency, and its stability; `name` is the
    stage's, with the direction where it is one half of a pair, whose `ring` is then known. `read` are
    readings that count in the place of computed figures, by the figures' keys.
    """

    name: str
    design: AmplifierDesign
    at_hz: float
    figures: AmplifierFigures
    sweep: Sweep
    stability: Stability
    ring: Ring | None = None
    read: Mapping[str, float]


def amplifier_facts(
    analysis: Analysis, stage: StageBase, band: str, way: Way = "receive"
) -> AmplifierFacts | Unsolved:
    """The facts of an amplifier on a band, at the frequency at which its gain is wanted; of a pair those in
    the direction `way`.
    """
    made = analysis.design(stage.id, band)
    if isinstance(made, Unsolved):
        return made
    found = [each for each in amplifiers_in(made) if each.way in (None, way)]
    if not found:
        return Unsolved(f"{stage.name} is no amplifier of parts.")
    (design,) = found
    at_hz = design.asked_at_hz
    got, over, steady = figures(design, at_hz), sweep(design, *LOOKED_AT_HZ), stability(design)
    around = ring(made) if isinstance(made, PairDesign) else None
    for each in (got, over, steady, around):
        if isinstance(each, Unsolved):
            return each
    assert not isinstance(got, Unsolved)
    assert not isinstance(over, Unsolved)
    assert not isinstance(steady, Unsolved)
    assert not isinstance(around, Unsolved)
    return AmplifierFacts(
        name=stage.name if design.way is None else f"{stage.name}, {design.way}",
        design=design,
        at_hz=at_hz,
        figures=got,
        sweep=over,
        stability=steady,
        ring=around,
        read=kind_of(stage).readings(stage, way),
    )


def sensitivities(facts: AmplifierFacts) -> tuple[Sensitivity, ...] | Unsolved:
    """What each part does to an amplifier where its figures hold, that which does most first."""
    return sensitivity.sensitivities(facts.design, facts.at_hz)


def amplifiers_of(analysis: Analysis) -> list[AmplifierFacts]:
    """The facts of every amplifier of parts that can be made, in the order of the path; of a pair twice."""
    band = analysis.project.bands[0].name
    found = [
        amplifier_facts(analysis, analysis.project.stage(row.stage), band, design.way or "receive")
        for row in analysis.circuits
        for design in amplifiers_in(row.design)
    ]
    return [each for each in found if isinstance(each, AmplifierFacts)]
