"""Rules on filters that cannot be made, or come out otherwise than asked."""

from collections.abc import Callable, Iterator
from typing import TypeVar

from core.model.bands import Dials
from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.model.values.base import Path
from core.model.values.notation import format_value, significant
from core.model.values.part_names import spelled
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rows import FilterRow
from core.stages.band_pass import band_pass
from core.stages.band_pass.trimmers import STRAY_F
from core.stages.filters import low_pass
from core.stages.on_hand import Shelf
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved, unused
from core.stages.steps import Steps
from core.stages.vfo.tank import TankDesign

#: Loss on the dial beyond which a band-pass is too narrow for its coils, dB.
_MUCH_BAND_PASS_LOSS_DB = 6.0
#: Return loss wanted on the dial, dB: before a power amplifier SWR 1.5, of a band-pass SWR 1.9.
_LOW_PASS_RETURN_LOSS_DB, _BAND_PASS_RETURN_LOSS_DB = 14.0, 10.0
#: A reflection beyond which a standing wave ratio is over 99, a share of the voltage [-].
_ALL_REFLECTED = 0.98

#: What a fault is called by the field at fault; the others have no name of their own.
_FAULTS = {
    "device": "transistor_kind",
    "gain_db": "gain_unreached",
    "receive_gain_db": "gain_unreached",
    "transmit_gain_db": "gain_unreached",
}

_One = TypeVar("_One", BandPassFilter, LowPassFilter)
#: A field of a filter, what it is changed to, and the change in words.
_Change = tuple[str, object, str]


@rule
def cannot_be_made(analysis: Analysis) -> Iterator[Finding]:
    """A filter, an amplifier of parts or a tank without a solution, with its reason."""
    for row in (*analysis.circuits, *analysis.oscillators):
        for result in (row.design, row.figures if isinstance(row, FilterRow) else None):
            if isinstance(result, Unsolved):
                yield Finding(
                    severity="fault",
                    rule=_FAULTS.get(result.field, "filter_unsolved"),
                    stage=row.stage,
                    band=row.own_band,
                    path=(*row.path, result.field) if result.field else row.path,
                    words=result.reason,
                    remedy=f"Change {row.name} as said; until then it counts as passing everything.",
                    source="design equations of the filter"
                    if isinstance(row, FilterRow)
                    else "the stage's circuit",
                )
                break
    # A VFO through zero on every band is the frequency plan's fault to tell.
    if isinstance(analysis.tank, Unsolved) and any(plan.vfo_low_hz > 0 for plan in analysis.frequency_plan):
        yield Finding(
            severity="fault",
            rule="vfo_unsolved",
            stage="vfo",
            path=("vfo", "tank"),
            words=analysis.tank.reason,
            remedy="Change the tank as said; until then nothing is known of its dial, drift and start-up.",
            source="equations of the tank",
        )


@rule
def band_pass_loss(analysis: Analysis) -> Iterator[Finding | None]:
    """A narrow band-pass of ordinary coils loses more than a receiver or a driver can make up for."""
    for row, one in _served(analysis, BandPassFilter):
        loss = row.figures.served_loss_db  # type: ignore[union-attr]
        if loss is None or loss <= _MUCH_BAND_PASS_LOSS_DB:
            continue
        dials, shelf = analysis.dials(one.bands), analysis.surroundings.shelf

        def good(changed: BandPassFilter, dials: Dials = dials, shelf: Shelf = shelf) -> bool:
            found = band_pass.figures(changed, dials, shelf)
            return (
                isinstance(found, FilterFigures) and (found.served_loss_db or 99) <= _MUCH_BAND_PASS_LOSS_DB
            )

        remedy, edits = yield from _first_good(row, one, _band_pass_changes(one), good)
        yield Finding(
            severity="caution",
            rule="band_pass_loss",
            stage=row.stage,
            band=_band(row),
            path=_path(row, "bandwidth_hz"),
            words=f"{row.name} loses up to <figure> on {' and '.join(row.bands)}, where more than <limit> is "
            "much.",
            figure=loss,
            limit=_MUCH_BAND_PASS_LOSS_DB,
            unit="dB",
            shown=".1f",
            remedy=remedy,
            edits=edits,
            source=COMMON_PRACTICE,
        )


@rule
def return_loss(analysis: Analysis) -> Iterator[Finding | None]:
    """A filter that reflects on its own band: the power amplifier or the mixer then sees another load."""
    shelf = analysis.surroundings.shelf
    for row, low in _served(analysis, LowPassFilter):
        dials = analysis.dials(low.bands)

        def of_low_pass(changed: LowPassFilter, dials: Dials = dials) -> float:
            return _return_loss(low_pass.figures(changed, dials, shelf))

        yield from _reflecting(
            row,
            low,
            _low_pass_changes(low, dials),
            of_low_pass,
            _LOW_PASS_RETURN_LOSS_DB,
            "cutoff_hz",
            (" ({swr})", " before a power amplifier"),
        )
    for row, one in _served(analysis, BandPassFilter):
        dials = analysis.dials(one.bands)

        def of_band_pass(changed: BandPassFilter, dials: Dials = dials) -> float:
            return _return_loss(band_pass.figures(changed, dials, shelf))

        wanted_db = _BAND_PASS_RETURN_LOSS_DB
        yield from _reflecting(row, one, _band_pass_changes(one), of_band_pass, wanted_db, "bandwidth_hz")


def _return_loss(found: FilterFigures | Unsolved) -> float:
    """The least on the dials served, dB; none where there is no such filter."""
    if isinstance(found, Unsolved):
        return 0.0
    return found.return_loss_db if found.served_return_loss_db is None else found.served_return_loss_db


def _reflecting(
    row: FilterRow,
    one: _One,
    changes: Iterator[_Change],
    after_db: Callable[[_One], float],
    wanted_db: float,
    field: str,
    further: tuple[str, str] = ("", ""),
) -> Iterator[Finding | None]:
    """A filter whose return loss is below what is wanted; `after_db` is that of a changed one, `further` what
    is said besides of the figure and of the limit.
    """
    found = row.figures.served_return_loss_db  # type: ignore[union-attr]
    if found is None or found >= wanted_db:
        return
    remedy, edits = yield from _first_good(row, one, changes, lambda changed: after_db(changed) >= wanted_db)
    yield Finding(
        severity="caution",
        rule="return_loss",
        stage=row.stage,
        band=_band(row),
        path=_path(row, field),
        words=f"{row.name} has a return loss of <figure> on {' and '.join(row.bands)}"
        f"{further[0].format(swr=_swr(found))}; <limit> is wanted{further[1]}.",
        figure=found,
        limit=wanted_db,
        at_least=True,
        unit="dB",
        shown=".1f",
        remedy=remedy,
        edits=edits,
        source=COMMON_PRACTICE,
    )


@rule
def strays(analysis: Analysis) -> Iterator[Finding | None]:
    """Capacitors so small that wiring decides what they are."""
    for row, one in _served(analysis, BandPassFilter):
        assert isinstance(row.design, FilterDesign)  # _served() leaves the others out
        small = _smallest(row.design)
        if small is None or small.fitted >= STRAY_F:
            continue
        dials, shelf = analysis.dials(one.bands), analysis.surroundings.shelf

        def sure(changed: BandPassFilter, dials: Dials = dials, shelf: Shelf = shelf) -> bool:
            made = band_pass.design(changed, dials, shelf)
            if isinstance(made, Unsolved):
                return False
            least = _smallest(made)
            return least is None or least.fitted >= STRAY_F

        remedy, edits = yield from _first_good(row, one, _stray_changes(one, row.design), sure)
        yield Finding(
            severity="note",
            rule="strays",
            stage=row.stage,
            band=_band(row),
            path=_path(row, "coupling"),
            words=f"{small.ref} of {row.name} on {' and '.join(row.bands)} is <figure>; below <limit> the "
            "wiring decides what it is.",
            figure=small.fitted,
            limit=STRAY_F,
            at_least=True,
            unit="F",
            shown=".3g p",
            remedy=remedy,
            edits=edits,
            source=COMMON_PRACTICE,
        )


def _served(analysis: Analysis, kind: type[_One]) -> Iterator[tuple[FilterRow, _One]]:
    """The filters of a kind that have figures, with what was asked of each."""
    for row in analysis.filters:
        if row.index is None or isinstance(row.figures, Unsolved) or isinstance(row.design, Unsolved):
            continue
        one = analysis.project.at(row.path)
        if isinstance(one, kind):
            yield row, one


def _band(row: FilterRow) -> str:
    return row.bands[0] if row.bands else ""


def _path(row: FilterRow, field: str) -> Path:
    return ("stages", row.stage, "filters", row.index or 0, field)


#: What is bought or wound better is advice, not an edit: the part has yet to be found.
_BOUGHT = ("coil_q",)


def _first_good(
    row: FilterRow, one: _One, changes: Iterator[_Change], good: Callable[[_One], bool]
) -> Steps[tuple[str, tuple[Edit, ...]]]:
    """The changes that mend a filter, the first of each field, as one sentence and as edits.

    A step is a change tried.
    """
    done: dict[str, tuple[str, Edit]] = {}
    for field, value, words in changes:
        if field not in done and (changed := one.tried((field,), value)) is not None and good(changed):
            done[field] = words, Edit(_sentence(words), ((_path(row, field), value),))
        yield
    if not done:
        told = "No single change mends this; take another number of resonators or parts, or another shape."
        return told, ()
    told = ", or ".join(words for words, _ in done.values())
    return f"{_sentence(told)}.", tuple(edit for name, (_, edit) in done.items() if name not in _BOUGHT)


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]


def _band_pass_changes(one: BandPassFilter) -> Iterator[_Change]:
    for step in range(1, 16):
        width = significant(one.bandwidth_hz * 1.15**step, 2)
        yield "bandwidth_hz", width, f"make it {format_value(width, 'Hz', 3)} wide"
    for step in range(1, 9):
        q = significant(one.coil_q * 1.2**step, 2)
        yield "coil_q", q, f"wind coils with a Q of {q:.0f}"
    if one.resonators > 2:
        yield "resonators", 2, "take 2 resonators"


def _low_pass_changes(one: LowPassFilter, dials: Dials) -> Iterator[_Change]:
    # No lower than the bands: what cuts them off is no remedy.
    start = max([low_pass.cutoff_of(one, dials) or 0.0, *(high for _, high in dials)])
    for step in range(1, 16):
        cutoff = significant(start * 1.03**step, 3)
        yield "cutoff_hz", cutoff, f"put the cut-off at {format_value(cutoff, 'Hz', 3)}"
    yield "as_built", (), "clear the as-built values and compare the parts with the new ones"
    if one.shape == "butterworth":
        yield "shape", "chebyshev", "take the Chebyshev shape"


def _stray_changes(one: BandPassFilter, made: FilterDesign) -> Iterator[_Change]:
    if one.coupling == "top_capacitor":
        yield "coupling", "shunt_capacitor", "couple by shunt capacitors"
        if one.resonators == 2 and not one.core:
            yield "coupling", "mutual_inductance", "couple the coils themselves, in air side by side"
    now = next(part.designed for part in made.parts if part.kind == "inductor")
    for step in range(1, 9):
        coil = significant(now * 0.85**step, 2)
        yield "inductance_h", coil, f"take coils of {format_value(coil, 'H', 2)}"


def _swr(return_loss_db: float) -> str:
    """The standing wave ratio of a return loss [dB], in words where it has no sensible number."""
    reflected = 10 ** (-return_loss_db / 20)
    return f"SWR {(1 + reflected) / (1 - reflected):.1f}" if reflected < _ALL_REFLECTED else "SWR over 99"


def _smallest(made: FilterDesign) -> PartRow | None:
    capacitors = [part for part in made.parts if part.kind == "capacitor"]
    return min(capacitors, key=lambda part: part.fitted, default=None)


@rule
def as_built_unknown(analysis: Analysis) -> Iterator[Finding]:
    """An as-built value for a part that the design does not have is a value nobody uses."""
    owners: list[tuple[str, str, str, Path, tuple[PartRow, ...]]] = [
        (
            row.stage,
            row.name,
            row.own_band,
            row.path,
            row.design.parts,
        )
        for row in (*analysis.circuits, *analysis.oscillators)
        if not isinstance(row.design, Unsolved)
    ]
    if isinstance(analysis.tank, TankDesign):
        owners.append(("vfo", "The VFO", "", ("vfo", "tank"), analysis.tank.parts))
    for stage, name, band, path, parts in owners:
        holder = analysis.project.at(path)
        idle = unused(getattr(holder, "as_built", ()), parts)
        if idle:
            names = ", ".join(spelled(holder.family, each) for each in idle)
            yield Finding(
                severity="caution",
                rule="as_built_unused",
                stage=stage,
                band=band,
                path=path,
                words=f"{name} has as-built values for {names}, which it does not have now.",
                remedy="Clear them at the end of its parts table, or go back to the design they belong to.",
                source="the project itself",
            )
