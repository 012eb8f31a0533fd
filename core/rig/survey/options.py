"""One crystal on one band by one mixing scheme: what the IF survey weighs.

The products are those of the spur chart (`core.rig.spurs`), every crystal at once,
through the filters and the mixer that a new rig begins with, so that survey and findings cannot disagree.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array
from core.model.bands import SCHEMES, Band, Scheme, Sideband
from core.record import record
from core.rig.levels.receive import S9_DBM
from core.rig.plan.frequency_plan import image_for, turned_over, vfo_for
from core.rig.spurs.product_levels import ordinarily_worked, response_db, sent_dbc
from core.rig.spurs.responses import response_lines, response_name, responses_heard
from core.rig.spurs.spurs import HIGHEST_ORDER, Lines, Products, all_lines, name_of, products_sent
from core.rig.survey.ordinary import front_loss
from core.stages.mixers.figures import figures
from core.stages.ordinary import ordinary_mixer

#: The band-pass and ladder need the IF this far from the dial, as a share of the dial frequency [-].
_IF_CLEARANCE = 0.08
#: Products weaker than this cost nothing, dBc: far under every limit and the band noise.
WORTH_POINTS_DBC = -70.0
#: How many of the strongest products of a band are kept.
STRONGEST = 3


@record(kw_only=True)
class Product:
    """A product beside the wanted signal of a band (or an input taken for it), nearest at `dial_hz` [Hz],
    at `level_dbc` behind ordinary filters; `crosses`: it meets the signal there.
    """

    band: str
    products: str
    order: int
    dial_hz: float
    level_dbc: float
    crosses: bool


@record(kw_only=True)
class Option:
    """One crystal, one band, one scheme.

    `sent` and `heard` are the strongest transmit products and receive responses, strongest first, `birdies`
    the multiples of the VFO that pass through the IF, in dB on S9, `crossings` all products up to the order
    asked that meet the signal. `lower_at_if`: the sideband at the IF.
    """

    band: str
    scheme: Scheme
    vfo_hz: tuple[float, float]
    image_distance_hz: float
    sent: tuple[Product, ...]
    heard: tuple[Product, ...]
    birdies: tuple[Product, ...]
    crossings: tuple[Product, ...]
    lower_at_if: bool


@lru_cache(maxsize=32)
def options(
    band_name: str,
    low_hz: float,
    high_hz: float,
    sideband: Sideband,
    crystals_hz: tuple[float, ...],
    order: int,
    min_vfo_hz: float,
    max_vfo_hz: float | None,
) -> tuple[tuple[Option, ...], ...]:
    """The usable schemes of one band for each crystal [Hz], products looked at up to `order` = m + n."""
    band = Band(name=band_name, low_hz=low_hz, high_hz=high_hz, sideband=sideband)
    if_hz = np.array(crystals_hz)
    ends = np.array([low_hz, high_hz])
    clear = np.abs(if_hz[:, None] - ends).min(axis=-1) > _IF_CLEARANCE * high_hz
    outside = (if_hz < low_hz) | (if_hz > high_hz)
    found: list[list[Option]] = [[] for _ in if_hz]
    for scheme in SCHEMES:
        vfo = np.stack([vfo_for(scheme, if_hz, float(end)) for end in ends], axis=-1)
        usable = clear & outside & (vfo.min(axis=-1) >= min_vfo_hz)
        if max_vfo_hz is not None:
            usable &= vfo.max(axis=-1) <= max_vfo_hz
        places = np.flatnonzero(usable)
        if not places.size:
            continue
        sent, heard = _sent(band, scheme, if_hz[places], order), _heard(band, scheme, if_hz[places])
        tones = _birdies(band, ends, vfo[places], if_hz[places])
        for position, out, taken, tone in zip(places, sent, heard, tones, strict=True):
            images = [
                abs(image_for(scheme, float(if_hz[position]), float(v)) - float(end))
                for v, end in zip(vfo[position], ends, strict=True)
            ]
            found[position].append(
                Option(
                    band=band_name,
                    scheme=scheme,
                    vfo_hz=(float(vfo[position].min()), float(vfo[position].max())),
                    image_distance_hz=min(images),
                    sent=tuple(sorted(out, key=lambda p: -p.level_dbc)[:STRONGEST]),
                    heard=tuple(sorted(taken, key=lambda p: -p.level_dbc)[:STRONGEST]),
                    birdies=tuple(tone),
                    crossings=tuple(
                        sorted((p for p in out if p.crosses), key=lambda p: (p.order, p.dial_hz))
                    ),
                    lower_at_if=(sideband == "lower") != turned_over(scheme),
                )
            )
    return tuple(tuple(each) for each in found)


def _sent(band: Band, scheme: Scheme, if_hz: Array, order: int) -> list[list[Product]]:
    """Transmit products of a band for each IF [Hz], shape (K,)."""
    mixer = figures(ordinary_mixer())
    worked = ordinarily_worked(mixer)
    lines = all_lines(order)
    strong = sent_dbc(mixer, worked, np.abs(lines.a), np.abs(lines.b)) > WORTH_POINTS_DBC
    ends = np.array([band.low_hz, band.high_hz])
    found: list[list[Product]] = [[] for _ in if_hz]
    # What the mixer itself holds down needs no filter; it is only asked whether it meets the signal.
    for kept, loss in ((strong, front_loss(band, "transmit")), (~strong, np.zeros_like)):
        some = Lines(lines.a[kept], lines.b[kept])
        each = np.repeat(if_hz, some.a.size)
        sent = products_sent(_each(some, if_hz.size), scheme, each, ends, mixer, worked, loss)
        _list(band.name, sent, found, lambda m, n: name_of(m, n, "IF"))
    return found


def _heard(band: Band, scheme: Scheme, if_hz: Array) -> list[list[Product]]:
    """Receive responses of a band for each IF [Hz], shape (K,)."""
    mixer = figures(ordinary_mixer())
    lines = response_lines()
    strong = response_db(mixer, np.abs(lines.a), np.abs(lines.b)) > WORTH_POINTS_DBC
    some = Lines(lines.a[strong], lines.b[strong])
    ends = np.array([band.low_hz, band.high_hz])
    each = np.repeat(if_hz, some.a.size)
    loss = front_loss(band, "receive")
    found: list[list[Product]] = [[] for _ in if_hz]
    _list(
        band.name,
        responses_heard(_each(some, if_hz.size), scheme, each, each, ends, mixer, loss),
        found,
        response_name,
    )
    return found


def _birdies(band: Band, ends: Array, vfo_hz: Array, if_hz: Array) -> list[list[Product]]:
    """Multiples of the VFO, at the dial's ends of shape (K, 2) [Hz], that pass through each IF [Hz]: what the
    mixer's balance lets into the IF is heard there whatever the filters do.
    """
    mixer, times = figures(ordinary_mixer()), np.arange(2, HIGHEST_ORDER + 1)
    at_input_dbm = mixer.leak_dbm(mixer.drive_dbm, times, "if") - mixer.gain_db
    start, turn = vfo_hz[:, :1], vfo_hz[:, 1:] - vfo_hz[:, :1]
    dials = ends[0] + (if_hz[:, None] / times - start) / turn * (ends[1] - ends[0])
    inside = (dials >= ends[0]) & (dials <= ends[1])
    lost_db = front_loss(band, "receive")(np.where(inside, dials, ends[0]))
    found: list[list[Product]] = [[] for _ in if_hz]
    for k, place in zip(*np.nonzero(inside), strict=True):
        found[k].append(
            Product(
                band=band.name,
                products=f"{times[place]} VFO",
                order=int(times[place]),
                dial_hz=float(dials[k, place]),
                level_dbc=float(at_input_dbm[place] + lost_db[k, place] - S9_DBM),
                crosses=True,
            )
        )
    return found


def _each(lines: Lines, times: int) -> Lines:
    return Lines(np.tile(lines.a, times), np.tile(lines.b, times))


def _list(band: str, products: Products, found: list[list[Product]], name: Callable[[int, int], str]) -> None:
    """Add those that cross or are strong to what was found for each crystal."""
    share = products.m.size // len(found)
    for p in np.flatnonzero(products.crosses | (products.level_dbc > WORTH_POINTS_DBC)):
        m, n = int(products.m[p]), int(products.n[p])
        found[p // share].append(
            Product(
                band=band,
                products=name(m, n),
                order=abs(m) + abs(n),
                dial_hz=float(products.meets_hz[p]),
                level_dbc=float(products.level_dbc[p]),
                crosses=bool(products.crosses[p]),
            )
        )
