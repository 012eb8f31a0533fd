"""Rules on what leaves the antenna besides the signal."""

from collections.abc import Iterator

from core.model.filters import LowPass
from core.rig.analysis import Analysis
from core.rig.findings import Finding
from core.rig.rules.rule import rule

_LIMIT_SOURCE = "47 CFR 97.307(d) asks 43 dB below 30 MHz; the limit is as set for the station"


@rule
def harmonic_limit(analysis: Analysis) -> Iterator[Finding]:
    """Every harmonic under the limit, on every band, also when two bands share a low-pass."""
    for band in analysis.project.bands:
        rows = analysis.harmonics(band.name)
        if not rows:
            continue
        worst = max(rows, key=lambda row: row.result_dbc)
        ordinal = {2: "second", 3: "third", 4: "fourth", 5: "fifth"}[worst.number]
        broken = worst.margin_db < 0
        yield Finding(
            "fault" if broken else "note",
            "harmonic_limit",
            _low_pass_key(analysis),
            band.name,
            f"The {ordinal} harmonic on {band.name} leaves at {worst.result_dbc:.0f} dBc; "
            f"{-worst.limit_dbc:.0f} dB down is asked"
            f"{'' if broken else f', {worst.margin_db:.0f} dB in hand'}{_shared(analysis, band.name)}.",
            "Raise the low-pass's order, add its trap, or give each band its own."
            if broken
            else "Measure the power amplifier's harmonics; they are an assumption until then.",
            _LIMIT_SOURCE,
            ("stages", _low_pass_key(analysis)) if _low_pass_key(analysis) != "project" else ("stages",),
        )


@rule
def transmit_products(analysis: Analysis) -> Iterator[Finding]:
    """Mixer products that the filters do not hold under the limit, away from the signal."""
    limit = -analysis.project.station.harmonic_limit_db
    for band in analysis.project.bands:
        loud = [
            s
            for s in analysis.spurs(band.name)
            if s.kind == "transmit" and not s.crosses and s.level_dbc > limit
        ]
        if loud:
            worst = max(loud, key=lambda s: s.level_dbc)
            yield Finding(
                "fault",
                "transmit_product",
                "project",
                band.name,
                f"{worst.products} leaves on {band.name} at about {worst.level_dbc:.0f} dBc "
                f"({len(loud)} such product{'s' if len(loud) > 1 else ''}); {-limit:.0f} dB down is asked.",
                "Narrow the band-pass or add a resonator, use a better balanced mixer, or move the IF.",
                _LIMIT_SOURCE + "; level estimated",
                ("if_hz",),
            )


def _low_pass_key(analysis: Analysis) -> str:
    path = analysis.project.path("transmit")
    return next((stage.id for stage in reversed(path) if isinstance(stage, LowPass)), "project")


def _shared(analysis: Analysis, band: str) -> str:
    for stage in analysis.project.path("transmit"):
        if isinstance(stage, LowPass):
            for each in stage.filters:
                if band in each.bands and len(each.bands) > 1:
                    return f" through the low-pass shared by {' and '.join(each.bands)}"
    return ""
