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

    To two digits, so that turning the IF does not compute afresh what hardly changes.
    """
    at_hz = project.if_hz
    if driver == "vfo":
        plans = [band_plan(band, project.if_hz) for band in project.bands]
        middle = (min(plan.vfo_low_hz for plan in plans) + max(plan.vfo_high_hz for plan in plans)) / 2
        at_hz = middle if middle >= 1e3 else at_hz
    return float(f"{at_hz:.2g}")
