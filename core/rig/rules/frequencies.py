"""Rules on the frequency plan and the carrier."""

from collections.abc import Iterator

from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding
from core.rig.rules.rule import rule
from core.rig.survey_terms import STABLE_VFO_HZ
from core.stages.carrier_oscillator import CarrierPlace, Pulling
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
                "fault",
                "vfo_crosses_zero",
                "vfo",
                plan.band,
                f"On {plan.band} the VFO would have to run from {plan.vfo_low_hz / 1e6:.3f} to "
                f"{plan.vfo_high_hz / 1e6:.3f} MHz, which passes zero.",
                "Choose another mixing scheme for this band, or another IF.",
                "arithmetic of the frequency plan",
                ("bands", plan.band, "scheme"),
            )
        elif plan.vfo_high_hz > STABLE_VFO_HZ:
            yield Finding(
                "caution",
                "vfo_high",
                "vfo",
                plan.band,
                f"On {plan.band} the VFO runs up to {plan.vfo_high_hz / 1e6:.3f} MHz; an LC oscillator above "
                f"{STABLE_VFO_HZ / 1e6:.0f} MHz is hard to keep stable.",
                "Choose an IF nearer to the band.",
                COMMON_PRACTICE,
                ("if_hz",),
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
                    "fault",
                    "carrier_without_place",
                    "carrier",
                    band.name,
                    f"{place.reason} Until then the IF stands in for the carrier on {band.name}.",
                    "Correct the ladder filter, then the carrier follows.",
                    "exact response of the ladder",
                    ("stages", analysis.ladder.id, "shape"),
                )
        else:
            places[band.name] = place
    frequencies = [place.frequency_hz for place in places.values()]
    if frequencies and max(frequencies) - min(frequencies) > _SAME_CARRIER_HZ:
        each = ", ".join(f"{name} {place.frequency_hz / 1e6:.6f} MHz" for name, place in places.items())
        yield Finding(
            "note",
            "two_carriers",
            "carrier",
            "",
            f"The bands want the carrier on both edges of the ladder: {each}.",
            "Provide two carrier crystals, or one that is switched between a coil and a trimmer.",
            "sideband arithmetic of the mixing schemes",
            ("carrier", "edge_suppression_db"),
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
            "caution",
            "carrier_out_of_reach",
            "carrier",
            row.bands[0],
            f"The carrier for {' and '.join(row.bands)} must lie at {row.pulling.wanted_hz / 1e6:.6f} MHz; "
            f"{_reach(row.pulling)}.",
            "Let the coil be solved, take a trimmer of more range, or a crystal of another frequency.",
            "reactance of crystal, coil and trimmer in series",
            ("carrier", "coil_h"),
        )


@rule
def sideband_turned(analysis: Analysis) -> Iterator[Finding]:
    """Mixing with a VFO above the IF turns the sideband over."""
    for plan in analysis.frequency_plan:
        if plan.sideband_inverted:
            yield Finding(
                "note",
                "sideband_turned",
                "carrier",
                plan.band,
                f"On {plan.band} the mixer turns the sideband over between air and IF.",
                "Nothing to do; the carrier's edge shown already accounts for it.",
                "sideband arithmetic of the mixing schemes",
                ("bands", plan.band, "scheme"),
            )


@rule
def vfo_harmonic_in_band(analysis: Analysis) -> Iterator[Finding]:
    """A harmonic of the VFO inside a band is strong whether or not it meets the signal."""
    for plan in analysis.frequency_plan:
        for number in (2, 3):
            low, high = number * plan.vfo_low_hz, number * plan.vfo_high_hz
            if low <= plan.dial_high_hz and high >= plan.dial_low_hz and plan.vfo_low_hz > 0:
                yield Finding(
                    "caution",
                    f"vfo_harmonic_{number}",
                    "vfo",
                    plan.band,
                    f"The VFO's {'second' if number == 2 else 'third'} harmonic, {low / 1e6:.3f} to "
                    f"{high / 1e6:.3f} MHz, falls into {plan.band}.",
                    "Choose another IF or scheme; a band-pass cannot help.",
                    "arithmetic of the frequency plan",
                    ("if_hz",),
                )


@rule
def outside_allocation(analysis: Analysis) -> Iterator[Finding]:
    """A dial range that is in no amateur band of any region."""
    for band in analysis.project.bands:
        if allocation_at(band.low_hz, band.high_hz) is None:
            yield Finding(
                "caution",
                "outside_allocation",
                "project",
                band.name,
                f"The dial of {band.name}, {band.low_hz / 1e6:.3f} to {band.high_hz / 1e6:.3f} MHz, is not "
                "inside an amateur band of any region.",
                "Check the edges against your licence; local rules decide.",
                "ITU Radio Regulations Article 5",
                ("bands", band.name, "low_hz"),
            )
