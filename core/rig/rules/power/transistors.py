"""Rules on transistors that a stage asks more of than they bear or have: heat, voltage, current, speed."""

from collections.abc import Iterator

from core.circuits.active.large_signal import COMPRESSION_BEYOND_LIMIT_DB, UNFED_V
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.oscillator_drive import DRIVERS
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import AmplifierFigures, figures
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.amplifiers.stress import SHARE_OF_HEAT, Peak, peaks, speeds_hz
from core.stages.outcome import Unsolved

#: So many times the frequency of use a transistor should amplify current up to [-]; common practice, no
#: source: what is left of its current gain there is what feedback lives on.
_TIMES_FASTER = 5.0


@rule
def transistor_hot(analysis: Analysis) -> Iterator[Finding]:
    """A transistor at rest should take well less than its data sheet allows in still air."""
    for row in analysis.circuits:
        found = amplifiers_in(row.design)
        if not found:
            continue
        stage = analysis.project.stage(row.stage)
        most = SHARE_OF_HEAT * found[0].transistor.most_watt
        heat = {
            ref: max(each.rest.transistors[ref].watt for each in found) for ref in found[0].rest.transistors
        }
        ref = max(heat, key=lambda each: heat[each])
        watt = heat[ref]
        if watt > most:
            yield Finding(
                severity="caution",
                rule="transistor_hot",
                stage=row.stage,
                path=("stages", row.stage, "current_a"),
                words=f"{ref} of {stage.name} takes <figure> at rest where <limit> is wise without a sink.",
                figure=watt,
                limit=most,
                unit="W",
                shown="2",
                remedy="Take a larger transistor, ask for less current or a lower supply, or give it a sink.",
                source=COMMON_PRACTICE,
            )


#: What is said of what a transistor takes: rule, unit, digits, verb, what the data sheet says, and what else
#: would mend it.
_TAKES = {
    "voltage": ("transistor_volts", "V", "3", "sees", "bears", "that bears more, or a lower supply"),
    "current": (
        "transistor_current",
        "A",
        "2",
        "carries",
        "is made for",
        "for more current, or ask for less",
    ),
}


@rule
def transistor_ratings(analysis: Analysis) -> Iterator[Finding]:
    """A transistor should bear what its stage can swing by; behind an oscillator it is known what it does."""
    for row in analysis.circuits:
        stage = analysis.project.stage(row.stage)
        worst: dict[str, tuple[Peak, str]] = {}
        for each in () if stage.direction in DRIVERS else amplifiers_in(row.design):
            for peak in _at_full_swing(each):
                known = worst.get(peak.what)
                if known is None or peak.peak > known[0].peak:
                    worst[peak.what] = (peak, each.transistor.name)
        for peak, transistor in worst.values():
            if peak.most is None or peak.peak <= peak.most:
                continue
            name, unit, shown, takes, bears, other = _TAKES[peak.what]
            yield Finding(
                severity="caution",
                rule=name,
                stage=row.stage,
                path=("stages", row.stage, "device"),
                words=f"{peak.ref} of {stage.name} {takes} <figure> at full swing, and {transistor} {bears} "
                "<limit>.",
                figure=peak.peak,
                limit=peak.most,
                unit=unit,
                shown=shown,
                remedy=f"Take a transistor {other}.",
                source="linear solution at the swing that class A allows; largest rating of the data sheet",
            )


def _at_full_swing(design: AmplifierDesign) -> tuple[Peak, ...]:
    """What the transistors that are fed take at the output at which the first of them leaves class A."""
    found = figures(design, design.asked_at_hz)
    if not isinstance(found, AmplifierFigures):
        return ()
    limit_dbm = found.compression_dbm - COMPRESSION_BEYOND_LIMIT_DB
    taken = peaks(design, design.asked_at_hz, limit_dbm)
    return () if isinstance(taken, Unsolved) else tuple(each for each in taken if each.ref in _fed(design))


def _fed(design: AmplifierDesign) -> set[str]:
    return {ref for ref, point in design.rest.transistors.items() if abs(point.output_v) > UNFED_V}


@rule
def transistor_slow(analysis: Analysis) -> Iterator[Finding]:
    """A transistor should amplify current well beyond the frequency of its stage."""
    for row in analysis.circuits:
        speeds = [
            (hz, ref, each.asked_at_hz)
            for each in amplifiers_in(row.design)
            for ref, hz in speeds_hz(each).items()
            if ref in _fed(each)
        ]
        if not speeds:
            continue
        slowest_hz, ref, at_hz = min(speeds)
        limit = _TIMES_FASTER * at_hz
        if slowest_hz < limit:
            name = analysis.project.stage(row.stage).name
            yield Finding(
                severity="caution",
                rule="transistor_slow",
                stage=row.stage,
                path=("stages", row.stage, "device"),
                words=f"{ref} of {name} amplifies current up to <figure>; at {format_value(at_hz, 'Hz', 3)} "
                "that should be <limit> or more, or feedback has nothing to live on.",
                figure=slowest_hz,
                limit=limit,
                at_least=True,
                unit="Hz",
                shown="3",
                remedy="Take a faster transistor, or give it more current where that makes it faster.",
                source="transconductance over its capacitances at rest; five times the frequency is common "
                "practice, no source",
            )
