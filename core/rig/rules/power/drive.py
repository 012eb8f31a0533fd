"""Rules on what a power amplifier is given and gives: drive, input, output transformer, exposure."""

from collections.abc import Iterator

from core.circuits.units import watts
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import Finding, rule
from core.rig.power.facts import OnBand, PowerFacts, drivers, power_amplifiers_of
from core.rig.rules.power.amplifier import told

#: Drive short of what the power wanted takes by more than this is worth saying, dB.
_SHORT_DB = 0.5
#: From this standing-wave ratio of the input on the driver is told of it [-].
_MOST_SWR = 2.5
#: Beyond this a standing-wave ratio is no figure any more [-].
_TOLD_SWR = 99.0


@rule
def power_drive(analysis: Analysis) -> Iterator[Finding]:
    """The driver gives what the power wanted takes, on every band."""
    for facts in power_amplifiers_of(analysis):
        if facts.stage not in (stage.id for stage in analysis.project.path("transmit")):
            continue
        for each in facts.bands:
            chain = drivers(analysis, each.band)
            own = next((d for d in chain if d.stage == facts.stage), None)
            if own is None:
                continue
            if own.needs_dbm is None:
                # Where a stage behind it is what cannot, that is told of that one.
                if own.should_give_dbm is not None:
                    yield _output_short(facts, each, watts(own.should_give_dbm))
            elif own.needs_dbm - own.has_dbm > _SHORT_DB:
                yield _drive_short(facts, each, own.needs_dbm - own.has_dbm)


def _output_short(facts: PowerFacts, on: OnBand, should_give_w: float) -> Finding:
    return told(
        facts,
        "caution",
        "power_most",
        "power_w",
        band=on.band,
        words=f"{facts.name} gives <figure> at most on {spelled(on.band)}, too little for the <limit> "
        "that the power wanted at the antenna takes.",
        figure=on.most_w,
        limit=should_give_w,
        at_least=True,
        unit="W",
        shown="3",
        remedy="Ask more of it, or give it more volts.",
        source="the knee on its load; levels behind it",
    )


def _drive_short(facts: PowerFacts, on: OnBand, short_db: float) -> Finding:
    """By the device, where it is what lacks gain; by the drive else."""
    by_device = bool(on.there.device_db[0] < on.there.network_db[0] - _SHORT_DB)
    best = max(facts.bands, key=lambda each: each.gain_db)
    if by_device and best.gain_db - on.gain_db > _SHORT_DB:
        return told(
            facts,
            "caution",
            "power_gain_short",
            "device",
            band=on.band,
            words=f"{facts.design.transistor.name} in {facts.name} has <figure> of gain left on "
            f"{spelled(on.band)}, where <limit> would give the power wanted.",
            figure=on.gain_db,
            limit=on.gain_db + short_db,
            at_least=True,
            unit="dB",
            shown=".1f",
            remedy="Take a transistor made for RF, or more drive on the upper bands.",
            source=f"points of the table of power transistors, {facts.design.bears.status}",
        )
    return told(
        facts,
        "caution",
        "power_drive_missing",
        "",
        band=on.band,
        words=f"{facts.name} gets <figure> on {spelled(on.band)}, and the power wanted takes <limit>.",
        figure=on.has_dbm,
        limit=on.has_dbm + short_db,
        at_least=True,
        unit="dBm",
        shown=".1f",
        remedy="Give a stage before it more gain, or the gate a larger swing: fewer turns for one, or "
        "larger swamping.",
        source="levels in transmit",
    )


@rule
def power_input(analysis: Analysis) -> Iterator[Finding]:
    """A driver wants to see its resistance."""
    for facts in power_amplifiers_of(analysis):
        worst = max(facts.bands, key=lambda each: float(each.there.swr[0]))
        swr = float(worst.there.swr[0])
        if swr > _MOST_SWR:
            beyond = "more than " if swr > _TOLD_SWR else ""
            yield told(
                facts,
                "caution",
                "power_input",
                "swamping_ohm",
                band=worst.band,
                words=f"The driver sees an SWR of {beyond}<figure> at {facts.name} on {spelled(worst.band)}; "
                "<limit> is decent.",
                figure=min(swr, _TOLD_SWR),
                limit=_MOST_SWR,
                unit="",
                shown=".1f",
                remedy="Let the swamping be found, take more turns for one at the input, or a pad before it.",
                source="nodal solution at full drive; the limit is common practice",
            )


@rule
def power_core(analysis: Analysis) -> Iterator[Finding]:
    """The output transformer carries the lowest band, and its core stays cool."""
    for facts in power_amplifiers_of(analysis):
        coil, low_hz = facts.design.output, facts.design.span_hz[0]
        if coil is None:
            continue
        if coil.saturates:
            yield told(
                facts,
                "caution",
                "power_core_flux",
                "core",
                words=f"{coil.core} at the output of {facts.name} gets <figure> of flux; "
                "<limit> keeps it cool.",
                figure=coil.flux_t,
                limit=coil.most_flux_t,
                unit="T",
                shown="2",
                remedy="Take a larger core, or let the smallest that will do be found.",
                source="15 mT · f^−0.49 with f in MHz, a maker's application notes, from memory",
            )
        elif coil.lowest_hz > low_hz * 1.001:
            yield told(
                facts,
                "caution",
                "power_core_low",
                "core",
                words=f"The output transformer of {facts.name} serves from <figure> on, and the lowest "
                "band begins at <limit>.",
                figure=coil.lowest_hz,
                limit=low_hz,
                unit="Hz",
                shown=".3g M",
                remedy="Take a core of higher A_L, or let the smallest that will do be found.",
                source="reactance four times the resistance at it; common practice",
            )


@rule
def exposed(analysis: Analysis) -> Iterator[Finding]:
    """How far people keep from the antenna: arithmetic only, for the worst band."""
    for facts in power_amplifiers_of(analysis):
        if not facts.exposures:
            continue
        worst = max(facts.exposures, key=lambda each: each.distance_m)
        near = "" if worst.holds else f", though nearer than {worst.near_m:.1f} m the estimate does not hold"
        yield told(
            facts,
            "note",
            "rf_exposure",
            "",
            band=worst.band,
            words=f"From <figure> of the antenna on the power flux on {spelled(worst.band)} keeps the "
            f"limit for the general population{near}: arithmetic, no advice.",
            figure=worst.distance_m,
            unit="m",
            shown=".1f",
            remedy="Keep people off the antenna while transmitting; local rules and licensed practice "
            "decide.",
            source="47 CFR 1.1310 Table 1; a fifth of the peaks on average, a dipole, ground",
        )
