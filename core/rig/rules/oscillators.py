"""Rules on the VFO's tank and on the read-out."""

from collections.abc import Iterator

from core.model.values.notation import format_value, megahertz
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.plan.frequency_plan import sideband_at_if
from core.rig.read_out.error import ASSUMED_CRYSTAL_PPM
from core.stages.outcome import Unsolved
from core.stages.vfo import start_up, vfo
from core.stages.vfo.compensation import Compensation, compensation
from core.stages.vfo.oscillator import operating
from core.stages.vfo.start_up import LEAST_START, SAFE_START
from core.stages.vfo.tank import TankDesign

#: Below this an LC oscillator for HF is not built, Hz; common practice, no source.
LEAST_VFO_HZ = 100e3
#: Drift in the first twenty minutes after switching on that is customary for a good VFO, Hz; from memory.
GOOD_WARM_UP_HZ = 100.0
#: Tuning faster than this is hard to set on a voice, Hz a turn; common practice, no source.
EASY_HZ_PER_TURN = 50e3


def _tank(analysis: Analysis) -> TankDesign | None:
    return analysis.tank if isinstance(analysis.tank, TankDesign) else None


@rule
def vfo_covers(analysis: Analysis) -> Iterator[Finding]:
    """The tank must cover what the bands want; what stands in the way is told."""
    made = _tank(analysis)
    if made is None:
        return
    short = [each for each in made.ranges if not each.covers]
    tuned = ", ".join(
        f"{megahertz(each.covers_low_hz, each.covers_high_hz)} on {each.band}" for each in short
    )
    as_it_is = f"as it is the VFO tunes {tuned}" if short else "the bands are covered, the margin is not"
    for number, limit in enumerate(made.limits, 1):
        yield Finding(
            severity="fault" if short else "caution",
            rule="vfo_limit",
            stage="vfo",
            subject=str(number),
            path=("vfo", "tank", "variable", "high_f"),
            words=f"{limit.what}{'' if limit.tells_range else f'; {as_it_is}'}.",
            remedy=f"{limit.remedy[:1].upper()}{limit.remedy[1:]}.",
            source="resonance of the tank on its fitted parts",
        )


@rule
def vfo_too_low(analysis: Analysis) -> Iterator[Finding]:
    """A range above zero that no coil and capacitor are built for."""
    tank = analysis.project.vfo.tank
    margin = 0.0 if tank is None else tank.margin_hz
    for plan in analysis.frequency_plan:
        if 0 < plan.vfo_low_hz < max(LEAST_VFO_HZ, margin):
            yield Finding(
                severity="fault",
                rule="vfo_too_low",
                stage="vfo",
                band=plan.band,
                path=("if_hz",),
                words=(
                    f"On {plan.band} the VFO would run from <bare figure> to "
                    f"{plan.vfo_high_hz / 1e3:.0f} kHz; none is built below <limit>, and "
                    "its harmonics would fill the band."
                ),
                figure=plan.vfo_low_hz,
                limit=LEAST_VFO_HZ,
                at_least=True,
                unit="Hz",
                shown=".0f k",
                remedy="Choose another IF, or another mixing scheme for this band.",
                source=COMMON_PRACTICE,
            )


@rule
def vfo_starts(analysis: Analysis) -> Iterator[Finding]:
    """The device must give back several times what the tank loses."""
    made = _tank(analysis)
    if made is None:
        return
    solved = [(each.band, analysis.vfo_on(each.band)) for each in made.ranges]
    lazy = sorted(
        (margin, band)
        for band, of in solved
        if not isinstance(of, Unsolved) and (margin := min(of.start)) < SAFE_START
    )
    if not lazy:
        return
    (margin, worst), device = lazy[0], operating(made.tank.feedback)
    others = "".join(f", {each:.2f} times on {band}" for each, band in lazy[1:])
    bias = f"{device.name} at {format_value(device.current_a, 'A', 2)}"
    found = start_up.remedy(made)
    yield Finding(
        severity="fault" if margin < LEAST_START else "caution",
        rule="vfo_start",
        stage="vfo",
        band="" if others else worst,
        path=("vfo", "tank", "feedback", "bias_ohm"),
        words=(
            f"The VFO's device ({bias}) gives back <figure> what the tank loses on {worst}{others}; "
            "<limit> and more is safe."
        ),
        figure=margin,
        limit=SAFE_START,
        at_least=True,
        unit="times",
        shown=".2f",
        remedy=(
            "Nothing tried in bias, coupling or device suffices; take a coil of better Q, or smaller "
            "divider capacitors."
            if found is None
            else f"{found.words[:1].upper()}{found.words[1:]}: {found.margin:.1f} times on every band."
        ),
        edits=(
            ()
            if found is None
            else (Edit(f"{found.words[:1].upper()}{found.words[1:]}", ((("vfo", "tank"), found.tank),)),)
        ),
        source=COMMON_PRACTICE,
    )


def _compensation(found: Compensation | Unsolved) -> str:
    """What to do about the drift, in words."""
    if isinstance(found, Unsolved):
        return found.reason
    left = f"it leaves at most {abs(found.left_hz_per_k):.0f} Hz a degree on any band"
    if found.fitted:
        return (
            f"The {found.type} fitted is the best value already; what is left changes over the dial. Keep "
            "the box cooler, or take a coil of a smaller coefficient."
        )
    if found.differential_share is not None:
        return f"Set the differential capacitor to {100 * found.differential_share:.0f} %; {left}."
    return f"Make {format_value(found.preferred_f, 'F', 3)} of the parallel capacitor {found.type}; {left}."


@rule
def vfo_drifts(analysis: Analysis) -> Iterator[Finding]:
    """A VFO that drifts far while it warms can be compensated."""
    made = _tank(analysis)
    if made is None:
        return
    far: list[tuple[float, float, str]] = []
    for each in made.ranges:
        of = analysis.vfo_on(each.band)
        if not isinstance(of, Unsolved):
            drift = of.worst_drift.hz_per_k
            first = vfo.warm_up(drift, made.tank.warmth).first_hz
            if abs(first) > GOOD_WARM_UP_HZ:
                far.append((abs(first), drift, each.band))
    if not far:
        return
    (first_hz, rate, worst), *rest = sorted(far, key=lambda each: -each[0])
    others = "".join(f", {hz:.0f} Hz on {band}" for hz, _, band in rest)
    remedy = _compensation(compensation(made))
    yield Finding(
        severity="note",
        rule="vfo_drift",
        stage="vfo",
        band="" if rest else worst,
        path=("vfo", "tank", "compensation_f"),
        words=(
            f"The VFO drifts {rate:.0f} Hz a degree on {worst}, some <figure> in the first "
            f"twenty minutes{others}; <limit> is customary for a good one."
        ),
        figure=first_hz,
        limit=GOOD_WARM_UP_HZ,
        unit="Hz",
        remedy=remedy,
        source="temperature coefficients by type of part; " + COMMON_PRACTICE,
    )


@rule
def vfo_tunes_fast(analysis: Analysis) -> Iterator[Finding]:
    """Too many hertz a turn are hard to set."""
    solved = [(each.name, analysis.vfo_on(each.name)) for each in analysis.project.bands]
    fast = sorted(
        (
            (rate, band)
            for band, of in solved
            if not isinstance(of, Unsolved) and (rate := of.dial.worst_hz_per_turn) > EASY_HZ_PER_TURN
        ),
        key=lambda each: -each[0],
    )
    if not fast:
        return
    rate, worst = fast[0]
    others = "".join(f", {each / 1e3:.0f} kHz on {band}" for each, band in fast[1:])
    yield Finding(
        severity="caution",
        rule="vfo_fast",
        stage="vfo",
        band="" if others else worst,
        path=("vfo", "tank", "variable", "reduction"),
        words=f"A turn of the knob tunes up to <figure> on {worst}{others}; <limit> is easy to set.",
        figure=rate,
        limit=EASY_HZ_PER_TURN,
        unit="Hz",
        shown=".0f k",
        remedy="Take more reduction, or a tuning capacitor that spreads the dial more evenly.",
        source=COMMON_PRACTICE,
    )


@rule
def read_out_shows(analysis: Analysis) -> Iterator[Finding]:
    """Every band's dial must be shown."""
    plan = analysis.read_out
    for row in plan.bands if plan else ():
        if isinstance(row.reading, Unsolved):
            yield Finding(
                severity="caution",
                rule="read_out_missing",
                stage="read_out",
                band=row.band,
                path=("read_out", "counter", "programmes"),
                words=f"The counter cannot show {row.band}.",
                remedy=row.reading.reason,
                source="arithmetic of the read-out plan",
            )


@rule
def read_out_measured(analysis: Analysis) -> Iterator[Finding]:
    """What is stored in the counter is right only once the oscillators behind it are measured."""
    plan = analysis.read_out
    if plan is None:
        return
    errors = [(row.error, row.band) for row in plan.bands if row.error is not None and row.error.unmeasured]
    if not errors:
        return
    (worst, band), *rest = sorted(errors, key=lambda pair: -pair[0].hz)
    others = "".join(f", on {each} by {error.hz:.0f} Hz" for error, each in rest)
    names = " and ".join(dict.fromkeys(name for error, _ in errors for name in error.unmeasured))
    side = sideband_at_if(analysis.project.band(band))
    yield Finding(
        severity="note",
        rule="read_out_unmeasured",
        stage="read_out",
        band="" if rest else band,
        path=("read_out", f"carrier_{side}_hz" if "carrier" in worst.unmeasured else "helper_measured_hz"),
        words=(
            f"The display on {band} may be off by <figure>{others} with {names} "
            f"as marked or computed; measured with this counter it is {worst.measured_hz:.0f} Hz."
        ),
        figure=worst.hz,
        unit="Hz",
        remedy=f"Measure {names} with this counter and enter what it shows.",
        source=f"the counter's clock, and {ASSUMED_CRYSTAL_PPM:.0f} ppm assumed of a crystal not measured",
    )
