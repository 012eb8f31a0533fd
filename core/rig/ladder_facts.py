"""What there is to tell of a ladder beyond its filter's figures, each asked of an analysis when looked at."""

from functools import cached_property

from core.model.stages.filters import LadderFilter
from core.record import record
from core.rig.analysis import Analysis
from core.stages.filters import carrier_oscillator, ladder_cures, ladder_figures
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.carrier_oscillator import SPEECH_HZ
from core.stages.filters.ladder_figures import FAR_WIDTHS, Rounding, StopBand
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved
from core.stages.steps import finished


@record(slots=False)
class LadderFacts:
    """The facts of a ladder of this design and these figures (None: none), with the carrier of a band."""

    analysis: Analysis
    ladder: LadderFilter
    design: FilterDesign
    figures: FilterFigures | None
    band: str

    #: Over which tones of speech the group delay is looked at, Hz.
    speech_hz = SPEECH_HZ
    #: From and to how many widths away the far stop-band lies.
    far_widths = FAR_WIDTHS

    @property
    def shape_factor(self) -> float | None:
        """The −60 dB width over the −6 dB width [-]."""
        return None if self.figures is None else ladder_figures.shape_factor(self.figures)

    @property
    def end_match(self) -> str:
        """How the ends meet the resistance around, in words."""
        return ladder_figures.end_match(self.ladder, self.design)

    @cached_property
    def delay_spread_s(self) -> float | Unsolved | None:
        """Spread of group delay over speech [s]; None for a ladder on no band."""
        solved = self.analysis.solved(self.ladder)
        if isinstance(solved, Unsolved) or not self.band:
            return solved if isinstance(solved, Unsolved) else None
        place = self.analysis.carrier(self.band)
        return (
            place if isinstance(place, Unsolved) else carrier_oscillator.group_delay_spread_s(solved, place)
        )

    @cached_property
    def stop_band(self) -> StopBand | Unsolved:
        """The far stop-band below and above the pass-band."""
        solved = self.analysis.solved(self.ladder)
        return solved if isinstance(solved, Unsolved) else ladder_figures.stop_band(solved)

    @property
    def ultimate_db(self) -> float | Unsolved:
        """The least loss of the far stop-band over the least loss, dB."""
        stop = self.stop_band
        return stop if isinstance(stop, Unsolved) else stop.ultimate_db

    @cached_property
    def flatness(self) -> tuple[FilterFigures | Unsolved, FilterFigures | Unsolved] | None:
        """Figures designed without and with the crystals' Q; None where both are alike."""
        return ladder_figures.flatness(self._asked)

    @cached_property
    def flatter(self) -> tuple[str, FilterFigures] | None:
        """The parts that are flatter still with their figures; None where no such are."""
        return finished(ladder_cures.flatter(self._asked.for_advice))

    @cached_property
    def nothing_gained(self) -> str | None:
        """Why counting the crystals' Q gains nothing; None where it gains."""
        return finished(ladder_cures.nothing_gained(self._asked.for_advice))

    @cached_property
    def rounding(self) -> Rounding | None:
        """What preferred values cost; None where nothing is known of it."""
        price = ladder_figures.rounding(self._asked)
        return price if isinstance(price, Rounding) else None

    @property
    def _asked(self) -> AskedLadder:
        return self.analysis.asked(self.ladder)
