"""Levels: the signal path in either direction, and the receiver in detail."""

from collections.abc import Mapping

from app.sheet.content.blocks import Block, Diagram, DiagramBox, Heading, Picture, Section, grid, words
from app.style import words as spelling
from core.rig.figures.figure import keyed
from core.rig.figures.levels import BLOCK, BLOCK_TRANSMIT
from core.rig.figures.receive import DYNAMIC_RANGE, OWN_NOISE, S_METER
from core.rig.paper.path_table import PathTable
from core.rig.paper.receiver import ReceiverSection
from core.rig.paper.sheet_model import BuildSheet
from core.rig.workshop.point_figures import POINT
from core.rig.workshop.test_points import TestPoint

#: What the grounds of a bar of noise say.
_GROUNDS = "White: filters and pads; darkest: mixers; dashed edge: what comes in by an image."
_DRIVERS = {"vfo": "VFO", "carrier": "carrier", None: ""}
_POINT, _BLOCK, _NOISE = keyed(POINT), keyed((*BLOCK, *BLOCK_TRANSMIT)), keyed(OWN_NOISE)


def levels(sheet: BuildSheet) -> Section:
    """Gain, level and headroom of each stage."""
    drives = {each.stage: each for each in sheet.points if each.place == "drive"}
    blocks = tuple(
        block
        for table in sheet.paths
        for block in (
            Heading(table.title),
            Picture(_diagram(table, sheet.bands, drives)),
            *_path(table, sheet.bands),
        )
    )
    return Section("levels", "Signal path", blocks)


def _diagram(table: PathTable, bands: tuple[str, ...], drives: Mapping[str, TestPoint]) -> Diagram:
    """The same as blocks, the level in dBm behind each."""
    boxes = []
    for row in table.rows:
        drive = drives.get(row.stage)
        driven = "" if drive is None else f"{_DRIVERS[row.driver]} {_POINT['level_dbm'].text(drive)}"
        levels = tuple(_BLOCK["level_dbm"].bare(level) for level in row.level_dbm)
        boxes.append(DiagramBox(row.name, row.short, driven, levels))
    start = tuple(_BLOCK["level_dbm"].bare(level) for level in table.start_dbm)
    return Diagram(tuple(map(spelling.band, bands)), table.start, start, tuple(boxes))


def _path(table: PathTable, bands: tuple[str, ...]) -> tuple[Block, ...]:
    def bare(value: float | None, key: str) -> str:
        return "" if value is None else _BLOCK[key].bare(value)

    titles = ["stage"]
    for band in bands:
        titles += [f"{spelling.band(band)}: gain, dB", "level, dBm", "headroom, dB"]
    start = [table.start]
    for level in table.start_dbm:
        start += ["", bare(level, "level_dbm"), ""]
    lines = [tuple(start)]
    for row in table.rows:
        cells = [row.name]
        for n in range(len(bands)):
            cells += [
                bare(row.gain_db[n], "gain_db"),
                bare(row.level_dbm[n], "level_dbm"),
                bare(row.headroom_db[n], "headroom_db"),
            ]
        lines.append(tuple(cells))
    told = tuple(words(line, "soft") for line in table.summary)
    return grid(tuple(titles), tuple(lines), wide=0), *told


def receiver(section: ReceiverSection) -> Section:
    """The receiver's noise, what it bears, and every S level, on one band."""
    blocks: list[Block] = []
    if section.noise:
        told = "; ".join(
            f"{n} {each.part.name}{', image' if each.part.image else ''} {_NOISE['share'].text(each)}"
            for n, each in enumerate(section.noise, 1)
        )
        blocks += [Heading("Its own noise, stage upon stage"), Picture(section)]
        blocks += [words(f"{told}. {_GROUNDS}", "soft")]
    first, *others = DYNAMIC_RANGE[1:]
    titles = (first.title, *(first.text(each) for each in section.ranges))
    ranges = tuple((figure.title, *(figure.text(each) for each in section.ranges)) for figure in others)
    stations = tuple(tuple(figure.text(each) for figure in S_METER[1:]) for each in section.stations)
    heads = tuple(figure.title for figure in S_METER[1:])
    blocks += [
        Heading("Strong stations beside the signal"),
        grid(titles, ranges, len(titles)),
        Heading("A station by its S level"),
        grid(heads, stations, len(heads)),
    ]
    return Section("receiver", f"Receiver on {spelling.band(section.band)}", tuple(blocks))
