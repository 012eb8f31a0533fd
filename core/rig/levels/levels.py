"""Levels along the signal path in both directions: noise, gain, intercept, overload, output, harmonics.

Sources: noise as `own_noise.py` has it; intercepts in cascade by intermodulation voltages adding in phase,
the customary worst case. Every figure is in dBm into the impedance at that place, and counts from block
figures; levels after a compressing stage are estimates.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import inf

import numpy as np

from core.circuits.ladder import Array, Response, frozen
from core.circuits.units import added_db, excess_db, sound_pressure_db_spl, thermal_noise_dbm, watts
from core.model.bands import Band
from core.model.stages.amplifiers import PowerAmplifier
from core.model.stages.audio import Microphone, Speaker
from core.model.station import Station
from core.rig.levels.blocks import Block, Zone
from core.rig.levels.noise import band_noise_dbm
from core.rig.levels.own_noise import own_noise
from core.stages.loss import MOST_LOSS_DB

#: IARU Region 1 Technical Recommendation R.1 (Brighton 1981): S9 below 30 MHz, dBm.
S9_DBM = -73.0
#: A strong signal on the band, dB over S9.
STRONG_OVER_S9_DB = 40.0
#: How sharply a stage turns from straight to saturated [-]; customary for class A and AB, from memory.
KNEE = 2.0
#: Isolation between the ends of one box's wiring at one frequency, dB; an assumption, until measured.
ASSUMED_STRAY_ISOLATION_DB = 60.0
#: Noise in audio against the room: how far above the room's noise band noise counts as heard, dB.
HEARD_OVER_ROOM_DB = 3.0


@dataclass(frozen=True, kw_only=True)
class ReceiveLevels:
    """Levels in receive; arrays of shape (stages + 1,), from the antenna to the speaker, dBm.

    A stage overloads at the input at which its gain is 1 dB less (`Block.p1db_in_dbm`), here and in transmit.
    `overload_dbm` is the level at a place with which the first stage from there on does so; audio stages
    are left out, a volume control stands before them. `headroom_db` is per stage, how far its input at
    S9 + 40 dB stays below that, None for passive ones. `noise_margin_db` is band noise over the receiver's
    own noise (both at the antenna). `image_noise_db` and `detector_image_noise_db` are what the images' noise
    adds to the noise figure, which counts it.
    """

    band: str
    dial_hz: float
    bandwidth_hz: float
    blocks: tuple[Block, ...]
    nodes: tuple[str, ...]
    own_noise_dbm: Array
    band_noise_levels_dbm: Array
    s9_dbm: Array
    strong_dbm: Array
    overload_dbm: Array
    headroom_db: tuple[float | None, ...]
    gain_db: float
    noise_figure_db: float
    image_noise_db: float
    detector_image_noise_db: float
    iip3_dbm: float | None
    iip3_to_filter_dbm: float | None
    mds_dbm: float
    band_noise_dbm: float
    noise_margin_db: float
    noise_above_own: bool
    speaker_noise_db_spl: float
    noise_heard: bool


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


def iip3_dbm(blocks: tuple[Block, ...]) -> float | None:
    """Input intercept of a cascade, dBm; None when nothing in it has one.

    1/IIP3 = sum of (gain before the stage) / IIP3 of the stage, powers in mW.
    """
    inverse_db, gain_db = -inf, 0.0
    for each in blocks:
        if each.iip3_dbm is not None:
            inverse_db = added_db(inverse_db, gain_db - each.iip3_dbm)
        gain_db += each.gain_db
    return None if inverse_db == -inf else -inverse_db


@lru_cache(maxsize=64)
def receive(
    blocks: tuple[Block, ...],
    band: str,
    dial_hz: float,
    bandwidth_hz: float,
    station: Station,
    speaker: Speaker,
) -> ReceiveLevels:
    """Levels from antenna to speaker for one dial frequency [Hz] in a noise bandwidth [Hz].

    The bandwidth is the ladder's noise bandwidth throughout; before the ladder the noise is really wider,
    which is of no consequence for what comes out.
    """
    gains = np.array([each.gain_db for each in blocks])
    along = np.concatenate([[0.0], np.cumsum(gains)])
    floor = thermal_noise_dbm(bandwidth_hz)
    noise = own_noise(blocks)
    own = [floor + each for each in noise.levels_db]
    outside = band_noise_dbm(station.environment, dial_hz, bandwidth_hz, station.antenna_loss_db)
    overload = np.full(len(blocks) + 1, np.inf)
    for position in range(len(blocks) - 1, -1, -1):
        each = blocks[position]
        overload[position] = overload[position + 1] - each.gain_db
        if each.p1db_in_dbm is not None and each.role != "audio":
            overload[position] = min(each.p1db_in_dbm, overload[position])
    strong = S9_DBM + STRONG_OVER_S9_DB + along
    headroom = tuple(
        None if each.p1db_in_dbm is None else each.p1db_in_dbm - float(strong[position])
        for position, each in enumerate(blocks)
    )
    narrow = next((p for p, each in enumerate(blocks) if each.role == "channel_filter"), len(blocks) - 1)
    mds = floor + noise.noise_figure_db
    # What reaches the speaker: band noise and own noise together, held by what the audio stage can give.
    at_speaker = added_db(outside + float(along[-1]), own[-1])
    limits = (each.p1db_out_dbm for each in reversed(blocks) if each.role == "audio")
    most = next((limit for limit in limits if limit is not None), inf)
    sound = sound_pressure_db_spl(min(at_speaker, most), speaker.sensitivity_db_spl, speaker.distance_m)
    return ReceiveLevels(
        band=band,
        dial_hz=dial_hz,
        bandwidth_hz=bandwidth_hz,
        blocks=blocks,
        nodes=("Antenna", *(each.name for each in blocks)),
        own_noise_dbm=frozen(np.array(own)),
        band_noise_levels_dbm=frozen(outside + along),
        s9_dbm=frozen(S9_DBM + along),
        strong_dbm=frozen(strong),
        overload_dbm=frozen(overload),
        headroom_db=headroom,
        gain_db=float(along[-1]),
        noise_figure_db=noise.noise_figure_db,
        image_noise_db=noise.image_db,
        detector_image_noise_db=noise.detector_image_db,
        iip3_dbm=iip3_dbm(blocks),
        iip3_to_filter_dbm=iip3_dbm(blocks[: narrow + 1]),
        mds_dbm=mds,
        band_noise_dbm=outside,
        noise_margin_db=outside - mds,
        noise_above_own=outside - mds >= station.noise_margin_db,
        speaker_noise_db_spl=sound,
        noise_heard=sound >= speaker.room_noise_db_spl + HEARD_OVER_ROOM_DB,
    )


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
