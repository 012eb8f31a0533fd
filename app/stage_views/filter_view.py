"""What the views of filters share: two responses, and a measured curve."""

from app.plots.response import ResponsePlot
from app.stage_views.measured_view import MeasuredView
from app.widgets.drawn import Picture

#: The card of a measured curve stands below the others.
_ROW = 2


class FilterView(MeasuredView[Picture]):
    """Response near and wide above, what else there is below, and at the end the measured curve."""

    def __init__(self) -> None:
        super().__init__("filter", _ROW)
        self.near, self.wide = ResponsePlot(), ResponsePlot()
        self.near_card = self.card("Around the pass-band", self.near, 0, 0, corner=self.read)
