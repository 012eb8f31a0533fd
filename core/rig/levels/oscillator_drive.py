"""An oscillator's level at the mixers it drives: what stands behind it, how it is divided, what they want."""

from collections.abc import Mapping
from math import inf, log10, sqrt

from core.circuits.units import watts
from core.model.project import Project, Stage
from core.model.stages.amplifiers import Amplifier
from core.model.stages.oscillators import Oscillator
from core.record import record
from core.rig.levels.transmit import compressed_dbm
from core.rig.plan.carriers import carrier_level_dbm
from core.rig.plan.surroundings import oscillator_hz, surroundings
from core.stages.kinds.kind import NOMINAL_OHM, Driver, Place, Role, Surroundings
from core.stages.kinds.table import kind_of
from core.stages.mixers.drive import AtDrive
from core.stages.outcome import Unsolved

DRIVERS: tuple[Driver, ...] = ("vfo", "carrier")
#: What can stand between an oscillator and its mixers.
BEHIND: frozenset[Role] = frozenset({"amplifier", "pad"})
#: How far an amplifier that is added stays below compression, dB.
_ROOM_DB = 6.0
#: Drive that nobody misses, dB: what an amplifier that was added for it loses by its own compression.
_NOTHING_DB = 0.1


@record(kw_only=True)
class Drive:
    """One mixer: the drive it wants and gets, the least that will do and the most that it bears [dBm], and
    the second harmonic of what it gets [dBc]; `computed` where its circuit says so.
    """

    stage: str
    name: str
    oscillator: Driver
    wanted_dbm: float
    delivered_dbm: float
    least_dbm: float
    most_dbm: float
    second_dbc: float
    computed: bool

    @property
    def missing_db(self) -> float:
        """How far the drive falls short, dB; negative when there is too much."""
        return self.wanted_dbm - self.delivered_dbm

    @property
    def suits(self) -> bool:
        """Whether the drive is neither too little nor too much."""
        return self.least_dbm <= self.delivered_dbm <= self.most_dbm

    @property
    def peak_v(self) -> float:
        """What is delivered as a peak voltage in 50 ohm, V."""
        return sqrt(2 * NOMINAL_OHM * watts(self.delivered_dbm))


@record(kw_only=True)
class Step:
    """A stage behind an oscillator: its gain [dB], what it would give by that gain alone, what its output is
    where it has lost 1 dB, None for one that does not compress, and the level that leaves it [dBm].
    """

    stage: str
    name: str
    gain_db: float
    straight_dbm: float
    p1db_dbm: float | None
    output_dbm: float

    @property
    def over_db(self) -> float:
        """How far it is driven beyond 1 dB of compression [dB]; negative within."""
        return -inf if self.p1db_dbm is None else self.straight_dbm - 1 - self.p1db_dbm


def _oscillator(project: Project, driver: Driver) -> Oscillator:
    """An oscillator as it comes out: one of parts with the output that its circuit gives."""
    asked = _asked(project, driver)
    if driver == "vfo" or project.carrier.circuit is None:
        return asked
    # Its buffer is one of its parts.
    asked = asked.edited(("amplifier_gain_db",), None)
    level = carrier_level_dbm(project, asked_dbm(project, driver))
    if level is None:
        return asked
    output = level - asked_dbm(project, driver) + asked.output_dbm
    return asked.edited(("output_dbm",), output)


def _asked(project: Project, driver: Driver) -> Oscillator:
    return project.vfo if driver == "vfo" else project.carrier


def asked_dbm(project: Project, driver: Driver) -> float:
    """Level that an oscillator's circuit is to give into 50 ohm [dBm]: its output as it is asked, to each of
    the mixers where no stage stands between.
    """
    split = 0.0 if behind(project, driver) else split_db(_count(project, driver))
    return _asked(project, driver).output_dbm + split


def behind(project: Project, driver: Driver) -> tuple[Stage, ...]:
    """The amplifiers and pads that stand between an oscillator and its mixers, in the order of the rig."""
    return tuple(
        stage
        for stage in project.stages
        if stage.in_path and stage.direction == driver and kind_of(stage).role in BEHIND
    )


@record(kw_only=True)
class Driven:
    """An oscillator as it comes out, the level along what stands behind it, and at each of its mixers [dBm]:
    with stages of its own behind it what leaves the last of them, evenly divided between the mixers.
    """

    oscillator: Oscillator
    steps: tuple[Step, ...]
    delivered_dbm: float

    @property
    def at_mixers(self) -> Oscillator:
        """The oscillator as its mixers know it: with the level that reaches them."""
        if self.delivered_dbm == self.oscillator.output_dbm:
            return self.oscillator
        return self.oscillator.edited(("output_dbm",), self.delivered_dbm)


def driven(project: Project, driver: Driver) -> Driven:
    """An oscillator with what stands behind it."""
    oscillator = _oscillator(project, driver)
    along = _steps(project, driver, oscillator.output_dbm)
    level = oscillator.output_dbm
    if along:
        level = along[-1].output_dbm - split_db(_count(project, driver))
    return Driven(oscillator=oscillator, steps=along, delivered_dbm=level)


def _steps(project: Project, driver: Driver, level: float) -> tuple[Step, ...]:
    """The level along what stands behind an oscillator of this level [dBm]; compression counts."""
    stages = behind(project, driver)
    if not stages:
        return ()
    found = []
    around, at_hz = surroundings(project), oscillator_hz(project, driver)
    for stage in stages:
        block = kind_of(stage).block(stage, _place(stage, around, at_hz))
        straight = level + block.gain_db
        most = block.p1db_out_dbm
        level = straight if most is None else compressed_dbm(straight, most)
        found.append(
            Step(
                stage=stage.id,
                name=stage.name,
                gain_db=block.gain_db,
                straight_dbm=straight,
                p1db_dbm=most,
                output_dbm=level,
            )
        )
    return tuple(found)


def _place(stage: Stage, around: Surroundings, at_hz: float) -> Place:
    making = kind_of(stage).making
    made = None if making is None else making.design(stage, around)
    return Place(zone="rf", dial_hz=at_hz, design=None if isinstance(made, Unsolved) else made)


def drives(project: Project, by: Mapping[Driver, Driven]) -> tuple[Drive, ...]:
    """The mixers in the path, in its order, with their drive by its oscillators."""
    found = []
    for stage in project.stages:
        driver = kind_of(stage).driver(stage)
        if not stage.in_path or driver is None:
            continue
        second_dbc = _asked(project, driver).second_harmonic_dbc
        level = by[driver].delivered_dbm
        mixing = kind_of(stage).mixing(stage, level, second_dbc)
        if mixing is not None:
            least, most = mixing.drive_range_dbm
            found.append(
                Drive(
                    stage=stage.id,
                    name=stage.name,
                    oscillator=driver,
                    wanted_dbm=mixing.drive_dbm,
                    delivered_dbm=level,
                    least_dbm=least,
                    most_dbm=most,
                    second_dbc=second_dbc,
                    computed=isinstance(mixing.circuit, AtDrive),
                )
            )
    return tuple(found)


def driven_by(project: Project, driver: Driver) -> tuple[Drive, ...]:
    """The mixers that one oscillator drives."""
    by = {each: driven(project, each) for each in DRIVERS}
    return tuple(each for each in drives(project, by) if each.oscillator == driver)


def _count(project: Project, driver: Driver) -> int:
    return sum(stage.in_path and kind_of(stage).driver(stage) == driver for stage in project.stages)


def split_db(count: int) -> float:
    """What dividing one output evenly between `count` mixers takes, dB: 3 dB for two."""
    return 10 * log10(count) if count > 1 else 0.0


def bare_dbm(project: Project, driver: Driver) -> float:
    """Level of the oscillator itself, dBm: what goes into the stages behind it; without these, the output
    less its own amplifier, before the split.
    """
    oscillator = _oscillator(project, driver)
    if behind(project, driver):
        return oscillator.output_dbm
    gain = oscillator.amplifier_gain_db or 0.0
    return oscillator.output_dbm - gain + split_db(_count(project, driver))


def behind_db(project: Project, driver: Driver) -> float | None:
    """Gain of what stands behind an oscillator, dB: its own amplifier's as stated, or along its stages, their
    compression counted; None for nothing.
    """
    of = driven(project, driver)
    return of.steps[-1].output_dbm - of.oscillator.output_dbm if of.steps else of.oscillator.amplifier_gain_db


def amplified(project: Project, driver: Driver) -> Project:
    """The rig with an amplifier that meets the mixer that wants most; the oscillator itself stays as it is.
    Unchanged where nothing is missing.

    It is the oscillator's own one, or, where stages stand behind it, one more of them.
    """
    driven = driven_by(project, driver)
    missing = max((each.missing_db for each in driven), default=0.0)
    if missing <= _NOTHING_DB:
        return project
    oscillator, stages = _oscillator(project, driver), behind(project, driver)
    if stages:
        most = max(each.wanted_dbm for each in driven) + split_db(_count(project, driver))
        more = Amplifier(
            id=f"{driver}_amplifier",
            name=f"{'VFO' if driver == 'vfo' else 'Carrier'} amplifier",
            direction=driver,
            gain_db=missing,
            p1db_dbm=most + _ROOM_DB,
        )
        return project.stage_inserted(project.stages.index(stages[-1]) + 1, more)
    asked = _asked(project, driver)
    raised = asked.edited(("output_dbm",), asked.output_dbm + missing)
    if driver == "carrier" and project.carrier.circuit is not None:
        # Its buffer is made for the level asked.
        return project.edited((driver,), raised)
    raised = raised.edited(("amplifier_gain_db",), (oscillator.amplifier_gain_db or 0.0) + missing)
    return project.edited((driver,), raised)
