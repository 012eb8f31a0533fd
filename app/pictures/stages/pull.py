"""The carrier's crystal against its trimmer, and where the filter wants it."""

import numpy as np

from app.pictures.figures import Curve, Frame, Label
from core.record import record
from core.rig.analysis import Analysis
from core.rig.paper.curves import pulled_carriers
from core.stages.outcome import Unsolved

#: Colours of the curves, a sideband each.
ROLES = ("carrier", "vfo")


@record
class PullPicture:
    """Frequency less the IF over the trimmer, a curve a sideband, and a line where each is wanted."""

    curves: tuple[Curve, ...]
    wanted: tuple[Curve, ...]
    labels: tuple[Label, ...]
    frame: Frame


def picture_of(analysis: Analysis) -> PullPicture | str:
    """How the carriers of a rig are reached, or why they are not."""
    found, if_hz = pulled_carriers(analysis), analysis.project.if_hz
    if isinstance(found, Unsolved):
        return found.reason
    curves, lines, labels, ys = [], [], [], []
    for each, role in zip(found, ROLES, strict=False):
        x, y = 1e12 * each.trimmer_f, (each.f_hz - if_hz) / 1e3
        wanted = (each.wanted_hz - if_hz) / 1e3
        curves.append(Curve(x, y))
        lines.append(Curve(x[[0, -1]], np.array([wanted, wanted])))
        ys += [float(y.min()), float(y.max()), wanted]
        name, middle = f"{each.sideband} sideband", x.size // 2
        labels.append(
            Label(
                float(x[-1]),
                wanted,
                f"wanted, {name}",
                "intermediate",
                side="above_left",
                importance=2,
                also=Curve(x, np.full_like(x, wanted)).some(),
            )
        )
        labels.append(Label(float(x[middle]), float(y[middle]), name, role, also=curves[-1].some()))
    room = 0.08 * (max(ys) - min(ys)) or 1.0
    span = (float(curves[0].x[0]), float(curves[0].x[-1]))
    frame = Frame(span, (min(ys) - room, max(ys) + room), ("pull", *(each.sideband for each in found)))
    return PullPicture(tuple(curves), tuple(lines), tuple(labels), frame)
