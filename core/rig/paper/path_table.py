"""The signal path as tables: gain, level and headroom of each stage in either direction, on every band."""

from typing import TypeVar

from core.model.stages.stage import Way
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, by_key
from core.rig.figures.levels import TRANSMIT, sent
from core.rig.figures.receive import RECEIVE
from core.rig.levels.blocks import Block
from core.rig.levels.receive import ReceiveLevels
from core.stages.kinds.kind import Driver
from core.stages.kinds.table import KINDS

T = TypeVar("T")


@record(kw_only=True)
class PathRow:
    """One stage as printed, a figure a band: gain [dB], level behind it [dBm], headroom [dB].

    `short` is what it is in a word, `driver` the oscillator of a mixer.
    """

    name: str
    gain_db: tuple[float, ...]
    level_dbm: tuple[float, ...]
    headroom_db: tuple[float | None, ...]
    stage: str
    short: str
    driver: Driver | None


@record(kw_only=True)
class PathTable:
    """One direction: what the levels stand for, the level at its start, and its stages."""

    way: Way
    title: str
    start: str
    start_dbm: tuple[float, ...]
    rows: tuple[PathRow, ...]
    summary: tuple[str, ...]


def received(analysis: Analysis, bands: tuple[str, ...]) -> PathTable:
    """The receiver."""
    levels = [analysis.receive(name) for name in bands]
    rows = tuple(
        _row(
            analysis,
            block,
            "receive",
            tuple(r.blocks[n].gain_db for r in levels),
            tuple(float(r.s9_dbm[n + 1]) for r in levels),
            tuple(r.headroom_db[n] for r in levels),
        )
        for n, block in enumerate(levels[0].blocks)
    )
    summary = tuple(
        f"{spelled(name)}: {_told(RECEIVE, r, 'noise_figure_db')}{_folded(r)}, "
        f"{_told(RECEIVE, r, 'mds_dbm', 'noise_margin_db', 'speaker_noise_db_spl')}"
        for name, r in zip(bands, levels, strict=True)
    )
    return PathTable(
        way="receive",
        title=f"Receive: levels for an S9 signal; headroom at S9 + {levels[0].strongest_over_s9_db:g} dB, "
        + ("with the controls turned down for it" if levels[0].controls else "with the volume fully up"),
        start="Antenna",
        start_dbm=tuple(float(r.s9_dbm[0]) for r in levels),
        rows=rows,
        summary=summary,
    )


def _row(
    analysis: Analysis,
    block: Block,
    way: Way,
    gain_db: tuple[float, ...],
    level_dbm: tuple[float, ...],
    headroom_db: tuple[float | None, ...],
) -> PathRow:
    kind, stage = KINDS[block.kind], analysis.project.stage(block.stage)
    short = kind.short(block.zone, way)
    return PathRow(
        name=block.name,
        gain_db=gain_db,
        level_dbm=level_dbm,
        headroom_db=headroom_db,
        stage=block.stage,
        short=short,
        driver=kind.driver(stage),
    )


def _told(table: Table[T], of: T, *keys: str) -> str:
    """Figures of a result in a row, by their titles."""
    return ", ".join(f"{figure.title} {figure.text(of)}" for figure in by_key(table, *keys))


def _folded(r: ReceiveLevels) -> str:
    """What of the noise figure comes in through the mixers' images."""
    images = zip(
        by_key(RECEIVE, "image_noise_db", "detector_image_noise_db"),
        ("the image", "the detector's image"),
        strict=True,
    )
    told = [f"{each.text(r)} of it from {name}" for each, name in images if each.get(r) >= 0.05]
    return f" ({', '.join(told)})" if told else ""


def transmitted(analysis: Analysis, bands: tuple[str, ...]) -> PathTable:
    """The transmitter."""
    levels = [analysis.transmit(name) for name in bands]
    rows = tuple(
        _row(
            analysis,
            block,
            "transmit",
            tuple(t.blocks[n].gain_db for t in levels),
            tuple(float(t.level_dbm[n + 1]) for t in levels),
            tuple(t.headroom_db[n] for t in levels),
        )
        for n, block in enumerate(levels[0].blocks)
    )
    summary = []
    for name in bands:
        of = sent(analysis, name)
        made_of_parts = analysis.sending is not None and "estimate" in analysis.sending.source
        known = "estimate" if made_of_parts else "assumption"
        tail = f", {_told(TRANSMIT, of, 'worst_harmonic_dbc')} (power amplifier's is an {known})"
        summary.append(
            f"{spelled(name)}: {_told(TRANSMIT, of, 'output_w')} PEP, {_told(TRANSMIT, of, 'imd_dbc')}"
            f"{tail if of.harmonics else ''}"
        )
    return PathTable(
        way="transmit",
        title="Transmit: levels on speech peaks; compression by a model curve",
        start="Microphone",
        start_dbm=tuple(float(t.level_dbm[0]) for t in levels),
        rows=rows,
        summary=tuple(summary),
    )
