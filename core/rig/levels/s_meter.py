"""A station's level along the receiver, from S1 to S9 + 60 dB, and what gives way first."""

from functools import lru_cache

from core.circuits.units import added_db, watts
from core.record import record
from core.rig.levels.blocks import Block
from core.rig.levels.receive import S9_DBM, ReceiveLevels
from core.rig.levels.transmit import compressed_dbm

#: Decibels of an S unit, and the steps above S9: IARU Region 1 Technical Recommendation R.1 (Brighton 1981).
UNIT_DB, OVER_S9_DB = 6.0, (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0)


@record(kw_only=True)
class SLevel:
    """A station of some strength: its level at the antenna, at the first mixer's input, and behind the ladder
    [dBm]; how far it stands over all noise [dB]; what the controls take out for it [dB]; what is asked of the
    last audio stage and what that gives [W], None without one. `limited` is the first stage that overloads.
    """

    band: str
    name: str
    antenna_dbm: float
    mixer_dbm: float | None
    ladder_dbm: float | None
    over_noise_db: float
    taken_db: float | None
    asked_w: float | None
    given_w: float | None
    limited: str | None


def s_name(over_s9_db: float) -> str:
    """How a level over S9 [dB] is called, to the next lower S unit below it."""
    if over_s9_db > 0:
        return f"S9 + {over_s9_db:.0f} dB"
    return f"S{9 + over_s9_db / UNIT_DB:.0f}"


@lru_cache(maxsize=64)
def s_meter(levels: ReceiveLevels) -> tuple[SLevel, ...]:
    """Every S unit, then in steps of 10 dB to S9 + 60 dB."""
    steps = (*(UNIT_DB * (unit - 9) for unit in range(1, 9)), *OVER_S9_DB)
    return tuple(_at(levels, each) for each in steps)


def _at(levels: ReceiveLevels, over_s9_db: float) -> SLevel:
    antenna = S9_DBM + over_s9_db
    along, taken = levels.station(over_s9_db)

    def before(role: str) -> float | None:
        place = next((n for n, each in enumerate(levels.blocks) if each.role == role), None)
        return None if place is None else along[place]

    ladder = next((n for n, each in enumerate(levels.blocks) if each.role == "channel_filter"), None)
    places = [n for n, each in enumerate(levels.blocks) if each.role == "audio"]
    asked = along[places[-1] + 1] if places else None
    most = levels.blocks[places[-1]].p1db_out_dbm if places else None
    given = asked if asked is None or most is None else compressed_dbm(asked, most)
    first = next((each for n, each in enumerate(levels.blocks) if _overloads(each, along[n])), None)
    return SLevel(
        band=levels.band,
        name=s_name(over_s9_db),
        antenna_dbm=antenna,
        mixer_dbm=before("mixer"),
        ladder_dbm=None if ladder is None else along[ladder + 1],
        over_noise_db=antenna - added_db(levels.mds_dbm, levels.band_noise_dbm),
        taken_db=sum(taken) if levels.controls else None,
        asked_w=None if asked is None else watts(asked),
        given_w=None if given is None else watts(given),
        limited=None if first is None else first.name,
    )


def _overloads(stage: Block, level_dbm: float) -> bool:
    return stage.p1db_in_dbm is not None and level_dbm > stage.p1db_in_dbm
