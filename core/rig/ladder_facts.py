"""What there is to tell of a ladder beyond its filter's figures, asked of an analysis."""

from dataclasses import dataclass

from core.model.stages.filters import LadderFilter
from core.rig.analysis import Analysis
from core.stages.filters import carrier_oscillator, ladder_cures, ladder_figures
from core.stages.filters.carrier_oscillator import SPEECH_HZ
from core.stages.filters.ladder_figures import FAR_WIDTHS, Rounding, StopBand
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved
from core.stages.steps import finished


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderFacts:
    """A ladder's shape factor [-], end match in words, spread of group delay [s] over `speech_hz` [Hz], the
    stop-band with its `far_widths`, ripple and loss designed without and with the crystals' Q (None: alike),
    the parts that are flatter still with their figures (None: no such), why counting the Q gains nothing
    (None: it gains), and what preferred values cost (None: nothing).
    """

    shape_factor: float | None
    end_match: str
    delay_spread_s: float | Unsolved
    speech_hz: tuple[float, float]
    stop_band: StopBand | Unsolved
    far_widths: tuple[float, float]
    flatness: tuple[FilterFigures | Unsolved, FilterFigures | Unsolved] | None
    flatter: tuple[str, FilterFigures] | None
    nothing_gained: str | None
    rounding: Rounding | None


def ladder_facts(
    analysis: Analysis, ladder: LadderFilter, design: FilterDesign, figures: FilterFigures, band: str
) -> LadderFacts:
    """The facts of a ladder of this design and these figures, with the carrier of a band."""
    if_hz, on_hand, solved = analysis.project.if_hz, analysis.on_hand(ladder), analysis.solved(ladder)
    place = analysis.carrier(band)
    spread: float | Unsolved
    stop: StopBand | Unsolved
    if isinstance(solved, Unsolved):
        spread = stop = solved
    else:
        stop = ladder_figures.stop_band(solved)
        spread = (
            place if isinstance(place, Unsolved) else carrier_oscillator.group_delay_spread_s(solved, place)
        )
    near_hz = ladder_cures.for_advice(if_hz)
    price = ladder_figures.rounding(ladder, if_hz, on_hand)
    return LadderFacts(
        shape_factor=ladder_figures.shape_factor(figures),
        end_match=ladder_figures.end_match(ladder, design),
        delay_spread_s=spread,
        speech_hz=SPEECH_HZ,
        stop_band=stop,
        far_widths=FAR_WIDTHS,
        flatness=ladder_figures.flatness(ladder, if_hz, on_hand),
        flatter=finished(ladder_cures.flatter(ladder, near_hz, on_hand)),
        nothing_gained=finished(ladder_cures.nothing_gained(ladder, near_hz, on_hand)),
        rounding=price if isinstance(price, Rounding) else None,
    )
