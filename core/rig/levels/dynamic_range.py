"""What strong stations beside the signal do: third-order products, compression, the VFO's own noise.

A stage is reached by what the stages before it let pass, so that the ladder protects all behind it. Third
order: two stations at d and 2 d to the same side make a product at the signal; intercepts of the stages add
by voltage, each with what its two tones have lost on the way, two thirds of it by the nearer one. Reciprocal
mixing: a station at d is turned into noise by what the VFO has at d from itself. Derived here; crystals and
coils are taken to be linear.
"""

from functools import lru_cache
from math import inf, log10

from core.circuits.units import added_db
from core.record import record
from core.rig.levels.blocks import SIGNAL, SPACINGS_HZ, Block, beside
from core.rig.levels.receive import ReceiveLevels

#: How fast a VFO's noise falls away from it where that of its tank does, dB a decade (D. Leeson, Proc. IEEE
#: 54 (1966) 329, from memory).
FALLS_DB = 20.0


@record
class VfoNoise:
    """A VFO's noise: so much below it in 1 Hz [dBc/Hz] at an offset [Hz]."""

    dbc_hz: float
    offset_hz: float


@record(kw_only=True)
class DynamicRange:
    """What the receiver bears from stations `spacing_hz` beside the signal; 0 for within the pass-band.

    `iip3_dbm` is the intercept for two of them, at the antenna, and `products_by` the stage that makes most
    of it; `third_order_db` how far above the own noise they may be until their product is as strong as it.
    `compression_dbm` is the level of one that takes 1 dB of gain off the stage `compresses`, and
    `blocking_db` the same over the own noise. `reciprocal_db` is how far one may be above the own noise until
    the VFO's noise makes as much. None where nothing makes it, or nothing is known of it; the worse side
    counts.
    """

    band: str
    spacing_hz: float
    iip3_dbm: float | None
    products_by: Block | None
    third_order_db: float | None
    compression_dbm: float | None
    compresses: str | None
    blocking_db: float | None
    reciprocal_db: float | None

    @property
    def limit(self) -> str | None:
        """What of the three comes first."""
        found = [
            (each, name)
            for each, name in (
                (self.third_order_db, "third order"),
                (self.blocking_db, "compression"),
                (self.reciprocal_db, "VFO noise"),
            )
            if each is not None
        ]
        return min(found)[1] if found else None


def noise_in_dbc(noise: VfoNoise, away_hz: float, bandwidth_hz: float) -> float:
    """The VFO's noise in a bandwidth [Hz] at a distance from itself [Hz], dBc.

    The integral of a density that falls by 20 dB a decade; inside the bandwidth itself there is no such
    figure, and the distance counts as half the bandwidth and a tenth.
    """
    away = max(away_hz, 0.6 * bandwidth_hz)
    spread = away**2 - (bandwidth_hz / 2) ** 2
    return noise.dbc_hz + FALLS_DB * log10(noise.offset_hz) + 10 * log10(bandwidth_hz / spread)


@lru_cache(maxsize=64)
def dynamic_ranges(levels: ReceiveLevels, vfo: VfoNoise | None) -> tuple[DynamicRange, ...]:
    """Within the pass-band, and at each of the spacings; with the VFO's noise, None where it is not known."""
    return tuple(_at(levels, vfo, spacing) for spacing in (None, *range(len(SPACINGS_HZ))))


def _at(levels: ReceiveLevels, vfo: VfoNoise | None, spacing: int | None) -> DynamicRange:
    sides = ((SIGNAL, SIGNAL),) if spacing is None else tuple(beside(spacing, way) for way in (0, 1))
    iip3, by = min((_intercept(levels, *side) for side in sides), key=lambda each: each[0])
    limit, first = min((_compression(levels, near) for near, _ in sides), key=lambda each: each[0])
    away_hz = 0.0 if spacing is None else SPACINGS_HZ[spacing]
    mixes = any(each.role == "mixer" and each.zone == "rf" for each in levels.blocks)
    reciprocal = None
    if vfo is not None and mixes and spacing is not None:
        reciprocal = -noise_in_dbc(vfo, away_hz, levels.bandwidth_hz)
    return DynamicRange(
        band=levels.band,
        spacing_hz=away_hz,
        iip3_dbm=None if by is None else iip3,
        products_by=by,
        third_order_db=None if by is None else (iip3 - levels.mds_dbm) * 2 / 3,
        compression_dbm=None if first is None else limit,
        compresses=None if first is None else first.name,
        blocking_db=None if first is None else limit - levels.mds_dbm,
        reciprocal_db=reciprocal,
    )


def _intercept(levels: ReceiveLevels, near: int, far: int) -> tuple[float, Block | None]:
    """Input intercept [dBm] for tones at two places of the `tones`, and the stage that counts most."""
    passed = levels.chain.passed_db
    inverse_db, worst = -inf, (inf, None)
    for place, each in enumerate(levels.blocks):
        if each.iip3_dbm is None:
            continue
        signal, one, other = (float(passed[place, tone]) for tone in (SIGNAL, near, far))
        mine = each.iip3_dbm - one - other / 2 + signal / 2
        inverse_db = added_db(inverse_db, -mine)
        worst = min(worst, (mine, each), key=lambda pair: pair[0])  # type: ignore[assignment]
    return -inverse_db, worst[1]


def _compression(levels: ReceiveLevels, tone: int) -> tuple[float, Block | None]:
    """Level at the antenna [dBm] at which the first stage loses 1 dB to a station at a place of the `tones`.

    Audio stages are left out, as a control or a hand stands before them, and what stands behind a control
    gets less by its range.
    """
    found: tuple[float, Block | None] = (inf, None)
    for place, each in enumerate(levels.blocks):
        if each.p1db_in_dbm is None or each.role == "audio":
            continue
        spared = sum(control.range_db for control in levels.controls if control.place < place)
        limit = each.p1db_in_dbm - float(levels.chain.passed_db[place, tone]) + spared
        found = min(found, (limit, each), key=lambda pair: pair[0])
    return found
