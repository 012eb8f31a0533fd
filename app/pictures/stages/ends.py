"""What an amplifier does with the impedances that really stand beside it: match and gain around a filter."""

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label
from app.state.look import Look
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import AROUND
from core.rig.levels.ends import Ends, return_loss_db
from core.stages.outcome import Unsolved

#: Reflections below this are as good as none, dB.
_LEAST_DB = -40.0


@record(kw_only=True)
class EndsPicture:
    """What is reflected, seen through the amplifier and by the filter alone, and how far gain is another than
    between resistances [dB], over kHz from the middle of the filter; or the sentence why there is nothing.
    """

    title: str
    sentence: str
    seen: Curve
    alone: Curve
    change: Curve
    labels: tuple[Label, ...]
    frame: Frame


def ends_of(analysis: Analysis, look: Look) -> Ends | Unsolved:
    """What stands beside the selected stage in the direction looked at."""
    return analysis.ends(str(look.stage), look.band, look.way)


def picture_of(found: Ends | Unsolved, look: Look) -> EndsPicture:
    """The plot of an amplifier's ends."""
    if isinstance(found, Unsolved):
        return EndsPicture(
            title="what stands beside it",
            sentence=found.reason,
            seen=NO_CURVE,
            alone=NO_CURVE,
            change=NO_CURVE,
            labels=(),
            frame=Frame((-1.0, 1.0), (_LEAST_DB, 10.0), ("ends", look.stage)),
        )
    x = (found.f_hz - AROUND.get(found)) / 1e3
    seen = np.maximum(-return_loss_db(found.seen_ohm), _LEAST_DB)
    alone = np.maximum(-return_loss_db(found.filter_ohm), _LEAST_DB)
    where = found.before if found.faces_input else found.behind
    name = f"as {where} sees it"
    side = len(x) // 8
    labels = (
        Label(float(x[side]), float(seen[side]), name, "curve", side="below", importance=9),
        Label(
            float(x[-side]),
            float(alone[-side]),
            f"{found.beside} without it",
            "soft",
            side="below",
            importance=5,
        ),
        Label(
            float(x[len(x) // 2]),
            float(found.gain_change_db[len(x) // 2]),
            "gain against equal resistances",
            "soft",
            side="above",
            importance=7,
        ),
    )
    return EndsPicture(
        title=f"with what stands beside it, around {AROUND.text(found)}",
        sentence="",
        seen=Curve(x, seen),
        alone=Curve(x, alone),
        change=Curve(x, found.gain_change_db),
        labels=labels,
        frame=Frame((float(x[0]), float(x[-1])), (_LEAST_DB, 10.0), ("ends", look.stage, look.way)),
    )
