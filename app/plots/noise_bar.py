"""Own noise by stage as one stacked bar."""

from app.pictures.rig.receiver import NoiseBar
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.widgets.drawn import Drawn

#: As high as the bar with two rows of names above it, pixels.
_HEIGHT = 150


class NoiseBarPlot(Drawn[NoiseBar], Plot):
    """Shares of the receiver's own noise from the antenna on, with their names."""

    def __init__(self) -> None:
        super().__init__("share of the receiver's own noise", "%", "", "")
        self.getPlotItem().hideAxis("left")
        self.setFixedHeight(_HEIGHT)
        self.parts = Shapes(self)
        self.labels.clear_of_shapes = self.parts

    def draw(self, picture: NoiseBar) -> None:
        self.parts.show_shapes(picture.shapes)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
