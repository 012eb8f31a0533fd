"""The frequency plan as a plot."""

from app.pictures.rig.frequency_plan import PlanPicture, picture_of
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.state.workbench import Workbench
from app.widgets.drawn import Drawn


class FrequencyPlanPlot(Drawn[PlanPicture], Plot):
    """Lanes from the top down in the order of the bands; the band looked at has the full colours."""

    def __init__(self) -> None:
        super().__init__("", "", "", "")
        self.shapes = Shapes(self)
        self.labels.clear_of_shapes = self.shapes
        self.getPlotItem().getAxis("left").setTicks([])
        self.getPlotItem().getAxis("left").setGrid(False)
        self.getPlotItem().getAxis("left").setWidth(46)

    def refresh(self, bench: Workbench) -> None:
        """Show the plan of every band; the held one as dashed outlines."""
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, bench.look))

    def draw(self, picture: PlanPicture) -> None:
        self.shapes.show_shapes(picture.shapes)
        self.tick("left", picture.lanes)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
