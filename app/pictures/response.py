"""Responses over frequency or tone, with marks where other signals lie, and what is held dashed."""

from collections.abc import Hashable, Sequence
from typing import TypeVar

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, LinePicture, Shape, Span
from app.pictures.told import Line
from core.circuits.ladder import Array
from core.model.measured import MeasuredCurve
from core.record import record
from core.rig.built.measured import drawn
from core.rig.figures.figure import Figure, by_key, keyed
from core.rig.figures.filters import FILTER, FILTERS, FilterOn
from core.rig.paper.curves import filter_response
from core.stages.built.corridor import Corridor, DelayCorridor
from core.stages.outcome import FilterDesign, Unsolved

T = TypeVar("T")
SPREAD = keyed(FILTERS)["group_delay_spread_s"]
#: A space at which no line is broken.
_STAYS = "\u00a0"
#: Lowest attenuation drawn, dB.
FLOOR_DB = -140.0
#: Marks whose names find room beside them.
_FEW_MARKS = 3
#: What the shade around a response is, below its title.
_SHADED = (
    ("shaded: nine filters in ten",),
    "What parts within their tolerances make of it, the 5th to the 95th percentile of 64 filters, their "
    "trimmers set; how far parts scatter is set on the page Tolerance, which tries more.",
)


@record
class Mark:
    """A range [MHz] of interest in the picture, with its name and colour."""

    low: float
    high: float
    text: str
    role: str
    importance: float = 0.0


@record(kw_only=True)
class ResponsePicture:
    """Everything a response plot shows: the curve, a quiet one beside it, the held one, marks and notes."""

    line: Curve
    beside: Curve
    held: Curve
    measured: Curve
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame
    #: Figures of the response, which stand below the title: in the picture they would lie over its curves.
    notes: str
    #: What is told of them when they are pointed at.
    told: str


def finite(values: Array, floor: float) -> Array:
    """The values with infinities brought to `floor`, so that a curve can be drawn down to it."""
    return np.nan_to_num(values, nan=floor, posinf=floor, neginf=floor)


def response_picture(
    x: Array,
    response_db: Array,
    *,
    depth_db: float,
    key: Hashable,
    held: tuple[Array, Array] | None = None,
    beside: tuple[str, Array] | None = None,
    marks: Sequence[Mark] = (),
    notes: Sequence[Line] = (),
    scattered: Corridor | Unsolved | None = None,
    measured: tuple[Array, Array] | None = None,
) -> ResponsePicture:
    """A response down to −`depth_db`; `held` is the held design's (x, response), `beside` the name and values
    of a quiet second curve on the same x, `scattered` what the parts' tolerances make of it there, `measured`
    the (x, response) that was measured.
    """
    line = Curve(x, finite(response_db, FLOOR_DB))
    span: Span = (float(x[0]), float(x[-1]))
    top, width = 0.06 * depth_db, span[1] - span[0]
    # Among many marks there is no room for names, so they stand above them.
    above = 0.4 * depth_db if len(marks) > _FEW_MARKS else 0.0
    shapes: list[Shape] = []
    edges: list[Shape] = []
    labels: list[Label] = []
    tolerance = None if scattered is None or isinstance(scattered, Unsolved) else scattered
    if tolerance is not None:
        notes = (*notes, _SHADED)
    for mark in marks:
        lack = max(0.0, 0.004 * width - (mark.high - mark.low)) / 2 if mark.high > mark.low else 0.0
        low, high = mark.low - lack, mark.high + lack
        shapes.append(Shape.box((low, high), (-depth_db, top), "corridor", mark.role))
        # The shade of the tolerances may not hide where a mark begins.
        edges.append(Shape.box((low, high), (-depth_db, top), None, mark.role))
        middle = (mark.low + mark.high) / 2
        level = max(float(np.interp(middle, x, line.y)), -0.9 * depth_db)
        along = tuple((at, y) for y in np.linspace(0, -depth_db, 16).tolist() for at in (high, low))
        at, side, also = ((middle, top), "above", ()) if above else ((high, level), "above_right", along)
        labels.append(Label(*at, mark.text, mark.role, side=side, importance=mark.importance, also=also))
    if tolerance is not None:
        shapes += [corridor_shape(x, tolerance.low_db, tolerance.high_db), *edges]
    second = NO_CURVE
    if beside is not None:
        name, values = beside
        second = Curve(x, finite(values, FLOOR_DB))
        place = x.size // 12
        labels.append(
            Label(
                float(x[place]),
                float(values[place]),
                name,
                "soft",
                side="below_right",
                importance=2,
                also=second.some(),
            )
        )
    swept = NO_CURVE if measured is None else Curve(measured[0], finite(measured[1], FLOOR_DB))
    if swept.x.size and not above:
        labels.append(_named("measured", "second_curve", swept, span, depth_db))
    return ResponsePicture(
        line=line,
        beside=second,
        # Dashes cost by the point: a quarter of them is plenty for the eye.
        held=NO_CURVE if held is None else Curve(held[0][::4], finite(held[1][::4], FLOOR_DB)),
        measured=swept,
        shapes=tuple(shapes),
        labels=tuple(labels),
        frame=Frame(span, (-depth_db, top + above), (key,)),
        notes=" · ".join(" ".join(cells).replace(" ", _STAYS) for cells, _ in notes),
        told=" ".join(f"{cells[0]}: {tip}" for cells, tip in notes),
    )


def _named(name: str, role: str, curve: Curve, span: Span, depth_db: float) -> Label:
    """The name of a curve, wherever along what is seen of it there is room."""
    seen = np.flatnonzero((curve.x >= span[0]) & (curve.x <= span[1]) & (curve.y > -0.9 * depth_db))
    if not seen.size:
        return Label(span[0], -depth_db, name, role, importance=8)
    points = Curve(curve.x[seen], curve.y[seen]).some(min(9, seen.size))
    (x, y), *also = points
    return Label(x, y, name, role, side="above_right", importance=8, also=tuple(also))


def corridor_shape(x: Array, low_db: Array, high_db: Array, edge: str | None = None) -> Shape:
    """What lies between two losses, least and most, as a shape; a picture has what is lost below zero."""
    best, worst = finite(-low_db, FLOOR_DB), finite(-high_db, FLOOR_DB)
    along = np.concatenate([x, x[::-1]]).tolist()
    return Shape(
        tuple(zip(along, np.concatenate([best, worst[::-1]]).tolist(), strict=True)), "scatter", edge
    )


def filter_picture(
    design: FilterDesign,
    held: FilterDesign | None,
    span_hz: Span,
    depth_db: float,
    key: Hashable,
    marks: Sequence[Mark] = (),
    notes: Sequence[Line] = (),
    *,
    return_loss: bool = False,
    scattered: Corridor | Unsolved | None = None,
    measured: MeasuredCurve | None = None,
) -> ResponsePicture:
    """The exact response of a filter's circuit over a range [Hz], the held one's dashed; `scattered` is where
    nine of ten like it lie, `measured` its curve as swept.
    """
    now = filter_response(design, *span_hz)
    was = None if held is None else filter_response(held, *span_hz)
    x = now.f_hz / 1e6
    swept = None if measured is None else drawn(measured)
    return response_picture(
        x,
        -now.loss_db,
        depth_db=depth_db,
        key=key,
        held=None if was is None else (x, -was.loss_db),
        beside=("return loss", -now.return_loss_db) if return_loss else None,
        marks=marks,
        notes=notes,
        scattered=scattered,
        measured=None if swept is None else (swept[0] / 1e6, swept[1]),
    )


def delay_picture(
    x_hz: Array,
    delay_s: Array,
    spread_s: float,
    speech_hz: Span,
    held_s: Array | None = None,
    scattered: DelayCorridor | Unsolved | None = None,
) -> LinePicture:
    """Group delay [s] over tones [Hz]; `spread_s` is the spread within `speech_hz`, `scattered` what the
    parts' tolerances make of the delay at the same tones.
    """
    # A round top, so that the axis does not dance while the IF is turned.
    top = float(np.ceil(2.2e3 * delay_s.max()) / 2)
    text = f"spread {SPREAD.written(spread_s)}\nover {speech_hz[0]:.0f} to {speech_hz[1]:.0f} Hz"
    shapes = [Shape.box(speech_hz, (0.0, top), "corridor")]
    if isinstance(scattered, DelayCorridor):
        shapes.append(corridor_shape(x_hz, -1e3 * scattered.low_s, -1e3 * scattered.high_s))
        text += f"\n{_SHADED[0][0]}"
    return LinePicture(
        line=Curve(x_hz, 1e3 * delay_s),
        held=NO_CURVE if held_s is None else Curve(x_hz[::4], 1e3 * held_s[::4]),
        shapes=tuple(shapes),
        labels=(Label(speech_hz[1], 0.98 * top, text, "soft", side="below_right", importance=9),),
        frame=Frame((float(x_hz[0]), float(x_hz[-1])), (0.0, top), ("delay",)),
    )


def notes_of(picture: ResponsePicture | str) -> tuple[str, str]:
    """What stands below the title of a response, and its tip; nothing where a sentence is in its place."""
    return ("", "") if isinstance(picture, str) else (picture.notes, picture.told)


def widths(of: FilterOn) -> list[Line]:
    """The figures that stand below a response's title, each with its tip."""
    return [noted(figure, of) for figure in _BELOW if figure.get(of) is not None]


#: What stands below a filter's response.
_BELOW = by_key(
    FILTER, "bandwidth_3db_hz", "bandwidth_6db_hz", "bandwidth_60db_hz", "insertion_loss_db", "ripple_db"
)


def noted(figure: Figure[T], of: T) -> Line:
    """A figure as a note, with its tip."""
    return (f"{figure.title} {figure.text(of)}",), figure.tip
