"""How a figure scatters over many filters, with the limits that a good one keeps."""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg

from app.pictures.figures import Label, Shape
from app.plots.base import Plot, Shapes
from app.style import palette
from core.stages.tolerance import Distribution


class HistogramPlot(Plot):
    """Bars of a distribution; what lies outside the limits stands on a ground of its own."""

    def __init__(self) -> None:
        super().__init__("", "", "filters", "")
        self._unit = ""
        self._shown: Distribution | None = None
        self._scale = 1.0
        self._bounds: tuple[float | None, float | None] = (None, None)
        self.kept = Shapes(self)
        self.bars = pg.BarGraphItem(x=[], height=[], width=1.0)
        self.addItem(self.bars)

    def show_distribution(self, found: Distribution | None, name: str, unit: str) -> None:
        """Draw the distribution of a figure in `unit`, hertz as kHz or MHz; None: nothing to count."""
        largest = 0.0 if found is None else float(np.abs(found.edges).max())
        self._scale, self._unit = 1.0, unit
        if unit == "Hz":
            self._scale, self._unit = (1e-6, "MHz") if largest >= 1e5 else (1e-3, "kHz")
        self._shown = found
        self.getPlotItem().setLabel("bottom", f"{name}, {self._unit}")
        if found is None:
            self.say("Fewer than two trials made a pass-band; let the parts scatter less.")
            return
        self.say("")
        edges, top = self._scale * found.edges, float(found.counts.max())
        self.bars.setOpts(
            x=(edges[1:] + edges[:-1]) / 2,
            height=found.counts,
            width=0.92 * (edges[1] - edges[0]),
            brush=palette.brush("copper"),
            pen=palette.pen("sheet"),
        )
        self.frame((float(edges[0]), float(edges[-1])), (0.0, 1.3 * top), found)
        mean = self._scale * found.mean
        text = f"mean {mean:.2f} {self._unit}"
        self.labels.show([Label(float(np.mean(edges[[0, -1]])), 1.28 * top, text, "soft", "below", 1)])
        self.show_limits(*self._bounds)

    def show_limits(self, low: float | None, high: float | None) -> None:
        """Mark what keeps the limits, in the distribution's own unit; None: no limit on that side."""
        self._bounds = (low, high)
        if self._shown is None:
            return
        x0, x1 = (self._scale * float(self._shown.edges[n]) for n in (0, -1))
        left = x0 if low is None else min(max(self._scale * low, x0), x1)
        right = x1 if high is None else max(min(self._scale * high, x1), x0)
        boxes: Sequence[Shape] = ()
        if right > left:
            boxes = [Shape.box((left, right), (0.0, 1.3 * float(self._shown.counts.max())), "pass_band")]
        self.kept.show_shapes(boxes)

    def restyle(self) -> None:
        super().restyle()
        if getattr(self, "_shown", None) is not None:
            self.bars.setOpts(brush=palette.brush("copper"), pen=palette.pen("sheet"))
            self.kept.update()
