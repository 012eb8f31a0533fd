"""Figures of a test point: what a meter, an oscilloscope and a power meter should show there."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.figures.levels import LEVEL
from core.rig.workshop.test_points import TestPoint

_BIAS = "Newton's method on the circuit's direct currents"
_OF_LEVEL = "the level in the load named: U = √(P R)"


def _at(
    key: str, title: str, what: str, source: str, unit: str, get: Callable[[TestPoint], Any], **how: Any
) -> Figure[TestPoint]:
    return Figure(key=key, title=title, what=what, source=source, unit=unit, get=get, **how)


def _good(key: str, unit: str, of: str, places: int | None) -> Figure[TestPoint]:
    """The limits of what is known of a point in this unit."""
    return _at(
        f"good_{key}",
        "good from",
        "Between what a good reading lies: a voltage ±10 %, a current ±20 %, a level ±3 dB.",
        "common practice, no source",
        unit,
        lambda p: None if getattr(p, of) is None else p.limits,
        places=places,
        keys=(f"least_{key}", f"most_{key}"),
        listed=False,
    )


#: A level is written as those of the signal path are.
POINT: Table[TestPoint] = (
    _at(
        "dc_v",
        "volts",
        "Direct voltage to ground, with no signal.",
        _BIAS,
        "V",
        lambda p: p.dc_v,
        places=2,
    ),
    _at(
        "dc_a", "current", "Direct current of the whole stage, with no signal.", _BIAS, "A", lambda p: p.dc_a
    ),
    _at(
        "level_dbm",
        "level",
        "Level of the signal that is put in for it, in the load named.",
        LEVEL.source,
        "dBm",
        lambda p: p.level_dbm,
        places=LEVEL.places,
        signed=LEVEL.signed,
    ),
    _at(
        "power_w",
        "power",
        "The same as a power.",
        "the level turned into watts",
        "W",
        lambda p: p.power_w,
        listed=False,
    ),
    _at("rms_v", "rms", "Voltage across the load.", _OF_LEVEL, "V", lambda p: p.rms_v),
    _at(
        "peak_to_peak_v",
        "peak to peak",
        "The same from peak to peak, as an oscilloscope shows it.",
        "a sine's 2√2 times its rms value",
        "V",
        lambda p: p.peak_to_peak_v,
    ),
    _at(
        "load_ohm",
        "in",
        "What stands there while it is read, in the rig or in its place.",
        "50 Ω at radio frequencies; in audio what follows",
        "Ω",
        lambda p: p.load_ohm,
    ),
    _at("at_hz", "at", "Frequency of the signal.", "the frequency plan", "Hz", lambda p: p.at_hz, digits=5),
    _good("v", "V", "dc_v", 2),
    _good("a", "A", "dc_a", None),
    _good("dbm", "dBm", "level_dbm", LEVEL.places),
)
#: The same with what tells a point from others before it.
POINTS: Table[TestPoint] = (
    replace(label("key", "test point", lambda p: p.key), listed=False),
    label("stage", "stage", lambda p: p.stage),
    label("words", "place", lambda p: p.words),
    label("way", "direction", lambda p: p.way),
    band_label(lambda p: p.band),
    replace(label("signal", "with", lambda p: p.signal), listed=False),
    *POINT,
)
