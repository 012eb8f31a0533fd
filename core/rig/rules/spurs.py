"""Rules on what the oscillators' products put on the dial, and on what else the receiver hears."""

from collections.abc import Iterator, Sequence
from math import floor

from core.model.project import Project
from core.model.values.base import Path
from core.model.values.notation import megahertz
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, Severity, rule
from core.rig.plan.frequency_plan import BandPlan
from core.rig.spurs.responses import FILTERED_ONLY
from core.rig.spurs.spurs import Spur
from core.rig.survey.terms import GOOD_REJECTION_DB, POOR_REJECTION_DB
from core.stages.kinds.table import kind_of

#: A birdie above this is loud, dB against S9; common practice, no source.
LOUD_BIRDIE_DB = -48.0
#: Weaker than this nobody notices: birdies far under the noise (against S9), products far under the limit.
NEGLIGIBLE_DBC = {"birdie": -75.0, "transmit": -70.0}
#: Responses named in one finding; the others are counted.
_NAMED = 3
#: A response nearer than this share of the dial frequency is not parted from it by an ordinary band-pass.
_INSEPARABLE = 0.15
_ESTIMATED = "products of VFO and IF; level estimated"


@rule
def crossing_products(analysis: Analysis) -> Iterator[Finding]:
    """Products that meet the wanted signal inside the band: no filter can take them away."""
    limit = -analysis.project.station.harmonic_limit_db
    path = analysis.project.path("transmit")
    mixer = next((s.id for s in path if kind_of(s).driver(s) == "vfo"), "")
    for band in analysis.project.bands:
        for spur in analysis.spurs(band.name):
            if not spur.crosses:
                break
            if spur.kind == "receive" or spur.level_dbc < NEGLIGIBLE_DBC[spur.kind]:
                continue
            sent = spur.kind == "transmit"
            most_db = limit if sent else LOUD_BIRDIE_DB
            severity: Severity = "note" if spur.level_dbc <= most_db else "fault" if sent else "caution"
            stage = mixer if sent else "read_out" if spur.read_out else "vfo"
            remedy, place = _against(spur, analysis.project)
            yield Finding(
                severity=severity,
                rule=f"{spur.kind}_crosses",
                stage=stage,
                band=band.name,
                subject=spur.products,
                path=place,
                words=(
                    f"{spur.products} (order {spur.order}) meets the {band.name} signal at "
                    f"{megahertz(spur.dial_hz)}, about <figure>; {spur.tone}."
                ),
                figure=spur.level_dbc,
                limit=most_db,
                unit="dBc" if sent else "dB on S9",
                shown=".0f" if sent else "+.0f",
                remedy=remedy,
                source=_ESTIMATED,
            )


def sent_on_the_dial(analysis: Analysis, band: str) -> list[Spur]:
    """The products sent that meet the wanted signal of a band and are strong enough to be told."""
    return [
        spur
        for spur in analysis.spurs(band, "transmit")
        if spur.crosses and spur.level_dbc >= NEGLIGIBLE_DBC["transmit"]
    ]


def _against(spur: Spur, project: Project) -> tuple[str, Path]:
    """What can be done against a product that crosses the dial, and where."""
    if spur.kind == "transmit":
        return "Move the IF; no filter can separate what lies on the signal.", ("if_hz",)
    if spur.read_out:
        read_out = project.read_out
        typed = read_out is not None and (read_out.helper_hz or read_out.helper_measured_hz) is not None
        helper = "Leave the helper's crystal to be chosen" if typed else "Take another helper crystal"
        return (
            f"{helper}, take a counter with another clock, or screen the counter with what feeds it.",
            ("read_out", "helper_hz"),
        )
    return "Move the IF, or screen the oscillators and filter their supplies.", ("if_hz",)


@rule
def image_and_if(analysis: Analysis) -> Iterator[Finding]:
    """Image and IF breakthrough are held down by the front filters alone."""
    for band in analysis.project.bands:
        for spur in _poor(analysis, band.name):
            if spur.products not in FILTERED_ONLY:
                continue
            yield Finding(
                severity=_severity(-spur.level_dbc),
                rule="image_rejection" if spur.products == "image" else "if_breakthrough",
                band=band.name,
                path=("stages",),
                words=f"On {band.name} the {spur.products} is only <figure> down; <limit> is wanted.",
                figure=_down_db(spur),
                limit=GOOD_REJECTION_DB,
                at_least=True,
                unit="dB",
                remedy="Add a resonator to the band-pass, narrow it, or choose an IF that moves "
                "the response away.",
                source=COMMON_PRACTICE,
            )


@rule
def other_responses(analysis: Analysis) -> Iterator[Finding]:
    """Other inputs that the mixer takes by multiples of VFO and signal: those on the dial, those a filter
    could keep out, and those too near for one.
    """
    for plan in analysis.frequency_plan:
        poor = [s for s in _poor(analysis, plan.band) if s.products not in FILTERED_ONLY]
        crossing = [s for s in poor if s.crosses]
        near = [s for s in poor if not s.crosses and _share_away(s, plan) < _INSEPARABLE]
        far = [s for s in poor if not s.crosses and _share_away(s, plan) >= _INSEPARABLE]
        if crossing:
            yield _responses(
                plan,
                crossing,
                "response_crosses",
                "caution",
                "Move the IF; no filter can keep out what lies on the dial.",
                ("if_hz",),
            )
        if near:
            yield _responses(
                plan,
                near,
                "response_near",
                _severity(-near[0].level_dbc),
                "Move the IF; an ordinary band-pass does not part what lies so near the dial.",
                ("if_hz",),
            )
        if far:
            yield _responses(
                plan,
                far,
                "response_far",
                _severity(-far[0].level_dbc),
                "Add a resonator to the band-pass, or narrow it.",
                ("stages",),
            )


def _poor(analysis: Analysis, band: str) -> list[Spur]:
    """The responses of a band with too little rejection, the worst first."""
    heard = analysis.spurs(band, "receive")
    found = [s for s in heard if s.kind == "receive" and -s.level_dbc < GOOD_REJECTION_DB]
    return sorted(found, key=lambda s: -s.level_dbc)


def _severity(rejection_db: float) -> Severity:
    return "fault" if rejection_db < POOR_REJECTION_DB else "caution"


def _down_db(spur: Spur) -> float:
    return max(-spur.level_dbc, 0.0)


def _share_away(spur: Spur, plan: BandPlan) -> float:
    """How far a response lies from the dial at its nearest, as a share of the dial frequency."""
    return min(abs(spur.offset_low_hz), abs(spur.offset_high_hz)) / plan.dial_high_hz


def _responses(
    plan: BandPlan, spurs: Sequence[Spur], name: str, severity: Severity, remedy: str, path: Path
) -> Finding:
    # What would read like the limit is told to a tenth, cut off, for it is below.
    downs = ["<figure>"]
    for spur in spurs[1:_NAMED]:
        down = _down_db(spur)
        near = round(down) >= GOOD_REJECTION_DB
        downs.append(f"{floor(10 * down) / 10:.1f} dB" if near else f"{down:.0f} dB")
    named = zip(spurs, downs, strict=False)
    worst = ", ".join(f"{s.products} {down} down {_where(s, plan)}" for s, down in named)
    more = f" and {len(spurs) - _NAMED} more" if len(spurs) > _NAMED else ""
    count = "another input is" if len(spurs) == 1 else f"{len(spurs)} other inputs are"
    return Finding(
        severity=severity,
        rule=name,
        band=plan.band,
        path=path,
        words=f"On {plan.band} {count} less than <limit> down: {worst}{more}.",
        figure=_down_db(spurs[0]),
        limit=GOOD_REJECTION_DB,
        at_least=True,
        unit="dB",
        remedy=remedy,
        source=(
            f"{COMMON_PRACTICE}; mixer's share estimated, for two and more times the signal 10 dB under its "
            "compression"
        ),
    )


def _where(spur: Spur, plan: BandPlan) -> str:
    if spur.crosses:
        return f"where the dial meets it at {megahertz(spur.dial_hz)}"
    inputs = sorted((plan.dial_low_hz + spur.offset_low_hz, plan.dial_high_hz + spur.offset_high_hz))
    return f"at {megahertz(*inputs)}"
