"""A mixer: gain, noise figure and intercept over its drive, figures at its drive, products, levels."""

import numpy as np

from app.pictures.figures import Curve, Frame, Label, Shape
from app.pictures.held import held_facts, held_on_band
from app.pictures.stages import block
from app.pictures.stages.coils import wound_coils
from app.pictures.told import Told, in_columns, in_rows, line
from app.state.look import Look
from core.circuits.ladder import Array
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.mixers import MIXER, OVER_DRIVE, PRODUCTS, products_of
from core.rig.mixer_facts import MixerFacts, held_down, mixer_facts
from core.rig.wound.windings import windings_of
from core.stages.mixers.design import MixerDesign
from core.stages.mixers.drive import OverDrive
from core.stages.outcome import Unsolved

#: The range of the plot, dB and dBm: what lies below is of no use to anybody.
_LOW, _HIGH = -30.0, 32.0
#: And of the plot of what is held down, dB.
_LEAST_DB, _MOST_DB = 0.0, 100.0
#: Colours of the curves; of isolation, products and a modulator's carrier.
ROLES = ("curve", "second_curve", "image")
DOWN_ROLES = ("vfo", "good", "curve", "image", "carrier")
_SHORT = ("gain", "noise figure", "intercept")


@record(kw_only=True)
class DrivePicture:
    """Conversion gain, noise figure [dB] and input intercept [dBm], or what is held down [dB], over the drive
    [dBm], those of the held design dashed, a line at the drive that the mixer gets with a spot on each curve,
    and the range that will do.
    """

    curves: tuple[Curve, ...]
    held: tuple[Curve, ...]
    at: Curve
    spots: tuple[tuple[float, float, str], ...]
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class MixerPicture:
    """Everything the view shows of a mixer; a sentence in place of the plot where there is none, circuit and
    windings of one that is made of parts.
    """

    name: str
    drive: DrivePicture | str
    down: DrivePicture | str
    table: Told
    products: Told
    levels_title: str
    levels: Told
    made: MixerDesign | None = None
    coils: Told | None = None


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> MixerPicture | Unsolved:
    """What there is to show of the selected mixer, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = mixer_facts(analysis, stage, look.band)
    if isinstance(facts, Unsolved):
        return facts
    levels_title, levels = block.levels_of(analysis, look)
    before = held_facts(
        held_on_band(held, look), look, lambda kept, stage: mixer_facts(kept, stage, look.band)
    )
    return MixerPicture(
        name=stage.name,
        drive=_over_drive(facts, before, stage.id),
        down=_held_down(facts, before, analysis, held, stage.id),
        table=in_rows(
            ("figure", "value"), (line(figure, facts) for figure in MIXER if figure.get(facts) is not None)
        ),
        products=in_columns(PRODUCTS, products_of(facts)),
        levels_title=levels_title,
        levels=levels,
        made=facts.made,
        coils=None if facts.made is None else _coils(analysis, stage.id),
    )


def _coils(analysis: Analysis, stage: str) -> Told | None:
    """How its transformers are wound; None where no core was chosen."""
    row = next(row for row in analysis.circuits if row.stage == stage)
    found = windings_of(analysis, row)
    return wound_coils(found) if found else None


#: What is said in place of a plot where figures are the type's.
_OF_TYPE = "Figures are typical of the type; let empty figures be of its circuit to see them over the drive."


def _over_drive(facts: MixerFacts, held: MixerFacts | None, stage_id: str) -> DrivePicture | str:
    over = facts.over
    if not isinstance(over, OverDrive):
        return _OF_TYPE
    before = held.over if held is not None and isinstance(held.over, OverDrive) else None
    keys = [figure.key for figure in OVER_DRIVE]
    return _drawn(
        facts,
        over.drive_dbm,
        [getattr(over, key) for key in keys],
        None if before is None else (before.drive_dbm, [getattr(before, key) for key in keys]),
        list(zip(ROLES, _SHORT, strict=True)),
        (_LOW, _HIGH),
        ("drive", stage_id),
    )


def _held_down(
    facts: MixerFacts, before: MixerFacts | None, analysis: Analysis, held: Analysis | None, stage_id: str
) -> DrivePicture | str:
    found = held_down(facts, analysis.project.stage(stage_id))
    if found is None:
        return _OF_TYPE
    was = None if before is None or held is None else held_down(before, held.project.stage(stage_id))
    return _drawn(
        facts,
        found.drive_dbm,
        [row for _, row in found.curves],
        None if was is None else (was.drive_dbm, [row for _, row in was.curves]),
        list(zip(DOWN_ROLES, [name for name, _ in found.curves], strict=False)),
        (_LEAST_DB, _MOST_DB),
        ("held down", stage_id),
    )


def _drawn(
    facts: MixerFacts,
    x: Array,
    rows: list[Array],
    before: tuple[Array, list[Array]] | None,
    named: list[tuple[str, str]],
    y: tuple[float, float],
    key: tuple[str, str],
) -> DrivePicture:
    """Curves with their roles and names, and the working point."""
    # A starved mixer's curves leave the picture.
    curves = tuple(_cut(Curve(x, row), y) for row in rows)
    gets = facts.drive.delivered_dbm
    inside = min(max(gets, float(x[0])), float(x[-1]))
    spots = tuple(
        (inside, value, role)
        for row, (role, _) in zip(rows, named, strict=True)
        if y[0] <= (value := float(np.interp(inside, x, row))) <= y[1]
    )
    labels = [
        Label(*curve.some()[-1], name, role, side="above_left", importance=5, also=curve.some())
        for curve, (role, name) in zip(curves, named, strict=True)
        if len(curve.x)
    ]
    labels.append(Label(inside, y[0], "gets", "soft", side="above", importance=3, also=((inside, y[1] - 4),)))
    ends = (facts.drive.least_dbm, facts.drive.most_dbm)
    least, most = (min(max(each, float(x[0])), float(x[-1])) for each in ends)
    return DrivePicture(
        curves=curves,
        held=() if before is None else tuple(_cut(Curve(before[0], row), y) for row in before[1]),
        at=Curve.over((inside, inside), y),
        spots=spots,
        shapes=(Shape.box((least, most), y, "pass_band"),),
        labels=tuple(labels),
        frame=Frame((float(x[0]), float(x[-1])), y, key),
    )


def _cut(curve: Curve, y: tuple[float, float]) -> Curve:
    """The part of a curve that lies in the picture."""
    inside = (curve.y >= y[0]) & (curve.y <= y[1])
    return Curve(curve.x[inside], curve.y[inside])
