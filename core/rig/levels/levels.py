"""Levels in transmit along the signal path: drive, compression, output, harmonics.

Every figure is in dBm into the impedance at that place, and counts from block figures; levels after a
compressing stage are estimates.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, Response, frozen
from core.circuits.units import added_db, excess_db, watts
from core.model.bands import Band
from core.model.stages.amplifiers import PowerAmplifier
from core.model.stages.audio import Microphone
from core.rig.levels.blocks import Block, Zone
from core.stages.loss import MOST_LOSS_DB

#: How sharply a stage turns from straight to saturated [-]; customary for class A and AB, from memory.
KNEE = 2.0
#: Isolation between the ends of one box's wiring at one frequency, dB; an assumption, until measured.
ASSUMED_STRAY_ISOLATION_DB = 60.0


@dataclass(frozen=True, kw_only=True)
class Harmonic:
    """One harmonic of the transmitter: before and after the low-pass, against the limit, dB and dBc."""

    band: str
    number: int
    frequency_hz: float
    amplifier_dbc: float
    filter_db: float
    result_dbc: float
    limit_dbc: float

    @property
    def margin_db(self) -> float:
        """How far the harmonic lies under the limit, dB; negative when it breaks it."""
        return self.limit_dbc - self.result_dbc


@dataclass(frozen=True, kw_only=True)
class TransmitLevels:
    """Levels in transmit at speech peaks; `level_dbm` of shape (stages + 1,), microphone to antenna.

    Every stage compresses along one curve (`compressed_dbm`). `headroom_db` is how far each stage's input
    stays below that at which its gain is 1 dB less, None for passive ones.
    """

    band: str
    dial_hz: float
    blocks: tuple[Block, ...]
    nodes: tuple[str, ...]
    level_dbm: Array
    limit_dbm: tuple[float | None, ...]
    headroom_db: tuple[float | None, ...]
    output_w: float
    worst_headroom_db: float | None
    rf_gain_db: float
    if_gain_db: float


def compressed_dbm(straight_dbm: float, p1db_out_dbm: float) -> float:
    """What a stage gives [dBm] where its gain alone would give `straight_dbm` [dBm].

    A model, not a measurement: P = Po / (1 + (Po/Ps)^k)^(1/k) with k = KNEE, after C. Rapp's curve for solid
    state amplifiers (1991, from memory), its saturation Ps placed so that at `p1db_out_dbm` [dBm] just 1 dB
    is lost; the most it gives is then 2.2 dB above that.
    """
    saturation = p1db_out_dbm + 1 - excess_db(KNEE) / KNEE
    return straight_dbm - added_db(0.0, KNEE * (straight_dbm - saturation)) / KNEE


@lru_cache(maxsize=64)
def transmit(blocks: tuple[Block, ...], band: str, dial_hz: float, microphone: Microphone) -> TransmitLevels:
    """Levels on speech peaks from microphone to antenna for one dial frequency [Hz]."""
    level = [microphone.peak_dbm]
    headroom: list[float | None] = []
    for each in blocks:
        asked, most = level[-1] + each.gain_db, each.p1db_in_dbm
        headroom.append(None if most is None else most - level[-1])
        level.append(asked if each.p1db_out_dbm is None else compressed_dbm(asked, each.p1db_out_dbm))
    return TransmitLevels(
        band=band,
        dial_hz=dial_hz,
        blocks=blocks,
        nodes=("Microphone", *(each.name for each in blocks)),
        level_dbm=frozen(np.array(level)),
        limit_dbm=tuple(each.p1db_out_dbm for each in blocks),
        headroom_db=tuple(headroom),
        output_w=watts(level[-1]),
        worst_headroom_db=min((h for h in headroom if h is not None), default=None),
        rf_gain_db=zone_gain_db(blocks, "rf"),
        if_gain_db=zone_gain_db(blocks, "if"),
    )


def zone_gain_db(blocks: tuple[Block, ...], zone: Zone) -> float:
    """Gain of the amplifiers that work at one frequency, dB: what stray coupling could turn into howling."""
    amplifiers = ("amplifier", "power_amplifier")
    return sum(each.gain_db for each in blocks if each.zone == zone and each.role in amplifiers)


def harmonics(
    amplifier: PowerAmplifier, band: Band, low_pass: Response | None, limit_db: float
) -> tuple[Harmonic, ...]:
    """Harmonics 2 to 5 of the transmitter at the worse end of the band, against a limit in dB.

    `low_pass` holds the loss at both ends of the dial and at the harmonics of each, shape (10,): first
    the lower end's 1 to 5, then the upper's; None when the path has no low-pass.
    """
    assumed = (
        amplifier.second_harmonic_dbc,
        amplifier.third_harmonic_dbc,
        amplifier.fourth_harmonic_dbc,
        amplifier.fifth_harmonic_dbc,
    )
    rows = []
    for number, before in zip(range(2, 6), assumed, strict=True):
        ends = []
        for end, dial_hz in enumerate((band.low_hz, band.high_hz)):
            loss = 0.0
            if low_pass is not None:
                at = np.minimum(low_pass.loss_db[[5 * end + number - 1, 5 * end]], MOST_LOSS_DB)
                loss = float(at[0] - at[1])
            ends.append(
                Harmonic(
                    band=band.name,
                    number=number,
                    frequency_hz=number * dial_hz,
                    amplifier_dbc=before,
                    filter_db=loss,
                    result_dbc=before - loss,
                    limit_dbc=-limit_db,
                )
            )
        rows.append(max(ends, key=lambda row: row.result_dbc))
    return tuple(rows)
