"""What the stages of a rig are designed for, and where its oscillators run."""

from core.model.project import Project
from core.rig.plan.frequency_plan import band_plan
from core.stages.kinds.kind import Driver, Surroundings


def surroundings(project: Project) -> Surroundings:
    """What the stages of a rig are designed for."""
    return Surroundings(project.if_hz, project.bands, project.junk_box.capacitors_f, project.transistors)


def oscillator_hz(project: Project, driver: Driver) -> float:
    """About where an oscillator runs [Hz]: the IF for the carrier, for the VFO the middle of all it tunes
    with the carrier at the nominal IF; the IF where that would be no frequency.
    """
    if driver == "carrier":
        return project.if_hz
    plans = [band_plan(band, project.if_hz) for band in project.bands]
    middle = (min(plan.vfo_low_hz for plan in plans) + max(plan.vfo_high_hz for plan in plans)) / 2
    return middle if middle >= 1e3 else project.if_hz
