"""Sketches of crystal oscillators as SVG: what sets the frequency, and the oscillator as a block."""

from functools import lru_cache
from itertools import pairwise

import schemdraw
import schemdraw.elements as elm

from app.sheet.sketches.svg_text import plain_text
from core.model.values.notation import format_value
from core.rig.workshop.crystal_circuits import CrystalCircuit


@lru_cache(maxsize=16)
def crystal_svg(of: CrystalCircuit, ink: str, soft: str, font_size: float = 11.0) -> str:
    """SVG text of a crystal with what stands in series with it, at the oscillator that it belongs to."""
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=2.0, margin=0.2)
    drawing.add(elm.GroundSignal().at((0, 0)))
    drawing.add(elm.Line().at((0, 0)).to((0, 1.0)))
    here = (0.0, 1.0)
    trimmer = "" if of.trimmer_f is None else format_value(of.trimmer_f, "F", 3)
    coil = "" if not of.coil_h else format_value(of.coil_h, "H", 3)
    parts = [
        (elm.CapacitorVar() if trimmer else None, f"CT\n{trimmer}"),
        (elm.Inductor2() if coil else None, f"L\n{coil}"),
        (elm.Crystal(), f"X\n{of.marked}"),
    ]
    for element, label in parts:
        if element is not None:
            end = (here[0] + 2.4, here[1])
            drawing.add(element.at(here).to(end).label(label, loc="top", color=soft))
            here = end
    load = "" if of.load_f is None else f"\nloads it with\n{format_value(of.load_f, 'F', 3)}"
    drawing.add(elm.Line().at(here).to((here[0] + 0.6, here[1])))
    left, right = here[0] + 0.6, here[0] + 3.6
    corners = ((left, here[1] - 1), (left, here[1] + 1), (right, here[1] + 1), (right, here[1] - 1))
    for a, b in pairwise((*corners, corners[0])):
        drawing.add(elm.Line().at(a).to(b))
    drawing.add(elm.Label().at(((left + right) / 2, here[1] - 0.1)).label(f"oscillator{load}", color=soft))
    out = (here[0] + 3.6, here[1])
    drawing.add(elm.Line().at(out).to((out[0] + 0.8, out[1])))
    drawing.add(elm.Dot(open=True).at((out[0] + 0.8, out[1])).label(of.goes_to, loc="right"))
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)
