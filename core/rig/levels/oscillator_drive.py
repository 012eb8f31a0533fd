"""An oscillator's level at the mixers it drives, and the small amplifier that may be wanted behind it."""

from dataclasses import dataclass
from math import log10

from core.model.project import Project
from core.model.stages.oscillators import Oscillator
from core.stages.kinds.kind import Driver
from core.stages.kinds.table import kind_of


@dataclass(frozen=True, slots=True)
class Drive:
    """One mixer: the drive it wants and gets [dBm]."""

    stage: str
    name: str
    oscillator: Driver
    wanted_dbm: float
    delivered_dbm: float

    @property
    def missing_db(self) -> float:
        """How far the drive falls short, dB; negative when there is too much."""
        return self.wanted_dbm - self.delivered_dbm


def _oscillator(project: Project, driver: Driver) -> Oscillator:
    return project.vfo if driver == "vfo" else project.carrier


def drives(project: Project) -> tuple[Drive, ...]:
    """The mixers in the path, in its order, with their drive."""
    found = []
    for stage in project.stages:
        driver, mixing = kind_of(stage).driver(stage), kind_of(stage).mixing(stage)
        if stage.in_path and driver is not None and mixing is not None:
            output_dbm = _oscillator(project, driver).output_dbm
            found.append(Drive(stage.id, stage.name, driver, mixing.drive_dbm, output_dbm))
    return tuple(found)


def driven_by(project: Project, driver: Driver) -> tuple[Drive, ...]:
    """The mixers that one oscillator drives."""
    return tuple(each for each in drives(project) if each.oscillator == driver)


def split_db(count: int) -> float:
    """What dividing one output evenly between `count` mixers takes, dB: 3 dB for two."""
    return 10 * log10(count) if count > 1 else 0.0


def bare_dbm(project: Project, driver: Driver) -> float:
    """Level of the oscillator itself, dBm: the output less its own amplifier, before the split."""
    oscillator = _oscillator(project, driver)
    gain = oscillator.amplifier_gain_db or 0.0
    return oscillator.output_dbm - gain + split_db(len(driven_by(project, driver)))


def amplified(project: Project, driver: Driver) -> Project:
    """The rig with an oscillator's own amplifier made to meet the mixer that wants most; the oscillator
    itself stays as it is. Unchanged where nothing is missing.
    """
    missing = max((each.missing_db for each in driven_by(project, driver)), default=0.0)
    if missing <= 0:
        return project
    oscillator = _oscillator(project, driver)
    raised = oscillator.edited(("output_dbm",), oscillator.output_dbm + missing)
    raised = raised.edited(("amplifier_gain_db",), (oscillator.amplifier_gain_db or 0.0) + missing)
    return project.edited((driver,), raised)
