"""Figures of what is heard and sent besides: spurs, what a birdie may be, harmonics, signals rejected."""

from core.rig.birdie_finder import Candidate
from core.rig.figures.figure import Figure, Table, band_label, behind, keyed, label
from core.rig.levels.harmonics import Harmonic
from core.rig.plan.rejections import Rejection
from core.rig.spurs.spurs import WIRING_DB, Spur

#: Where a filter's figures come from.
EXACT = "exact response of the circuit on its fitted parts"
_WIRING = f"beyond {WIRING_DB:.0f} dB wiring decides."
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


HARMONICS: Table[Harmonic] = (
    label("number", "no.", lambda h: str(h.number)),
    Figure(
        key="frequency_hz",
        title="at",
        what="Where the harmonic lies at the worse end of the band.",
        source="multiples of the dial",
        get=lambda h: h.frequency_hz,
        unit="Hz",
        places=1,
        prefix="M",
    ),
    Figure(
        key="amplifier_dbc",
        title="before",
        what="What leaves the power amplifier, an assumption until it is measured; above the fifth 6 dB less "
        "for each further even or odd one.",
        source="“Second harmonic” and so on of the power amplifier",
        get=lambda h: h.amplifier_dbc,
        unit="dBc",
        places=0,
    ),
    Figure(
        key="filter_db",
        title="filter",
        what="What all filters behind the power amplifier take away, over their loss on the dial; " + _WIRING,
        source=EXACT,
        get=lambda h: h.filter_db,
        unit="dB",
        places=1,
        within=WIRING_DB,
    ),
    Figure(
        key="result_dbc",
        title="leaves",
        what="What leaves for the antenna, against the wanted signal; " + _WIRING,
        source="the power amplifier's level as assumed or measured, less what the filters take away",
        get=lambda h: h.result_dbc,
        unit="dBc",
        places=1,
        within=WIRING_DB,
    ),
    Figure(
        key="limit_dbc",
        title="limit",
        what="The most that is allowed to leave, as set for the station.",
        source="47 CFR 97.307(d) asks 43 dB below 30 MHz",
        get=lambda h: h.limit_dbc,
        unit="dBc",
        places=0,
    ),
    Figure(
        key="margin_db",
        title="in hand",
        what="How far that lies under the limit of the station's settings.",
        source="limit less level",
        get=lambda h: h.limit_dbc - max(h.result_dbc, -WIRING_DB),
        unit="dB",
        places=1,
        signed=True,
    ),
)


def _least(row: Rejection) -> tuple[float, float]:
    return row.least_db, row.least_at_hz


REJECTIONS: Table[Rejection] = (
    label("name", "signal", lambda r: r.name),
    Figure(
        key="at_hz",
        title="at",
        what="Where the signal lies with the dial as it stands.",
        source="the frequency plan",
        get=lambda r: r.at_hz,
        unit="Hz",
        digits=4,
    ),
    Figure(
        key="rejected_db",
        title="rejected",
        what="The filter's loss there over its loss on the dial; " + _WIRING,
        source=EXACT,
        get=lambda r: r.rejected_db,
        unit="dB",
        places=1,
        within=WIRING_DB,
    ),
    Figure(
        key="least_db",
        title="least on the band",
        what="The least of that while the dial goes over the band.",
        source=EXACT,
        get=lambda r: r.least_db,
        unit="dB",
        places=1,
        within=WIRING_DB,
    ),
    Figure(
        key="least_at_hz",
        title="where",
        what="Where the signal lies then.",
        source="the frequency plan",
        get=lambda r: r.least_at_hz,
        unit="Hz",
        digits=4,
    ),
)
