"""The microphone and what the transmitter makes of it: levels, two tones, gain in one box."""

from app.pictures.told import Told, in_columns, in_rows, line, said
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.levels import LEVEL, LOOPS, MICROPHONE, TRANSMIT, sent


@record
class SendingPicture:
    """Tables of the microphone, of the transmitter on the band looked at, and of the loops in the box."""

    microphone: Told
    transmitter_title: str
    transmitter: Told
    loops: Told


def picture_of(analysis: Analysis, look: Look) -> SendingPicture:
    """What the microphone gives and what becomes of it on a band."""
    found = analysis.microphone
    if found is None:
        level = analysis.project.microphone.peak_dbm
        lines = [said("speech peaks, as typed in", LEVEL.written(level), tip=LEVEL.tip)]
    else:
        lines = [line(figure, found) for figure in MICROPHONE]
    of = sent(analysis, look.band)
    told = [line(figure, of) for figure in TRANSMIT if figure.key != "band"]
    shown = tuple(figure for figure in LOOPS if figure.key not in ("band", "isolation_db"))
    loops = (each for each in analysis.loops() if each.band == look.band)
    return SendingPicture(
        microphone=in_rows(("figure", "value"), lines),
        transmitter_title=f"Transmitter on {words.band(look.band)}",
        transmitter=in_rows(("figure", "value"), told),
        loops=in_columns(shown, loops),
    )
