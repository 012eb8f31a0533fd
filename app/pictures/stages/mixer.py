"""A mixer: gain, noise figure and intercept over its drive, figures at its drive, products, levels."""

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, Shape
from app.pictures.stages import block
from app.pictures.told import Told, in_columns, in_rows, line, said
from app.state.look import Look
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.mixers import MIXER, OVER_DRIVE, PRODUCTS, products_of
from core.rig.mixer_facts import MixerFacts, mixer_facts
from core.stages.mixer_circuit import OverDrive
from core.stages.outcome import Unsolved

#: The range of the plot, dB and dBm: what lies below is of no use to anybody.
_LOW, _HIGH = -30.0, 32.0
#: Colours of the curves.
ROLES = ("curve", "second_curve", "image")
_SHORT = ("gain", "noise figure", "intercept")


@record(kw_only=True)
class DrivePicture:
    """Conversion gain, noise figure [dB] and input intercept [dBm] over the drive [dBm], held gain dashed,
    a line at the drive that the mixer gets with a spot on each curve, and the range that will do.
    """

    curves: tuple[Curve, ...]
    held: Curve
    at: Curve
    spots: tuple[tuple[float, float, str], ...]
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class MixerPicture:
    """Everything the view shows of a mixer; a sentence in place of the plot where there is none."""

    name: str
    drive: DrivePicture | str
    table: Told
    products: Told
    levels_title: str
    levels: Told


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> MixerPicture | Unsolved:
    """What there is to show of the selected mixer, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = mixer_facts(analysis, stage, look.band)
    if isinstance(facts, Unsolved):
        return facts
    at = block.picture_of(analysis, look)
    if isinstance(at, Unsolved):
        levels = in_rows(("figure", "value"), [said("levels", at.reason)])
    else:
        levels = at.table
    return MixerPicture(
        name=stage.name,
        drive=_over_drive(facts, _held(held, look), stage.id),
        table=in_rows(
            ("figure", "value"), (line(figure, facts) for figure in MIXER if figure.get(facts) is not None)
        ),
        products=in_columns(PRODUCTS, products_of(facts)),
        levels_title=f"{stage.name}: levels" if isinstance(at, Unsolved) else at.title,
        levels=levels,
    )


def _held(held: Analysis | None, look: Look) -> MixerFacts | None:
    if held is None or all(stage.id != look.stage for stage in held.project.stages):
        return None
    if all(band.name != look.band for band in held.project.bands):
        return None
    found = mixer_facts(held, held.project.stage(str(look.stage)), look.band)
    return None if isinstance(found, Unsolved) else found


def _over_drive(facts: MixerFacts, held: MixerFacts | None, stage_id: str) -> DrivePicture | str:
    over = facts.over
    if not isinstance(over, OverDrive):
        return (
            "Figures are typical of the type; let empty figures be of its circuit to see them over the drive."
        )
    x, rows = over.drive_dbm, [getattr(over, figure.key) for figure in OVER_DRIVE]
    # A starved mixer's curves leave the picture.
    curves = tuple(_cut(Curve(x, row)) for row in rows)
    before = held.over if held is not None and isinstance(held.over, OverDrive) else None
    gets = facts.drive.delivered_dbm
    inside = min(max(gets, float(x[0])), float(x[-1]))
    spots = tuple(
        (inside, value, role)
        for row, role in zip(rows, ROLES, strict=True)
        if _LOW <= (value := float(np.interp(inside, x, row))) <= _HIGH
    )
    labels = [
        Label(*curve.some()[-1], name, role, side="above_left", importance=5, also=curve.some())
        for curve, name, role in zip(curves, _SHORT, ROLES, strict=True)
        if len(curve.x)
    ]
    labels.append(
        Label(inside, _LOW, "gets", "soft", side="above", importance=3, also=((inside, _HIGH - 4),))
    )
    return DrivePicture(
        curves=curves,
        held=NO_CURVE if before is None else _cut(Curve(before.drive_dbm[::2], before.gain_db[::2])),
        at=Curve.over((inside, inside), (_LOW, _HIGH)),
        spots=spots,
        shapes=(Shape.box((facts.drive.least_dbm, facts.drive.most_dbm), (_LOW, _HIGH), "pass_band"),),
        labels=tuple(labels),
        frame=Frame((float(x[0]), float(x[-1])), (_LOW, _HIGH), ("drive", stage_id)),
    )


def _cut(curve: Curve) -> Curve:
    """The part of a curve that lies in the picture."""
    inside = (curve.y >= _LOW) & (curve.y <= _HIGH)
    return Curve(curve.x[inside], curve.y[inside])
