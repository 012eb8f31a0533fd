"""The VFO's plots: frequency against the knob, and one figure over the dial or over time."""

from app.pictures.figures import NO_CURVE, LinePicture
from app.pictures.stages.vfo import MOST, DialPicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.widgets.drawn import Drawn


class DialPlot(Drawn[DialPicture | str], Plot):
    """VFO frequency over turns of the knob, a curve for each range, what the bands want as boxes."""

    def __init__(self) -> None:
        super().__init__("knob", "turns", "VFO", "MHz")
        self.shapes = Shapes(self)
        self.held_line = self.curve("held", dashed=True)
        self.curves = [self.curve("vfo") for _ in range(MOST)]
        self.here = self.curve("dial")
        self.labels.clear_of = (*self.curves, self.held_line, self.here)
        self.getPlotItem().getAxis("left").setWidth(56)

    def draw(self, picture: DialPicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        missing = [NO_CURVE] * (MOST - len(picture.ranges))
        for curve, points in zip(self.curves, [*picture.ranges, *missing], strict=True):
            self.put(curve, points)
        self.put(self.held_line, picture.held)
        self.put(self.here, picture.here)
        self.shapes.show_shapes(picture.shapes)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class LinePlot(Drawn[LinePicture | str], Plot):
    """One curve, what is held dashed; a sentence where there is none."""

    def __init__(
        self, x: str, x_unit: str, y: str, y_unit: str, *, role: str = "curve", room: int = 52
    ) -> None:
        super().__init__(x, x_unit, y, y_unit)
        self.shapes = Shapes(self)
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve(role)
        self.labels.clear_of = (self.line, self.held_line)
        self.getPlotItem().getAxis("left").setWidth(room)

    def draw(self, picture: LinePicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.put(self.line, picture.line)
        self.put(self.held_line, picture.held)
        self.shapes.show_shapes(picture.shapes)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
