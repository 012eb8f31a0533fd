"""The ladder filter: its response wide and near, speech through it, its circuit and its figures."""

from app.pictures.figures import LinePicture
from app.pictures.held import held_design, reason_of
from app.pictures.response import Mark, ResponsePicture, filter_picture, widths
from app.pictures.stages.ladder_table import ladder_table
from app.pictures.stages.speech import audio_of, delay_of
from app.pictures.told import Told
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bag import standing_in
from core.rig.built.measured import curve_of
from core.rig.figures.figure import keyed
from core.rig.figures.filters import filter_on
from core.rig.figures.plan import CARRIER
from core.rig.paper.curves import scattered_response
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, Unsolved

DOWN = keyed(CARRIER)["ladder_suppression_db"]


@record(kw_only=True)
class LadderPicture:
    """Everything the view shows of a ladder; what its choices hide is None and was not computed."""

    name: str
    band: str
    design: FilterDesign
    #: The labels of the measured crystals that stand in it, by reference.
    crystals: tuple[tuple[str, str], ...]
    near: ResponsePicture
    wide: ResponsePicture
    audio: ResponsePicture | str | None
    delay: LinePicture | str | None
    figures: Told | None


def picture_of(
    analysis: Analysis, held: Analysis | None, look: Look, *, delay: bool, figures: bool
) -> LadderPicture | Unsolved:
    """What there is to show of the selected ladder on the band looked at, or why there is nothing.

    `delay`: group delay instead of the audio response; `figures`: those instead of the schematic.
    """
    stage = analysis.project.stage(str(look.stage))
    ladder = KINDS[stage.kind].ladder(stage)
    assert ladder is not None  # what this picture is chosen for
    design, measured = (
        analysis.filter_design(stage.id, look.band),
        analysis.filter_figures(stage.id, look.band),
    )
    if isinstance(design, Unsolved) or isinstance(measured, Unsolved):
        return Unsolved(reason_of(design, measured))
    of = filter_on(analysis, stage.id, look.band)
    assert of is not None  # it has a design
    was = held_design(held, stage.id, look)
    marks = _carriers(analysis)
    low, high = design.span_hz
    width = high - low
    far = (max(low - 2.2 * width, low / 2), high + 2.2 * width)
    notes = widths(of)
    curve = curve_of(analysis, stage.id, look.band)
    return LadderPicture(
        name=stage.name,
        band=words.band(look.band),
        design=design,
        crystals=tuple(standing_in(analysis, ladder).items()),
        near=filter_picture(
            design,
            was,
            (low, high),
            70.0,
            (stage.id, "close"),
            marks,
            notes,
            return_loss=True,
            scattered=scattered_response(analysis, stage.id, look.band, low, high),
            measured=curve,
        ),
        wide=filter_picture(
            design,
            was,
            far,
            120.0,
            (stage.id, "wide"),
            marks,
            scattered=scattered_response(analysis, stage.id, look.band, *far),
            measured=curve,
        ),
        audio=None if delay else audio_of(analysis, held, ladder, look),
        delay=delay_of(analysis, held, ladder, look) if delay else None,
        figures=ladder_table(of) if figures else None,
    )


def _carriers(analysis: Analysis) -> tuple[Mark, ...]:
    """A mark for each carrier, with the bands that share it."""
    groups: dict[tuple[float, float], list[str]] = {}
    for band in analysis.project.bands:
        place = analysis.carrier(band.name)
        if not isinstance(place, Unsolved):
            groups.setdefault((place.frequency_hz, place.suppression_db), []).append(words.band(band.name))
    return tuple(
        Mark(hz / 1e6, hz / 1e6, f"carrier\n{', '.join(names)}\n{DOWN.written(-down_db)}", "carrier", 5)
        for (hz, down_db), names in groups.items()
    )
