"""Everything besides the wanted signal that the oscillators' products make, on one band.

Three families, all straight lines against the dial, so that every crossing is solved, not searched:

* receive responses: other inputs that the mixer brings into the IF (image, IF breakthrough, half IF, ...);
* birdies: products a VFO + b carrier of the rig's own oscillators that fall on the dial;
* transmit products: a VFO + b IF that leave the mixer beside the wanted signal.

Levels are estimates: mixer suppression typical of its type, oscillator harmonics as typed in, and the
named assumptions below; the filters' losses are exact.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array
from core.model.oscillators import Oscillator
from core.rig.frequency_plan import BandPlan, vfo_for
from core.rig.levels import S9_DBM
from core.stages.mixer import MixerFigures

#: Highest m + n looked at; higher ones are weaker than the rig's own noise in practice.
HIGHEST_ORDER = 9
#: A product this near the suppressed carrier is heard as a tone, Hz.
AUDIBLE_HZ = 3000.0
#: Products further than this from the wanted signal all over the band are left to the filters, Hz.
NEAR_HZ = 1.5e6
#: Products further away are still listed when they come out stronger than this, dBc.
WORTH_LISTING_DBC = -60.0
#: Leakage from an oscillator to the receive mixer's input through wiring and supply, dB; an assumption
#: for a rig with the oscillators in boxes of their own, until measured.
ASSUMED_LEAKAGE_DB = 80.0
#: What mixing two oscillators in stray non-linearities costs, dB; an assumption.
ASSUMED_STRAY_MIXING_DB = 30.0
#: How much weaker each oscillator harmonic above the third is than the one before, dB; an assumption.
ASSUMED_HARMONIC_FALL_DB = 6.0

Kind = Literal["receive", "birdie", "transmit"]


@dataclass(frozen=True, slots=True)
class Spur:
    """One product on one band.

    `products` names it, e.g. `4 VFO − 2 IF`; `m` and `n` are the signed multiples of VFO and IF. Its
    distance from the wanted signal is `offset_low_hz` at the lower and `offset_high_hz` at the upper end
    of the dial, a straight line between. `dial_hz` is where it meets the wanted signal when it `crosses`,
    else where it comes nearest. `level_dbc` is relative to the wanted output (transmit), to an equally
    strong wanted signal (receive), or to S9 (birdie). `moves` is how many times as fast as an ordinary
    signal's its tone moves when the dial is turned; negative: the other way.
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


@dataclass(frozen=True, slots=True)
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


def spur_chart(
    plan: BandPlan,
    if_centre_hz: float,
    mixer: MixerFigures,
    vfo: Oscillator,
    carrier: Oscillator,
    receive_loss: Callable[[Array], Array],
    transmit_loss: Callable[[Array], Array],
    highest_order: int = HIGHEST_ORDER,
) -> tuple[Spur, ...]:
    """All products worth knowing on a band with its IF pass-band around `if_centre_hz` [Hz].

    Those that cross the dial come first, then the order is by level.

    `receive_loss` and `transmit_loss` give the front filters' loss in dB on a frequency array, shape
    (..., ) -> the same shape; each is called once.
    """
    products = _products(plan, highest_order, mixer, vfo, carrier, receive_loss, transmit_loss)
    spurs = [*products, *_responses(plan, if_centre_hz, mixer, receive_loss)]
    return tuple(sorted(spurs, key=lambda s: (not s.crosses, -s.level_dbc)))


def _products(
    plan: BandPlan,
    highest_order: int,
    mixer: MixerFigures,
    vfo: Oscillator,
    carrier: Oscillator,
    receive_loss: Callable[[Array], Array],
    transmit_loss: Callable[[Array], Array],
) -> list[Spur]:
    """Birdies and transmit products: the same lines with different levels."""
    lines = all_lines(highest_order)
    slope, start = vfo_line(plan)
    ends = np.array([plan.dial_low_hz, plan.dial_high_hz])
    raw = lines.a[:, None] * (slope * ends + start) + lines.b[:, None] * plan.carrier_hz
    sign = np.where(raw.mean(axis=-1) < 0, -1, 1)
    at_ends, a, b = raw * sign[:, None], lines.a * sign, lines.b * sign
    offsets = at_ends - ends
    wanted = (a * slope == 1) & (np.abs(offsets[:, 0]) < 1.0)
    meets, crosses = meeting(offsets, ends)
    where = np.abs(a * (slope * meets + start) + b * plan.carrier_hz)
    both = np.stack([np.abs(at_ends[:, 0]), np.abs(at_ends[:, 1]), where], axis=-1)
    grid = np.concatenate([both.ravel(), ends, [(ends[0] + ends[1]) / 2]])
    lost = transmit_loss(np.maximum(grid, 1e3))
    passed = lost[:-3].reshape(both.shape) - lost[-1]
    near = (np.abs(offsets).min(axis=-1) < NEAR_HZ) | crosses
    own_loss = receive_loss(meets)
    suppression = np.array(
        [mixer.suppression_db(abs(int(m)), abs(int(n))) for m, n in zip(a, b, strict=True)]
    )
    spurs = []
    for p in np.flatnonzero(~wanted):
        m, n = int(a[p]), int(b[p])
        shared = (int(abs(m) + abs(n)), float(meets[p]), bool(crosses[p]))
        rest = (1.0 - float(m * slope), float(offsets[p, 0]), float(offsets[p, 1]))
        # A tone that the modulator does not make cannot leave: without the IF only the VFO's leak goes out.
        sent = -float(suppression[p]) - float(passed[p].min())
        if near[p] or sent > WORTH_LISTING_DBC:
            spurs.append(Spur(plan.band, "transmit", name_of(m, n, "IF"), m, n, *shared, sent, *rest))
        if near[p] and (n == 0 or m == 0 or abs(m) + abs(n) <= 6):
            heard = _birdie_dbm(m, n, vfo, carrier) + float(own_loss[p]) - S9_DBM
            spurs.append(Spur(plan.band, "birdie", name_of(m, n, "carrier"), m, n, *shared, heard, *rest))
    return spurs


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


def _birdie_dbm(m: int, n: int, vfo: Oscillator, carrier: Oscillator) -> float:
    """Estimated level of a product of the oscillators at the receive mixer's input, dBm."""
    level = -ASSUMED_LEAKAGE_DB
    if n == 0:
        return level + vfo.output_dbm + harmonic_dbc(vfo, abs(m))
    if m == 0:
        return level + carrier.output_dbm + harmonic_dbc(carrier, abs(n))
    weaker = min(vfo.output_dbm, carrier.output_dbm)
    return (
        level + weaker + harmonic_dbc(vfo, abs(m)) + harmonic_dbc(carrier, abs(n)) - ASSUMED_STRAY_MIXING_DB
    )


def harmonic_dbc(oscillator: Oscillator, number: int) -> float:
    """Level of an oscillator's harmonic below its fundamental, dBc; above the third an assumed fall."""
    if number <= 1:
        return 0.0
    if number == 2:
        return oscillator.second_harmonic_dbc
    return oscillator.third_harmonic_dbc - ASSUMED_HARMONIC_FALL_DB * (number - 3)


def name_of(m: int, n: int, other: str) -> str:
    """`4 VFO − 2 IF`: the positive term first."""
    terms = [(m, "VFO"), (n, other)]
    terms.sort(key=lambda term: term[0] < 0)
    text = ""
    for count, word in terms:
        if count == 0:
            continue
        amount = "" if abs(count) == 1 else f"{abs(count)} "
        text += (
            f" {'−' if count < 0 else '+'} {amount}{word}"
            if text
            else f"{'−' if count < 0 else ''}{amount}{word}"
        )
    return text


#: Receive responses looked at: multiples of the VFO and of the signal.
_VFO_MULTIPLES = range(0, 6)
_SIGNAL_MULTIPLES = range(1, 4)
_RESPONSE_NAMES = {(1, 1): "image", (0, 1): "IF breakthrough"}


def _responses(
    plan: BandPlan, if_hz: float, mixer: MixerFigures, receive_loss: Callable[[Array], Array]
) -> list[Spur]:
    """Inputs f with m VFO ± n f = IF other than the wanted one, by their rejection at the dial's ends."""
    slope, start = vfo_line(plan)
    ends = np.array([plan.dial_low_hz, plan.dial_high_hz])
    vfo = slope * ends + start
    found: list[tuple[int, int, int, Array]] = []
    for n in _SIGNAL_MULTIPLES:
        for m in _VFO_MULTIPLES:
            for sign in (1, -1) if m else (1,):
                f = (if_hz + sign * m * vfo) / n
                turn = -1 if f.mean() < 0 else 1
                # turn · f is the input; the wanted input is the one that is the dial itself.
                wanted = m == 1 and n == 1 and np.all(np.abs(turn * f - ends) < 2 * AUDIBLE_HZ)
                if not wanted and np.all(turn * f > 1e3):
                    found.append((m, n, sign * turn, turn * f))
    inputs = np.array([f for *_, f in found])
    lost = receive_loss(np.concatenate([inputs.ravel(), ends]))
    rejection = lost[:-2].reshape(inputs.shape) - lost[-2:]
    offsets = inputs - ends
    meets, crosses = meeting(offsets, ends)
    spurs = []
    for row, (m, n, sign, _) in enumerate(found):
        level = -mixer.suppression_db(m, n) - float(rejection[row].min())
        if level < 2 * WORTH_LISTING_DBC and not crosses[row]:
            continue
        name = _RESPONSE_NAMES.get((m, n)) or name_of(sign * m, n, "signal")
        moves = 1.0 - float((offsets[row, 1] - offsets[row, 0]) / (ends[1] - ends[0]) + 1)
        spurs.append(
            Spur(
                plan.band,
                "receive",
                name,
                sign * m,
                n,
                m + n,
                float(meets[row]),
                bool(crosses[row]),
                level,
                moves,
                float(offsets[row, 0]),
                float(offsets[row, 1]),
            )
        )
    return spurs
