"""Gain at one frequency within one box, which stray coupling from last to first stage can make howl, or what
comes back through a stage of which figures are all that is known. A mixer parts two frequencies only as far
as it isolates.
"""

from math import inf

from core.circuits.units import added_db
from core.model.stages.stage import Way
from core.record import record
from core.rig.levels.blocks import Block, Zone
from core.stages.kinds.kind import FILTERS
from core.stages.kinds.table import KINDS

#: What gives gain at radio and intermediate frequencies.
_AMPLIFIES = ("amplifier", "power_amplifier")
#: Frequencies at which a path amplifies with wiring that couples.
ZONES: tuple[Zone, ...] = ("rf", "if")


@record(kw_only=True)
class LetsBack:
    """A stage with its key, gain and stated isolation from output to input [dB]."""

    stage: str
    name: str
    gain_db: float
    isolation_db: float

    @property
    def round_db(self) -> float:
        """Gain once round it, with ends that turn back all there is [dB]."""
        return self.gain_db - self.isolation_db


@record(kw_only=True)
class Loop:
    """The amplifiers of a path at one frequency: gain and assumed isolation between last and first [dB].

    Losses between them are left out, as what couples may pass by a filter. `stages` are their names.
    `lets_back` is the one that lets most back of what it amplifies; None where none states its isolation.
    Stages of parts have their µ instead.
    """

    band: str
    way: Way
    zone: Zone
    stages: tuple[str, ...]
    gain_db: float
    isolation_db: float
    lets_back: LetsBack | None = None

    @property
    def subject(self) -> str:
        """Where and in which direction, which tells its finding from others."""
        return f"{self.zone}, {self.way}"

    @property
    def stage_db(self) -> float:
        """Gain once round that stage [dB]; −∞ without one."""
        return -inf if self.lets_back is None else self.lets_back.round_db

    @property
    def box_db(self) -> float:
        """Gain once round through the box, dB."""
        return self.gain_db - self.isolation_db

    @property
    def loop_db(self) -> float:
        """Gain once round, both ways in phase [dB]; above zero it can howl."""
        return 2 * added_db(self.box_db / 2, self.stage_db / 2)


def loops(
    blocks: tuple[Block, ...], band: str, way: Way, isolation_db: float, passes_db: float = -inf
) -> tuple[Loop, ...]:
    """The loops of a path on a band with this isolation [dB]; none where nothing amplifies.

    `passes_db` is the gain of the mixer between dial and IF for what it does not convert [dB]: amplifiers on
    its other side that make up for that, up to the next filter, belong to the loop too.
    """
    found = []
    for zone in ZONES:
        amplifiers = [each for each in blocks if each.zone == zone and each.role in _AMPLIFIES]
        if amplifiers:
            beyond = _beyond(blocks, zone, passes_db)
            more_db = passes_db + sum(each.gain_db for each in beyond) if beyond else 0.0
            found.append(
                Loop(
                    band=band,
                    way=way,
                    zone=zone,
                    stages=tuple(each.name for each in (*amplifiers, *beyond)),
                    gain_db=sum(each.gain_db for each in amplifiers) + more_db,
                    isolation_db=isolation_db,
                    lets_back=max(_stated(amplifiers), key=lambda each: each.round_db, default=None),
                )
            )
    return tuple(found)


def _beyond(blocks: tuple[Block, ...], zone: Zone, passes_db: float) -> list[Block]:
    """The amplifiers on the mixer's other side that a signal of this zone's frequency reaches through it with
    gain left over, the nearest first.
    """
    places = [n for n, each in enumerate(blocks) if each.role == "mixer" and each.zone in ZONES]
    at = next((n for n in places if {blocks[n].zone, _behind(blocks, n)} == set(ZONES)), None)
    if at is None:
        return []
    side = blocks[at + 1 :] if blocks[at].zone == zone else blocks[:at][::-1]
    reached, gain_db, best, most_db = list[Block](), passes_db, list[Block](), 0.0
    for each in side:
        if each.role in FILTERS or each.role == "mixer":
            break
        if each.role in _AMPLIFIES:
            reached.append(each)
            gain_db += each.gain_db
            if gain_db > most_db:
                best, most_db = list(reached), gain_db
    return best


def _behind(blocks: tuple[Block, ...], place: int) -> Zone | None:
    return blocks[place + 1].zone if place + 1 < len(blocks) else None


def _stated(blocks: list[Block]) -> list[LetsBack]:
    """Stages of which figures are all that is known, and their isolation stated."""
    return [
        LetsBack(stage=each.stage, name=each.name, gain_db=each.gain_db, isolation_db=-each.reverse_db)
        for each in blocks
        if KINDS[each.kind].making is None and each.reverse_db is not None
    ]
