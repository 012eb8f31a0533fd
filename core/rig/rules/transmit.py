"""Rules on transmit levels: output, headroom, carrier."""

from collections.abc import Iterator

from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.transmit import less_drive_db
from core.rig.mixer_facts import Modulator, balance_db, modulator
from core.stages.kinds.table import kind_of
from core.stages.mixers.drive import Balance
from core.stages.outcome import Unsolved

#: Short of the wanted power by more than this is worth saying, dB.
_SHORT_DB = 0.5
#: Carrier suppression expected of an SSB transmitter, dB.
_CARRIER_DB = 40.0
#: Third-order products below either of two tones: 30 dB below the peaks of both, common practice.
_PRODUCTS_DBC = -24.0
#: A microphone's voltage is at most halved by its amplifier's input, dB; common practice.
_DIVIDED_DB = 6.1


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
                severity="caution" if headroom > -1.0 else "fault",
                rule="overdriven",
                stage=block.stage,
                band=band.name,
                path=("stages", block.stage),
                words=f"{block.name} is driven <figure> beyond its compression on {band.name}: splatter.",
                figure=-headroom,
                limit=0.0,
                unit="dB",
                shown=".1f",
                remedy="Take gain out before it, or "
                + (
                    "take a mixer that bears more; with too little drive none does."
                    if block.role == "mixer"
                    else "give it more output."
                ),
                source=COMMON_PRACTICE,
            )
        if t.output_w < wanted * 10 ** (-_SHORT_DB / 10):
            yield Finding(
                severity="caution",
                rule="power_short",
                stage="station",
                band=band.name,
                path=("station", "power_w"),
                words=f"The output on {band.name} is <figure> where <limit> is wanted.",
                figure=t.output_w,
                limit=wanted,
                at_least=True,
                unit="W",
                shown="2",
                remedy="Add gain in the transmit path, or a larger power amplifier.",
                source="levels of the transmit chain; compression by a model curve",
            )


@rule
def two_tones(analysis: Analysis) -> Iterator[Finding]:
    """Third-order products that leave should lie 30 dB below the peaks, 24 dB below either of two tones."""
    if not analysis.project.path("transmit"):
        return
    for band in analysis.project.bands:
        t = analysis.transmit(band.name)
        found = t.two_tones.antenna_dbc
        if found is None or t.two_tones.worst is None or found <= _PRODUCTS_DBC:
            continue
        worst, less = t.blocks[t.two_tones.worst], less_drive_db(t, _PRODUCTS_DBC)
        turned = "" if less is None else f"Turn the microphone's gain down by {less} dB, or give"
        yield Finding(
            severity="caution",
            rule="two_tone",
            stage=worst.stage,
            band=band.name,
            path=("stages", worst.stage),
            words=f"Two tones on {spelled(band.name)} make products of <figure>, most of them in "
            f"{worst.name}, where <limit> is decent.",
            figure=found,
            limit=_PRODUCTS_DBC,
            unit="dBc",
            remedy=f"{turned or 'Give'} {worst.name} a higher intercept.",
            source="cascade of the output intercepts, the power amplifier's an estimate; 30 dB below the "
            "peak is common practice",
        )


@rule
def microphone_loaded(analysis: Analysis) -> Iterator[Finding]:
    """An amplifier's input should not take most of what a microphone gives."""
    found = analysis.microphone
    if found is None or found.divider_db <= _DIVIDED_DB or not analysis.project.path("transmit"):
        return
    first = analysis.project.path("transmit")[0].id
    yield Finding(
        severity="caution",
        rule="microphone_loaded",
        stage=first if found.computed else "microphone",
        path=("stages", first, "input_ohm") if found.computed else ("microphone", "input_ohm"),
        words=f"The amplifier's input of {format_value(found.input_ohm, 'Ω', 2)} takes <figure> of what the "
        f"{found.name} microphone gives; <limit> is usual at most.",
        figure=found.divider_db,
        limit=_DIVIDED_DB,
        unit="dB",
        shown=".1f",
        remedy=f"Give it an input of {format_value(found.source_ohm, 'Ω', 2)} or more, by a follower.",
        source="voltage divider of source and input; " + COMMON_PRACTICE,
    )


@rule
def carrier_suppression(analysis: Analysis) -> Iterator[Finding]:
    """Modulator balance and the ladder's skirt together hold the carrier down."""
    for band in analysis.project.bands:
        made, place = modulator(analysis, band.name), analysis.carrier(band.name)
        if made is None or isinstance(place, Unsolved):
            continue
        computed = isinstance(made.balance, Balance)
        total = balance_db(analysis, band.name) + place.suppression_db
        if total < _CARRIER_DB:
            yield Finding(
                severity="caution",
                rule="carrier_suppression",
                stage="carrier",
                band=band.name,
                path=("stages", made.stage.id, "balance_trimmed") if computed else ("carrier", "balance_db"),
                words=f"The carrier on {band.name} is <figure> down; <limit> is expected.",
                figure=total,
                limit=_CARRIER_DB,
                at_least=True,
                unit="dB",
                remedy=_better_balance(made, _CARRIER_DB - total),
                source=COMMON_PRACTICE,
            )


#: What more than what is missing a change must bring, dB.
_SURELY_DB = 0.2
#: What betters a modulator's balance: fields of the stage, and in words.
BETTER = (
    ({"balance_trimmed": "resistance"}, "Trim the modulator's balance by a potentiometer"),
    (
        {"balance_trimmed": "both"},
        "Trim the modulator's balance by a potentiometer and a small trimmer capacitor",
    ),
    ({"matching": "matched"}, "Match the modulator's devices by forward voltage"),
    (
        {"balance_trimmed": "resistance", "matching": "matched"},
        "Match the modulator's devices and trim its balance by a potentiometer",
    ),
    (
        {"balance_trimmed": "both", "matching": "matched"},
        "Match the modulator's devices and trim its balance by a potentiometer and a small trimmer capacitor",
    ),
)


def _better_balance(made: Modulator, missing_db: float) -> str:
    """The first change of its circuit that brings what is missing [dB]."""
    now = made.balance
    if isinstance(now, Balance) and now.measured_db is None:
        for fields, words in BETTER:
            stage = made.stage
            for name, value in fields.items():
                stage = stage.edited((name,), value)
            found = kind_of(stage).balance(stage, now.drive_dbm, now.audio_dbm)
            gained = found.counts_db - now.counts_db if isinstance(found, Balance) else 0.0
            # Its resistances load the audio a little, too.
            if gained >= missing_db + _SURELY_DB:
                return f"{words}: {gained:.0f} dB more."
    return "Balance the modulator better, or move the carrier further down the skirt."
