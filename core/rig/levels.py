"""Levels along the signal path in both directions: noise, gain, intercept, overload, output, harmonics.

Sources: H. Friis, Proc. IRE 32 (1944) 419, for noise figures in cascade (from memory); intercepts in
cascade by intermodulation voltages adding in phase, the customary worst case. Every figure is in dBm
into the impedance at that place, and counts from block figures; levels after a compressing stage are
estimates.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from core.circuits.ladder import Array, Response, frozen
from core.circuits.units import dbm, decibels, ratio, sound_pressure_db_spl, thermal_noise_dbm, watts
from core.model.amplifiers import Amplifier, Attenuator, PowerAmplifier
from core.model.audio import AudioAmplifier, Microphone, Speaker
from core.model.bands import Band
from core.model.mixers import Mixer
from core.model.project import Stage
from core.model.stage import Way
from core.model.station import Station
from core.rig.noise import band_noise_dbm
from core.stages import mixer

#: IARU Region 1 Technical Recommendation R.1 (Brighton 1981): S9 below 30 MHz, dBm.
S9_DBM = -73.0
#: A strong signal on the band, dB over S9.
STRONG_OVER_S9_DB = 40.0
#: What a stage gives at most above its 1 dB compression, dB; customary, from memory.
SATURATION_DB = 1.0
#: Isolation between the ends of one box's wiring at one frequency, dB; an assumption, until measured.
ASSUMED_STRAY_ISOLATION_DB = 60.0
#: Noise in audio against the room: how far above the room's noise band noise counts as heard, dB.
HEARD_OVER_ROOM_DB = 3.0

Zone = Literal["rf", "if", "audio"]


@dataclass(frozen=True, slots=True)
class Block:
    """One stage of the path reduced to its block figures; None where a passive stage has none.

    `zone` is the frequency it amplifies at; for a mixer that of its input.
    """

    stage: str
    name: str
    kind: str
    zone: Zone
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float | None = None
    p1db_out_dbm: float | None = None


def block(stage: Stage, zone: Zone, loss_db: float) -> Block:
    """Block figures of a stage; `loss_db` counts for filters only, their loss at the signal [dB]."""
    base = (stage.id, stage.name, stage.kind, zone)
    if isinstance(stage, Amplifier):
        return Block(
            *base, stage.gain_db, stage.noise_figure_db, stage.oip3_dbm - stage.gain_db, stage.p1db_dbm
        )
    if isinstance(stage, PowerAmplifier):
        return Block(
            *base, stage.gain_db, stage.noise_figure_db, stage.oip3_dbm - stage.gain_db, dbm(stage.rated_w)
        )
    if isinstance(stage, Mixer):
        f = mixer.figures(stage)
        return Block(*base, f.gain_db, f.noise_figure_db, f.iip3_dbm, f.p1db_in_dbm + f.gain_db - 1)
    if isinstance(stage, AudioAmplifier):
        return Block(*base, stage.gain_db, stage.noise_figure_db, None, dbm(stage.largest_output_w))
    if isinstance(stage, Attenuator):
        loss_db = stage.loss_db
    # A passive stage at 290 K: its noise figure is its loss.
    return Block(*base, -loss_db, loss_db)


@dataclass(frozen=True)
class ReceiveLevels:
    """Levels in receive; arrays of shape (stages + 1,), from the antenna to the speaker, dBm.

    `overload_dbm` is the level at a place with which the first stage from there on compresses by 1 dB;
    audio stages are left out, a volume control stands before them. `headroom_db` is per stage, at
    S9 + 40 dB, None for passive ones. `noise_margin_db` is band noise over the receiver's own noise
    (both at the antenna).
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
    iip3_dbm: float | None
    iip3_to_filter_dbm: float | None
    mds_dbm: float
    band_noise_dbm: float
    noise_margin_db: float
    noise_above_own: bool
    speaker_noise_db_spl: float
    noise_heard: bool


@dataclass(frozen=True)
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


@dataclass(frozen=True)
class TransmitLevels:
    """Levels in transmit at speech peaks; `level_dbm` of shape (stages + 1,), microphone to antenna.

    A stage driven past compression gives no more than SATURATION_DB above it. `headroom_db` is how far
    each stage's output stays under its compression, None for passive ones.
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


def noise_figure_db(blocks: tuple[Block, ...]) -> float:
    """Noise figure of a cascade, dB (Friis)."""
    factor, gain = 1.0, 1.0
    for each in blocks:
        factor += (ratio(each.noise_figure_db) - 1) / gain
        gain *= ratio(each.gain_db)
    return decibels(factor)


def iip3_dbm(blocks: tuple[Block, ...]) -> float | None:
    """Input intercept of a cascade, dBm; None when nothing in it has one.

    1/IIP3 = sum of (gain before the stage) / IIP3 of the stage, powers in mW.
    """
    inverse, gain = 0.0, 1.0
    for each in blocks:
        if each.iip3_dbm is not None:
            inverse += gain / ratio(each.iip3_dbm)
        gain *= ratio(each.gain_db)
    return -decibels(inverse) if inverse > 0 else None


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

    The bandwidth is the ladder's throughout; before the ladder the noise is really wider, which is of no
    consequence for what comes out.
    """
    gains = np.array([each.gain_db for each in blocks])
    along = np.concatenate([[0.0], np.cumsum(gains)])
    floor = thermal_noise_dbm(bandwidth_hz)
    own = [ratio(floor)]
    for each in blocks:
        own.append((own[-1] + ratio(floor) * (ratio(each.noise_figure_db) - 1)) * ratio(each.gain_db))
    outside = band_noise_dbm(station.environment, dial_hz, bandwidth_hz, station.antenna_loss_db)
    overload = np.full(len(blocks) + 1, np.inf)
    for position in range(len(blocks) - 1, -1, -1):
        each = blocks[position]
        here = np.inf
        if each.p1db_out_dbm is not None and each.kind != "audio":
            here = each.p1db_out_dbm - each.gain_db + 1
        overload[position] = min(here, overload[position + 1] - each.gain_db)
    strong = S9_DBM + STRONG_OVER_S9_DB + along
    headroom = tuple(
        None if each.p1db_out_dbm is None else each.p1db_out_dbm - float(strong[position + 1])
        for position, each in enumerate(blocks)
    )
    ladder = next((p for p, each in enumerate(blocks) if each.kind == "ladder"), len(blocks) - 1)
    noise_db = noise_figure_db(blocks)
    mds = floor + noise_db
    # What reaches the speaker: band noise and own noise together, held by what the audio stage can give.
    at_speaker = ratio(outside + float(along[-1])) + own[-1]
    most = next(
        (ratio(b.p1db_out_dbm) for b in reversed(blocks) if b.kind == "audio" and b.p1db_out_dbm), np.inf
    )
    sound = sound_pressure_db_spl(
        1e-3 * min(at_speaker, most), speaker.sensitivity_db_spl, speaker.distance_m
    )
    return ReceiveLevels(
        band=band,
        dial_hz=dial_hz,
        bandwidth_hz=bandwidth_hz,
        blocks=blocks,
        nodes=("Antenna", *(each.name for each in blocks)),
        own_noise_dbm=frozen(10 * np.log10(own)),
        band_noise_levels_dbm=frozen(outside + along),
        s9_dbm=frozen(S9_DBM + along),
        strong_dbm=frozen(strong),
        overload_dbm=frozen(overload),
        headroom_db=headroom,
        gain_db=float(along[-1]),
        noise_figure_db=noise_db,
        iip3_dbm=iip3_dbm(blocks),
        iip3_to_filter_dbm=iip3_dbm(blocks[: ladder + 1]),
        mds_dbm=mds,
        band_noise_dbm=outside,
        noise_margin_db=outside - mds,
        noise_above_own=outside - mds >= station.noise_margin_db,
        speaker_noise_db_spl=sound,
        noise_heard=sound >= speaker.room_noise_db_spl + HEARD_OVER_ROOM_DB,
    )


@lru_cache(maxsize=64)
def transmit(blocks: tuple[Block, ...], band: str, dial_hz: float, microphone: Microphone) -> TransmitLevels:
    """Levels on speech peaks from microphone to antenna for one dial frequency [Hz]."""
    level = [microphone.peak_dbm]
    headroom: list[float | None] = []
    for each in blocks:
        asked = level[-1] + each.gain_db
        if each.p1db_out_dbm is None:
            headroom.append(None)
            level.append(asked)
        else:
            headroom.append(each.p1db_out_dbm - asked)
            level.append(min(asked, each.p1db_out_dbm + SATURATION_DB))
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
    return sum(each.gain_db for each in blocks if each.zone == zone and each.kind in amplifiers)


def zones(stages: tuple[Stage, ...], way: Way) -> tuple[Zone, ...]:
    """At which frequency each stage of a path (in signal order) takes its input: RF, IF or audio."""
    order: list[Zone] = ["rf", "if", "audio"] if way == "receive" else ["audio", "if", "rf"]
    turns_at = ["vfo", "carrier"] if way == "receive" else ["carrier", "vfo"]
    position, result = 0, []
    for stage in stages:
        result.append(order[position])
        if isinstance(stage, Mixer) and position < 2 and stage.oscillator == turns_at[position]:
            position += 1
    return tuple(result)


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
                loss = float(low_pass.loss_db[5 * end + number - 1] - low_pass.loss_db[5 * end])
            ends.append(Harmonic(band.name, number, number * dial_hz, before, loss, before - loss, -limit_db))
        rows.append(max(ends, key=lambda row: row.result_dbc))
    return tuple(rows)
