"""Spur chart: how far each product lies from the wanted signal, over the dial.

A line's slope is how fast its tone moves, its strength the level; where it meets the pass-band there is
something to hear, or something that goes out with the signal.
"""

from collections.abc import Sequence

import numpy as np

from app.pictures.figures import Curve, Frame, Label, Shape, Span
from app.pictures.held import held_on_band
from app.state.look import Look
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.products import SPURS
from core.rig.spurs.spurs import AUDIBLE_HZ, Spur

_SPUR = keyed(SPURS)
#: Half the height of the picture, kHz: the first that something comes into.
REACHES_KHZ = (100.0, 400.0, 1500.0)
#: Strength classes: weakest level in dBc, colour, width.
CLASSES: tuple[tuple[float, str, float], ...] = (
    (-45.0, "fault", 2),
    (-70.0, "caution", 1),
    (-400.0, "spur", 1),
)


@record(kw_only=True)
class SpurPicture:
    """Everything the chart shows: pairs of points a class of strength, the held design's pairs, the dial.

    `crossings` are where a product meets the signal: dial [MHz] and colour.
    """

    lines: tuple[Curve, ...]
    held: Curve
    dial: Curve
    crossings: tuple[tuple[float, str], ...]
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    reach_khz: float
    frame: Frame


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> SpurPicture:
    """The products of the band and direction looked at: what is heard in receive, what leaves in transmit."""
    band = analysis.project.band(look.band)
    x = (band.low_hz / 1e6, band.high_hz / 1e6)
    spurs, kept = _spurs_of(analysis, look), _spurs_of(held_on_band(held, look), look)
    reach = next((r for r in REACHES_KHZ if any(_comes_near(s, 0.8 * r) for s in spurs)), REACHES_KHZ[0])
    near = [s for s in spurs if _comes_near(s, reach)]
    half, dial = AUDIBLE_HZ / 1e3, look.dial_hz / 1e6
    crossing = [s for s in near if s.crosses]
    labels = [
        Label(
            s.dial_hz / 1e6,
            0.0,
            _text(s),
            _role(s.level_dbc),
            side="above_right",
            importance=100 + s.level_dbc,
        )
        for s in crossing
    ]
    labels += [_at_edge(s, x, reach) for s in near if not s.crosses]
    if not near:
        nothing = f"no product within {reach:.0f} kHz of the signal"
        labels.append(Label(sum(x) / 2, reach * 0.3, nothing, "soft", side="above"))
    return SpurPicture(
        lines=tuple(_lines([s for s in near if _role(s.level_dbc) == role], x) for _, role, _ in CLASSES),
        held=_lines([s for s in kept if _comes_near(s, reach)], x),
        dial=Curve.over((dial, dial), (-reach, reach)),
        crossings=tuple((s.dial_hz / 1e6, _role(s.level_dbc)) for s in crossing),
        shapes=(Shape.box(x, (-half, half), "pass_band"),),
        labels=tuple(labels),
        reach_khz=reach,
        frame=Frame(x, (-reach, reach), (look.band, look.way, reach)),
    )


def _spurs_of(analysis: Analysis | None, look: Look) -> tuple[Spur, ...]:
    """What a design has in the direction looked at."""
    return () if analysis is None else analysis.spurs(look.band, look.way)


def _comes_near(spur: Spur, reach_khz: float) -> bool:
    low, high = sorted((spur.offset_low_hz, spur.offset_high_hz))
    return low <= reach_khz * 1e3 and high >= -reach_khz * 1e3


def _lines(spurs: Sequence[Spur], x: Span) -> Curve:
    """Both ends of each product's line, one after the other."""
    ys = np.array([(s.offset_low_hz, s.offset_high_hz) for s in spurs], dtype=float).ravel() / 1e3
    return Curve(np.tile(np.array(x), len(spurs)), ys)


def _role(level_dbc: float) -> str:
    return next((role for least, role, _ in CLASSES if level_dbc >= least), CLASSES[-1][1])


def _text(spur: Spur) -> str:
    way = "" if spur.moves >= 0 else ", the other way"
    times = "" if abs(abs(spur.moves) - 1) < 0.005 else f"{_SPUR['moves'].written(abs(spur.moves))} × "
    order, level = (_SPUR[key].text(spur) for key in ("order", "level"))
    return f"{spur.products}, order {order}\n{level}, moves {times}as fast{way}"


def _at_edge(spur: Spur, x: Span, reach_khz: float) -> Label:
    """The name of a line that does not cross, where it stands inside the picture."""
    low, high = spur.offset_low_hz / 1e3, spur.offset_high_hz / 1e3
    shares = np.linspace(0.0, 0.95, 39)
    inside = shares[np.abs(low + shares * (high - low)) < 0.92 * reach_khz]
    first, *others = inside.tolist() or [0.5]
    text = f"{spur.products}, {spur.level}"
    return Label(
        x[0] + first * (x[1] - x[0]),
        low + first * (high - low),
        text,
        _role(spur.level_dbc),
        side="above_right",
        importance=spur.level_dbc,
        also=tuple((x[0] + each * (x[1] - x[0]), low + each * (high - low)) for each in others[3::4]),
    )
