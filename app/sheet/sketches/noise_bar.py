"""A receiver's own noise as one stacked bar for paper, as SVG; parts have the numbers told below it."""

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import jinja2

from core.rig.figures.receive import Noisy
from core.stages.kinds.kind import PASSIVE

_WIDTH, _HEIGHT, _BAR = 840.0, 58.0, 34.0
#: Room at both ends for the edge; a part narrower than this has no number in it.
_EDGE, _NUMBERED = 2.0, 18.0
#: Grounds of filters and pads, of mixers and what they fold in, and of all others: as light as each other in
#: no print without colours.
_PASSIVE, _MIXER, _OTHER = "#ffffff", "#cdbb9f", "#f0dfc8"


def noise_svg(parts: Sequence[Noisy]) -> str:
    """The bar from 0 to 100 %; what comes in through an image has a dashed edge."""
    across = _WIDTH - 2 * _EDGE
    boxes, numbers = [], []
    at = _EDGE
    for number, each in enumerate(parts, start=1):
        wide = across * each.part.share
        boxes.append((round(at, 2), round(wide, 2), _ground(each), each.part.image))
        if wide >= _NUMBERED:
            numbers.append((round(at + wide / 2, 2), str(number)))
        at += wide
    ticks = [
        (_EDGE + across * share / 100, "start" if share == 0 else "end" if share == 100 else "middle", text)
        for share, text in ((0, "0"), (50, "50"), (100, "100 %"))
    ]
    return _template().render(
        width=_WIDTH, height=_HEIGHT, bar=_BAR, boxes=boxes, numbers=numbers, ticks=ticks
    )


def _ground(each: Noisy) -> str:
    if each.part.role in PASSIVE:
        return _PASSIVE
    return _MIXER if each.part.role == "mixer" else _OTHER


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    loader = jinja2.FileSystemLoader(Path(__file__).parents[1] / "templates")
    return jinja2.Environment(loader=loader, autoescape=True).get_template("noise.svg.jinja")
