"""Figures of spurs, and of what a birdie may be."""

from core.rig.birdie_finder import Candidate
from core.rig.figures.figure import Figure, Table, band_label, behind, keyed, label
from core.rig.spurs.spurs import Spur

#: Where such figures come from.
PRODUCTS = "whole multiples of VFO and IF, carrier or signal, over the dial"

SPURS: Table[Spur] = (
    band_label(lambda s: s.band),
    label("kind", "kind", lambda s: s.kind),
    label("products", "products", lambda s: s.products),
    Figure(
        key="order",
        title="order",
        what="The sum of both multiples: the higher, the weaker.",
        source=PRODUCTS,
        get=lambda s: s.order,
        unit="-",
    ),
    Figure(
        key="dial_hz",
        title="dial",
        what="Where on the dial it meets the wanted signal, or comes nearest to it.",
        source=PRODUCTS,
        get=lambda s: s.dial_hz,
        unit="Hz",
        places=3,
        prefix="M",
    ),
    Figure(
        key="crosses",
        title="crosses",
        what="Whether it meets the wanted signal inside the band.",
        source=PRODUCTS,
        get=lambda s: s.crosses,
    ),
    Figure(
        key="level_dbc",
        title="level",
        what="Against the wanted output (transmit), as strong a wanted signal (receive) or S9 (birdie).",
        source="the mixer's suppression table and the filters' exact losses; an estimate",
        get=lambda s: s.level_dbc,
        unit="dBc",
        places=0,
        listed=False,
    ),
    Figure(
        key="level",
        title="level",
        what="The level in words: what filters promise beyond the wiring's isolation is not told.",
        source="the mixer's suppression table and the filters' exact losses; an estimate",
        get=lambda s: s.level,
    ),
    Figure(
        key="moves",
        title="moves",
        what="How many times as fast as a signal's its tone moves with the dial; negative: the other way.",
        source=PRODUCTS,
        get=lambda s: s.moves,
        unit="-",
    ),
)


def _expected(of: Candidate) -> float | str:
    spur = of.spur
    if not spur.crosses:
        return "nowhere on the dial"
    return spur.dial_hz if spur.moves else "all over the dial"


def _of_spur(key: str) -> Figure[Candidate]:
    return behind(keyed(SPURS)[key], lambda c: c.spur)


#: What may have made a tone that was heard.
CANDIDATES: Table[Candidate] = (
    _of_spur("products"),
    _of_spur("order"),
    Figure(
        key="expected",
        title="expected",
        what="Where on the dial the product meets the wanted signal.",
        source=PRODUCTS,
        get=_expected,
        unit="Hz",
        places=3,
        prefix="M",
    ),
    Figure(
        key="miss_hz",
        title="off by",
        what="How far up the dial from where the tone was heard the product should lie.",
        source=f"{PRODUCTS}, and how fast the tone moves with it",
        get=lambda c: c.miss_hz,
        unit="Hz",
        places=1,
        prefix="k",
        signed=True,
    ),
    _of_spur("level"),
)

#: What meets the signal with a row of the survey.
