"""Rules on the frequency plan and the carrier."""

from collections.abc import Iterator

from core.model.values.notation import megahertz
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.rules.spurs import sent_on_the_dial
from core.rig.survey.terms import STABLE_VFO_HZ
from core.stages.filters.carrier_oscillator import CarrierPlace, Pulling
from core.stages.outcome import Unsolved
from core.trade.allocations import allocation_at

#: Carrier frequencies nearer than this are one crystal pulled, Hz.
_SAME_CARRIER_HZ = 50.0


@rule
def vfo_range(analysis: Analysis) -> Iterator[Finding]:
    """The VFO's range must stay above zero, and is hard to keep stable when it lies high."""
    for plan in analysis.frequency_plan:
        if plan.vfo_low_hz <= 0:
            yield Finding(
                severity="fault",
                rule="vfo_crosses_zero",
                stage="vfo",
                band=plan.band,
                path=("bands", plan.band, "scheme"),
                words=(
                    f"On {plan.band} the VFO would have to run from <bare figure> to "
                    f"{megahertz(plan.vfo_high_hz)}, which passes zero."
                ),
                figure=plan.vfo_low_hz,
                limit=0.0,
                at_least=True,
                unit="Hz",
                shown=".3f M",
                remedy="Choose another mixing scheme for this band, or another IF.",
                source="arithmetic of the frequency plan",
            )
        elif plan.vfo_high_hz > STABLE_VFO_HZ:
            yield Finding(
                severity="caution",
                rule="vfo_high",
                stage="vfo",
                band=plan.band,
                path=("if_hz",),
                words=(
                    f"On {plan.band} the VFO runs up to <figure>; an LC oscillator above "
                    "<limit> is hard to keep stable."
                ),
                figure=plan.vfo_high_hz,
                limit=STABLE_VFO_HZ,
                unit="Hz",
                shown=".3f M",
                remedy=(
                    "Choose a lower IF, or another mixing scheme for this band."
                    if plan.scheme == "vfo_minus_if"
                    else "Choose an IF nearer to the band."
                ),
                source=COMMON_PRACTICE,
            )


@rule
def carrier_place(analysis: Analysis) -> Iterator[Finding]:
    """The carrier must find its place on the ladder's skirt; two places want two crystals or a switch."""
    places: dict[str, CarrierPlace] = {}
    for band in analysis.project.bands:
        place = analysis.carrier(band.name)
        if isinstance(place, Unsolved):
            if analysis.ladder is not None:
                yield Finding(
                    severity="fault",
                    rule="carrier_without_place",
                    stage="carrier",
                    band=band.name,
                    path=("stages", analysis.ladder.id, "shape"),
                    words=f"{place.reason} Until then the IF stands in for the carrier on {band.name}.",
                    remedy="Correct the ladder filter, then the carrier follows.",
                    source="exact response of the ladder",
                )
        else:
            places[band.name] = place
    frequencies = [place.frequency_hz for place in places.values()]
    if frequencies and max(frequencies) - min(frequencies) > _SAME_CARRIER_HZ:
        each = ", ".join(
            f"{name} {megahertz(place.frequency_hz, places=6)}" for name, place in places.items()
        )
        yield Finding(
            severity="note",
            rule="two_carriers",
            stage="carrier",
            path=("carrier", "edge_suppression_db"),
            words=f"The bands want the carrier on both edges of the ladder: {each}.",
            remedy="Provide two carrier crystals, or one that is switched between a coil and a trimmer.",
            source="sideband arithmetic of the mixing schemes",
        )


def _reach(pulling: Pulling) -> str:
    """What trimmer and coil reach; zero stands for a coil that resonates with the holder instead."""
    low, high = pulling.reachable_low_hz / 1e6, pulling.reachable_high_hz / 1e6
    if high == 0:
        return "with a coil that large the crystal no longer rules the frequency"
    if low == 0:
        return (
            f"trimmer and coil reach {high:.6f} MHz at most, and with the trimmer further in the crystal no "
            "longer rules the frequency"
        )
    return f"trimmer and coil reach {low:.6f} to {high:.6f} MHz"


@rule
def carrier_in_reach(analysis: Analysis) -> Iterator[Finding]:
    """The carrier's crystal must be pulled to its place with trimmer and coil."""
    for row in analysis.carriers:
        if row.pulling is None or row.pulling.reaches:
            continue
        yield Finding(
            severity="caution",
            rule="carrier_out_of_reach",
            stage="carrier",
            band=row.bands[0],
            path=("carrier", "coil_h"),
            words=f"The carrier for {' and '.join(row.bands)} must lie at <figure>; {_reach(row.pulling)}.",
            figure=row.pulling.wanted_hz,
            unit="Hz",
            shown=".6f M",
            remedy="Let the coil be solved, take a trimmer of more range, or a crystal of another frequency.",
            source="reactance of crystal, coil and trimmer in series",
        )


@rule
def sideband_turned(analysis: Analysis) -> Iterator[Finding]:
    """Mixing with a VFO above the IF turns the sideband over."""
    for plan in analysis.frequency_plan:
        if plan.sideband_inverted:
            yield Finding(
                severity="note",
                rule="sideband_turned",
                stage="carrier",
                band=plan.band,
                path=("bands", plan.band, "scheme"),
                words=f"On {plan.band} the mixer turns the sideband over between air and IF.",
                remedy="Nothing to do; the carrier's edge shown already accounts for it.",
                source="sideband arithmetic of the mixing schemes",
            )


@rule
def vfo_harmonic_in_band(analysis: Analysis) -> Iterator[Finding]:
    """A harmonic of the VFO inside a band is strong whether or not it meets the signal."""
    for plan in analysis.frequency_plan:
        told = {spur.products for spur in sent_on_the_dial(analysis, plan.band)}
        for number, ordinal in ((2, "second"), (3, "third")):
            low, high = number * plan.vfo_low_hz, number * plan.vfo_high_hz
            # Where it meets the signal that finding says more, its level too.
            if (
                f"{number} VFO" not in told
                and low <= plan.dial_high_hz
                and high >= plan.dial_low_hz
                and plan.vfo_low_hz > 0
            ):
                yield Finding(
                    severity="caution",
                    rule="vfo_harmonic",
                    stage="vfo",
                    band=plan.band,
                    subject=ordinal,
                    path=("if_hz",),
                    words=(
                        f"The VFO's {ordinal} harmonic, <bare figure> to "
                        f"{megahertz(high)}, falls into {plan.band}."
                    ),
                    figure=low,
                    unit="Hz",
                    shown=".3f M",
                    remedy="Choose another IF or scheme; a band-pass cannot help.",
                    source="arithmetic of the frequency plan",
                )


@rule
def outside_allocation(analysis: Analysis) -> Iterator[Finding]:
    """A dial range that is in no amateur band of any region."""
    for band in analysis.project.bands:
        if allocation_at(band.low_hz, band.high_hz) is None:
            yield Finding(
                severity="caution",
                rule="outside_allocation",
                band=band.name,
                path=("bands", band.name, "low_hz"),
                words=(
                    f"The dial of {band.name}, {megahertz(band.low_hz, band.high_hz)}, is "
                    "not inside an amateur band of any region."
                ),
                remedy="Check the edges against your licence; local rules decide.",
                source="ITU Radio Regulations Article 5",
            )
