"""What would bring a ladder back to what was asked: changes tried one by one on its exact response.

Nothing is advised that was not computed: a change is named only when the figure in question is good after it.
"""

from collections.abc import Callable, Iterable, Iterator
from typing import Literal

from core.model.stages.filters import Crystal, LadderFilter
from core.model.values.notation import significant
from core.record import record
from core.stages.filters import ladder_figures, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder, Change
from core.stages.outcome import FilterFigures, Unsolved
from core.stages.steps import Steps, kept
from core.trade.series import PAIRS

#: How far a ladder's width may miss that of the same filter without loss before it is worth saying [-].
WIDTH_MISS = 0.2
#: Ripple beyond that of the same filter without loss that is worth saying, dB.
RIPPLE_EXCESS_DB = 0.5
#: A return loss this far below that of the same filter without loss, and below the other, is too low, dB.
RETURN_LOSS_MISS_DB, RETURN_LOSS_WANTED_DB = 6.0, 10.0

#: Loss of a ladder that amplifiers should not have to make up for, dB.
MUCH_LOSS_DB = 8.0

#: No crystal has a Q above the first of these, and few that are sold above the second [-]; from memory.
_HIGHEST_Q, _SOLD_Q = 2e6, 250e3

Figure = Literal["width", "ripple", "return_loss"]


@record
class Cure:
    """Changes that make a figure good, in words for the builder, and the figures after them."""

    words: str
    changes: tuple[Change, ...]
    figures: FilterFigures


def misses(asked: AskedLadder, figures: FilterFigures) -> tuple[Figure, ...]:
    """Which figures of a ladder are far from those of the same one without loss."""
    ideal = ladder_filter.ideal(asked)
    if isinstance(ideal, Unsolved):
        return ()
    missed: list[Figure] = []
    for depth, width in ((3.0, figures.bandwidth_3db_hz), (6.0, figures.bandwidth_6db_hz)):
        wanted = ideal.bandwidth_hz(depth)
        if width is not None and wanted and abs(width / wanted - 1) > WIDTH_MISS:
            missed = ["width"]
    if figures.ripple_db > ideal.ripple_db + RIPPLE_EXCESS_DB:
        missed.append("ripple")
    least = min(ideal.return_loss_db - RETURN_LOSS_MISS_DB, RETURN_LOSS_WANTED_DB)
    # A ladder kept flat in spite of its loss reflects in the middle what it would lose less there.
    if asked.ladder.flatness == "as_designed" and figures.return_loss_db < least:
        missed.append("return_loss")
    return tuple(missed)


@kept(64)
def cures(asked: AskedLadder, figure: Figure) -> Steps[tuple[Cure, ...]]:
    """What makes a figure of the ladder good: changes of one thing, and where counting the crystals' Q in is
    not enough by itself, that with finer capacitors. A step is a ladder tried.
    """

    def tried(words: str, *changes: Change) -> Steps[Cure | None]:
        found = yield from _figures_of(changed := asked.tried(*changes))
        if changed is None or found is None or figure in misses(changed, found):
            return None
        return None if found.insertion_loss_db > MUCH_LOSS_DB else Cure(words, changes, found)

    def does(q: float) -> Steps[bool]:
        changed = exact.edited(("crystal", "quality_factor"), q)
        found = yield from _figures_of(changed)
        return found is not None and figure not in misses(changed, found)

    ladder, exact = asked.ladder, asked.edited(("capacitors",), "exact")
    found: list[Cure | None] = []
    for words, change in _changes(ladder):
        found.append((yield from tried(words, change)))
    if _may_count_q(ladder, figure):
        flat = yield from tried(_FLAT_WORDS, _FLAT)
        if flat is None and _are_coarse(ladder):
            flat = yield from tried(f"{_FLAT_WORDS} and {_FINER_WORDS}", _FLAT, _FINER)
        found.append(flat)
    # A ladder that counts its crystals' Q is tried slowly: what follows is for want of anything simpler.
    slow = ladder.flatness != "as_designed"
    if not (slow and any(found)):
        # Far fewer poles are another filter.
        fewer = (tried(f"take {n} poles", (("poles",), n)) for n in range(ladder.poles - 1, 3, -1)[:3])
        found.append((yield from _first(fewer)))
    if ladder.crystal is not None and not (slow and any(found)):
        found.insert(-1, (yield from _better_crystals(ladder.crystal, does, tried)))
    return tuple(cure for cure in found if cure is not None)


def _figures_of(asked: AskedLadder | None) -> Steps[FilterFigures | None]:
    """The figures of a changed ladder; None when it cannot be."""
    if asked is None:
        return None
    found = yield from ladder_filter.figures_in_steps(asked)
    yield
    return None if isinstance(found, Unsolved) else found


def _first(tries: Iterable[Steps[Cure | None]]) -> Steps[Cure | None]:
    """The first that does."""
    for each in tries:
        cure = yield from each
        if cure is not None:
            return cure
    return None


#: Widths worth trying against loss, times that asked.
_WIDER = (1.1, 1.2, 1.3, 1.5)


@kept(64)
def less_loss(asked: AskedLadder) -> Steps[tuple[Cure, ...]]:
    """What brings the loss of the ladder down to MUCH_LOSS_DB: of each kind of change the smallest that does,
    better crystals only where nothing else does. A step is a ladder tried.
    """
    ladder = asked.ladder

    def tried(words: str, *changes: Change) -> Steps[Cure | None]:
        found = yield from _figures_of(asked.tried(*changes))
        return (
            None if found is None or found.insertion_loss_db > MUCH_LOSS_DB else Cure(words, changes, found)
        )

    def does(q: float) -> Steps[bool]:
        cure = yield from tried("", (("crystal", "quality_factor"), q))
        return cure is not None

    def wider() -> Steps[Cure | None]:
        widths = [round(share * ladder.bandwidth_hz, -1) for share in _WIDER]
        each = [(f"make it {width:.0f} Hz wide", (("bandwidth_hz",), width)) for width in widths]
        # Loss falls with width: where the widest does not do, no other does.
        if (yield from tried(*each[-1])) is None:
            return None
        return (yield from _first(tried(*one) for one in each))

    plain: Change = (("flatness",), "as_designed")
    kinds: list[Steps[Cure | None]] = [
        _first(tried(words, change) for words, change in _changes(ladder) if change != _FINER),
        _first(tried(f"take {n} poles", (("poles",), n)) for n in range(ladder.poles - 1, 3, -1)),
        wider(),
    ]
    if ladder.flatness != "as_designed":
        kinds.insert(0, tried("design it without regard to their Q (field Flatness)", plain))
    found: list[Cure | None] = []
    for kind in kinds:
        found.append((yield from kind))
    if not any(found) and ladder.crystal is not None:
        found.append((yield from _better_crystals(ladder.crystal, does, tried)))
    return tuple(cure for cure in found if cure is not None)


_FLAT: Change = (("flatness",), "for_the_crystals")
_FLAT_WORDS = "design it with the crystals' Q (field Flatness)"
#: Two ordinary capacitors in parallel come nearer than one of a fine series, which is hardly to be had.
_FINER: Change = (("capacitors",), "E12_pairs")
_FINER_WORDS = "take pairs of E12 capacitors in parallel"

#: Finer parts that may keep a ladder flat which coarse ones do not, in words, the simplest first.
_FINER_PARTS: tuple[tuple[str, tuple[Change, ...]], ...] = (
    ("pairs of E12 capacitors", (_FINER,)),
    ("an L-network", ((("end_match",), "l_network"),)),
    ("pairs of E12 capacitors and an L-network", (_FINER, (("end_match",), "l_network"))),
)
#: Less ripple than this is no gain, dB; finer parts must bring twice as much.
_GAIN_DB = 0.1


@kept(64)
def flatter(asked: AskedLadder) -> Steps[tuple[str, FilterFigures] | None]:
    """The simplest finer parts, in words, of which a ladder that counts its crystals' Q comes out flatter,
    and its figures then; None where no such parts do. A step is a ladder tried.
    """
    ripples = yield from _ripples(asked)
    if ripples is None:
        return None
    flat = asked.bare.edited(*_FLAT)
    for words, changes in _FINER_PARTS:
        finer = flat.tried(*changes)
        if finer is None or finer == flat or (_FINER in changes and not _are_coarse(asked.ladder)):
            continue
        found = yield from _figures_of(finer)
        if found is not None and found.ripple_db <= min(ripples) - 2 * _GAIN_DB:
            return words, found
    return None


def _ripples(asked: AskedLadder) -> Steps[tuple[float, float] | None]:
    """Ripple without and with the crystals' Q counted, dB."""
    # The latter is what takes long, and is kept for the pair.
    yield from _figures_of(asked.bare.edited(*_FLAT))
    pair = ladder_figures.flatness(asked)
    if pair is None or isinstance(pair[0], Unsolved) or isinstance(pair[1], Unsolved):
        return None
    return pair[0].ripple_db, pair[1].ripple_db


def nothing_gained(asked: AskedLadder) -> Steps[str | None]:
    """Why counting the crystals' Q in leaves a ladder as it is, in a sentence that names the parts which
    would gain by it; None where it gains. A step is a ladder tried.
    """
    ripples = yield from _ripples(asked)
    if ripples is None or ripples[1] <= ripples[0] - _GAIN_DB:
        return None
    said = (
        "Counting the crystals' Q in gains nothing with these parts: "
        f"{ripples[0]:.2f} dB of ripple without it, {ripples[1]:.2f} dB with it"
    )
    finer = yield from flatter(asked)
    if finer is None:
        return f"{said}, and finer parts gain nothing either."
    words, found = finer
    give = "gives" if words.startswith("an") else "give"
    return f"{said}; {words} {give} {found.ripple_db:.2f} dB at {found.insertion_loss_db:.1f} dB of loss."


def _may_count_q(ladder: LadderFilter, figure: Figure) -> bool:
    shaped = ladder.shape in ("butterworth", "chebyshev")
    return figure != "return_loss" and shaped and ladder.flatness == "as_designed"


def _changes(ladder: LadderFilter) -> Iterator[tuple[str, Change]]:
    if ladder.as_built:
        yield "clear the as-built values", (("as_built",), ())
    if ladder.end_match == "none":
        yield "match the ends with a transformer", (("end_match",), "transformer")
    if not ladder.refine:
        yield "refine the design", (("refine",), True)
    if _are_coarse(ladder):
        yield _FINER_WORDS, _FINER


def _are_coarse(ladder: LadderFilter) -> bool:
    return ladder.capacitors not in ("exact", "E96", *PAIRS)


def _thousands(q: float) -> str:
    return f"{q:,.0f}".replace(",", " ")


def _better_crystals(
    crystal: Crystal, does: Callable[[float], Steps[bool]], tried: Callable[..., Steps[Cure | None]]
) -> Steps[Cure | None]:
    """The least Q, to two digits, of crystals that would do; None where none below two million does.

    Looked for with exact capacitors, which `does` it, and then raised until the real ones do too.
    """
    low, high = crystal.quality_factor, _HIGHEST_Q
    if not (yield from does(high)):
        return None
    while high > 1.08 * low:
        middle = significant((low * high) ** 0.5, 2)
        if middle in (low, high):
            break
        low, high = (low, middle) if (yield from does(middle)) else (middle, high)
    while high < _HIGHEST_Q:
        words = f"crystals with a Q of {_thousands(high)} or more"
        words = f"take {words}" if high <= _SOLD_Q else f"{words} would do it and are hardly to be had"
        cure = yield from tried(words, (("crystal", "quality_factor"), high))
        if cure is not None:
            return cure
        high = significant(1.4 * high, 2)
    return None
