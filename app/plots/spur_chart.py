"""Spur chart: how far each product lies from the wanted signal, over the dial.

A line's slope is how fast its tone moves, its strength the level; where it meets the pass-band there is
something to hear, or something that goes out with the signal.
"""

from collections.abc import Sequence

import numpy as np
import pyqtgraph as pg

from app import palette
from app.plots.base import Label, Plot, Shape, Shapes
from app.workbench import Workbench
from core.rig.analysis import Analysis
from core.rig.spurs import AUDIBLE_HZ, Spur

#: Half the height of the picture, kHz: the first that something comes into.
REACHES_KHZ = (100.0, 400.0, 1500.0)
#: Strength classes: weakest level in dBc, colour, width.
_CLASSES: tuple[tuple[float, str, float], ...] = (
    (-45.0, "fault", 2),
    (-70.0, "caution", 1),
    (-400.0, "spur", 1),
)


class SpurChart(Plot):
    """Lines of the direction looked at: what is heard in receive, what leaves in transmit."""

    def __init__(self) -> None:
        super().__init__("dial", "MHz", "away from the signal", "kHz")
        self.shapes = Shapes(self)
        self.labels.opaque = True
        self.held_lines = self.curve("held", dashed=True, connect="pairs")
        self.lines = [self.curve(role, width=width, connect="pairs") for _, role, width in _CLASSES]
        self.dial_line = self.curve("dial")
        self.marks = pg.ScatterPlotItem(size=8, pxMode=True)
        self.addItem(self.marks)
        self.getPlotItem().getAxis("left").setWidth(56)
        self.reach_khz = REACHES_KHZ[0]
        self._shown: tuple[object, ...] = ()

    def refresh(self, bench: Workbench) -> None:
        """Show the products of the band and direction looked at."""
        analysis, held = bench.analysis, bench.held_analysis
        band, way = bench.band, bench.way
        spurs = analysis.spurs(band.name)
        kept = _spurs_of(held, band.name)
        state = (spurs, kept, band, way, palette.theme())
        if len(self._shown) != len(state) or any(a is not b for a, b in zip(state, self._shown, strict=True)):
            self._shown = state
            self._draw(_of_way(spurs, way), _of_way(kept, way), band.low_hz, band.high_hz, (band.name, way))
        dial = bench.dial_hz / 1e6
        self.dial_line.setData(np.array([dial, dial]), np.array([-self.reach_khz, self.reach_khz]))

    def forget(self) -> None:
        """Draw everything anew at the next refresh."""
        self._shown = ()

    def _draw(
        self, spurs: Sequence[Spur], kept: Sequence[Spur], low_hz: float, high_hz: float, key: tuple[str, str]
    ) -> None:
        x = (low_hz / 1e6, high_hz / 1e6)
        self.reach_khz = next(
            (r for r in REACHES_KHZ if any(_comes_near(s, 0.8 * r) for s in spurs)), REACHES_KHZ[0]
        )
        reach = self.reach_khz
        near = [s for s in spurs if _comes_near(s, reach)]
        floor = -400.0
        for curve, (least, _, _) in zip(self.lines, _CLASSES, strict=True):
            upper = min((limit for limit, _, _ in _CLASSES if limit > least), default=400.0)
            _set_lines(curve, [s for s in near if max(least, floor) <= s.level_dbc < upper], x)
        _set_lines(self.held_lines, [s for s in kept if _comes_near(s, reach)], x)
        half = AUDIBLE_HZ / 1e3
        self.shapes.show_shapes([Shape.box(x, (-half, half), "pass_band")])
        crossing = [s for s in near if s.crosses]
        self.marks.setData(
            [s.dial_hz / 1e6 for s in crossing],
            [0.0] * len(crossing),
            brush=[palette.brush(_role(s.level_dbc)) for s in crossing],
            pen=palette.pen("sheet"),
        )
        self.frame(x, (-reach, reach), (*key, reach))
        labels = [
            Label(s.dial_hz / 1e6, 0.0, _text(s), _role(s.level_dbc), "above_right", 100 + s.level_dbc)
            for s in crossing
        ]
        labels += [_at_edge(s, x, reach) for s in near if not s.crosses]
        if not near:
            labels.append(
                Label(
                    sum(x) / 2,
                    reach * 0.3,
                    f"no product within {reach:.0f} kHz of the signal",
                    "soft",
                    "above",
                )
            )
        self.labels.show(labels)


def _spurs_of(analysis: Analysis | None, band: str) -> tuple[Spur, ...]:
    if analysis is None or all(each.name != band for each in analysis.project.bands):
        return ()
    return analysis.spurs(band)


def _of_way(spurs: Sequence[Spur], way: str) -> list[Spur]:
    return [s for s in spurs if (s.kind == "transmit") == (way == "transmit")]


def _comes_near(spur: Spur, reach_khz: float) -> bool:
    low, high = sorted((spur.offset_low_hz, spur.offset_high_hz))
    return low <= reach_khz * 1e3 and high >= -reach_khz * 1e3


def _set_lines(curve: pg.PlotCurveItem, spurs: Sequence[Spur], x: tuple[float, float]) -> None:
    ys = np.array([(s.offset_low_hz, s.offset_high_hz) for s in spurs], dtype=float).ravel() / 1e3
    curve.setData(np.tile(np.array(x), len(spurs)), ys)


def _role(level_dbc: float) -> str:
    return next(role for least, role, _ in _CLASSES if level_dbc >= least)


def _text(spur: Spur) -> str:
    way = "" if spur.moves >= 0 else ", the other way"
    return f"{spur.products}, order {spur.order}\n{spur.level}, moves {abs(spur.moves):.3g} × as fast{way}"


def _at_edge(spur: Spur, x: tuple[float, float], reach_khz: float) -> Label:
    """The name of a line that does not cross, where it stands inside the picture."""
    low, high = spur.offset_low_hz / 1e3, spur.offset_high_hz / 1e3
    share = next(
        (each for each in np.linspace(0.0, 0.95, 39) if abs(low + each * (high - low)) < 0.92 * reach_khz),
        0.5,
    )
    y = low + share * (high - low)
    text = f"{spur.products}, {spur.level}"
    return Label(x[0] + share * (x[1] - x[0]), y, text, _role(spur.level_dbc), "above_right", spur.level_dbc)
