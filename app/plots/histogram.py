"""How a figure scatters over many filters, with the limits that a good one keeps."""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg

from app import palette
from app.plots.base import Label, Plot, Shape, Shapes
from core.stages.tolerance import Distribution


class HistogramPlot(Plot):
    """Bars of a distribution; what lies outside the limits stands on a ground of its own."""

    def __init__(self, name: str, unit: str) -> None:
        super().__init__(name, unit, "filters", "")
        self._unit = unit
        self._shown: Distribution | None = None
        self._scale = 1.0
        self._bounds: tuple[float | None, float | None] = (None, None)
        self.kept = Shapes(self)
        self.bars = pg.BarGraphItem(x=[], height=[], width=1.0)
        self.addItem(self.bars)

    def show_distribution(self, found: Distribution | None, scale: float = 1.0) -> None:
        """Draw this distribution, its values times `scale`; None: there is nothing to count."""
        self._shown, self._scale = found, scale
        if found is None:
            self.say("Fewer than two trials made a pass-band; let the parts scatter less.")
            return
        self.say("")
        edges, top = scale * found.edges, float(found.counts.max())
        self.bars.setOpts(
            x=(edges[1:] + edges[:-1]) / 2,
            height=found.counts,
            width=0.92 * (edges[1] - edges[0]),
            brush=palette.brush("copper"),
            pen=palette.pen("sheet"),
        )
        self.frame((float(edges[0]), float(edges[-1])), (0.0, 1.3 * top), found)
        mean = scale * found.mean
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
