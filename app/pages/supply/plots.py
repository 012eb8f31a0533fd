"""Bars in lanes as a plot: what works over the voltage, what is on over time."""

from app.pictures.rig.supply_plots import LanePicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.widgets.drawn import Drawn

#: Room for the names of lanes, pixels.
_NAMES = 148
_LINES = 2


class LanePlot(Drawn[LanePicture], Plot):
    """Lanes with their names at the left."""

    def __init__(self, x: str, unit: str) -> None:
        super().__init__(x, unit, "", "")
        self.getPlotItem().getAxis("left").setWidth(_NAMES)
        self.bars = Shapes(self)
        self.lines = [self.curve("soft", dashed=True) for _ in range(_LINES)]
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.held_line)

    def draw(self, picture: LanePicture) -> None:
        self.tick("left", picture.names)
        self.bars.show_shapes(picture.shapes)
        for line, curve in zip(self.lines, picture.lines, strict=True):
            self.put(line, curve)
        self.put(self.held_line, picture.held)
        self.put(self.line, picture.curve)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
