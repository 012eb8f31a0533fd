"""Speech through the ladder, now and as held: for the ladder's and for the carrier's view."""

from dataclasses import dataclass

import numpy as np

from app import words
from app.plots.response import DelayPlot, ResponsePlot
from app.stage_views.base import held_ladder, reason_of
from app.workbench import Workbench
from core.circuits.ladder import Array
from core.model.filters import LadderFilter
from core.rig.analysis import Analysis
from core.stages import carrier_oscillator
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.ladder_filter import SolvedLadder
from core.stages.outcome import Unsolved

_AUDIO_HZ = np.linspace(50.0, 4000.0, 396)
#: Below this a tone passes the carrier's own skirt, where the delay of the ladder is of no interest.
_DELAY_FROM_HZ = 150.0

#: A ladder and its carrier.
_Through = tuple[SolvedLadder, CarrierPlace]


@dataclass(frozen=True, slots=True)
class Speech:
    """What speech passes on a band, now (or why it cannot) and in the held design (None: not there)."""

    band: str
    now: _Through | Unsolved
    held: _Through | None

    @property
    def audio_title(self) -> str:
        """Heading of the audio response."""
        return f"Audio as heard on {words.band(self.band)}"

    @property
    def delay_title(self) -> str:
        """Heading of the group delay."""
        return f"Group delay on {words.band(self.band)}"


def speech_of(bench: Workbench, ladder: LadderFilter) -> Speech:
    """Speech on the band looked at through a ladder of the present design."""
    held, was = bench.held_analysis, held_ladder(bench)
    before = None if held is None or was is None else _through(held, was, bench.band_name)
    now = _through(bench.analysis, ladder, bench.band_name)
    return Speech(bench.band_name, now, None if isinstance(before, Unsolved) else before)


def _through(analysis: Analysis, ladder: LadderFilter, band: str) -> _Through | Unsolved:
    place = analysis.carrier(band)
    if isinstance(place, Unsolved):
        return place
    solved = analysis.solved(ladder)
    return solved if isinstance(solved, Unsolved) else (solved, place)


def draw_audio(plot: ResponsePlot, speech: Speech) -> None:
    """Loss over the tone, or why there is none."""
    loss = _audio(speech.now)
    if isinstance(loss, Unsolved) or isinstance(speech.now, Unsolved):
        plot.say(reason_of(loss))
        return
    was = None if speech.held is None else _audio(speech.held)
    kept = None if was is None or isinstance(was, Unsolved) else (_AUDIO_HZ, -was)
    down = speech.now[1].unwanted_sideband_1khz_db
    notes = (f"other sideband at 1 kHz {down:.0f} dB down",)
    plot.show_response(_AUDIO_HZ, -loss, depth_db=40.0, key="audio", held=kept, notes=notes)


def draw_delay(plot: DelayPlot, speech: Speech) -> None:
    """Group delay over the tone, or why there is none."""
    x = _AUDIO_HZ[_AUDIO_HZ >= _DELAY_FROM_HZ]
    delay = _delay(speech.now, x)
    if isinstance(delay, Unsolved) or isinstance(speech.now, Unsolved):
        plot.say(reason_of(delay))
        return
    spread = carrier_oscillator.group_delay_spread_s(*speech.now)
    if isinstance(spread, Unsolved):
        plot.say(spread.reason)
        return
    was = None if speech.held is None else _delay(speech.held, x)
    kept = None if isinstance(was, Unsolved) else was
    plot.show_delay(x, delay, spread, carrier_oscillator.SPEECH_HZ, kept)


def _audio(through: _Through | Unsolved) -> Array | Unsolved:
    if isinstance(through, Unsolved):
        return through
    return carrier_oscillator.audio_response(*through, _AUDIO_HZ)


def _delay(through: _Through | Unsolved, x_hz: Array) -> Array | Unsolved:
    if isinstance(through, Unsolved):
        return through
    return carrier_oscillator.audio_group_delay_s(*through, x_hz)
