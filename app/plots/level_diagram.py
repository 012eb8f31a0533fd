"""The level diagram as a plot, and the receiver's own noise as a bar."""

import pyqtgraph as pg

from app.pictures.rig.level_diagram import LevelPicture, picture_of
from app.pictures.rig.receiver import NoiseBar
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.state.workbench import Workbench
from app.style import palette
from app.widgets.drawn import Drawn

#: As high as the bar with two rows of names above it, pixels.
_HEIGHT = 150
#: The curves from the back to the front; each has the name of its colour.
_CURVES = ("overload", "strong", "signal", "band_noise", "own_noise")


class LevelDiagram(Drawn[LevelPicture | str], Plot):
    """Receive: band noise, S9 and a strong signal inside the corridor. Transmit: level and limit."""

    def __init__(self) -> None:
        super().__init__("", "", "level", "dBm")
        # Room for two rows of names.
        self.getPlotItem().getAxis("bottom").setHeight(34)
        self.corridor = Shapes(self)
        self.held_curves = [self.curve("held", dashed=True) for _ in range(2)]
        self.curves = {name: self.curve(name, width=2 if name == "signal" else 1) for name in _CURVES}
        self.place_line = self.curve("soft")
        self.drives = pg.ScatterPlotItem(pxMode=True)
        self.addItem(self.drives)
        self.labels.clear_of = (*self.curves.values(), self.drives)

    def refresh(self, bench: Workbench) -> None:
        """Show the levels at the dial of the band and direction looked at."""
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, bench.look))

    def draw(self, picture: LevelPicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.tick("bottom", picture.stages)
        for name, curve in self.curves.items():
            self.put(curve, getattr(picture, name))
        for curve, held in zip(self.held_curves, picture.held, strict=True):
            self.put(curve, held)
        self.put(self.place_line, picture.place)
        self.corridor.show_shapes(picture.shapes)
        self.put_spots(
            self.drives,
            [
                {
                    "pos": (spot.at, spot.level_dbm),
                    "symbol": "d",
                    "size": 9,
                    "brush": palette.brush(spot.role) if spot.filled else None,
                    "pen": palette.pen(spot.role),
                }
                for spot in picture.spots
            ],
        )
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


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
