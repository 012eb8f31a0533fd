"""Windings that share a core as SVG: each with its turns, the dot at its start, and what its ends go to."""

from functools import lru_cache
from itertools import groupby
from textwrap import wrap

import schemdraw
import schemdraw.elements as elm

from app.sheet.sketches.svg_text import as_text, plain_text
from core.rig.figures.figure import keyed
from core.rig.sections.winding_ends import ENDS
from core.rig.wound.ends import WindingEnds

_TURNS = keyed(ENDS)["turns"]
#: Between windings of one core, and between cores; how high a winding is, and letters in a line at its ends.
_BESIDE, _APART, _HIGH, _LETTERS = 2.4, 3.4, 1.8, 11
#: Height of a line of text.
_LINE = 0.33


@lru_cache(maxsize=16)
def windings_svg(
    windings: tuple[WindingEnds, ...], ink: str = "#2b2620", soft: str = "#6a6055", font_size: float = 11.0
) -> str:
    """SVG text of windings side by side, those of one core together; starts are below."""
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    x = 0.0
    for (_, ref), found in groupby(windings, key=lambda each: (each.bands, each.ref)):
        first, named = x, [*found]
        for each in named:
            _winding(drawing, each, x, soft)
            x += _BESIDE
        middle = (first + x - _BESIDE) / 2
        # Above what the ends go to, which may take several lines.
        lines = max(len(wrap(each.end, _LETTERS)) for each in named)
        drawing.add(elm.Label().at((middle, _HIGH + 0.5 + _LINE * lines)).label(as_text(ref)))
        x += _APART - _BESIDE
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


def _winding(drawing: schemdraw.Drawing, of: WindingEnds, x: float, soft: str) -> None:
    """One winding upright: its start with the dot below."""
    turns = _TURNS.text(of)
    if of.winding == "tap":
        # A tap is a line from its coil.
        drawing.add(elm.Line().at((x - _BESIDE + 0.2, 0.6)).to((x, 0.6)))
        drawing.add(elm.Dot(open=True).at((x, 0.6)))
        told = [f"tap at {turns}", *wrap(of.end, _LETTERS)]
        drawing.add(
            elm.Label().at((x + 0.1, 0.2)).label("\n".join(map(as_text, told)), halign="left", color=soft)
        )
        return
    coil = elm.Inductor2().at((x, 0)).to((x, _HIGH))
    drawing.add(coil)
    drawing.add(elm.Dot(radius=0.09).at((x - 0.35, 0.35)))
    unit = "" if of.turns is None else " turn" if of.turns == 1 else " turns"
    known = of.turns is not None or of.share is not None
    told = [of.winding, f"{turns}{unit}" if known else ""]
    beside = "\n".join(as_text(each) for each in told if each)
    drawing.add(elm.Label().at((x + 0.35, _HIGH / 2 - 0.3)).label(beside, halign="left", color=soft))
    for y, text in ((_HIGH, of.end), (0.0, of.start)):
        lines = wrap(text, _LETTERS)
        drawing.add(elm.Dot(open=True).at((x, y)))
        at = y + 0.15 if y else y - 0.75 - _LINE * (len(lines) - 1)
        drawing.add(elm.Label().at((x, at)).label("\n".join(map(as_text, lines)), color=soft))
