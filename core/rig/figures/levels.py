"""Figures of levels: of the transmitter as a whole, and of one stage of the path in either direction."""

from collections.abc import Callable
from dataclasses import replace
from math import inf
from typing import Any

import numpy as np

from core.model.project import Project
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, Table, band_label, by_key, label
from core.rig.levels import oscillator_drive
from core.rig.levels.blocks import SIGNAL, Block
from core.rig.levels.harmonics import Harmonic
from core.rig.levels.loops import Loop
from core.rig.levels.oscillator_drive import Drive
from core.rig.levels.receive import ReceiveLevels
from core.rig.levels.transmit import MicrophoneLevels, TransmitLevels
from core.stages.kinds.kind import NOMINAL_OHM, Driver

_TONES = "the blocks' output intercepts at the tones' levels, voltages added: the customary worst case"


def _worst(levels: TransmitLevels) -> str | None:
    at = levels.two_tones.worst
    return None if at is None else levels.blocks[at].name


@record(slots=False)
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
        key="driving_imd_dbc",
        title="two tones, driving the PA",
        what="Third-order products that reach the power amplifier, below either of two equal tones whose "
        "peaks are those of speech.",
        source=_TONES,
        get=lambda t: t.levels.two_tones.driving_dbc,
        unit="dBc",
        places=0,
    ),
    Figure(
        key="imd_dbc",
        title="two tones, antenna",
        what="The same at the antenna. What a power amplifier adds is an estimate by its intercept, which "
        "none follows far: no more than 30 dB below a tone is told.",
        source=_TONES,
        get=lambda t: t.levels.two_tones.antenna_dbc,
        unit="dBc",
        places=0,
    ),
    Figure(
        key="most_imd",
        title="most of it from",
        what="The stage that makes most of these products.",
        source=_TONES,
        get=lambda t: _worst(t.levels),
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


@record(slots=False)
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


def _comes_back_db(block: Block) -> float | None:
    """What comes back through a stage [dB]; None where nothing does."""
    if block.reverse_db is not None:
        return block.reverse_db
    if block.port is not None:
        with np.errstate(divide="ignore"):
            found = 20 * float(np.log10(np.abs(block.port.s(NOMINAL_OHM)[0, 1, SIGNAL])))
        return found if found > -inf else None
    return block.gain_db if block.passive else None


BLOCK: Table[BlockOn] = (
    _at("gain_db", "gain", "Of the stage at the dial frequency.", lambda b: b.block.gain_db, "dB", _TYPED),
    Figure(
        key="reverse_db",
        title="from output to input",
        what="What of a signal at the output comes back at the input, in the chain of levels too; a stage "
        "with typed figures that states no isolation counts as one-way.",
        source="the stage's isolation as typed in, its kind's usual one, or its circuit",
        get=lambda b: _comes_back_db(b.block),
        unit="dB",
        places=1,
        absent="nothing: one-way",
    ),
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
    _received("strong_dbm", "strongest station at its output", "What the strongest station has become."),
    _received("band_noise_levels_dbm", "band noise at its output", "What the band's noise has become."),
    _received("own_noise_dbm", "own noise at its output", "The receiver's own noise up to there."),
    _at(
        "headroom_db",
        "headroom at the strongest station",
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
    _at(
        "wanted_dbm",
        "level that it wants there",
        "What would have to drive it for the power wanted at the antenna; nothing where a stage behind it "
        "cannot give that.",
        lambda b: b.transmit and b.transmit.wanted_dbm[b.place],
        source="the power wanted and the gains from the antenna back, each stage compressed along the curve",
    ),
    _at("level_dbm", "level at its output, speech peaks", "What the stage gives.", _sent(1)),
    _at(
        "share_dbc",
        "its own two-tone products",
        "Third-order products that it makes of two tones whose peaks are those of speech.",
        lambda b: b.transmit and b.transmit.two_tones.shares_dbc[b.place],
        "dBc",
        "its output intercept and the tones' level",
    ),
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
GAIN, S9_LEVEL, (LEVEL,) = BLOCK[0], BLOCK_RECEIVE[0], by_key(BLOCK_TRANSMIT, "level_dbm")
(OUTPUT,) = by_key(TRANSMIT, "output_w")
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


@record(slots=False)
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
    what="Gain of the small amplifier behind the oscillator, or of all that works behind it.",
    source="the oscillator's settings, or the levels along the stages behind it",
    get=lambda o: oscillator_drive.behind_db(o.project, o.driver),
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


def _spoken(key: str, title: str, what: str, source: str, unit: str, **how: Any) -> Figure[MicrophoneLevels]:
    return Figure(
        key=key, title=title, what=what, source=source, unit=unit, get=lambda m: getattr(m, key), **how
    )


_DIVIDER = "voltage divider of source and input"
MICROPHONE: Table[MicrophoneLevels] = (
    label("name", "type", lambda m: m.name),
    _spoken(
        "open_v",
        "speech peaks, open",
        "What it gives without a load, as a tone as loud as the peaks.",
        "as typed in, or typical of the type, from memory",
        "V",
        digits=2,
    ),
    _spoken(
        "source_ohm",
        "source impedance",
        "At 1 kHz.",
        "as typed in, or typical of the type, from memory",
        "Ω",
        digits=2,
    ),
    _spoken("input_v", "at the amplifier", "The voltage at the amplifier's input.", _DIVIDER, "V", digits=2),
    _spoken(
        "divider_db",
        "lost to its own impedance",
        "How far that lies below the open voltage.",
        _DIVIDER,
        "dB",
        places=1,
    ),
    _spoken(
        "level_dbm",
        "into the amplifier",
        "The power into the amplifier's input.",
        "square of the voltage over the input resistance",
        "dBm",
        places=1,
    ),
)

_ZONES = {"rf": "RF", "if": "IF"}


def _loop(key: str, title: str, what: str, get: Callable[[Loop], float], source: str) -> Figure[Loop]:
    return Figure(key=key, title=title, what=what, get=get, source=source, unit="-", places=0)


LOOPS: Table[Loop] = (
    label("way", "direction", lambda each: each.way),
    band_label(lambda each: each.band),
    label("zone", "at", lambda each: each.zone, words=lambda zone: _ZONES[zone]),
    label("stages", "stages", lambda each: each.stages, joint=", "),
    _loop(
        "gain_db",
        "gain, dB",
        "Of the amplifiers that work at one frequency, without the losses between them.",
        lambda each: each.gain_db,
        "the blocks' gains",
    ),
    _loop(
        "isolation_db",
        "isolation, dB",
        "From the last of them back to the first, through the box.",
        lambda each: each.isolation_db,
        "the station's settings; an assumption until measured",
    ),
    Figure(
        key="stage_db",
        title="round a stage, dB",
        what="Gain less reverse isolation of the stage with typed figures that lets most back, with ends "
        "that turn back all there is; one that states no isolation counts as one-way.",
        source="“Gain” and “Reverse isolation” of the stage",
        get=lambda each: None if each.lets_back is None else each.stage_db,
        unit="-",
        places=0,
        absent="none stated",
    ),
    _loop(
        "loop_db",
        "once round, dB",
        "Gain less isolation, and what comes round a stage in phase with it: above zero it can howl.",
        lambda each: each.loop_db,
        "gain and isolation",
    ),
)
