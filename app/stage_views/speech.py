"""Speech through the ladder, now and as held: for the ladder's and for the carrier's view."""

import numpy as np

from app.plots.response import DelayPlot, ResponsePlot
from app.stage_views.base import held_ladder, reason_of
from app.workbench import Workbench
from core.circuits.ladder import Array
from core.model.filters import LadderFilter
from core.stages import carrier_oscillator
from core.stages.carrier_oscillator import CarrierPlace
from core.stages.outcome import Unsolved

_AUDIO_HZ = np.linspace(50.0, 4000.0, 396)
#: Below this a tone passes the carrier's own skirt, where the delay of the ladder is of no interest.
_DELAY_FROM_HZ = 150.0

#: A ladder, its IF [Hz], its carrier, and the capacitors on hand [F].
_Through = tuple[LadderFilter, float, CarrierPlace, tuple[float, ...]]


def draw_audio(plot: ResponsePlot, bench: Workbench, ladder: LadderFilter) -> None:
    """Loss over the tone on the band looked at, or why there is none."""
    place = bench.analysis.carrier(bench.band_name)
    if isinstance(place, Unsolved):
        plot.say(place.reason)
        return
    on_hand = bench.analysis.on_hand(ladder)
    loss = carrier_oscillator.audio_response(ladder, bench.current.if_hz, place, _AUDIO_HZ, on_hand)
    if isinstance(loss, Unsolved):
        plot.say(loss.reason)
        return
    kept = None
    then = _held(bench)
    if then is not None:
        was = carrier_oscillator.audio_response(*then[:3], _AUDIO_HZ, then[3])
        kept = None if isinstance(was, Unsolved) else (_AUDIO_HZ, -was)
    notes = (f"other sideband at 1 kHz {place.unwanted_sideband_1khz_db:.0f} dB down",)
    plot.show_response(_AUDIO_HZ, -loss, depth_db=40.0, key="audio", held=kept, notes=notes)


def draw_delay(plot: DelayPlot, bench: Workbench, ladder: LadderFilter) -> None:
    """Group delay over the tone on the band looked at, or why there is none."""
    place = bench.analysis.carrier(bench.band_name)
    if isinstance(place, Unsolved):
        plot.say(place.reason)
        return
    x = _AUDIO_HZ[_AUDIO_HZ >= _DELAY_FROM_HZ]
    if_hz, on_hand = bench.current.if_hz, bench.analysis.on_hand(ladder)
    delay = carrier_oscillator.audio_group_delay_s(ladder, if_hz, place, x, on_hand)
    spread = carrier_oscillator.group_delay_spread_s(ladder, if_hz, place, on_hand=on_hand)
    if isinstance(delay, Unsolved) or isinstance(spread, Unsolved):
        plot.say(reason_of(delay, spread))
        return
    kept: Array | None = None
    then = _held(bench)
    if then is not None:
        was = carrier_oscillator.audio_group_delay_s(*then[:3], x, then[3])
        kept = None if isinstance(was, Unsolved) else was
    plot.show_delay(x, delay, spread, carrier_oscillator.SPEECH_HZ, kept)


def _held(bench: Workbench) -> _Through | None:
    """What speech passed in the held design; None when there is none or it has no carrier on this band."""
    held, ladder = bench.held_analysis, held_ladder(bench)
    if held is None or ladder is None:
        return None
    place = held.carrier(bench.band_name)
    return None if isinstance(place, Unsolved) else (ladder, held.project.if_hz, place, held.on_hand(ladder))
