"""A measured curve against the stage as designed: verdict, which part is off, how well each is known."""

from app.pictures.told import Told, in_columns
from app.state.look import Look
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.built import measured
from core.rig.figures.crystals import FITTED, MEASURED, MeasuredOn, measured_of
from core.rig.figures.figure import by_key
from core.stages.outcome import Unsolved

_MISSED = by_key(MEASURED, "miss_before_db", "miss_db")
_VERDICT, _OFF = by_key(MEASURED, "verdict", "against_expected")


@record(kw_only=True)
class MeasuredPicture:
    """What the card shows of a curve: where it stands in the design, its file and day, the verdict, what the
    fit tells, and the parts, if there is a fit.
    """

    path: Path
    title: str
    note: str
    judged: str
    told: str
    parts: Told | None


def picture_of(analysis: Analysis, look: Look) -> MeasuredPicture | None:
    """The curve of the selected filter on the band looked at; None where none was measured."""
    stage = str(look.stage)
    place = measured.place_of(analysis, stage, look.band, look.way)
    for row in measured_of(analysis, stage, look.band, look.way):
        notes = [each for each in (row.curve.label, row.curve.date) if each]
        notes += [f"{figure.title} {figure.text(row)}" for figure in _MISSED if row.fit is not None]
        return MeasuredPicture(
            path=("measured", place or 0),
            title="Measured against designed",
            note=" · ".join(notes),
            judged=_judged(row),
            told=row.told,
            parts=None if row.fit is None else in_columns(FITTED, row.fit.parts),
        )
    return None


def _judged(row: MeasuredOn) -> str:
    """Verdict and how far it is off, as a sentence."""
    off = _OFF.text(row)
    if isinstance(row.verdict, Unsolved):
        return off
    return f"{_VERDICT.text(row).capitalize()}: {off}"
