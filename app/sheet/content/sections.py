"""All sections of a sheet in their order."""

from collections.abc import Collection, Iterator

from app.sheet.content import bench, front, paths, stages
from app.sheet.content.blocks import Section
from app.sheet.content.groups import ALL
from core.rig.paper.sheet_model import BuildSheet


def sections(sheet: BuildSheet, printed: str, chosen: Collection[str] = ALL) -> list[Section]:
    """The title block and the sections of the groups chosen."""
    return [front.title(sheet, printed), *(each for each in _all(sheet) if each.group in chosen)]


def _all(sheet: BuildSheet) -> Iterator[Section]:
    yield front.plan(sheet)
    if sheet.paths:
        yield paths.levels(sheet)
    yield from map(paths.receiver, sheet.receiver)
    yield bench.switching(sheet)
    if sheet.fed is not None:
        yield stages.supply(sheet.fed, sheet)
    yield bench.order(sheet)
    circuits = ((each.stage, stages.circuit(each, sheet)) for each in sheet.filters)
    plain = ((each.stage, stages.plain(each, sheet)) for each in sheet.plain)
    for _, section in sorted((*circuits, *plain), key=lambda each: sheet.order.index(each[0])):
        yield section
    yield from (stages.circuit(each, sheet) for each in sheet.oscillators)
    if sheet.vfo is not None:
        yield stages.vfo(sheet.vfo, sheet)
    if sheet.read_out is not None:
        yield stages.read_out(sheet.read_out)
    yield bench.aligned(sheet)
    if sheet.purity:
        yield bench.checks(sheet)
    yield bench.parts(sheet)
    if sheet.photographs:
        yield bench.photographs(sheet)
    yield bench.findings(sheet)
