"""Figures of the receiver: as a whole, by S level, beside strong stations, and of its own noise."""

from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.levels.chain import NoiseShare, noise_shares
from core.rig.levels.dynamic_range import DynamicRange
from core.rig.levels.receive import ReceiveLevels
from core.rig.levels.s_meter import SLevel

_CASCADE = "chain of two-ports with their noise, each between what stands beside it; a block is matched"
_INTERCEPTS = "cascade of the blocks' intercepts, voltages added"


def _own(key: str, title: str, what: str, source: str, unit: str = "dB", **how: Any) -> Figure[ReceiveLevels]:
    """A figure that stands under its own name among the receive levels."""
    given = {"places": 1} | how
    return Figure(
        key=key, title=title, what=what, source=source, get=lambda r: getattr(r, key), unit=unit, **given
    )


RECEIVE: Table[ReceiveLevels] = (
    band_label(lambda r: r.band),
    _own("gain_db", "gain", "From the antenna to the speaker, volume full up.", _CASCADE),
    _own("noise_figure_db", "noise figure", "Of the whole receiver, images and all.", _CASCADE),
    _own(
        "image_noise_db",
        "image noise",
        "What of the noise figure comes in through the receive mixer's image.",
        "noise folded at the mixer, a circuit as it is at the image, a block as for the signal",
    ),
    _own(
        "detector_image_noise_db",
        "detector's image noise",
        "What of the noise figure comes in through the detector's image, behind the ladder.",
        "noise folded at the detector, taken at one tone",
    ),
    Figure(
        key="noise_bandwidth_hz",
        title="noise bandwidth",
        what="Width of a rectangle that passes as much noise as the ladder.",
        source="integral of the ladder's exact response, referred to its loss at 1 kHz of speech",
        get=lambda r: r.bandwidth_hz,
        unit="Hz",
        digits=4,
    ),
    _own(
        "friis_noise_figure_db",
        "noise figure, added up",
        "What the stages' noise figures between 50 Ω add up to, without images: mismatch and folding are the "
        "difference.",
        "H. Friis, Proc. IRE 32 (1944) 419, from memory",
        listed=False,
    ),
    _own(
        "summed_gain_db",
        "gain, added up",
        "What the stages' gains between 50 Ω add up to.",
        "sum of the blocks' gains",
        listed=False,
    ),
    _own("iip3_dbm", "input intercept", "Third-order intercept at the antenna.", _INTERCEPTS, "dBm"),
    _own(
        "iip3_to_filter_dbm",
        "intercept ahead of the ladder",
        "The same for signals that the ladder keeps out.",
        _INTERCEPTS,
        "dBm",
    ),
    _own(
        "mds_dbm",
        "MDS",
        "Minimum discernible signal: as strong at the antenna as the receiver's own noise.",
        "−174 dBm/Hz, noise bandwidth and noise figure",
        "dBm",
    ),
    _own(
        "band_noise_dbm",
        "band noise",
        "What the antenna brings in the noise bandwidth.",
        "ITU-R P.372, the site's median, less the antenna's efficiency",
        "dBm",
    ),
    _own(
        "noise_margin_db",
        "band noise over own",
        "How far band noise lies above the receiver's own noise, both at the antenna.",
        "ITU-R P.372 against noise figure and noise bandwidth",
    ),
    Figure(
        key="noise_above_own",
        title="enough",
        what="Whether that is the margin asked in the station's settings.",
        source="band noise over own against the margin",
        get=lambda r: r.noise_above_own,
    ),
    Figure(
        key="noise_heard",
        title="heard",
        what="Whether band noise is loud enough over the room's.",
        source="noise at the ear against the room's noise; common practice, no source",
        get=lambda r: r.noise_heard,
    ),
    _own(
        "speaker_noise_db_spl",
        "noise at the ear",
        "How loud band noise is at the speaker.",
        "band noise through the whole gain, and the speaker's sensitivity",
        "dB SPL",
        places=0,
    ),
)

#: How loud band noise is, wherever it stands.
NOISE_AT_EAR = RECEIVE[-1]


def _station(key: str, title: str, what: str, source: str, unit: str = "dBm", **how: Any) -> Figure[SLevel]:
    given = {"places": 0, "signed": unit == "dBm"} | how
    return Figure(
        key=key, title=title, what=what, source=source, get=lambda s: getattr(s, key), unit=unit, **given
    )


_TURNED = "level at the antenna, the gains up to there, and what the controls take out"

S_METER: Table[SLevel] = (
    band_label(lambda s: s.band),
    label("name", "station", lambda s: s.name),
    _station(
        "antenna_dbm", "at the antenna", "Its level there.", "IARU Region 1 R.1 (1981): S9 is −73 dBm, S 6 dB"
    ),
    _station("mixer_dbm", "at the mixer", "Its level at the first mixer's input.", _TURNED),
    _station("ladder_dbm", "behind the ladder", "Its level behind the ladder.", _TURNED),
    _station(
        "over_noise_db",
        "over noise",
        "How far it stands over band noise and own noise together.",
        "its level against both noises, at the antenna",
        "dB",
    ),
    _station(
        "taken_db",
        "control takes",
        "How far volume control and AGC are turned down for it.",
        "what it would make full up against the audio held, as far as their range goes",
        "dB",
        absent="none",
    ),
    _station(
        "asked_w",
        "asks of audio",
        "What the last audio stage would give by its gain alone.",
        _TURNED,
        "W",
        places=None,
        digits=2,
        within=1e6,
    ),
    _station(
        "given_w",
        "audio gives",
        "What it gives.",
        "the same model curve of compression as in transmit",
        "W",
        places=None,
        digits=2,
    ),
    Figure(
        key="limited",
        title="gives way",
        what="The first stage that it drives beyond 1 dB of compression.",
        source="its level against the blocks' compression",
        get=lambda s: s.limited,
        absent="nothing",
    ),
)


def _strong(
    key: str, title: str, what: str, source: str, unit: str = "dB", **how: Any
) -> Figure[DynamicRange]:
    given = {"places": 0} | how
    return Figure(
        key=key, title=title, what=what, source=source, get=lambda d: getattr(d, key), unit=unit, **given
    )


_TONES = "intercepts added by voltage, each with what its tones lost on the way; crystals taken as linear"
_STAGE = "the blocks' compression against the gain up to each at the station's frequency"

DYNAMIC_RANGE: Table[DynamicRange] = (
    band_label(lambda d: d.band),
    Figure(
        key="spacing_hz",
        title="stations at",
        what="How far beside the signal; the second of two at twice that. The worse side counts.",
        source="what is asked",
        get=lambda d: d.spacing_hz or None,
        unit="Hz",
        digits=2,
        absent="pass-band",
    ),
    _strong("iip3_dbm", "input intercept", "Third-order intercept at the antenna.", _TONES, "dBm", places=1),
    Figure(
        key="products_by",
        title="made by",
        what="The stage that makes most of the products.",
        source=_TONES,
        get=lambda d: None if d.products_by is None else d.products_by.name,
    ),
    _strong(
        "third_order_db",
        "third-order range",
        "How far above the own noise two stations may be until their product is as strong as it.",
        "2/3 of the intercept over the MDS",
    ),
    _strong("compression_dbm", "compression", "Level of one station that takes 1 dB of gain.", _STAGE, "dBm"),
    Figure(
        key="compresses",
        title="of",
        what="The first stage that compresses; audio stages are left out.",
        source=_STAGE,
        get=lambda d: d.compresses,
    ),
    _strong("blocking_db", "blocking range", "That level over the own noise.", _STAGE),
    _strong(
        "reciprocal_db",
        "reciprocal mixing",
        "How far above the own noise one station may be until the VFO's noise makes as much.",
        "the VFO's noise as stated, an estimate until measured, falling by 20 dB a decade, in the noise "
        "bandwidth",
        absent="none",
    ),
    Figure(
        key="limit",
        title="first limit",
        what="What of the three comes first.",
        source="the least of the three ranges",
        get=lambda d: d.limit,
    ),
)


@record
class Noisy:
    """A part of the own noise on a band."""

    band: str
    part: NoiseShare


def noise_on(analysis: Analysis, band: str, dial_hz: float | None = None) -> list[Noisy]:
    """The parts of the own noise on a band along the path, with the dial as for `receive` [Hz]."""
    return [Noisy(band, each) for each in noise_shares(analysis.receive(band, dial_hz).chain)]


_ALONE = "output noise with this alone noisy, each stage between what stands beside it"

OWN_NOISE: Table[Noisy] = (
    band_label(lambda n: n.band),
    label("name", "stage", lambda n: n.part.name),
    Figure(
        key="image",
        title="from",
        what="Whether it is the stage's own, or what a mixer folds in from its image.",
        source="noise folded at the mixers, beyond that of a resistor at 290 K",
        get=lambda n: "its image" if n.part.image else "itself",
    ),
    Figure(
        key="share",
        title="share",
        what="Its part of all the noise that the receiver makes itself.",
        source=_ALONE,
        get=lambda n: n.part.share * 100,
        unit="%",
        places=1,
    ),
    Figure(
        key="alone_db",
        title="noise figure if alone",
        what="What the receiver's noise figure would be if nothing else in it made noise.",
        source=_ALONE,
        get=lambda n: n.part.alone_db,
        unit="dB",
        places=2,
    ),
)
