"""Rules on ladder filters that come out otherwise than asked: width, ripple, match, loss, strays."""

from collections.abc import Iterable, Iterator
from statistics import median

import numpy as np

from core.model.stages.filters import LadderFilter
from core.model.values.notation import format_value, megahertz
from core.rig.analysis import Analysis
from core.rig.figures.filters import LOSS, RETURN_LOSS, RIPPLE
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rows import FilterRow
from core.rig.rules.filters import STRAY_F
from core.stages.filters import ladder_cures, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_cures import Cure, Figure
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved
from core.stages.steps import Steps

#: Ripple so far above what was asked that it is heard, dB.
_MUCH_RIPPLE_DB = 2.0
#: Ends this far from the resistance around want a match [-]: 14 dB of return loss.
_UNMATCHED = 1.5
#: Ends above this are loaded by the strays of their wiring, ohm (5 pF are 3.5 kilohm at 9 MHz).
_HIGH_OHM = 1500.0


@rule
def crystals_off_if(analysis: Analysis) -> Iterator[Finding]:
    """Crystals fitted for another IF: filter and carrier stay with them, and the VFO follows the carrier."""
    if_hz = analysis.project.if_hz
    for row, ladder, _, design in _ladders(analysis):
        fitted = [
            part.fitted for part in design.parts if part.role == "crystal" and part.as_built is not None
        ]
        if not fitted or ladder.crystal is None:
            continue
        middle = median(fitted)
        beside = middle - if_hz - ladder.crystal.offset_hz
        if abs(beside) <= ladder.bandwidth_hz:
            continue
        right = middle - ladder.crystal.offset_hz
        side = "above" if beside > 0 else "below"
        yield Finding(
            severity="caution",
            rule="crystals_off_if",
            stage=row.stage,
            path=("if_hz",),
            words=f"The crystals fitted in {row.name} are <figure> {side} the IF, "
            "more than the <limit> that it is wide: filter, carrier and VFO stay where the crystals are.",
            figure=abs(beside),
            limit=ladder.bandwidth_hz,
            unit="Hz",
            shown=".3g k",
            remedy=f"Set the IF to {megahertz(right)}, or take them out (clear the crystals' as-built "
            "values in the ladder's parts table).",
            source="series resonances of the crystals as built",
        )


@rule
def ladder_ends(analysis: Analysis) -> Iterator[Finding]:
    """A ladder that stands between resistances it was not made for."""
    for row, ladder, figures, design in _ladders(analysis):
        if not _unmatched(ladder, design):
            continue
        after = ladder_filter.figures(analysis.asked(ladder).edited(("end_match",), "transformer"))
        told = ""
        if isinstance(after, FilterFigures):
            told = f": {RIPPLE.written(after.ripple_db)} and {RETURN_LOSS.written(after.return_loss_db)} then"
        yield Finding(
            severity="caution",
            rule="ladder_ends",
            stage=row.stage,
            path=("stages", row.stage, "end_match"),
            words=f"{row.name} wants <figure> at its ends and stands between <limit>: "
            f"{RIPPLE.written(figures.ripple_db)} of ripple, "
            f"{RETURN_LOSS.written(figures.return_loss_db)} of return loss.",
            figure=design.end_resistance_ohm,
            limit=ladder.system_ohm,
            at_least=design.end_resistance_ohm < ladder.system_ohm,
            unit="Ω",
            remedy=f"Match its ends with a transformer or an L-network{told}.",
            edits=(
                Edit("Match its ends with a transformer", (((*row.path, "end_match"), "transformer"),)),
                Edit("Match its ends with an L-network", (((*row.path, "end_match"), "l_network"),)),
            ),
            source=COMMON_PRACTICE,
        )


@rule
def ladder_width(analysis: Analysis) -> Iterator[Finding | None]:
    """Crystal loss, rounded capacitors and the textbook design change a ladder's width."""
    for row, ladder, figures, _ in _ladders(analysis):
        ideal = ladder_filter.ideal(analysis.asked(ladder))
        if "width" not in ladder_cures.misses(analysis.asked(ladder), figures):
            continue
        assert not isinstance(ideal, Unsolved)  # nothing is missed where none is known
        wanted3, wanted6 = ideal.bandwidth_hz(3.0), ideal.bandwidth_hz(6.0)
        width = figures.bandwidth_3db_hz or 0.0
        narrow = width < (wanted3 or 0)
        remedy, edits = yield from _told(row, analysis.asked(ladder), "width")
        yield Finding(
            severity="caution",
            rule="ladder_width",
            stage=row.stage,
            path=("stages", row.stage, "bandwidth_hz"),
            words=f"{row.name} is <figure> wide at −3 dB and {figures.bandwidth_6db_hz or 0:.0f} Hz at "
            f"−6 dB; without loss and with exact parts it would be <bare limit> and {wanted6 or 0:.0f} Hz: "
            f"too {'narrow' if narrow else 'wide'}.",
            figure=width,
            limit=wanted3 or 0.0,
            at_least=narrow,
            unit="Hz",
            remedy=remedy,
            edits=edits,
            source=COMMON_PRACTICE,
        )


@rule
def ladder_ripple(analysis: Analysis) -> Iterator[Finding | None]:
    """Crystal loss rounds the pass-band, and rounded capacitors put dips into it."""
    for row, ladder, figures, design in _ladders(analysis):
        ideal = ladder_filter.ideal(analysis.asked(ladder))
        missed = ladder_cures.misses(analysis.asked(ladder), figures)
        if isinstance(ideal, Unsolved) or _unmatched(ladder, design):
            continue
        if "ripple" in missed:
            much = figures.ripple_db > ideal.ripple_db + _MUCH_RIPPLE_DB
            remedy, edits = yield from _told(row, analysis.asked(ladder), "ripple")
            yield Finding(
                severity="caution" if much else "note",
                rule="ladder_ripple",
                stage=row.stage,
                path=("stages", row.stage, "flatness"),
                words=f"{row.name} has <figure> of ripple over the inner 80 % of its −3 dB width, where "
                "the shape asked has <limit>.",
                figure=figures.ripple_db,
                limit=ideal.ripple_db,
                unit="dB",
                shown=RIPPLE.shown,
                remedy=remedy,
                edits=edits,
                source=COMMON_PRACTICE,
            )
        if "return_loss" in missed:
            remedy, edits = yield from _told(row, analysis.asked(ladder), "return_loss")
            yield Finding(
                severity="caution",
                rule="ladder_return_loss",
                stage=row.stage,
                path=("stages", row.stage, "capacitors"),
                words=f"{row.name} has a return loss of <figure>, where the shape asked has <limit>.",
                figure=figures.return_loss_db,
                limit=ideal.return_loss_db,
                at_least=True,
                unit="dB",
                shown=RETURN_LOSS.shown,
                remedy=remedy,
                edits=edits,
                source=COMMON_PRACTICE,
            )


@rule
def ladder_flatness(analysis: Analysis) -> Iterator[Finding | None]:
    """A ladder asked to be flat in spite of its loss that its parts cannot keep flat."""
    for row, ladder, figures, _ in _ladders(analysis):
        if ladder.flatness == "as_designed":
            continue
        said = yield from ladder_cures.nothing_gained(analysis.asked(ladder).for_advice)
        if said is not None:
            yield Finding(
                severity="note",
                rule="ladder_flatness",
                stage=row.stage,
                path=("stages", row.stage, "flatness"),
                words=f"{row.name} is made for its crystals' Q and comes out as without it, with <figure> of "
                "ripple.",
                figure=figures.ripple_db,
                limit=ladder.ripple_db,
                unit="dB",
                shown=RIPPLE.shown,
                remedy=said,
                source=COMMON_PRACTICE,
            )


@rule
def ladder_loss(analysis: Analysis) -> Iterator[Finding | None]:
    """A ladder that loses more than amplifiers should make up for."""
    for row, ladder, figures, _ in _ladders(analysis):
        if figures.insertion_loss_db > ladder_cures.MUCH_LOSS_DB:
            remedy, edits = yield from _less_loss(row, analysis.asked(ladder))
            yield Finding(
                severity="caution",
                rule="ladder_loss",
                stage=row.stage,
                path=("stages", row.stage, "poles"),
                words=f"{row.name} loses <figure> where it passes best.",
                figure=figures.insertion_loss_db,
                limit=ladder_cures.MUCH_LOSS_DB,
                unit="dB",
                shown=LOSS.shown,
                remedy=remedy,
                edits=edits,
                source=COMMON_PRACTICE,
            )


@rule
def ladder_strays(analysis: Analysis) -> Iterator[Finding | None]:
    """Ends and capacitors where a few picofarads of wiring count as much as a part."""
    for row, ladder, _, design in _ladders(analysis):
        small = min((p for p in design.parts if p.kind == "capacitor"), key=lambda p: p.fitted, default=None)
        high = design.end_resistance_ohm > _HIGH_OHM
        if small is None or not (high or small.fitted < STRAY_F):
            continue
        narrower = yield from _narrower(analysis.asked(ladder))
        ohm, farad = design.end_resistance_ohm, small.fitted
        yield Finding(
            severity="note",
            rule="ladder_strays",
            stage=row.stage,
            path=("stages", row.stage, "bandwidth_hz"),
            words=f"{row.name} has ends of {'<figure>' if high else f'{ohm:.0f} Ω'} and capacitors from "
            f"{format_value(farad, 'F', 3) if high else '<figure>'}: the strays of the wiring decide there.",
            figure=ohm if high else farad,
            limit=_HIGH_OHM if high else STRAY_F,
            at_least=not high,
            unit="Ω" if high else "F",
            shown=".0f" if high else ".3g p",
            remedy=(f"Make it {narrower:.0f} Hz wide, or take" if narrower else "Take")
            + " an IF whose crystals have less motional inductance; keep the wiring short and count its "
            "capacitance in.",
            edits=(
                (Edit(f"Make it {narrower:.0f} Hz wide", (((*row.path, "bandwidth_hz"), narrower),)),)
                if narrower
                else ()
            ),
            source=COMMON_PRACTICE,
        )


def _ladders(
    analysis: Analysis,
) -> Iterator[tuple[FilterRow, LadderFilter, FilterFigures, FilterDesign]]:
    for row in analysis.filters:
        ladder = KINDS[row.kind].ladder(analysis.project.stage(row.stage))
        if ladder is not None and isinstance(row.figures, FilterFigures):
            assert isinstance(row.design, FilterDesign)  # figures are those of a design
            yield row, ladder, row.figures, row.design


def _unmatched(ladder: LadderFilter, design: FilterDesign) -> bool:
    ratio = design.end_resistance_ohm / ladder.system_ohm
    return ladder.end_match == "none" and max(ratio, 1 / ratio) > _UNMATCHED


#: Widths tried at most, for the time that a design takes.
_MOST_WIDTHS = 40


def _narrower(asked: AskedLadder) -> Steps[float | None]:
    """The widest ladder, in hundreds of hertz, whose ends and capacitors are no matter of strays."""
    top = int(asked.ladder.bandwidth_hz / 100 - 1e-9)
    # Of a very wide one, as many are tried as of an ordinary one.
    steps = range(3, top + 1) if top <= _MOST_WIDTHS else np.geomspace(3, top, _MOST_WIDTHS)
    for hundreds in sorted({int(step) for step in steps}, reverse=True):
        yield
        made = ladder_filter.design(asked.edited(("bandwidth_hz",), 100.0 * hundreds))
        if isinstance(made, Unsolved):
            continue
        least = min((p.fitted for p in made.parts if p.kind == "capacitor"), default=0.0)
        if made.end_resistance_ohm <= _HIGH_OHM and least >= STRAY_F:
            return 100.0 * hundreds
    return None


def _told(row: FilterRow, asked: AskedLadder, figure: Figure) -> Steps[tuple[str, tuple[Edit, ...]]]:
    """What mends a figure of the ladder, with what it comes to, and as edits."""
    found = yield from ladder_cures.cures(asked.for_advice, figure)
    if not found:
        return (
            "No single change mends this; try another shape, fewer poles and better crystals together.",
            (),
        )
    text = ", or ".join(f"{cure.words} ({_after(cure, figure)})" for cure in found)
    return f"{_sentence(text)}.", _edits(row, found)


def _less_loss(row: FilterRow, asked: AskedLadder) -> Steps[tuple[str, tuple[Edit, ...]]]:
    """What brings a ladder's loss down, with what it comes to, and as edits."""
    found = yield from ladder_cures.less_loss(asked.for_advice)
    if not found:
        return "No single change mends this: take fewer poles and better crystals together.", ()
    text = ", or ".join(f"{cure.words} ({LOSS.written(cure.figures.insertion_loss_db)})" for cure in found)
    return f"{_sentence(text)}.", _edits(row, found)


def _edits(row: FilterRow, found: Iterable[Cure]) -> tuple[Edit, ...]:
    """The cures that are a matter of the design; better crystals have yet to be found."""
    return tuple(
        Edit(_sentence(cure.words), tuple(((*row.path, *path), value) for path, value in cure.changes))
        for cure in found
        if all(path[:1] != ("crystal",) for path, _ in cure.changes)
    )


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]


def _after(cure: Cure, figure: Figure) -> str:
    loss = f"{LOSS.written(cure.figures.insertion_loss_db)} of loss"
    if figure == "width":
        return f"{cure.figures.bandwidth_3db_hz or 0:.0f} Hz at −3 dB, {loss}"
    if figure == "ripple":
        return f"{RIPPLE.written(cure.figures.ripple_db)}, {loss}"
    return RETURN_LOSS.written(cure.figures.return_loss_db)
