"""Rules on what oscillators give their mixers, and on the amplifiers that stand between."""

from collections.abc import Iterator
from math import ceil

from core.model.values.base import Path
from core.rig.analysis import Analysis
from core.rig.findings import Finding, rule
from core.rig.levels.oscillator_drive import DRIVERS, Drive, Step, behind
from core.rig.plan.surroundings import oscillator_hz
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import figures
from core.stages.amplifiers.stress import Peak, peaks
from core.stages.kinds.kind import Driver
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved


@rule
def mixer_drive(analysis: Analysis) -> Iterator[Finding]:
    """Each mixer wants its drive."""
    for each in analysis.drives:
        if not each.suits:
            yield Finding(
                severity="caution",
                rule="mixer_drive",
                stage=each.stage,
                path=_place(analysis, each),
                words=f"{each.name} wants <limit> of drive and gets <figure>.",
                figure=each.delivered_dbm,
                limit=each.wanted_dbm,
                at_least=each.missing_db > 0,
                unit="dBm",
                remedy=_towards(analysis, each),
                source=(
                    "the mixer's circuit: 1 dB short of full switching to what its devices bear"
                    if each.computed
                    else "typical of the mixer type, from memory"
                ),
            )


def _place(analysis: Analysis, drive: Drive) -> Path:
    """Where a drive is set: at the last stage behind the oscillator, or at the oscillator itself."""
    stages = behind(analysis.project, drive.oscillator)
    if not stages:
        return drive.oscillator, "output_dbm"
    field = kind_of(stages[-1]).gains.get("receive")
    return "stages", stages[-1].id, *(() if field is None else (field,))


def _towards(analysis: Analysis, drive: Drive) -> str:
    """What brings a mixer the drive that it wants: by what stands behind its oscillator, if anything."""
    stages = behind(analysis.project, drive.oscillator)
    pads = [stage.name for stage in stages if kind_of(stage).role == "pad"]
    amplifiers = [stage.name for stage in stages if kind_of(stage).gains]
    if drive.missing_db <= 0:
        over = f"{-drive.missing_db:.0f} dB"
        if amplifiers:
            return f"Take {over} of gain out of {amplifiers[-1]}, or put a pad of as much behind it."
        return f"Put a pad of {over} behind the oscillator."
    missing = f"{drive.missing_db:.0f} dB"
    if pads:
        return f"Take {missing} out of {pads[-1]}, or put as much gain before it."
    if amplifiers:
        more = f"{missing} more gain, and more current where it compresses"
        return f"Give {amplifiers[-1]} {more}; or put another amplifier behind it."
    return f"Buffer the oscillator: an amplifier of {missing} makes up for it."


@rule
def buffer_overdriven(analysis: Analysis) -> Iterator[Finding]:
    """An amplifier behind an oscillator should stay in class A."""
    for driver in DRIVERS:
        for step in analysis.driven[driver].steps:
            if step.p1db_dbm is None or step.over_db <= 0:
                continue
            gives = f"by its gain it would give {step.straight_dbm:.1f} dBm"
            lost = f"at {step.p1db_dbm:.1f} dBm it has lost 1 dB{_runs_out(analysis, step, driver)}"
            less = f"take {ceil(step.over_db)} dB out before it or of its gain"
            yield Finding(
                severity="caution",
                rule="buffer_overdriven",
                stage=step.stage,
                path=("stages", step.stage),
                words=f"{step.name} is driven <figure> beyond its compression: {gives}, and {lost}.",
                figure=step.over_db,
                limit=0.0,
                unit="dB",
                shown=".1f",
                remedy=f"Where its mixers have enough, {less}; else give it more current. Clipping makes "
                "harmonics.",
                source="class A limits of its circuit and 1.5 dB, ±0.5 dB; a block's compression as stated",
            )


#: What is said of a transistor's peak: its unit, between what, and what lowers it.
_SAID = {
    "voltage": ("V", " between its outer electrodes", "Feed it with less"),
    "current": ("A", "", "Give it less current"),
}


@rule
def buffer_ratings(analysis: Analysis) -> Iterator[Finding]:
    """Nor should its transistors see more than they bear."""
    for driver in DRIVERS:
        for step in analysis.driven[driver].steps:
            for each in _peaks(analysis, step, driver):
                if each.most is None or each.peak <= each.most:
                    continue
                unit, between, lower = _SAID[each.what]
                yield Finding(
                    severity="fault",
                    rule="buffer_ratings",
                    stage=step.stage,
                    subject=f"{each.ref}, {each.what}",
                    path=("stages", step.stage, "device"),
                    words=f"{each.ref} of {step.name} sees <figure>{between} at the peaks of its swing; it "
                    "bears <limit>.",
                    figure=each.peak,
                    limit=each.most,
                    unit=unit,
                    shown="2",
                    remedy=f"{lower}, or take a transistor that bears more.",
                    source="at rest and the linear solution's swing; makers' data sheets, from memory",
                )


def _design_of(analysis: Analysis, step: Step) -> AmplifierDesign | None:
    """The circuit of an amplifier of parts."""
    made: object = analysis.design(step.stage, analysis.project.bands[0].name)
    return made if isinstance(made, AmplifierDesign) else None


def _peaks(analysis: Analysis, step: Step, driver: Driver) -> tuple[Peak, ...]:
    made = _design_of(analysis, step)
    if made is None:
        return ()
    found = peaks(made, oscillator_hz(analysis.project, driver), round(step.output_dbm, 1))
    return () if isinstance(found, Unsolved) else found


def _runs_out(analysis: Analysis, step: Step, driver: Driver) -> str:
    """What of an amplifier of parts ends first."""
    made = _design_of(analysis, step)
    found = None if made is None else figures(made, oscillator_hz(analysis.project, driver))
    return "" if found is None or isinstance(found, Unsolved) else f", where {found.first_limit}"
