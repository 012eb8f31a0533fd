"""Rules on transmit levels: output, headroom, carrier."""

from collections.abc import Iterator

from core.model.mixers import Mixer
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding
from core.rig.rules.rule import rule
from core.stages.outcome import Unsolved

#: Short of the wanted power by more than this is worth saying, dB.
_SHORT_DB = 0.5
#: Carrier suppression expected of an SSB transmitter, dB.
_CARRIER_DB = 40.0


@rule
def power(analysis: Analysis) -> Iterator[Finding]:
    """The chain should reach the power wanted without driving a stage into compression."""
    if not analysis.project.path("transmit"):
        return
    wanted = analysis.project.station.power_w
    for band in analysis.project.bands:
        t = analysis.transmit(band.name)
        over = [(h, b) for h, b in zip(t.headroom_db, t.blocks, strict=True) if h is not None and h < 0]
        if over:
            headroom, block = min(over, key=lambda pair: pair[0])
            yield Finding(
                "caution" if headroom > -1.0 else "fault",
                "overdriven",
                block.stage,
                band.name,
                f"{block.name} is driven {-headroom:.1f} dB beyond its compression on {band.name}: splatter.",
                "Take gain out before it, or give it more output.",
                COMMON_PRACTICE,
                ("stages", block.stage),
            )
        if t.output_w < wanted * 10 ** (-_SHORT_DB / 10):
            yield Finding(
                "caution",
                "power_short",
                "station",
                band.name,
                f"The output on {band.name} is {t.output_w:.2g} W where {wanted:.2g} W is wanted.",
                "Add gain in the transmit path, or a larger power amplifier.",
                "levels of the transmit chain; compression by a model curve",
                ("station", "power_w"),
            )


@rule
def carrier_suppression(analysis: Analysis) -> Iterator[Finding]:
    """Modulator balance and the ladder's skirt together hold the carrier down."""
    modulators = [
        s for s in analysis.project.path("transmit") if isinstance(s, Mixer) and s.oscillator == "carrier"
    ]
    if not modulators:
        return
    for band in analysis.project.bands:
        place = analysis.carrier(band.name)
        if isinstance(place, Unsolved):
            continue
        total = analysis.project.carrier.balance_db + place.suppression_db
        if total < _CARRIER_DB:
            yield Finding(
                "caution",
                "carrier_suppression",
                "carrier",
                band.name,
                f"The carrier on {band.name} is {total:.0f} dB down; {_CARRIER_DB:.0f} dB is expected.",
                "Balance the modulator better, or move the carrier further down the skirt.",
                COMMON_PRACTICE,
                ("carrier", "balance_db"),
            )
