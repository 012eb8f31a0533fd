"""A filter's response over frequency or tone as a plot, and its group delay."""

from typing import Any

import pyqtgraph as pg

from app.pictures.response import ResponsePicture, response_picture
from app.pictures.stages.front_filter import WidthsPicture
from app.plots.base import Plot
from app.plots.dial import LinePlot
from app.plots.shapes import Shapes
from app.style import palette
from app.widgets.drawn import Drawn
from core.circuits.ladder import Array
from core.stages.band_pass.widths import QUALITIES


class ResponsePlot(Drawn[ResponsePicture | str], Plot):
    """Attenuation below 0 dB over frequency in MHz; a sentence where there is none."""

    def __init__(self, y: str = "response", x: str = "frequency", x_unit: str = "MHz") -> None:
        super().__init__(x, x_unit, y, "dB")
        self.shapes = Shapes(self)
        self.beside_line = self.curve("quiet")
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.measured_line = self.curve("second_curve")
        self.labels.clear_of = (self.line, self.beside_line, self.held_line, self.measured_line)
        self.labels.clear_of_shapes = self.shapes
        self.getPlotItem().getAxis("left").setWidth(52)

    def show_response(self, x: Array, response_db: Array, **options: Any) -> None:
        """Show a response that is no filter's of the rig; see `response_picture`."""
        self.show_picture(response_picture(x, response_db, **options))

    def draw(self, picture: ResponsePicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.put(self.line, picture.line)
        self.put(self.beside_line, picture.beside)
        self.put(self.held_line, picture.held)
        self.put(self.measured_line, picture.measured)
        self.shapes.show_shapes(picture.shapes)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class DelayPlot(LinePlot):
    """Group delay in milliseconds over the tone, with its spread; a sentence where there is none."""

    def __init__(self) -> None:
        super().__init__("tone", "Hz", "group delay", "ms")


class WidthsPlot(Drawn[WidthsPicture], Plot):
    """Loss over bandwidth, a curve for each Q of the coils, and where the filter stands."""

    def __init__(self) -> None:
        super().__init__("bandwidth", "kHz", "least loss", "dB")
        self.curves = [self.curve("quiet") for _ in QUALITIES]
        self.here = pg.ScatterPlotItem(pxMode=True)
        self.addItem(self.here)
        self.labels.clear_of = (*self.curves, self.here)

    def draw(self, picture: WidthsPicture) -> None:
        for curve, points in zip(self.curves, picture.curves, strict=True):
            self.put(curve, points)
        spot = {"pos": picture.here, "symbol": "o", "size": 9}
        self.put_spots(self.here, [spot | {"brush": palette.brush("curve"), "pen": palette.pen("sheet")}])
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
