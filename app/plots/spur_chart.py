"""The spur chart as a plot."""

import pyqtgraph as pg

from app.pictures.rig.spur_chart import CLASSES, REACHES_KHZ, SpurPicture, picture_of
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.state.workbench import Workbench
from app.style import palette
from app.widgets.drawn import Drawn


class SpurChart(Drawn[SpurPicture], Plot):
    """Lines of the direction looked at, with a dot where one meets the signal."""

    def __init__(self) -> None:
        super().__init__("dial", "MHz", "away from the signal", "kHz")
        self.shapes = Shapes(self)
        self.labels.opaque = True
        self.held_lines = self.curve("held", dashed=True, connect="pairs")
        self.lines = [self.curve(role, width=width, connect="pairs") for _, role, width in CLASSES]
        self.dial_line = self.curve("dial")
        self.marks = pg.ScatterPlotItem(size=8, pxMode=True)
        self.addItem(self.marks)
        self.labels.clear_of = (*self.lines, self.held_lines, self.dial_line, self.marks)
        self.getPlotItem().getAxis("left").setWidth(56)

    @property
    def reach_khz(self) -> float:
        """Half the height of the picture, kHz."""
        return REACHES_KHZ[0] if self.shown_picture is None else self.shown_picture.reach_khz

    def refresh(self, bench: Workbench) -> None:
        """Show the products of the band and direction looked at."""
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, bench.look))

    def draw(self, picture: SpurPicture) -> None:
        for curve, line in zip(self.lines, picture.lines, strict=True):
            self.put(curve, line)
        self.put(self.held_lines, picture.held)
        self.put(self.dial_line, picture.dial)
        self.shapes.show_shapes(picture.shapes)
        self.put_spots(
            self.marks,
            [
                {"pos": (at, 0.0), "brush": palette.brush(role), "pen": palette.pen("sheet")}
                for at, role in picture.crossings
            ],
        )
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
