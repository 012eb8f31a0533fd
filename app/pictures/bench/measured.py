"""A filter's measured curve against the filter as designed: which part is off, and how well each is known."""

from app.pictures.told import Told, in_columns
from app.state.look import Look
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.built import measured
from core.rig.figures.crystals import FITTED, MEASURED, measured_of
from core.rig.figures.figure import by_key

_MISSED = by_key(MEASURED, "miss_before_db", "miss_db")


@record(kw_only=True)
class MeasuredPicture:
    """What the card shows of a curve: where it stands in the design, its file and day, what the fit tells,
    and the parts, if there is a fit.
    """

    path: Path
    title: str
    note: str
    told: str
    parts: Told | None


def picture_of(analysis: Analysis, look: Look) -> MeasuredPicture | None:
    """The curve of the selected filter on the band looked at; None where none was measured."""
    stage = str(look.stage)
    place = measured.place_of(analysis, stage, look.band)
    for row in measured_of(analysis, stage, look.band):
        notes = [each for each in (row.curve.label, row.curve.date) if each]
        notes += [f"{figure.title} {figure.text(row)}" for figure in _MISSED if row.fit is not None]
        return MeasuredPicture(
            path=("measured", place or 0),
            title="Measured against designed",
            note=" · ".join(notes),
            told=row.told,
            parts=None if row.fit is None else in_columns(FITTED, row.fit.parts),
        )
    return None
