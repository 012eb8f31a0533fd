"""Gain at one frequency within one box, which stray coupling from last to first stage can make howl."""

from core.model.stages.stage import Way
from core.record import record
from core.rig.levels.blocks import Block, Zone

#: What gives gain at radio and intermediate frequencies.
_AMPLIFIES = ("amplifier", "power_amplifier")
#: Frequencies at which a path amplifies with wiring that couples.
ZONES: tuple[Zone, ...] = ("rf", "if")


@record(kw_only=True)
class Loop:
    """The amplifiers of a path at one frequency: gain and assumed isolation between last and first [dB].

    Losses between them are left out, as what couples may pass by a filter. `stages` are their names.
    """

    band: str
    way: Way
    zone: Zone
    stages: tuple[str, ...]
    gain_db: float
    isolation_db: float

    @property
    def loop_db(self) -> float:
        """Gain once round, dB; above zero it can howl."""
        return self.gain_db - self.isolation_db


def loops(blocks: tuple[Block, ...], band: str, way: Way, isolation_db: float) -> tuple[Loop, ...]:
    """The loops of a path on a band with this isolation [dB]; none where nothing amplifies."""
    found = []
    for zone in ZONES:
        amplifiers = [each for each in blocks if each.zone == zone and each.role in _AMPLIFIES]
        if amplifiers:
            found.append(
                Loop(
                    band=band,
                    way=way,
                    zone=zone,
                    stages=tuple(each.name for each in amplifiers),
                    gain_db=sum(each.gain_db for each in amplifiers),
                    isolation_db=isolation_db,
                )
            )
    return tuple(found)
