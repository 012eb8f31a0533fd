"""The figures of a ladder as the rows of a table."""

from collections.abc import Iterator

from app.pictures.told import Line, Told, composed, in_rows, line, said
from core.rig.figures.figure import keyed
from core.rig.figures.filters import FILTERS, FLARE, LOSS, PRICE, RIPPLE, FilterOn
from core.rig.ladder_facts import LadderFacts
from core.stages.filters.ladder_figures import Rounding, StopBand
from core.stages.outcome import FilterFigures, Unsolved

ULTIMATE = keyed(FILTERS)["ultimate_attenuation_db"]
HEADS = ("figure", "value")
#: What is told first, in this order.
_FIRST = (
    "bandwidth_3db_hz",
    "bandwidth_6db_hz",
    "bandwidth_60db_hz",
    "shape_factor",
    "ripple_db",
    "insertion_loss_db",
    "return_loss_db",
    "end_resistance_ohm",
    "end_match",
    "group_delay_spread_s",
)


def ladder_table(of: FilterOn) -> Told:
    """Every figure of a ladder with the carrier of a band."""
    return in_rows(HEADS, _lines(of))


def _lines(of: FilterOn) -> Iterator[Line]:
    facts, figure = of.ladder, keyed(FILTERS)
    assert facts is not None  # what this table is chosen for
    for key in _FIRST:
        yield line(figure[key], of)
    stop = facts.stop_band
    if isinstance(stop, Unsolved):
        yield said("stop-band", stop.reason, tip=ULTIMATE.tip)
    else:
        yield from _stop_lines(stop, facts)
        yield line(figure["ultimate_attenuation_db"], of)
        yield _flare(stop)
    if facts.flatness is not None:
        for how, each in zip(("without loss", "with the crystals' Q"), facts.flatness, strict=True):
            yield composed(f"designed {how}: ripple and least loss", _ripple_and_loss(each), RIPPLE, LOSS)
    if facts.flatter is not None:
        words, flatter = facts.flatter
        yield composed(f"with {words} too: ripple and least loss", _ripple_and_loss(flatter), RIPPLE, LOSS)
    if facts.nothing_gained is not None:
        yield said("the crystals' Q", facts.nothing_gained, tip=RIPPLE.tip)
    if facts.rounding is not None:
        yield from _price_lines(facts.rounding)


def _ripple_and_loss(figures: FilterFigures | Unsolved) -> str:
    if isinstance(figures, Unsolved):
        return figures.reason
    return f"{RIPPLE.written(figures.ripple_db)}, {LOSS.written(figures.insertion_loss_db)}"


def _stop_lines(stop: StopBand, facts: LadderFacts) -> Iterator[Line]:
    near, far = facts.far_widths
    for side, value in (("below", stop.below_db), ("above", stop.above_db)):
        yield said(
            f"least loss {near:.0f} to {far:.0f} widths {side}", ULTIMATE.written(value), tip=ULTIMATE.tip
        )


def _flare(stop: StopBand) -> Line:
    back, peak, by = FLARE
    told = "none"
    if (flare := stop.flare) is not None:
        told = (
            f"comes back {back.text(flare)} from its largest loss at {peak.text(flare)} by {by.text(flare)}"
        )
    return composed(back.title, told, *FLARE)


def _price_lines(price: Rounding) -> Iterator[Line]:
    for figure in PRICE:
        if figure.get(price) is not None:
            yield said(f"price of preferred values: {figure.title}", figure.text(price), tip=figure.tip)
