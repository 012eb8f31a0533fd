"""Everything besides the wanted signal that the oscillators' products make, on one band.

Three families, all straight lines against the dial, so that every crossing is solved, not searched:

* receive responses (`core.rig.spurs.responses`): other inputs that the mixer brings into the IF;
* birdies (`core.rig.birdies`): products of the rig's own oscillators that are heard on the dial;
* transmit products, here: a VFO + b IF that leave the mixer beside the wanted signal.

Levels are estimates (`core.rig.spurs.product_levels`); the filters' losses are exact.
"""

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.bands import Scheme
from core.model.values.notation import signed
from core.record import record
from core.rig.plan.frequency_plan import BandPlan, lower, vfo_for, vfo_slope
from core.rig.spurs.product_levels import Worked, sent_dbc
from core.stages.mixers.figures import MixerFigures

#: Highest m + n looked at; higher ones are weaker than the rig's own noise in practice.
HIGHEST_ORDER = 9
#: A product this near the suppressed carrier is heard as a tone, Hz.
AUDIBLE_HZ = 3000.0
#: Products further than this from the wanted signal all over the band are left to the filters, Hz.
NEAR_HZ = 1.5e6
#: Products further away are still listed when they come out stronger than this, dBc.
WORTH_LISTING_DBC = -60.0
#: What lies further down than this is decided by the wiring, not by filters and balance, dB; common
#: practice for a rig in one box, no source.
WIRING_DB = 100.0

#: Dial settings at which the filters' loss is looked at: as many keep it within 0.2 dB of a fine scan.
_DIAL_SETTINGS = 17

Kind = Literal["receive", "birdie", "transmit"]
#: A filter's loss [dB] on frequencies [Hz] of any shape.
Loss = Callable[[Array], Array]


@record(kw_only=True)
class Spur:
    """One product on one band.

    `products` names it, e.g. `4 VFO − 2 IF`; `m` and `n` are the signed multiples of the VFO and of IF,
    carrier or signal: of a receive response m VFO + n input = IF. Its distance from the wanted signal is
    `offset_low_hz` at the lower and `offset_high_hz` at the upper end of the dial, a straight line between.
    `dial_hz` is where it meets the wanted signal when it `crosses`, else where it comes nearest.
    `level_dbc` is relative to the wanted output (transmit), to an equally strong wanted signal (receive),
    or to S9 (birdie). `moves` is how many times as fast as an ordinary signal's its tone moves when the
    dial is turned; negative: the other way. Of a receive response it is the tone of a station that stays.
    `read_out` tells that the counter or its helper makes it.
    """

    band: str
    kind: Kind
    products: str
    m: int
    n: int
    order: int
    dial_hz: float
    crosses: bool
    level_dbc: float
    moves: float
    offset_low_hz: float
    offset_high_hz: float
    read_out: bool = False

    @property
    def level(self) -> str:
        """The level in words for a builder: what filters promise beyond the wiring's isolation is not."""
        if self.kind == "birdie":
            return signed(self.level_dbc, 0, "dB on S9")
        if self.level_dbc < -WIRING_DB:
            return f"more than {WIRING_DB:.0f} dB down; wiring decides"
        return f"{self.level_dbc:.0f} dBc".replace("-", "−")

    @property
    def tone(self) -> str:
        """How its tone moves when the dial is turned, in words for a builder."""
        if abs(self.moves) < 0.005:
            return "its tone stays where it is"
        times = "" if abs(abs(self.moves) - 1) < 0.005 else f"{abs(self.moves):.3g} times "
        return f"its tone moves {times}as fast as a signal's{', the other way' if self.moves < 0 else ''}"

    def offset_at(self, share: float) -> float:
        """Distance from the wanted signal [Hz] with the dial at a share [-] of its way up."""
        return self.offset_low_hz + share * (self.offset_high_hz - self.offset_low_hz)


@record
class Lines:
    """Products a VFO + b IF as lines against the dial; `a` and `b` are arrays of shape (L,)."""

    a: NDArray[np.int64]
    b: NDArray[np.int64]

    @property
    def order(self) -> NDArray[np.int64]:
        """|a| + |b| [-]."""
        return np.abs(self.a) + np.abs(self.b)


@lru_cache(maxsize=8)
def all_lines(highest_order: int) -> Lines:
    """Every pair (a, b) with 1 <= |a| + |b| <= `highest_order`, each product once (a > 0, or a = 0 < b)."""
    pairs = [
        (a, b)
        for a in range(highest_order + 1)
        for b in range(-highest_order, highest_order + 1)
        if 1 <= a + abs(b) <= highest_order and (a > 0 or b > 0)
    ]
    a, b = np.array(pairs).T
    return Lines(a, b)


def vfo_line(plan: BandPlan) -> tuple[int, float]:
    """The VFO as slope [-] and intercept [Hz] against the dial."""
    return plan.vfo_rises, vfo_for(plan.scheme, plan.carrier_hz, 0.0)


def ranked(spurs: Sequence[Spur]) -> tuple[Spur, ...]:
    """Those that cross the dial first, then the strongest first."""
    return tuple(sorted(spurs, key=lambda s: (not s.crosses, -s.level_dbc)))


@record(kw_only=True)
class Products:
    """Products m VFO + n IF (or input) on a band as arrays of shape (L,).

    `m` and `n` are the signed multiples. `offsets_hz`, shape (L, 2), is the distance from the wanted signal
    at the dial's ends, `meets_hz` the dial where it is least, `crosses` whether it comes near there.
    `level_dbc` is −inf for what is the wanted signal itself or does not exist.
    """

    m: NDArray[np.int64]
    n: NDArray[np.int64]
    offsets_hz: Array
    meets_hz: Array
    crosses: NDArray[np.bool_]
    level_dbc: Array


def products_sent(
    lines: Lines,
    scheme: Scheme,
    carrier_hz: Array,
    ends: Array,
    mixer: MixerFigures,
    worked: Worked,
    transmit_loss: Loss,
) -> Products:
    """What leaves the transmit mixer on a dial with these `ends` [Hz], shape (2,): the products of `lines`,
    each with its own carrier [Hz], shape (L,) or (1,).

    `transmit_loss` gives the loss of the filters behind the mixer; it is called once. The level is that of
    the dial setting where the filters hold the product least.
    """
    slope, start = vfo_slope(scheme), vfo_for(scheme, carrier_hz, 0.0)
    raw = lines.a[:, None] * (slope * ends + start[:, None]) + (lines.b * carrier_hz)[:, None]
    sign = np.where(raw[:, 0] + raw[:, 1] < 0, -1, 1)
    at_ends, m, n = raw * sign[:, None], lines.a * sign, lines.b * sign
    offsets = at_ends - ends
    wanted = (m * slope == 1) & (np.abs(offsets[:, 0]) < 1.0)
    meets, crosses = meeting(offsets, ends)
    where = np.abs(m * (slope * meets + start) + n * carrier_hz)
    level = sent_dbc(mixer, worked, np.abs(m), np.abs(n))
    level = level - least_beyond(transmit_loss, at_ends, where, ends, meets)
    return Products(
        m=m,
        n=n,
        offsets_hz=offsets,
        meets_hz=meets,
        crosses=crosses & ~wanted,
        level_dbc=np.where(wanted, -np.inf, level),
    )


def transmit_products(
    plan: BandPlan,
    mixer: MixerFigures,
    worked: Worked,
    transmit_loss: Loss,
    highest_order: int = HIGHEST_ORDER,
) -> list[Spur]:
    """Products a VFO + b IF that leave beside the wanted signal on a band, near it or strong.

    `transmit_loss` gives the loss of the filters behind the mixer; it is called once.
    """
    ends, carrier = np.array([plan.dial_low_hz, plan.dial_high_hz]), np.array([plan.carrier_hz])
    sent = products_sent(all_lines(highest_order), plan.scheme, carrier, ends, mixer, worked, transmit_loss)
    near = (lower(np.abs(sent.offsets_hz)) < NEAR_HZ) | sent.crosses
    listed = (near | (sent.level_dbc > WORTH_LISTING_DBC)) & np.isfinite(sent.level_dbc)
    moves = np.asarray(1 - sent.m * plan.vfo_rises, dtype=float)
    return listing(plan.band, "transmit", sent, listed, moves, lambda m, n: name_of(m, n, "IF"))


def listing(
    band: str,
    kind: Kind,
    products: Products,
    listed: NDArray[np.bool_],
    moves: Array,
    name: Callable[[int, int], str],
) -> list[Spur]:
    """The products that are `listed`, shape (L,), as spurs of a band."""
    return [
        Spur(
            band=band,
            kind=kind,
            products=name(int(products.m[p]), int(products.n[p])),
            m=int(products.m[p]),
            n=int(products.n[p]),
            order=abs(int(products.m[p])) + abs(int(products.n[p])),
            dial_hz=float(products.meets_hz[p]),
            crosses=bool(products.crosses[p]),
            level_dbc=float(products.level_dbc[p]),
            moves=float(moves[p]),
            offset_low_hz=float(products.offsets_hz[p, 0]),
            offset_high_hz=float(products.offsets_hz[p, 1]),
        )
        for p in np.flatnonzero(listed)
    ]


def least_beyond(loss: Loss, at_ends: Array, at_meeting: Array, ends: Array, meets: Array) -> Array:
    """How much more filters lose to each product than to the wanted signal, dB, where it is least.

    The products lie at `at_ends`, shape (L, 2), with the dial at `ends`, (2,), and at `at_meeting`, (L,),
    with the dial at `meets`, (L,); all in Hz. Looked at there and at even steps between the ends, as a
    filter's ripple has its least loss anywhere. Returns shape (L,).
    """
    share = np.linspace(0.0, 1.0, _DIAL_SETTINGS)
    along = at_ends[:, :1] + share * (at_ends[:, 1:] - at_ends[:, :1])
    dials = ends[0] + share * (ends[1] - ends[0])
    # Most are nearest the signal at an end of the dial, which is among the steps.
    (inside,) = np.nonzero((meets > ends[0]) & (meets < ends[1]))
    places = np.concatenate([along.ravel(), at_meeting[inside]])
    lost = loss(np.concatenate([np.maximum(np.abs(places), 1e3), dials, meets[inside]]))
    of_steps, met, wanted, met_wanted = np.split(lost, np.cumsum([along.size, inside.size, dials.size]))
    least: Array = (of_steps.reshape(along.shape) - wanted).min(axis=-1)
    least[inside] = np.minimum(least[inside], met - met_wanted)
    return least


def meeting(offsets: Array, ends: Array, reach_hz: float = AUDIBLE_HZ) -> tuple[Array, NDArray[np.bool_]]:
    """Dial [Hz] where each line of offsets, shape (L, 2), is nearest zero, and whether it gets near.

    `ends` are the dial's ends [Hz]; near is within `reach_hz` [Hz].
    """
    rise = offsets[:, 1] - offsets[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(rise == 0, 0.5, -offsets[:, 0] / rise)
    share = np.clip(share, 0.0, 1.0)
    least = np.abs(offsets[:, 0] + share * rise)
    return ends[0] + share * (ends[1] - ends[0]), least <= reach_hz


def name_of(m: int, n: int, other: str) -> str:
    """`4 VFO − 2 IF`: the positive term first."""
    return combination(((m, "VFO"), (n, other)))


def combination(terms: Iterable[tuple[int, str]]) -> str:
    """A sum of multiples in words, `4 VFO − 2 helper`: positive terms first, those of none left out."""
    text = ""
    for count, word in sorted(terms, key=lambda term: term[0] < 0):
        if count:
            sign = "−" if count < 0 else "+"
            each = word if abs(count) == 1 else f"{abs(count)} {word}"
            text = f"{text} {sign} {each}" if text else each if count > 0 else f"−{each}"
    return text
