"""A histogram: bars over a figure, with the span that is kept."""

from app.pictures.figures import Frame, Label, Shape
from core.record import record


@record(kw_only=True)
class HistogramPicture:
    """Counts (B) of what is `counted` between edges (B + 1) along an axis of this title; what keeps the
    limits is shaded.
    """

    title: str
    counted: str
    edges: tuple[float, ...]
    counts: tuple[float, ...]
    kept: tuple[Shape, ...] = ()
    labels: tuple[Label, ...]
    frame: Frame
