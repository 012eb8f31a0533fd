"""Speech through the ladder, now and as held: for the ladder's and for the carrier's view."""

from app.pictures.figures import LinePicture
from app.pictures.held import held_on_band
from app.pictures.response import ResponsePicture, delay_picture, response_picture
from app.state.look import Look
from core.model.stages.filters import LadderFilter
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.plan import CARRIER
from core.rig.paper.curves import (
    DELAY_TONES_HZ,
    TONES_HZ,
    scattered_delay,
    scattered_speech,
    speech_delay,
    speech_loss_db,
)
from core.stages.outcome import Unsolved

OTHER = keyed(CARRIER)["unwanted_sideband_1khz_db"]


def audio_of(
    analysis: Analysis, held: Analysis | None, ladder: LadderFilter, look: Look
) -> ResponsePicture | str:
    """Loss over the tone on the band looked at, or why there is none."""
    loss, place = speech_loss_db(analysis, ladder, look.band), analysis.carrier(look.band)
    if isinstance(loss, Unsolved) or isinstance(place, Unsolved):
        return loss.reason if isinstance(loss, Unsolved) else ""
    then = held_on_band(held, look)
    was = None if then is None or then.ladder is None else speech_loss_db(then, then.ladder, look.band)
    return response_picture(
        TONES_HZ,
        -loss,
        depth_db=40.0,
        key="audio",
        held=None if was is None or isinstance(was, Unsolved) else (TONES_HZ, -was),
        scattered=scattered_speech(analysis, ladder, look.band),
        notes=(((f"{OTHER.title} {OTHER.written(place.unwanted_sideband_1khz_db)} down",), OTHER.tip),),
    )


def delay_of(
    analysis: Analysis, held: Analysis | None, ladder: LadderFilter, look: Look
) -> LinePicture | str:
    """Group delay over the tone on the band looked at, or why there is none."""
    now = speech_delay(analysis, ladder, look.band)
    if isinstance(now, Unsolved):
        return now.reason
    then = held_on_band(held, look)
    was = None if then is None or then.ladder is None else speech_delay(then, then.ladder, look.band)
    kept = None if was is None or isinstance(was, Unsolved) else was.delay_s
    scattered = scattered_delay(analysis, ladder, look.band)
    return delay_picture(DELAY_TONES_HZ, now.delay_s, now.spread_s, now.speech_hz, kept, scattered)
