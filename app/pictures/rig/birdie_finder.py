"""What would make a tone that was heard, the likeliest first."""

from app.pictures.told import Told, in_columns
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.birdie_finder import Candidate, Direction, candidates
from core.rig.figures.products import CANDIDATES

#: Candidates shown; what lies further down explains nothing.
_MOST = 12


@record
class FinderPicture:
    """A row a candidate, and what to think of them."""

    table: Told
    verdict: str


def picture_of(
    analysis: Analysis, look: Look, heard_hz: float, moves: float | None, direction: Direction | None
) -> FinderPicture:
    """What would make a tone heard with the dial at `heard_hz` [Hz]; the rest as the finder is asked."""
    band = analysis.project.band(look.band)
    birdies = [spur for spur in analysis.spurs(band.name, "receive") if spur.kind == "birdie"]
    found = candidates(birdies, band.low_hz, band.high_hz, heard_hz, moves, direction)[:_MOST]
    told = moves is not None or direction is not None
    return FinderPicture(in_columns(CANDIDATES, found), _verdict(found, words.band(band.name), told))


def _verdict(found: tuple[Candidate, ...], band: str, told: bool) -> str:
    if not found:
        so = " that moves so" if told else ""
        return f"Nothing of the rig's own oscillators makes a tone on {band}{so}."
    best = found[0]
    if abs(best.miss_hz) > 10e3:
        return (
            "None of the rig's own products lies within 10 kHz of that; the tone may come from outside, or "
            "the IF and carrier differ from the design. The nearest are:"
        )
    return f"Probably {best.spur.products}: {best.spur.tone}. The levels are estimates."
