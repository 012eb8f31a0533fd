"""What a row of the IF survey costs: one table of terms, each with its physical reason and its points.

A row's cost is the sum of its points, the least being the best. A point is worth about what one megahertz
more of VFO is worth to a builder. The weights are common practice, no source; what they weigh is computed.
"""

from collections.abc import Callable, Sequence
from math import inf
from typing import NamedTuple

from core.model.values.notation import format_value, megahertz, signed
from core.model.values.quantities import spelled
from core.record import record
from core.rig.survey.options import WORTH_POINTS_DBC, Option, Product
from core.trade.allocations import in_broadcast_band
from core.trade.limits import FCC_BELOW_30_MHZ_DB

#: Above this an LC oscillator is hard to keep stable, Hz; common practice, no source.
STABLE_VFO_HZ = 8e6
#: Above this nobody should begin: a VFO is mixed up instead, Hz; common practice, no source.
HIGHEST_VFO_HZ = 12e6
#: Below this an LC VFO's coil grows unhandy, a band is a large share of the frequency, and its harmonics
#: crowd the bands, Hz; common practice, no source.
LOW_VFO_HZ = 2.5e6
#: VFO ranges with a larger ratio of ends are hard to tune evenly with one capacitor; common practice.
EASY_RATIO = 1.25
#: A shift capacitor reaches this ratio with ease, and hardly more than that: then the coil is switched.
SHIFTED_RATIO, COIL_RATIO = 1.5, 2.0
#: One tuning range over several bands must not be this many times as wide as the widest of them.
_SPREAD = 3.0
#: Nearer than this to the dial, the image needs more than an ordinary band-pass, Hz; common practice.
EASY_IMAGE_HZ = 4e6
#: Above this a ladder's loss at a given width begins to tell, Hz: it grows with f / (B Q).
LOSSY_IF_HZ = 12e6
#: Above this, cheap crystals are often cut for the third overtone, Hz; from memory.
OVERTONE_ABOVE_HZ = 24e6
#: A VFO end nearer to the IF than this share of it pulls the carrier and leaks through the ladder.
_NEAR_IF = 0.06
#: Rejection that a receive response should have, and below which the receiver is spoilt, dB.
GOOD_REJECTION_DB, POOR_REJECTION_DB = 60.0, 40.0
#: A birdie weaker than this nobody notices, dB on S9; common practice.
NEGLIGIBLE_BIRDIE_DB = -75.0
#: What a product over the limit or a VFO above the highest costs, however little it is over.
PASSING_A_LIMIT = 25.0
#: A ladder that needs more than this share of what its crystal allows has extreme parts.
_EASY_WIDTH = 0.8


@record
class Candidate:
    """One IF [Hz] with a scheme a band: what the terms look at.

    `widest_hz` is the widest ladder that such a crystal allows, `wanted_hz` the width wanted [Hz].
    """

    if_hz: float
    options: tuple[Option, ...]
    widest_hz: float
    wanted_hz: float
    on_hand: bool

    @property
    def vfo_hz(self) -> tuple[float, float]:
        """The VFO over all bands, Hz."""
        return min(o.vfo_hz[0] for o in self.options), max(o.vfo_hz[1] for o in self.options)

    @property
    def ratio(self) -> float:
        """Highest over lowest VFO frequency."""
        low, high = self.vfo_hz
        return high / low

    @property
    def image_distance_hz(self) -> float:
        """Least distance of the image from the dial, Hz."""
        return min(o.image_distance_hz for o in self.options)

    @property
    def sidebands_agree(self) -> bool:
        """Whether one carrier serves all bands."""
        return len({o.lower_at_if for o in self.options}) == 1


class Found(NamedTuple):
    """Points of a term, and what it found in words (none: nothing to say); `spoils`: no rig to build."""

    points: float = 0.0
    words: str = ""
    spoils: bool = False


@record
class Term:
    """A term of the cost: `sentence` says what it is and why it costs."""

    key: str
    title: str
    sentence: str
    found: Callable[[Candidate], Found]


@record
class Charge:
    """What a term found on a row, in `words`, and its points; `spoils`: it makes the row none to build."""

    key: str
    title: str
    points: float
    words: str
    spoils: bool


def charges(candidate: Candidate) -> tuple[Charge, ...]:
    """What every term has to say of a candidate, in the order of the table."""
    found = ((term, term.found(candidate)) for term in TERMS)
    return tuple(Charge(term.key, term.title, *each) for term, each in found if each.words)


def ladder_impossible(candidate: Candidate) -> str | None:
    """Why such crystals cannot make the ladder wanted; None when they can."""
    if candidate.widest_hz > candidate.wanted_hz:
        return None
    return (
        f"these crystals allow a ladder {format_value(candidate.widest_hz, 'Hz', 3)} wide at most, "
        f"{format_value(candidate.wanted_hz, 'Hz', 3)} is wanted"
    )


def _ladder(c: Candidate) -> Found:
    """C0 shunts a crystal: near the widest ladder it allows, couplings become extreme and loss grows."""
    reason = ladder_impossible(c)
    if reason is not None:
        return Found(100.0, reason, True)
    share = c.wanted_hz / c.widest_hz
    if share <= _EASY_WIDTH:
        return Found()
    return Found(
        15 * (share - _EASY_WIDTH) / (1 - _EASY_WIDTH),
        f"the ladder needs {100 * share:.0f} % of the width that such crystals allow",
    )


def _weighed(products: Sequence[Product], easy_db: float, limit_db: float) -> tuple[float, bool]:
    """Points of products and whether one passes the limit.

    A quarter of a point a dB over what is easy: a better filter or balance is wanted. Over the limit a point
    a dB more, and PASSING_A_LIMIT for passing it at all, for nothing takes that away.
    """
    points, passed = 0.0, False
    for product in products:
        points += 0.25 * max(product.level_dbc - easy_db, 0.0)
        if product.level_dbc > limit_db:
            points, passed = points + PASSING_A_LIMIT + product.level_dbc - limit_db, True
    return points, passed


def _named(product: Product, against: str) -> str:
    where = f"{megahertz(product.dial_hz)}"
    how = f"{'meets' if product.crosses else 'nearest'} {spelled(product.band)} at {where}"
    return f"{product.products} {how}, {product.level_dbc:.0f} {against}".replace("-", "−")


def _products(c: Candidate) -> Found:
    """What the transmit mixer makes besides: at its nearest over the dial behind ordinary filters."""
    sent = [p for o in c.options for p in o.sent]
    if not sent:
        return Found(0.0, "no product to speak of leaves")
    points, passed = _weighed(sent, WORTH_POINTS_DBC, -FCC_BELOW_30_MHZ_DB)
    return Found(points, _named(max(sent, key=lambda p: p.level_dbc), "dBc"), passed)


def _responses(c: Candidate) -> Found:
    """What the receive mixer takes for the signal: inputs that ordinary filters hold back too little."""
    heard = [p for o in c.options for p in o.heard if p.level_dbc > -GOOD_REJECTION_DB]
    if not heard:
        return Found()
    points, passed = _weighed(heard, -GOOD_REJECTION_DB, -POOR_REJECTION_DB)
    return Found(points, f"receives {_named(max(heard, key=lambda p: p.level_dbc), 'dB')}", passed)


def _birdies(c: Candidate) -> Found:
    """Multiples of the VFO that pass through the IF are heard as tones that run over the dial."""
    heard = [p for o in c.options for p in o.birdies if p.level_dbc > NEGLIGIBLE_BIRDIE_DB]
    if not heard:
        return Found()
    points, _ = _weighed(heard, NEGLIGIBLE_BIRDIE_DB, inf)
    worst = max(heard, key=lambda p: p.level_dbc)
    where = f"with the dial at {megahertz(worst.dial_hz)}"
    return Found(
        points, f"{worst.products} runs through the IF {where}, {signed(worst.level_dbc, 0, 'dB on S9')}"
    )


def _height(c: Candidate) -> Found:
    """Drift is proportional to frequency, and strays become a larger part of the tank."""
    low, high = (each / 1e6 for each in c.vfo_hz)
    points = high + 4 * max(high - STABLE_VFO_HZ / 1e6, 0) + 5 * max(LOW_VFO_HZ / 1e6 - low, 0)
    too_high = high * 1e6 > HIGHEST_VFO_HZ
    if too_high:
        points += PASSING_A_LIMIT + 6 * (high - HIGHEST_VFO_HZ / 1e6)
    words = f"VFO {low:.3f} to {high:.3f} MHz"
    if too_high:
        words += f", too high for an LC oscillator (above {megahertz(HIGHEST_VFO_HZ, places=0)})"
    elif high * 1e6 > STABLE_VFO_HZ:
        words += f", hard to keep stable above {megahertz(STABLE_VFO_HZ, places=0)}"
    elif low * 1e6 < LOW_VFO_HZ:
        words += f", its harmonics crowd the bands below {megahertz(LOW_VFO_HZ, places=1)}"
    return Found(points, words, too_high)


def ranges(vfo_hz: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The separate ranges that the VFO is tuned over, from each band's (low, high) [Hz]."""
    widest = max(high - low for low, high in vfo_hz)
    found: list[tuple[float, float]] = []
    for low, high in sorted(vfo_hz):
        if found:
            first, last = found[-1][0], max(found[-1][1], high)
            if last - first <= _SPREAD * widest and last <= EASY_RATIO * first:
                found[-1] = (first, last)
                continue
        found.append((low, high))
    return found


def _ranges(c: Candidate) -> Found:
    """Every separate range wants a shift capacitor with its trimmer and a switch contact at RF."""
    if len(c.options) < 2:
        return Found()
    count = len(ranges([o.vfo_hz for o in c.options]))
    if count == 1:
        return Found(0.0, "one VFO range serves all bands")
    return Found(4.0 * (count - 1), f"{count} separate VFO ranges, a trimmer and a switch each")


def _coil(c: Candidate) -> Found:
    """A shift capacitor across the tank costs Q and drift with the square of the ratio; then the coil
    itself has to be switched."""
    if c.ratio <= SHIFTED_RATIO:
        return Found()
    points = 12 * min((c.ratio - SHIFTED_RATIO) / (COIL_RATIO - SHIFTED_RATIO), 1.0)
    words = f"highest over lowest VFO {c.ratio:.2f}"
    if c.ratio > COIL_RATIO:
        points += 4 * (c.ratio - COIL_RATIO)
        words += ": switch the coil too"
    return Found(points, words)


def _image(c: Candidate) -> Found:
    """Near images want narrow filters with their loss, or more resonators than two or three."""
    away = c.image_distance_hz
    if away >= EASY_IMAGE_HZ:
        return Found()
    return Found(10 * (1 - away / EASY_IMAGE_HZ), f"image only {megahertz(away, places=1)} away")


def _carriers(c: Candidate) -> Found:
    """The bands use both sidebands at the IF: two carrier crystals, or one that is switched and pulled."""
    return Found() if c.sidebands_agree else Found(3.0, "the carrier is needed on both edges of the ladder")


def _if_height(c: Candidate) -> Found:
    """The ladder's loss grows with f / (B Q); cheap crystals above are cut for the third overtone, where
    Cm is a ninth."""
    points, words = 0.3 * max(c.if_hz - LOSSY_IF_HZ, 0) / 1e6, ""
    if points:
        words = f"IF above {megahertz(LOSSY_IF_HZ, places=0)}: more loss in the ladder"
    if c.if_hz > OVERTONE_ABOVE_HZ:
        return Found(points + 15, "crystal likely cut for the third overtone")
    return Found(points, words)


def _near_if(c: Candidate) -> Found:
    """A VFO that runs beside the IF pulls the carrier oscillator and comes through the ladder."""
    near = [e for o in c.options for e in o.vfo_hz if abs(e - c.if_hz) < _NEAR_IF * c.if_hz]
    spans = any(o.vfo_hz[0] < c.if_hz < o.vfo_hz[1] for o in c.options)
    if not near and not spans:
        return Found()
    return Found(5.0, f"the VFO comes within {100 * _NEAR_IF:.0f} % of the IF")


def _broadcast(c: Candidate) -> Found:
    """Broadcast stations are 40 to 60 dB stronger than the band's signals and break through to the IF."""
    return Found(2.0, "IF in a broadcast band") if in_broadcast_band(c.if_hz) else Found()


def _on_hand(c: Candidate) -> Found:
    """What lies in the junk box costs nothing."""
    return Found(-5.0, "crystal on hand") if c.on_hand else Found()


def _term(key: str, title: str, found: Callable[[Candidate], Found]) -> Term:
    return Term(key, title, " ".join((found.__doc__ or "").split()), found)


TERMS: tuple[Term, ...] = (
    _term("ladder", "ladder", _ladder),
    _term("products", "products sent", _products),
    _term("responses", "other responses", _responses),
    _term("birdies", "birdies", _birdies),
    _term("vfo_height", "VFO's height", _height),
    _term("vfo_ranges", "VFO ranges", _ranges),
    _term("coil", "VFO's coil", _coil),
    _term("image", "image", _image),
    _term("carriers", "carriers", _carriers),
    _term("if_height", "IF's height", _if_height),
    _term("near_if", "VFO near the IF", _near_if),
    _term("broadcast", "broadcast", _broadcast),
    _term("on_hand", "on hand", _on_hand),
)
