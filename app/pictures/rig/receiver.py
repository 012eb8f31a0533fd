"""The receiver's figures on a band: where its noise comes from, what it bears, and every S level."""

from app.pictures.figures import Frame, Label, Shape
from app.pictures.held import held_on_band
from app.pictures.told import Told, in_columns, in_rows, line, under_units
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import by_key
from core.rig.figures.receive import DYNAMIC_RANGE, OWN_NOISE, RECEIVE, S_METER, Noisy, noise_on
from core.rig.levels.dynamic_range import DynamicRange
from core.stages.kinds.kind import PASSIVE

(_SHARE,) = by_key(OWN_NOISE, "share")
(_NOISE_FIGURE,) = by_key(RECEIVE, "noise_figure_db")
#: The blocking range stands in the report: it is the compression over the MDS.
_RANGES = tuple(figure for figure in DYNAMIC_RANGE[1:] if figure.key != "blocking_db")
#: An S level tells what it is at the antenna, and what is asked of audio tells more than what it gives.
_FEW = tuple(figure for figure in S_METER[1:] if figure.key not in ("antenna_dbm", "given_w"))
#: Parts of less than this share of the bar have their text in the table alone [-].
_NAMED = 0.03
#: Heights of the bar, and of the held design's below it.
_BAR, _HELD = (0.0, 1.0), (-0.55, -0.15)


@record
class NoiseBar:
    """All of the own noise as one bar from 0 to 100 %, stage upon stage; the held design's as an outline."""

    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class ReceiverPicture:
    """Titles and tables, and the bar; `few` are the stations in fewer columns, for a narrow page."""

    noise_title: str
    bar: NoiseBar
    ranges_title: str
    ranges: Told
    stations_title: str
    stations: Told
    few: Told
    parts_title: str
    parts: Told


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> ReceiverPicture | str:
    """The receiver at the dial of the band looked at, or why there is none."""
    if not analysis.project.path("receive"):
        return "No stage works in receive; insert one with the + of the signal path."
    then = held_on_band(held, look)
    if then is not None and not then.project.path("receive"):
        then = None
    parts = noise_on(analysis, look.band, look.dial_hz)
    kept = [] if then is None else noise_on(then, look.band, look.dial_hz)
    figure = _NOISE_FIGURE.text(analysis.receive(look.band, look.dial_hz))
    band, stations = words.band(look.band), analysis.s_meter(look.band, look.dial_hz)
    return ReceiverPicture(
        noise_title=f"Own noise by stage, {band}: noise figure {figure}",
        bar=_bar(parts, kept),
        ranges_title=f"Strong stations beside the signal, {band}",
        ranges=_in_rows(analysis.dynamic_ranges(look.band, look.dial_hz)),
        stations_title=f"A station by its S level, {band}",
        stations=under_units(S_METER[1:], stations),
        few=under_units(_FEW, stations),
        parts_title=f"The parts of the own noise, {band}",
        parts=in_columns(OWN_NOISE[1:], parts),
    )


def _in_rows(ranges: tuple[DynamicRange, ...]) -> Told:
    """A column for each spacing."""
    spacing, *others = _RANGES
    heads = ("", *(spacing.text(each) for each in ranges))
    return in_rows(heads, (line(figure, *ranges) for figure in others))


def _bar(parts: list[Noisy], kept: list[Noisy]) -> NoiseBar:
    shapes, labels = [], []
    at = 0.0
    for each in parts:
        end = at + 100 * each.part.share
        shapes.append(Shape.box((at, end), _BAR, _ground(each), "rule", dashed=each.part.image))
        if each.part.share >= _NAMED:
            name = f"{each.part.name}, image" if each.part.image else each.part.name
            text = f"{name} {_SHARE.text(each)}"
            labels.append(
                Label((at + end) / 2, _BAR[1], text, "ink", side="above", importance=each.part.share)
            )
        at = end
    at = 0.0
    for each in kept:
        end = at + 100 * each.part.share
        shapes.append(Shape.box((at, end), _HELD, None, "held", dashed=True))
        at = end
    return NoiseBar(tuple(shapes), tuple(labels), Frame((0.0, 100.0), (-0.8, 3.4), ("own noise",)))


def _ground(each: Noisy) -> str:
    """Amplifiers on one ground, filters and pads on another, mixers and their images on a third."""
    if each.part.image:
        return "grid"
    if each.part.role in PASSIVE:
        return "pass_band"
    return "grid" if each.part.role == "mixer" else "corridor"
