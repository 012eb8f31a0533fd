"""Measured sweeps as readings of the bench log, each with its verdict."""

from core.model.measured import MeasuredCurve
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.built.verdict import verdict_of
from core.rig.log.item import Verdict
from core.stages.outcome import Unsolved


@record(kw_only=True)
class Swept:
    """A measured curve as a reading: its `number` among the project's, the name of its stage, the verdict,
    and in `words` how far it is off, or why nobody can tell.
    """

    number: int
    curve: MeasuredCurve
    name: str
    verdict: Verdict
    words: str

    @property
    def title(self) -> str:
        """The whole in words: stage, that it is a curve, direction and band."""
        return f"{self.name}: {self.what}"

    @property
    def what(self) -> str:
        """That it is a curve, in which direction and on which band."""
        curve = self.curve
        return ", ".join(
            filter(None, ("measured curve", curve.way, spelled(curve.band) if curve.band else ""))
        )


def swept(analysis: Analysis) -> tuple[Swept, ...]:
    """Every measured curve of a stage that the rig has, in the order in which they were read."""
    names = {stage.id: stage.name for stage in analysis.project.stages}
    return tuple(
        _judged(analysis, number, curve, names[curve.stage])
        for number, curve in enumerate(analysis.project.measured)
        if curve.stage in names
    )


def _judged(analysis: Analysis, number: int, curve: MeasuredCurve, name: str) -> Swept:
    found = verdict_of(analysis, curve)
    if isinstance(found, Unsolved):
        return Swept(number=number, curve=curve, name=name, verdict="no longer expected", words=found.reason)
    verdict: Verdict = "within" if found.within else "out"
    return Swept(number=number, curve=curve, name=name, verdict=verdict, words=found.words)
