"""Which IF: every crystal with every pair of mixing schemes, ranked with the reasons shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from core.circuits.ladder import Array
from core.model.bands import SCHEMES, Band, Scheme
from core.rig.frequency_plan import image_for, turned_over, vfo_for
from core.rig.spurs import AUDIBLE_HZ, all_lines, name_of

#: Above this an LC oscillator is hard to keep stable, Hz; common practice, no source.
STABLE_VFO_HZ = 8e6
#: VFO ranges with a larger ratio of ends are hard to tune evenly with one capacitor; common practice.
EASY_RATIO = 1.25
#: Nearer than this to the dial, the image needs more than an ordinary band-pass, Hz; common practice.
EASY_IMAGE_HZ = 4e6
#: Below this an LC VFO's coil grows unhandy and its harmonics crowd the bands, Hz; common practice.
LOWEST_VFO_HZ = 1.5e6
#: Above this, cheap crystals are often cut for the third overtone, Hz; from memory.
OVERTONE_ABOVE_HZ = 24e6
#: The band-pass and ladder need the IF this far from the dial, as a share of the dial frequency [-].
_IF_CLEARANCE = 0.08


@dataclass(frozen=True, slots=True)
class Crossing:
    """A product that meets the wanted signal inside a band at `dial_hz`."""

    band: str
    products: str
    order: int
    dial_hz: float


@dataclass(frozen=True, slots=True)
class SurveyRow:
    """One IF with one scheme a band.

    `vfo_low_hz` and `vfo_high_hz` span the VFO over all bands, `common_hz` is what the bands' VFO ranges
    share. `lowest_crossing_order` is None when no product up to the order asked meets the signal.
    """

    if_hz: float
    crystal: str
    schemes: tuple[Scheme, ...]
    vfo_low_hz: float
    vfo_high_hz: float
    vfo_ratio: float
    common_hz: float
    lowest_crossing_order: int | None
    crossings: tuple[Crossing, ...]
    image_distance_hz: float
    sidebands_agree: bool
    in_junk_box: bool
    reasons: tuple[str, ...]
    score: float


@dataclass(frozen=True, slots=True)
class _Option:
    """One crystal, one band, one scheme."""

    scheme: Scheme
    vfo_hz: tuple[float, float]
    image_distance_hz: float
    crossings: tuple[Crossing, ...]
    lower_at_if: bool


def survey(
    bands: Sequence[Band],
    crystals_hz: Sequence[float],
    *,
    order: int = 9,
    max_vfo_hz: float | None = None,
    min_vfo_hz: float = LOWEST_VFO_HZ,
    junk_box: Sequence[float] = (),
) -> tuple[SurveyRow, ...]:
    """Every crystal [Hz] with every combination of schemes that gives all bands a VFO, best first.

    `order` is the highest m + n of products looked at. `junk_box` are crystals on hand [Hz], surveyed
    too and preferred. The carrier is taken at the crystal's frequency.
    """
    every = np.array(sorted({*crystals_hz, *junk_box}))
    if every.size == 0 or not bands:
        return ()
    options = [_options(band, every, order, min_vfo_hz, max_vfo_hz) for band in bands]
    rows = []
    for position, if_hz in enumerate(every):
        choices = [each[position] for each in options]
        rows += [
            _row(float(if_hz), combination, float(if_hz) in junk_box) for combination in product(*choices)
        ]
    return tuple(sorted(rows, key=lambda row: (-row.score, row.if_hz)))


def _options(
    band: Band, if_hz: Array, order: int, min_vfo_hz: float, max_vfo_hz: float | None
) -> list[list[_Option]]:
    """Usable schemes of one band for each IF, shape (K,) [Hz]."""
    found: list[list[_Option]] = [[] for _ in if_hz]
    lines = all_lines(order)
    ends = np.array([band.low_hz, band.high_hz])
    clear = np.minimum(np.abs(if_hz - ends[0]), np.abs(if_hz - ends[1])) > _IF_CLEARANCE * ends[1]
    outside = (if_hz < ends[0]) | (if_hz > ends[1])
    for scheme in SCHEMES:
        vfo = np.stack([vfo_for(scheme, if_hz, float(end)) for end in ends], axis=-1)
        usable = clear & outside & (vfo.min(axis=-1) >= min_vfo_hz)
        if max_vfo_hz is not None:
            usable &= vfo.max(axis=-1) <= max_vfo_hz
        # Offsets of every product at both dial ends: (crystals, lines, 2).
        raw = lines.a[:, None] * vfo[:, None, :] + lines.b[:, None] * if_hz[:, None, None]
        offsets = np.abs(raw) - ends
        rises = offsets[..., 1] - offsets[..., 0]
        wanted = (np.abs(offsets) < 1.0).all(axis=-1)
        audible = (offsets.min(axis=-1) <= AUDIBLE_HZ) & (offsets.max(axis=-1) >= -AUDIBLE_HZ) & ~wanted
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.clip(np.where(rises == 0, 0.5, -offsets[..., 0] / rises), 0, 1)
        dial = ends[0] + share * (ends[1] - ends[0])
        middle = raw.mean(axis=-1)
        for position in np.flatnonzero(usable):
            crossings = []
            for line in np.flatnonzero(audible[position]):
                sign = -1 if middle[position, line] < 0 else 1
                m, n = int(lines.a[line]) * sign, int(lines.b[line]) * sign
                crossings.append(
                    Crossing(band.name, name_of(m, n, "IF"), abs(m) + abs(n), float(dial[position, line]))
                )
            crossings.sort(key=lambda c: (c.order, c.dial_hz))
            images = [
                abs(image_for(scheme, float(if_hz[position]), float(v)) - end)
                for v, end in zip(vfo[position], ends, strict=True)
            ]
            lower = (band.sideband == "lower") != turned_over(scheme)
            found[position].append(
                _Option(
                    scheme,
                    (float(vfo[position].min()), float(vfo[position].max())),
                    min(images),
                    tuple(crossings),
                    lower,
                )
            )
    return found


def _row(if_hz: float, options: Sequence[_Option], in_junk_box: bool) -> SurveyRow:
    lows, highs = [o.vfo_hz[0] for o in options], [o.vfo_hz[1] for o in options]
    low, high = min(lows), max(highs)
    ratio = high / low
    common = max(0.0, min(highs) - max(lows)) if len(options) > 1 else high - low
    crossings = tuple(sorted((c for o in options for c in o.crossings), key=lambda c: (c.order, c.band)))
    lowest = crossings[0].order if crossings else None
    image = min(o.image_distance_hz for o in options)
    agree = len({o.lower_at_if for o in options}) == 1
    score, reasons = 100.0, []
    if lowest is None:
        reasons.append("no product crosses the dial up to the order asked")
    else:
        # Strength falls some 10 dB an order; what is weak costs little, what is strong spoils the row.
        score -= sum(60.0 * 0.55 ** (c.order - 2) for c in crossings)
        first = crossings[0]
        reasons.append(
            f"{first.products} crosses {first.band} at {first.dial_hz / 1e6:.3f} MHz (order {lowest})"
        )
    if high > STABLE_VFO_HZ:
        score -= 6.0 * (high - STABLE_VFO_HZ) / 1e6
        reasons.append(
            f"VFO to {high / 1e6:.2f} MHz: hard to keep stable above {STABLE_VFO_HZ / 1e6:.0f} MHz"
        )
    else:
        reasons.append(f"VFO {low / 1e6:.3f} to {high / 1e6:.3f} MHz")
    # Less to tune is easier to tune: it also parts rows that are otherwise alike.
    score -= 10.0 * (ratio - 1)
    if ratio > EASY_RATIO:
        score -= 40.0 * (ratio - EASY_RATIO)
        reasons.append(f"VFO range ratio {ratio:.2f}: band-shift parts needed")
    elif len(options) > 1:
        reasons.append("one VFO range serves all bands")
    if image < EASY_IMAGE_HZ:
        score -= 10.0 * (1 - image / EASY_IMAGE_HZ)
        reasons.append(f"image only {image / 1e6:.1f} MHz away")
    if not agree:
        score -= 4.0
        reasons.append("the bands need the carrier on both edges of the ladder")
    if if_hz > OVERTONE_ABOVE_HZ:
        score -= 15.0
        reasons.append("crystal likely cut for the third overtone")
    if in_junk_box:
        score += 5.0
        reasons.append("crystal on hand")
    return SurveyRow(
        if_hz,
        f"{if_hz / 1e6:.9g} MHz",
        tuple(o.scheme for o in options),
        low,
        high,
        ratio,
        common,
        lowest,
        crossings,
        image,
        agree,
        in_junk_box,
        tuple(reasons),
        score,
    )
