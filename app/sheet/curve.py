"""A small response plot for paper, as SVG."""

from functools import lru_cache
from pathlib import Path

import jinja2
import numpy as np

from core.circuits.ladder import Array
from core.rig.paper.sheet_model import Curve

#: As wide as half a page takes it at the usual share of its size, where its letters can be read.
_WIDTH, _HEIGHT, _LETTERS = 340.0, 126.0, 10.5
#: Room for the numbers: left, right, top, and below for a line of them and one of words.
_LEFT, _RIGHT, _TOP, _BOTTOM = 36.0, 8.0, 6.0, 29.0
_STEPS = 5


def curve_svg(curve: Curve) -> str:
    """Attenuation below 0 dB over frequency in MHz, the range the filter is for shaded, and darker where nine
    of ten like it lie.
    """
    f0, f1 = float(curve.f_hz[0]), float(curve.f_hz[-1])
    right, bottom = _WIDTH - _RIGHT, _HEIGHT - _BOTTOM

    def x(hz: float) -> float:
        return _LEFT + (min(max(hz, f0), f1) - f0) / (f1 - f0) * (right - _LEFT)

    def y(loss_db: float) -> float:
        return _TOP + min(max(loss_db, 0.0), curve.depth_db) / curve.depth_db * (bottom - _TOP)

    def line(loss_db: Array) -> list[str]:
        loss = np.nan_to_num(loss_db, posinf=curve.depth_db)
        return [f"{x(float(f)):.1f},{y(float(v)):.1f}" for f, v in zip(curve.f_hz, loss, strict=True)]

    between = [] if curve.scattered is None else [curve.scattered.low_db, curve.scattered.high_db]
    shade = [point for way, loss in zip((1, -1), between, strict=False) for point in line(loss)[::way]]
    digits = 3 if f1 - f0 < 0.1e6 else 1
    levels = [curve.depth_db * step / (_STEPS - 1) for step in range(_STEPS)]
    ticks = [f0 + (f1 - f0) * step / (_STEPS - 1) for step in range(_STEPS)]
    anchors = ["start", *["middle"] * (_STEPS - 2), "end"]
    return _template().render(
        width=_WIDTH,
        height=_HEIGHT,
        letters=_LETTERS,
        left=_LEFT,
        right=right,
        top=_TOP,
        bottom=bottom,
        used=(x(curve.low_hz), max(x(curve.high_hz) - x(curve.low_hz), 1.0)),
        rows=[(y(level), "0 dB" if level == 0 else f"\u2212{level:.0f}") for level in levels],
        columns=[
            (x(f), anchor, f"{f / 1e6:.{digits}f}" + (" MHz" if anchor == "end" else ""))
            for f, anchor in zip(ticks, anchors, strict=True)
        ],
        points=" ".join(line(curve.loss_db)),
        shade=" ".join(shade),
    )


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    loader = jinja2.FileSystemLoader(Path(__file__).parent / "templates")
    return jinja2.Environment(loader=loader, autoescape=True).get_template("curve.svg.jinja")
