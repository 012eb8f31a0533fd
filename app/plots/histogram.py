"""How a figure scatters over many filters or crystals, with the limits that a good one keeps."""

import numpy as np
import pyqtgraph as pg

from app.pictures.bench.histogram import HistogramPicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.style import palette
from app.widgets.drawn import Drawn

#: Share of the distance between edges that a bar takes.
_BAR = 0.92


class HistogramPlot(Drawn[HistogramPicture | str], Plot):
    """Bars of a distribution; what keeps the limits stands on a ground of its own. Or a sentence."""

    def __init__(self) -> None:
        super().__init__("", "", "", "")
        self.kept = Shapes(self)
        self.bars = pg.BarGraphItem(x=[], height=[], width=1.0)
        self.addItem(self.bars)
        self.restyle()

    def draw(self, picture: HistogramPicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.getPlotItem().setLabel("bottom", picture.title)
        self.getPlotItem().setLabel("left", picture.counted)
        edges = np.array(picture.edges)
        middles = (edges[1:] + edges[:-1]) / 2
        self.bars.setOpts(x=middles, height=np.array(picture.counts), width=_BAR * (edges[1] - edges[0]))
        self.kept.show_shapes(picture.kept)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)

    def restyle(self) -> None:
        super().restyle()
        for item in self.getPlotItem().items:
            if isinstance(item, pg.BarGraphItem):
                item.setOpts(brush=palette.brush("copper"), pen=palette.pen("sheet"))
            elif isinstance(item, Shapes):
                item.update()
