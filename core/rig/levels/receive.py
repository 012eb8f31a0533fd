"""Levels in receive along the signal path: noise, gain, intercept, overload, loudness.

Sources: gain and noise as `chain.py` has them, with the impedances that the stages really see; intercepts in
cascade by intermodulation voltages adding in phase, the customary worst case. Every figure is in dBm into the
impedance at that place.
"""

from functools import lru_cache
from math import inf

import numpy as np

from core.circuits.ladder import Array, frozen
from core.circuits.units import added_db, thermal_noise_dbm
from core.model.stages.audio import Speaker
from core.model.station import Station
from core.record import record
from core.rig.levels.blocks import SIGNAL, Block
from core.rig.levels.chain import Chain, chain
from core.rig.levels.gain_control import Control, taken_db
from core.rig.levels.noise import band_noise_dbm
from core.rig.levels.own_noise import noise_figure_db
from core.stages.kinds.kind import NOMINAL_OHM

#: IARU Region 1 Technical Recommendation R.1 (Brighton 1981): S9 below 30 MHz, dBm.
S9_DBM = -73.0


@record(eq=False, kw_only=True, slots=False)
class ReceiveLevels:
    """Levels in receive; arrays of shape (stages + 1,), from the antenna to the speaker, dBm, with all
    controls full up. Compared by identity, as it comes out of a cache.

    `blocks` have their gains at their places. A stage overloads at the input at which its gain is 1 dB less
    (`Block.p1db_in_dbm`), here and in transmit. `overload_dbm` is the level at a place with which the first
    stage from there on does so; audio stages are left out, and a control raises it by its range. `strong_dbm`
    is that of the strongest station with the `controls` turned down for it, by `strong_taken_db` each;
    `headroom_db` is per stage, how far its input stays below that at which it overloads then, None for
    passive ones.
    `noise_margin_db` is band noise over the receiver's own noise (both at the antenna). `image_noise_db` and
    `detector_image_noise_db` are what the images' noise adds to the noise figure, which counts it.
    `summed_gain_db` and `friis_noise_figure_db` are what the stages' figures between nominal resistances add
    up to, without any image.
    """

    band: str
    dial_hz: float
    bandwidth_hz: float
    blocks: tuple[Block, ...]
    chain: Chain
    controls: tuple[Control, ...]
    strongest_over_s9_db: float
    nodes: tuple[str, ...]
    own_noise_dbm: Array
    band_noise_levels_dbm: Array
    s9_dbm: Array
    strong_dbm: Array
    strong_taken_db: tuple[float, ...]
    overload_dbm: Array
    headroom_db: tuple[float | None, ...]
    gain_db: float
    summed_gain_db: float
    noise_figure_db: float
    friis_noise_figure_db: float
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

    def station(self, over_s9_db: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """The levels of a station so far over S9 [dB] from antenna to speaker [dBm], without any overload,
        and what each control takes out for it [dB].
        """
        full_up = [float(each) + over_s9_db for each in self.s9_dbm]
        taken = taken_db(self.controls, full_up[-1])
        return tuple(each - self.taken_before(place, taken) for place, each in enumerate(full_up)), taken

    def controlled(self, place: int) -> bool:
        """Whether a control stands ahead of a place."""
        return any(control.place < place for control in self.controls)

    def taken_before(self, place: int, taken_db: tuple[float, ...]) -> float:
        """What the controls ahead of a place take out together [dB], when each takes so much [dB]."""
        return sum(
            each for each, control in zip(taken_db, self.controls, strict=True) if control.place < place
        )


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


def speaker_ohm(blocks: tuple[Block, ...], speaker: Speaker) -> float:
    """What the last stage of a receiver works into [ohm]: the speaker, where that stage is a circuit; one of
    which only figures are known gives its power to whatever there is.
    """
    real = bool(blocks) and blocks[-1].zone == "audio" and blocks[-1].port is not None
    return speaker.impedance_ohm if real else NOMINAL_OHM


@lru_cache(maxsize=64)
def receive(
    blocks: tuple[Block, ...],
    band: str,
    dial_hz: float,
    bandwidth_hz: float,
    station: Station,
    speaker: Speaker,
    controls: tuple[Control, ...] = (),
) -> ReceiveLevels:
    """Levels from antenna to speaker for one dial frequency [Hz] in a noise bandwidth [Hz].

    The bandwidth is the ladder's noise bandwidth throughout; before the ladder the noise is really wider,
    which is of no consequence for what comes out.
    """
    made = chain(blocks, load_ohm=speaker_ohm(blocks, speaker))
    placed, along = made.blocks, made.passed_db[:, SIGNAL]
    floor = thermal_noise_dbm(bandwidth_hz)
    own = floor + made.own_db
    outside = band_noise_dbm(station.environment, dial_hz, bandwidth_hz, station.antenna_loss_db)
    strong = S9_DBM + station.strongest_over_s9_db + along
    taken = taken_db(controls, float(strong[-1]))
    for control, mine in zip(controls, taken, strict=True):
        strong[control.place + 1 :] -= mine
    headroom = tuple(
        None if each.p1db_in_dbm is None else each.p1db_in_dbm - float(strong[position])
        for position, each in enumerate(placed)
    )
    narrow = next((p for p, each in enumerate(placed) if each.role == "channel_filter"), len(placed) - 1)
    noise_figure = made.noise_figure_db
    mds = floor + noise_figure
    # What reaches the speaker: band noise and own noise together, held by what the audio stage can give.
    at_speaker = added_db(outside + float(along[-1]), float(own[-1]))
    limits = (each.p1db_out_dbm for each in reversed(placed) if each.role == "audio")
    most = next((limit for limit in limits if limit is not None), inf)
    sound = speaker.at_ear_db_spl + min(at_speaker, most) - 30
    return ReceiveLevels(
        band=band,
        dial_hz=dial_hz,
        bandwidth_hz=bandwidth_hz,
        blocks=placed,
        chain=made,
        controls=controls,
        strongest_over_s9_db=station.strongest_over_s9_db,
        nodes=("Antenna", *(each.name for each in placed)),
        own_noise_dbm=frozen(own),
        band_noise_levels_dbm=frozen(outside + along),
        s9_dbm=frozen(S9_DBM + along),
        strong_dbm=frozen(strong),
        strong_taken_db=taken,
        overload_dbm=frozen(_overload_dbm(placed, controls)),
        headroom_db=headroom,
        gain_db=float(along[-1]),
        summed_gain_db=sum(each.gain_db for each in blocks),
        noise_figure_db=noise_figure,
        friis_noise_figure_db=noise_figure_db(blocks),
        image_noise_db=made.image_db("rf"),
        detector_image_noise_db=made.image_db("if"),
        iip3_dbm=iip3_dbm(placed),
        iip3_to_filter_dbm=iip3_dbm(placed[: narrow + 1]),
        mds_dbm=mds,
        band_noise_dbm=outside,
        noise_margin_db=outside - mds,
        noise_above_own=outside - mds >= station.noise_margin_db,
        speaker_noise_db_spl=sound,
        noise_heard=sound >= speaker.wanted_db_spl,
    )


def _overload_dbm(blocks: tuple[Block, ...], controls: tuple[Control, ...]) -> Array:
    """Level at each place with which the first stage from there on overloads [dBm]."""
    ranges = {each.place: each.range_db for each in controls}
    found = np.full(len(blocks) + 1, np.inf)
    for position in range(len(blocks) - 1, -1, -1):
        each = blocks[position]
        found[position] = found[position + 1] - each.gain_db + ranges.get(position, 0.0)
        if each.p1db_in_dbm is not None and each.role != "audio":
            found[position] = min(each.p1db_in_dbm, found[position])
    return found
