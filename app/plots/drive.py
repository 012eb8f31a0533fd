"""What a mixer does over its drive as a plot."""

from collections.abc import Sequence

import pyqtgraph as pg

from app.pictures.figures import NO_CURVE
from app.pictures.stages.mixer import DrivePicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.style import palette
from app.widgets.drawn import Drawn


class DrivePlot(Drawn[DrivePicture | str], Plot):
    """Figures over the drive in curves of these roles, the held design's dashed, the working point marked."""

    def __init__(self, roles: Sequence[str], figures: str, unit: str) -> None:
        super().__init__("drive", "dBm", figures, unit)
        self.suits = Shapes(self)
        self.at_line = self.curve("soft")
        self.held_lines = [self.curve("held", dashed=True) for _ in roles]
        self.curves = [self.curve(role) for role in roles]
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
        for lines, points in ((self.held_lines, picture.held), (self.curves, picture.curves)):
            # What one mixer has none of is empty.
            missing = [NO_CURVE] * (len(lines) - len(points))
            for line, curve in zip(lines, (*points, *missing), strict=True):
                self.put(line, curve)
        self.put_spots(
            self.spots,
            [
                {
                    "pos": (x, y),
                    "symbol": "o",
                    "size": 8,
                    "brush": palette.brush(role),
                    "pen": palette.pen("sheet"),
                }
                for x, y, role in picture.spots
            ],
        )
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
