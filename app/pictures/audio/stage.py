"""An audio stage of parts: what speech passes, its figures, what limits it, what comes to the ear."""

from app.pictures.held import held_on_band
from app.pictures.response import ResponsePicture, noted, response_picture
from app.pictures.stages import block
from app.pictures.told import Told, in_columns, in_rows, line, said
from app.state.look import Look
from app.style import words
from core.model.stages.stage import Way
from core.record import record
from core.rig.analysis import Analysis
from core.rig.audio.chain import TONES_HZ, AudioChain, audio_chain
from core.rig.audio.facts import AudioFacts, audio_facts, limits, sound
from core.rig.audio.figures import AUDIO_STAGE, LIMITS, SOUND, SPEECH
from core.rig.figures.figure import by_key
from core.rig.figures.levels import MICROPHONE
from core.stages.outcome import Drawable, Unsolved

#: What stands below the response's title.
_BELOW = by_key(SPEECH, "corners_hz", "ripple_db")
#: How deep the response is drawn, dB.
_DEPTH_DB = 40.0
_ENDS: dict[Way, str] = {"receive": "from the antenna to the speaker", "transmit": "from the microphone on"}
#: What is told of a microphone of which only a level is known, and of a last stage of figures alone.
_TYPED_IN = "The microphone's level stands in its form; of a type its impedance is known too."
_UNKNOWN = "Of a last stage that is a circuit the largest output and the hum are known."


@record(kw_only=True)
class AudioPicture:
    """Everything the view shows of an audio stage."""

    name: str
    speech_title: str
    speech: ResponsePicture | str
    table: Told
    levels_title: str
    levels: Told
    limits: Told
    ends_title: str
    ends: Told
    drawing: Drawable


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> AudioPicture | Unsolved:
    """What there is to show of the selected audio stage, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = audio_facts(analysis, stage, look.band)
    if isinstance(facts, Unsolved):
        return facts
    way = look.way if facts.at is None else facts.at.way
    levels_title, levels = block.levels_of(analysis, look)
    ends_title, ends = _ends(analysis, look.band, way)
    return AudioPicture(
        name=facts.name,
        speech_title=f"Speech on {words.band(look.band)} {_ENDS[way]}, with the ladder",
        speech=_speech(analysis, held, look, way),
        table=_table(facts),
        levels_title=levels_title,
        levels=levels,
        limits=in_columns(LIMITS, limits(facts)),
        ends_title=ends_title,
        ends=ends,
        drawing=facts.design.drawing,
    )


def _speech(analysis: Analysis, held: Analysis | None, look: Look, way: Way) -> ResponsePicture | str:
    now = audio_chain(analysis, look.band, way)
    if isinstance(now, Unsolved):
        return now.reason
    then = held_on_band(held, look)
    was = None if then is None else audio_chain(then, look.band, way)
    return response_picture(
        TONES_HZ,
        now.whole_db,
        depth_db=_DEPTH_DB,
        key=("speech", way),
        held=(TONES_HZ, was.whole_db) if isinstance(was, AudioChain) else None,
        beside=("audio stages alone", now.audio_db),
        notes=tuple(noted(figure, now) for figure in _BELOW if figure.get(now) is not None),
    )


def _table(facts: AudioFacts) -> Told:
    known = [figure for figure in AUDIO_STAGE if figure.get(facts) is not None]
    return in_rows(("figure", "value"), (line(figure, facts) for figure in known))


def _ends(analysis: Analysis, band: str, way: Way) -> tuple[str, Told]:
    """What comes to the ear, or from the microphone."""
    heads = ("figure", "value")
    if way == "transmit":
        spoken = analysis.microphone
        if spoken is None:
            level = "a level that is typed in; choose a type to see what its impedance does"
            return "Microphone", in_rows(heads, [said("microphone", level, tip=_TYPED_IN)])
        return "Microphone", in_rows(heads, (line(figure, spoken) for figure in MICROPHONE))
    heard = sound(analysis, band)
    if heard is None:
        reason = "the last stage is no circuit; build it of parts to see what it can give"
        return "At the ear", in_rows(heads, [said("sound", reason, tip=_UNKNOWN)])
    lines = [line(figure, heard) for figure in SOUND]
    worst = max(heard.shares_v, key=lambda each: each[2], default=None)
    if worst is not None and heard.hum_v > 0:
        through = "The stage whose circuit lets most of the supply's ripple through to the speaker."
        lines.append(said("most of the hum through", worst[1], tip=through))
    return "At the ear", in_rows(heads, lines)
