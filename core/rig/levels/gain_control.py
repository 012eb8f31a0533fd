"""How far a receiver's controls are turned down for a station of some level."""

from collections.abc import Sequence

from core.circuits.units import dbm
from core.model.project import Stage
from core.record import record
from core.stages.kinds.table import kind_of


@record(kw_only=True)
class Control:
    """A control at a place of the path: what it can take out at most [dB] and what audio it holds [dBm]."""

    place: int
    stage: str
    name: str
    automatic: bool
    range_db: float
    held_dbm: float


def controls(path: Sequence[Stage]) -> tuple[Control, ...]:
    """The controls of a path in signal order, in the order in which they act: automatic ones first, from the
    antenna on; then by hand, the one nearest the speaker first.
    """
    found = []
    for place, stage in enumerate(path):
        made = kind_of(stage).control(stage)
        if made is not None:
            automatic = made.turned == "automatically"
            found.append(
                Control(
                    place=place,
                    stage=stage.id,
                    name=stage.name,
                    automatic=automatic,
                    range_db=made.range_db,
                    held_dbm=dbm(made.held_w),
                )
            )
    return tuple(sorted(found, key=lambda c: (not c.automatic, c.place if c.automatic else -c.place)))


def taken_db(controls: Sequence[Control], audio_dbm: float) -> tuple[float, ...]:
    """What each control takes out [dB] of a station that would make `audio_dbm` [dBm] full up."""
    taken = []
    for each in controls:
        mine = min(max(audio_dbm - each.held_dbm, 0.0), each.range_db)
        taken.append(mine)
        audio_dbm -= mine
    return tuple(taken)
