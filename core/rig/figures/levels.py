"""Figures of levels: of the transmitter as a whole, and of one stage of the path in either direction."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from core.model.project import Project
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, band_label, label
from core.rig.levels import oscillator_drive
from core.rig.levels.blocks import Block
from core.rig.levels.levels import Harmonic, TransmitLevels
from core.rig.levels.oscillator_drive import Drive
from core.rig.levels.receive import ReceiveLevels
from core.stages.kinds.kind import Driver


@dataclass(frozen=True)
class Sent:
    """The transmitter on a band with its harmonics."""

    levels: TransmitLevels
    harmonics: tuple[Harmonic, ...]


TRANSMIT: Table[Sent] = (
    band_label(lambda t: t.levels.band),
    Figure(
        key="output_w",
        title="output",
        what="Peak envelope power into the antenna.",
        source="cascade of the blocks' gains, each compressed along one model curve",
        get=lambda t: t.levels.output_w,
        unit="W",
    ),
    Figure(
        key="worst_headroom_db",
        title="least headroom",
        what="How far the stage driven hardest stays below losing 1 dB of its gain.",
        source="levels at speech peaks against the blocks' compression",
        get=lambda t: t.levels.worst_headroom_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="worst_harmonic_dbc",
        title="strongest harmonic",
        what="The strongest harmonic that leaves; the power amplifier's own level is an assumption.",
        source="the power amplifier's level less what all filters behind it take away",
        get=lambda t: max((h.result_dbc for h in t.harmonics), default=None),
        unit="dBc",
        places=1,
    ),
)


@dataclass(frozen=True)
class BlockOn:
    """One stage of a path with the levels at it."""

    block: Block
    place: int
    receive: ReceiveLevels | None
    transmit: TransmitLevels | None


_TYPED = "the stage's figures as typed in, or its kind's usual ones; of a filter its exact loss"
_ALONG = "level at the antenna or microphone and the gains up to there"


def _at(
    key: str, title: str, what: str, get: Callable[[BlockOn], Any], unit: str = "dBm", source: str = _ALONG
) -> Figure[BlockOn]:
    signed = unit == "dBm" or key == "gain_db"
    return Figure(key=key, title=title, what=what, source=source, get=get, unit=unit, places=1, signed=signed)


BLOCK: Table[BlockOn] = (
    _at("gain_db", "gain", "Of the stage at the dial frequency.", lambda b: b.block.gain_db, "dB", _TYPED),
    _at("noise_figure_db", "noise figure", "Of the stage.", lambda b: b.block.noise_figure_db, "dB", _TYPED),
    _at(
        "iip3_dbm",
        "third-order intercept, input",
        "Where two tones' third-order products would be as strong as they, at the stage's input.",
        lambda b: b.block.iip3_dbm,
        source=_TYPED,
    ),
    _at(
        "p1db_out_dbm",
        "1 dB compression, output",
        "What the stage gives where its gain has fallen by 1 dB.",
        lambda b: b.block.p1db_out_dbm,
        source=_TYPED,
    ),
)


def _received(key: str, title: str, what: str) -> Figure[BlockOn]:
    return _at(key, title, what, lambda b: b.receive and float(getattr(b.receive, key)[b.place + 1]))


def _headroom(of: BlockOn) -> float | None:
    levels = of.receive or of.transmit
    return None if levels is None else levels.headroom_db[of.place]


BLOCK_RECEIVE: Table[BlockOn] = (
    _received("s9_dbm", "S9 at its output", "What a signal of S9 (−73 dBm at the antenna) has become."),
    _received("strong_dbm", "S9 + 40 dB at its output", "What a very strong signal has become."),
    _received("band_noise_levels_dbm", "band noise at its output", "What the band's noise has become."),
    _received("own_noise_dbm", "own noise at its output", "The receiver's own noise up to there."),
    _at(
        "headroom_db",
        "headroom at S9 + 40 dB",
        "How far its input stays below that at which its gain is 1 dB less, with the controls ahead of it "
        "turned down for such a signal.",
        _headroom,
        "dB",
        "the strong signal's level against the block's compression",
    ),
)


def _sent(offset: int) -> Callable[[BlockOn], Any]:
    return lambda b: b.transmit and float(b.transmit.level_dbm[b.place + offset])


BLOCK_TRANSMIT: Table[BlockOn] = (
    _at("input_dbm", "level at its input, speech peaks", "What drives the stage.", _sent(0)),
    _at("level_dbm", "level at its output, speech peaks", "What the stage gives.", _sent(1)),
    _at(
        "headroom_db",
        "headroom",
        "How far its input stays below that at which its gain is 1 dB less.",
        _headroom,
        "dB",
        "its level against the block's compression",
    ),
)


#: How levels and gains are written wherever they stand.
GAIN, LEVEL, S9_LEVEL = BLOCK[0], BLOCK_TRANSMIT[1], BLOCK_RECEIVE[0]
OUTPUT = TRANSMIT[1]
#: Headroom in whole decibels, where there is no room for more: in receive and in transmit.
HEADROOM_RECEIVE, HEADROOM_TRANSMIT = (
    replace(table[-1], places=0) for table in (BLOCK_RECEIVE, BLOCK_TRANSMIT)
)


def _drive(key: str, title: str, what: str, source: str, **how: Any) -> Figure[Drive]:
    given: dict[str, Any] = {"unit": "dBm", "signed": True, "get": lambda d: getattr(d, key)} | how
    return Figure(key=key, title=title, what=what, source=source, places=0, **given)


#: An oscillator's level at a mixer that it drives.
DRIVE: Table[Drive] = (
    label("name", "mixer", lambda d: d.name),
    _drive("wanted_dbm", "wants", "The drive that the mixer is made for.", "the mixer's settings"),
    _drive(
        "delivered_dbm", "gets", "What the oscillator delivers to the mixer.", "the oscillator's settings"
    ),
    _drive(
        "missing_db",
        "missing",
        "How far the drive falls short.",
        "what the mixer wants less what it gets",
        unit="dB",
        signed=False,
        get=lambda d: d.missing_db if d.missing_db > 0 else None,
        absent="nothing",
    ),
)


DELIVERED = DRIVE[2]


@dataclass(frozen=True)
class OscillatorOf:
    """The VFO or the carrier oscillator of a rig."""

    project: Project
    driver: Driver


BARE = Figure[OscillatorOf](
    key="bare_dbm",
    title="oscillator itself",
    what="What the oscillator itself must give, before its own amplifier and the split between mixers.",
    source="its output less that amplifier's gain, and what an even split takes",
    get=lambda o: oscillator_drive.bare_dbm(o.project, o.driver),
    unit="dBm",
    places=0,
    signed=True,
)
OWN_GAIN = Figure[OscillatorOf](
    key="amplifier_gain_db",
    title="own amplifier",
    what="Gain of the small amplifier behind the oscillator.",
    source="the oscillator's settings",
    get=lambda o: (o.project.vfo if o.driver == "vfo" else o.project.carrier).amplifier_gain_db,
    unit="dB",
    places=0,
)
OSCILLATOR: Table[OscillatorOf] = (BARE, OWN_GAIN)


def sent(analysis: Analysis, band: str) -> Sent:
    """The transmitter on a band."""
    return Sent(analysis.transmit(band), analysis.harmonics(band))


def block_on(analysis: Analysis, place: int, band: str, way: str, dial_hz: float) -> BlockOn:
    """The stage at a place of the path in a direction, with the dial at `dial_hz` [Hz]."""
    if way == "receive":
        r = analysis.receive(band, dial_hz)
        return BlockOn(r.blocks[place], place, r, None)
    t = analysis.transmit(band, dial_hz)
    return BlockOn(t.blocks[place], place, None, t)
