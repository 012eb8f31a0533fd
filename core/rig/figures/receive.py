"""Figures of the receiver as a whole."""

from typing import Any

from core.rig.figures.figure import Figure, Table, band_label
from core.rig.levels.receive import ReceiveLevels

_CASCADE = "cascade of the blocks' gains and noise figures at the dial frequency"
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
        "noise folded at the mixer; gain and noise figure taken to be the same at the image",
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
