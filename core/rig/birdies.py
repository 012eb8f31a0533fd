"""Birdies: what the rig's own oscillators make that is heard on the dial.

Sources are VFO, carrier oscillator, the read-out's helper, what its counter counts (it squares that, so
that harmonics to a high order go out from it) and its clock. A product of theirs becomes a tone by three
ways: on the dial frequency or on the image it leaks to the mixer's input behind the front filters, and
inside the IF it needs no mixing at all. Products that make the same tone by different ways are one birdie,
and the strongest way names it.

All levels are estimates by the named assumptions below.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, frozen
from core.model.stages.oscillators import Oscillator
from core.record import record
from core.rig.levels.receive import S9_DBM
from core.rig.plan.frequency_plan import BandPlan, lower, turned_over
from core.rig.read_out.schemes import SQUARE_HARMONICS, Reading
from core.rig.spurs.spurs import HIGHEST_ORDER, NEAR_HZ, Loss, Spur, all_lines, combination, meeting, vfo_line
from core.stages.mixers.figures import MixerFigures

#: Leakage from an oscillator to the receive mixer's input through wiring and supply, dB; an assumption
#: for a rig with the oscillators in boxes of their own, until measured.
ASSUMED_LEAKAGE_DB = 80.0
#: What mixing two oscillators in stray non-linearities costs, dB; an assumption.
ASSUMED_STRAY_MIXING_DB = 30.0
#: How much weaker each oscillator harmonic above the third is than the one before, dB; an assumption.
ASSUMED_HARMONIC_FALL_DB = 6.0
#: Level of the counter's clock inside its module, and of what it counts when made square there, dBm; an
#: assumption until measured.
ASSUMED_LOGIC_DBM = 0.0
#: Highest order of a product of two oscillators that mix in strays.
STRAY_ORDER = 6
#: Products of the read-out that do not reach the dial are listed when they come this near, Hz.
_READ_OUT_NEAR_HZ = 100e3

_WORDS = ("VFO", "carrier", "helper", "counter clock")
_VFO, _CARRIER, _HELPER, _CLOCK = range(4)
_WAYS = ("", ", on the image", ", in the IF")
_DIAL, _IMAGE, _IF = range(3)


@record
class Counted:
    """What the counter counts: multiples of VFO, carrier and helper, and its name with a place for the
    harmonic's number.
    """

    name: str
    vfo: int = 0
    carrier: int = 0
    helper: int = 0


def counted(reading: Reading) -> tuple[Counted, ...]:
    """What a read-out scheme sends through the counter."""
    vfo, helper = reading.counts
    if reading.arrangement == "helper":
        name = combination(((helper, "helper"), (vfo, "VFO")))
        return (Counted(f"{{}}({name})", vfo=vfo, helper=helper),)
    of_vfo = Counted("{}VFO in the counter", vfo=1)
    if reading.arrangement == "both":
        return of_vfo, Counted("{}carrier in the counter", carrier=1)
    return (of_vfo,)


@record(kw_only=True)
class ReadOutSources:
    """What a read-out oscillates at on one band: its helper [Hz, dBm] where one is on, the counter's clock
    [Hz], and what is counted.
    """

    helper_hz: float | None
    helper_dbm: float
    clock_hz: float
    counted: tuple[Counted, ...]


@record(kw_only=True)
class _Products:
    """Products as multiples of the sources, shape (P, 4), with level [dBm] at the mixer's input and, taken
    straight to its IF port, beside it; shapes (P,). `names` is empty where the multiples say it."""

    multiples: NDArray[np.int64]
    orders: NDArray[np.int64]
    leaked_dbm: Array
    direct_dbm: Array
    near_hz: Array
    read_out: NDArray[np.bool_]
    names: tuple[str, ...]


def harmonics_dbc(oscillator: Oscillator, numbers: NDArray[np.int64]) -> Array:
    """Level of an oscillator's harmonics below its fundamental, dBc; above the third an assumed fall.

    A number of 0 or 1 gives 0.
    """
    above = oscillator.third_harmonic_dbc - ASSUMED_HARMONIC_FALL_DB * (numbers - 3.0)
    return np.where(numbers <= 1, 0.0, np.where(numbers == 2, oscillator.second_harmonic_dbc, above))


@lru_cache(maxsize=32)
def birdies(
    plan: BandPlan,
    mixer: MixerFigures,
    vfo: Oscillator,
    carrier: Oscillator,
    read_out: ReadOutSources | None,
    if_pass_band_hz: tuple[float, float],
    receive_loss: Loss,
    gain_ahead_db: float,
) -> tuple[Spur, ...]:
    """Birdies on a band, level in dB against S9; those beside the dial only by the way of the dial.

    `if_pass_band_hz` are the ladder's edges [Hz]; `receive_loss` is the loss of the filters ahead of the
    mixer and `gain_ahead_db` the gain of everything else there [dB].
    """
    slope, start = vfo_line(plan)
    ends = np.array([plan.dial_low_hz, plan.dial_high_hz])
    one = np.ones(2)
    helper_hz, clock_hz = (0.0, 0.0) if read_out is None else (read_out.helper_hz or 0.0, read_out.clock_hz)
    sources = np.stack([slope * ends + start, plan.carrier_hz * one, helper_hz * one, clock_hz * one])
    made = _products(mixer, _told(vfo), _told(carrier), read_out)
    sign = np.where((made.multiples @ sources).mean(axis=-1) < 0, -1, 1)
    multiples = made.multiples * sign[:, None]
    tones = _tones(plan, multiples)
    # An offset counts as that of the input which would make the same tone.
    over = -1 if turned_over(plan.scheme) else 1
    offsets = over * (tones @ sources - plan.carrier_hz)
    count = len(multiples)
    dials, crosses = meeting(offsets.reshape(-1, 2), ends)
    dials, crosses = dials.reshape(count, 3), crosses.reshape(count, 3)
    tone_hz = plan.carrier_hz + over * offsets[..., 0]
    stays = tones[..., _VFO] == 0
    crosses &= ~stays | ((tone_hz >= if_pass_band_hz[0]) & (tone_hz <= if_pass_band_hz[1]))
    listed = crosses.copy()
    listed[:, _DIAL] |= lower(np.abs(offsets[:, _DIAL])) < made.near_hz
    # The carrier's own tone is the wanted signal's zero beat.
    rows, ways = np.nonzero(listed & (tones != [0, 1, 0, 0]).any(axis=-1))
    if rows.size == 0:
        return ()
    ahead = gain_ahead_db - receive_loss(dials[rows, ways])
    at_port = np.where(ways == _IF, made.direct_dbm[rows] - mixer.gain_db, made.leaked_dbm[rows])
    level = at_port - ahead - S9_DBM
    strongest: dict[tuple[int, ...], int] = {}
    for position in np.argsort(-level, kind="stable"):
        strongest.setdefault(tuple(tones[rows[position], ways[position]].tolist()), int(position))
    return tuple(
        Spur(
            band=plan.band,
            kind="birdie",
            products=_name(made, row, multiples[row]) + _WAYS[way],
            m=int(multiples[row, _VFO]),
            n=int(multiples[row, _CARRIER]),
            order=int(made.orders[row]),
            dial_hz=float(dials[row, way]),
            crosses=bool(crosses[row, way]),
            level_dbc=float(level[position]),
            moves=float(-over * slope * tones[row, way, _VFO]),
            offset_low_hz=float(offsets[row, way, 0]),
            offset_high_hz=float(offsets[row, way, 1]),
            read_out=bool(made.read_out[row]),
        )
        for position in strongest.values()
        for row, way in ((int(rows[position]), int(ways[position])),)
    )


def _tones(plan: BandPlan, products: NDArray[np.int64]) -> NDArray[np.int64]:
    """The tones at the IF, as multiples of the sources, that products, shape (P, 4), make on the dial
    frequency, on the image and in the IF; shape (P, 3, 4).
    """
    vfo = np.array([1, 0, 0, 0])
    falls = vfo - products
    if plan.scheme == "sum":
        high = plan.vfo_low_hz + plan.vfo_high_hz > 2 * plan.carrier_hz
        on_dial, on_image = products - vfo, falls if high else products + vfo
    elif plan.scheme == "if_minus_vfo":
        on_dial, on_image = products + vfo, products - vfo
    else:
        on_dial, on_image = falls, products - vfo
    return np.stack([on_dial, on_image, products], axis=1)


def _told(oscillator: Oscillator) -> Oscillator:
    """It with its level to a hundredth of a decibel, so that a turn of the IF finds its products made."""
    level = round(oscillator.output_dbm, 2)
    return oscillator if level == oscillator.output_dbm else oscillator.edited(("output_dbm",), level)


@lru_cache(maxsize=16)
def _products(
    mixer: MixerFigures, vfo: Oscillator, carrier: Oscillator, read_out: ReadOutSources | None
) -> _Products:
    """Every product that is looked at, with its levels."""
    lines = all_lines(HIGHEST_ORDER)
    keep = (lines.a == 0) | (lines.b == 0) | (lines.order <= STRAY_ORDER)
    a, b = lines.a[keep], lines.b[keep]
    parts = [_pairs(_CARRIER, vfo, carrier, a, b, mixer)]
    if read_out is not None:
        if read_out.helper_hz is not None:
            lines = all_lines(STRAY_ORDER)
            a, b = lines.a[lines.b != 0], lines.b[lines.b != 0]
            helper = Oscillator(output_dbm=read_out.helper_dbm)
            parts.append(_pairs(_HELPER, vfo, helper, a, b, mixer))
        parts += [
            _square(np.array([each.vfo, each.carrier, each.helper, 0]), each.name)
            for each in read_out.counted
        ]
        parts.append(_square(np.array([0, 0, 0, 1]), ""))
    return _Products(
        multiples=frozen(np.concatenate([part.multiples for part in parts])),
        orders=frozen(np.concatenate([part.orders for part in parts])),
        leaked_dbm=frozen(np.concatenate([part.leaked_dbm for part in parts])),
        direct_dbm=frozen(np.concatenate([part.direct_dbm for part in parts])),
        near_hz=frozen(np.concatenate([part.near_hz for part in parts])),
        read_out=frozen(np.concatenate([part.read_out for part in parts])),
        names=tuple(name for part in parts for name in part.names),
    )


def _pairs(
    source: int,
    vfo: Oscillator,
    other: Oscillator,
    a: NDArray[np.int64],
    b: NDArray[np.int64],
    mixer: MixerFigures,
) -> _Products:
    """Products a VFO + b of another oscillator, each alone or mixed in strays."""
    multiples = np.zeros((a.size, 4), dtype=np.int64)
    multiples[:, _VFO], multiples[:, source] = a, b
    harmonic = harmonics_dbc(vfo, np.abs(a)) + harmonics_dbc(other, np.abs(b))
    mixed = min(vfo.output_dbm, other.output_dbm) - ASSUMED_STRAY_MIXING_DB
    made = harmonic + np.where(b == 0, vfo.output_dbm, np.where(a == 0, other.output_dbm, mixed))
    leaked = made - ASSUMED_LEAKAGE_DB
    # The VFO drives the mixer: its harmonics reach the IF port through the mixer's own isolation, and those
    # that the mixer makes of it by what is left of its balance.
    passed = made - (vfo.output_dbm - float(mixer.leak_dbm(vfo.output_dbm, 1, "if")))
    if mixer.products is not None:
        passed = np.maximum(passed, mixer.leak_dbm(vfo.output_dbm, np.abs(a), "if"))
    direct = np.where(b == 0, np.maximum(passed, leaked), leaked)
    of_read_out = np.full(a.size, source == _HELPER)
    near = np.where(of_read_out, _READ_OUT_NEAR_HZ, NEAR_HZ)
    return _Products(
        multiples=multiples,
        orders=np.abs(a) + np.abs(b),
        leaked_dbm=leaked,
        direct_dbm=direct,
        near_hz=near,
        read_out=of_read_out,
        names=("",) * a.size,
    )


def _square(fundamental: NDArray[np.int64], name: str) -> _Products:
    """Harmonics of a square wave in the counter; one without a name is told by its multiples."""
    numbers = np.arange(1, SQUARE_HARMONICS + 1)
    leaked = ASSUMED_LOGIC_DBM - 20 * np.log10(numbers) - ASSUMED_LEAKAGE_DB
    names = tuple(name and name.format("" if k == 1 else f"{k} × ") for k in numbers)
    near = np.full(numbers.size, _READ_OUT_NEAR_HZ)
    return _Products(
        multiples=numbers[:, None] * fundamental,
        orders=numbers,
        leaked_dbm=leaked,
        direct_dbm=leaked,
        near_hz=near,
        read_out=near > 0,
        names=names,
    )


def _name(made: _Products, row: int, multiples: NDArray[np.int64]) -> str:
    terms = ((int(count), word) for count, word in zip(multiples, _WORDS, strict=True))
    return made.names[row] or combination(terms)
