"""The carrier oscillator's level at the mixers it drives, and the small amplifier that may be wanted."""

from dataclasses import dataclass
from math import log10

from core.model.mixers import Mixer
from core.model.project import Project
from core.stages import mixer


@dataclass(frozen=True, slots=True)
class Drive:
    """One mixer: the drive it wants and gets [dBm]."""

    stage: str
    name: str
    wanted_dbm: float
    delivered_dbm: float

    @property
    def missing_db(self) -> float:
        """How far the drive falls short, dB; negative when there is too much."""
        return self.wanted_dbm - self.delivered_dbm


def drives(project: Project) -> tuple[Drive, ...]:
    """The mixers in the path that the carrier oscillator drives."""
    return tuple(
        Drive(stage.id, stage.name, mixer.figures(stage).drive_dbm, project.carrier.output_dbm)
        for stage in project.stages
        if isinstance(stage, Mixer) and stage.in_path and stage.oscillator == "carrier"
    )


def split_db(count: int) -> float:
    """What dividing one output evenly between `count` mixers takes, dB: 3 dB for two."""
    return 10 * log10(count) if count > 1 else 0.0


def bare_dbm(project: Project) -> float:
    """Level of the oscillator itself, dBm: the output less its own amplifier, before the split."""
    gain = project.carrier.amplifier_gain_db or 0.0
    return project.carrier.output_dbm - gain + split_db(len(drives(project)))


def amplified(project: Project) -> Project:
    """The rig with the carrier's own amplifier made to meet the mixer that wants most; the oscillator itself
    stays as it is. Unchanged where nothing is missing.
    """
    missing = max((each.missing_db for each in drives(project)), default=0.0)
    if missing <= 0:
        return project
    carrier = project.carrier
    raised = carrier.edited(("output_dbm",), carrier.output_dbm + missing)
    raised = raised.edited(("amplifier_gain_db",), (carrier.amplifier_gain_db or 0.0) + missing)
    return project.edited(("carrier",), raised)
