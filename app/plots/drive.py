"""What a mixer does over its drive as a plot."""

import pyqtgraph as pg

from app.pictures.stages.mixer import ROLES, DrivePicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.style import palette
from app.widgets.drawn import Drawn


class DrivePlot(Drawn[DrivePicture | str], Plot):
    """Conversion gain, noise figure and input intercept over the drive, the working point marked."""

    def __init__(self) -> None:
        super().__init__("drive", "dBm", "figures", "dB, dBm")
        self.suits = Shapes(self)
        self.at_line = self.curve("soft")
        self.held_line = self.curve("held", dashed=True)
        self.curves = [self.curve(role) for role in ROLES]
        self.spots = pg.ScatterPlotItem(pxMode=True)
        self.addItem(self.spots)
        self.labels.clear_of = (*self.curves, self.at_line, self.spots)

    def draw(self, picture: DrivePicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.suits.show_shapes(picture.shapes)
        self.put(self.at_line, picture.at)
        self.put(self.held_line, picture.held)
        for curve, points in zip(self.curves, picture.curves, strict=True):
            self.put(curve, points)
        self.spots.setData(
            [
                {
                    "pos": (x, y),
                    "symbol": "o",
                    "size": 8,
                    "brush": palette.brush(role),
                    "pen": palette.pen("sheet"),
                }
                for x, y, role in picture.spots
            ]
        )
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
