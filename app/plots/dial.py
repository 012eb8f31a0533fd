"""The VFO's plots: frequency against the knob, tuning rate, error of an even scale, warming up."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.pictures.figures import Label, Shape, Span
from app.plots.base import Plot, Shapes
from core.circuits.ladder import Array

#: Most curves in one picture: a rig has four bands at most.
_MOST = 4


@dataclass(frozen=True, slots=True)
class Range:
    """One band's range: knob turns and VFO [MHz] over the whole travel, and the part that is wanted [MHz]."""

    name: str
    turns: Array
    mhz: Array
    wanted: Span
    looked_at: bool


class DialPlot(Plot):
    """VFO frequency over turns of the knob, a curve for each range, what the bands want as boxes."""

    def __init__(self) -> None:
        super().__init__("knob", "turns", "VFO", "MHz")
        self.shapes = Shapes(self)
        self.held_line = self.curve("held", dashed=True)
        self.curves = [self.curve("vfo") for _ in range(_MOST)]
        self.here = self.curve("dial")
        self.labels.clear_of = tuple(self.curves)
        self.getPlotItem().getAxis("left").setWidth(56)

    def show_ranges(self, ranges: Sequence[Range], held: tuple[Array, Array] | None) -> None:
        """Show the bands' ranges; `held` is the held design's (turns, MHz)."""
        self.say("")
        none = np.empty(0)
        boxes, labels = [], []
        for number, curve in enumerate(self.curves):
            if number < len(ranges):
                curve.setData(ranges[number].turns, ranges[number].mhz)
            else:
                curve.setData(none, none)
        self.held_line.setData(*(held or (none, none)))
        x = (float(ranges[0].turns[0]), float(ranges[0].turns[-1]))
        low = min(min(float(r.mhz[0]), r.wanted[0]) for r in ranges)
        high = max(max(float(r.mhz[-1]), r.wanted[1]) for r in ranges)
        room = 0.06 * (high - low)
        for each in ranges:
            boxes.append(Shape.box(x, each.wanted, "pass_band" if each.looked_at else "corridor", "rule"))
            at = each.wanted[1] if each.looked_at else each.wanted[0]
            side = "below_right" if each.looked_at else "above_right"
            labels.append(Label(x[0], at, each.name, "dial" if each.looked_at else "soft", side, 5))
        self.shapes.show_shapes(boxes)
        self.frame(x, (low - room, high + room), ("dial", len(ranges)))
        self.labels.show(labels)

    def show_here(self, mhz: float) -> None:
        """Mark the VFO's present frequency."""
        (x0, x1), _ = self._spans
        self.here.setData(np.array([x0, x1]), np.array([mhz, mhz]))


class BandCurvePlot(Plot):
    """One figure over the dial of a band, what is held dashed."""

    def __init__(self, y: str, unit: str) -> None:
        super().__init__("dial", "MHz", y, unit)
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line,)
        self.getPlotItem().getAxis("left").setWidth(52)

    def show_curve(
        self, x: Array, y: Array, note: str, held: tuple[Array, Array] | None = None, *, from_zero: bool
    ) -> None:
        """Show a curve; `note` stands in the corner."""
        self.say("")
        order = np.argsort(x)
        self.line.setData(x[order], y[order])
        none = np.empty(0)
        self.held_line.setData(*(held or (none, none)))
        low, high = float(y.min()), float(y.max())
        low = min(low, 0.0) if from_zero else low
        room = 0.12 * ((high - low) or 1.0)
        span = (float(x.min()), float(x.max()))
        self.frame(span, (low - (0 if from_zero and low == 0 else room), high + 2 * room), "band")
        self.labels.show([Label(span[1], high + 1.9 * room, note, "soft", "below_left", 9)])


class WarmUpPlot(Plot):
    """Drift after switching on: as the parts nominally are, and between their tolerances."""

    def __init__(self) -> None:
        super().__init__("after switching on", "min", "drift", "Hz")
        self.shapes = Shapes(self)
        self.line = self.curve("vfo")
        self.labels.clear_of = (self.line,)
        self.held_line = self.curve("held", dashed=True)
        self.getPlotItem().getAxis("left").setWidth(56)

    def show_drift(
        self, minutes: Array, hz: Array, worst_hz: Array, note: str, held: Array | None = None
    ) -> None:
        """Show the nominal drift and the worst case to either side, all of the shape of `minutes`."""
        self.say("")
        self.line.setData(minutes, hz)
        none = np.empty(0)
        self.held_line.setData(*((minutes, held) if held is not None else (none, none)))
        outline = [*zip(minutes, worst_hz, strict=True), *zip(minutes[::-1], -worst_hz[::-1], strict=True)]
        self.shapes.show_shapes([Shape(tuple((float(x), float(y)) for x, y in outline), "corridor")])
        reach = 1.1 * max(float(np.abs(worst_hz).max()), 1.0)
        span = (float(minutes[0]), float(minutes[-1]))
        self.frame(span, (-reach, reach), "warm-up")
        self.labels.show([Label(span[1], 0.97 * reach, note, "soft", "below_left", 9)])
