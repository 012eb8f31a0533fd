"""Rules on amplifiers of parts: gain, stability, and loops through a bilateral pair and the box."""

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from math import ceil
from typing import Any

from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.ends import return_loss_db
from core.rig.levels.loops import Loop
from core.rig.rules.power.gain_missed import gain_missed
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.figures import figures, stability
from core.stages.amplifiers.pair import PairDesign, amplifiers_in, ring
from core.stages.kinds.table import kind_of
from core.stages.mixers.figures import USUAL_SECOND_DBC
from core.stages.outcome import Unsolved

#: Gain round a loop from which on it can howl, dB.
_HOWLS_DB = 0.0
#: Isolation that should be left over the gain at one frequency, dB; common practice, no source.
_LOOP_MARGIN_DB = 10.0
#: Return loss that a diode mixer should see at all frequencies, dB; common practice, no source.
_TERMINATED_DB = 10.0
#: Mixers that pass on what is turned back behind them.
_DIODE_MIXERS = ("two_diode", "ring")


def _amplifiers(analysis: Analysis) -> Iterator[tuple[str, str, AmplifierDesign]]:
    """Every amplifier of parts: its stage's key, what it is called, and its design; of a pair both."""
    for row in analysis.circuits:
        name = analysis.project.stage(row.stage).name
        for each in amplifiers_in(row.design):
            yield row.stage, name if each.way is None else f"{name} in {each.way}", each


@rule
def amplifier_conditional(analysis: Analysis) -> Iterator[Finding]:
    """Amplifiers that some passive ends would make oscillate want to be known as such: one cause, and so one
    note.
    """
    known = []
    for stage, name, design in _amplifiers(analysis):
        found = stability(design)
        if not isinstance(found, Unsolved) and found.least_mu < 1:
            known.append((found.least_mu, found.at_hz, stage, name))
    if not known:
        return
    (least, at_hz, stage, name), *rest = sorted(known)
    others = ""
    if rest:
        *most, last = [each[3] for each in rest]
        others = (
            f"; so {'is' if not most else 'are'} {' and '.join(([', '.join(most)] if most else []) + [last])}"
        )
    yield Finding(
        severity="note",
        rule="amplifier_conditional",
        stage=stage,
        path=("stages", stage),
        words=f"{name} is stable with ordinary ends only: µ is <figure> at {format_value(at_hz, 'Hz', 3)} "
        f"where <limit> would do for any{others}.",
        figure=least,
        limit=1.0,
        at_least=True,
        unit="",
        shown=".2f",
        remedy="Keep leads short, put a small resistor in series with base or gate, and watch it with a "
        "long cable at either end; three transistors are stable with any.",
        source="µ of the two-port (Edwards and Sinsky, 1992, from memory); wiring is not counted",
    )


@rule
def amplifier_gain(analysis: Analysis) -> Iterator[Finding]:
    """A circuit that does not come to the gain asked of it; a follower is asked for none."""
    for stage, name, design in _amplifiers(analysis):
        asked_db = design.asked_db
        found = figures(design, design.asked_at_hz)
        if asked_db is None or isinstance(found, Unsolved):
            continue
        yield from gain_missed(
            name,
            design.parts,
            asked_db,
            asked_db - found.gain_db,
            of="gain",
            other="one with three transistors",
            rule="amplifier_gain",
            stage=stage,
            subject=design.way or "",
            path=("stages", stage, "gain_db" if design.way is None else f"{design.way}_gain_db"),
        )


@rule
def pair_both_fed(analysis: Analysis) -> Iterator[Finding]:
    """Both halves of a bilateral pair on at once are an oscillator; one that is off lets too little back."""
    for row in analysis.circuits:
        if not isinstance(row.design, PairDesign):
            continue
        found, name = ring(row.design), analysis.project.stage(row.stage).name
        if isinstance(found, Unsolved):
            continue
        if found.both_db >= _HOWLS_DB:
            yield Finding(
                severity="note",
                rule="pair_both_fed",
                stage=row.stage,
                path=("stages", row.stage),
                words=f"With both halves fed {name} would amplify by <figure> once round: from <limit> on it "
                "howls.",
                figure=found.both_db,
                limit=_HOWLS_DB,
                unit="dB",
                shown=".0f",
                remedy="Feed them through one changeover contact, so that never both are on.",
                source="admittances of both halves at the terminals, each with the system resistance",
            )


def _worst(loops: Iterable[Loop], of: Callable[[Loop], Any], size_db: Callable[[Loop], float]) -> list[Loop]:
    """The loop of the largest size of all that are `of` the same."""
    found: dict[Any, list[Loop]] = {}
    for each in loops:
        found.setdefault(of(each), []).append(each)
    return [max(alike, key=size_db) for alike in found.values()]


@rule
def too_much_gain_at_one_frequency(analysis: Analysis) -> Iterator[Finding]:
    """Gain at one frequency beyond what one box's wiring isolates makes an oscillator; the worst band's."""
    for found in _worst(analysis.loops(), lambda each: each.subject, lambda each: each.box_db):
        told = f"The {found.way} path amplifies"
        if found.box_db > 0:
            yield Finding(
                severity="caution",
                rule="loop_gain",
                subject=found.subject,
                path=("stages",),
                words=(
                    f"{told} <figure> at one frequency ({found.zone.upper()}); with an assumed "
                    f"<limit> of isolation it can howl."
                ),
                figure=found.gain_db,
                limit=found.isolation_db,
                unit="dB",
                remedy="Spread the gain over RF, IF and audio, or screen the stages from each other and say "
                "so in the station's settings.",
                source=COMMON_PRACTICE,
            )
        elif found.box_db > -_LOOP_MARGIN_DB:
            yield Finding(
                severity="note",
                rule="loop_margin",
                subject=found.subject,
                path=("station", "stray_isolation_db"),
                words=(
                    f"{told} {found.gain_db:.0f} dB at one frequency ({found.zone.upper()}) and "
                    f"{found.isolation_db:.0f} dB of isolation are assumed: <figure> in hand, where <limit> "
                    "are wise."
                ),
                figure=-found.box_db,
                limit=_LOOP_MARGIN_DB,
                at_least=True,
                unit="dB",
                remedy="Screen the stages from each other, or measure the isolation and say it in the "
                "station's settings.",
                source=COMMON_PRACTICE,
            )


@rule
def stage_lets_back(analysis: Analysis) -> Iterator[Finding]:
    """A stage with typed figures that lets more back than it takes less of, on the worst band."""
    # Where the box alone howls, that is told; what a stage does by itself is told in any case.
    howling = (each for each in analysis.loops() if each.loop_db > 0 >= min(each.box_db, -each.stage_db))
    for found in _worst(
        howling, lambda each: each.lets_back and each.lets_back.stage, lambda each: each.loop_db
    ):
        block = found.lets_back
        if block is None:
            continue
        yield Finding(
            severity="caution",
            rule="stage_lets_back",
            stage=block.stage,
            path=("stages", block.stage, "reverse_isolation_db"),
            words=f"{block.name} amplifies {block.gain_db:.0f} dB and isolates {block.isolation_db:.0f} dB "
            "backwards: with ends that turn back what comes, and through the box, <figure> come round where "
            "<limit> howls.",
            figure=found.loop_db,
            limit=_HOWLS_DB,
            unit="dB",
            shown="+.1f",
            remedy="Measure its isolation and type it in, ask for less gain, or take three transistors.",
            source="“Gain” and “Reverse isolation” of the stage, worst ends",
        )


@rule
def mixer_termination(analysis: Analysis) -> Iterator[Finding]:
    """A diode mixer wants its resistance behind it at frequencies too that a filter further on turns back."""
    band = analysis.project.bands[0].name
    path = analysis.project.path("receive")
    for mixer, after in pairwise(path):
        figures_of = kind_of(mixer).mixing(mixer, None, USUAL_SECOND_DBC)
        if figures_of is None or figures_of.type not in _DIODE_MIXERS:
            continue
        found = analysis.ends(after.id, band, "receive")
        if isinstance(found, Unsolved) or not found.stops.any():
            continue
        seen = float(return_loss_db(found.input_ohm)[found.stops.astype(bool)].min())
        if seen >= _TERMINATED_DB:
            continue
        yield Finding(
            severity="caution",
            rule="mixer_termination",
            stage=mixer.id,
            subject=after.id,
            path=("stages", after.id),
            words=f"Where {found.beside} stops, {mixer.name} sees a return loss of <figure> through "
            f"{after.name}; with <limit> or more a diode mixer's intercept and loss are what they should be.",
            figure=seen,
            limit=_TERMINATED_DB,
            at_least=True,
            unit="dB",
            shown=".1f",
            remedy="Put a stage of three transistors between them, or a pad of "
            f"{ceil((_TERMINATED_DB - seen) / 2)} dB before {after.name}.",
            source="two-ports of all stages up to the next mixer; the limit is common practice",
        )
