"""Work at the bench: order of work, alignment, switching, checks before an antenna, parts, findings."""

from collections.abc import Sequence
from math import inf

from app.sheet.content.blocks import (
    BLANK,
    Beside,
    Block,
    Column,
    Grid,
    Heading,
    Line,
    Picture,
    Run,
    Section,
    Words,
    grid,
    stacked,
    words,
)
from app.style import words as spelling
from core.model.notebook.bench_log import Photograph
from core.rig.figures.figure import by_key
from core.rig.figures.levels import LEVEL
from core.rig.figures.products import HARMONICS, SPURS
from core.rig.paper.sheet_model import BuildSheet
from core.rig.workshop.checks import Purity
from core.rig.workshop.steps import Step

_AT, _LEAVES, _LIMIT, _IN_HAND = by_key(HARMONICS, "frequency_hz", "result_dbc", "limit_dbc", "margin_db")
_PRODUCTS, _SPUR_LEVEL = by_key(SPURS, "products", "level")


def order(sheet: BuildSheet) -> Section:
    """What is built after what, and what must be read before the next."""
    told = words("One step after the other: go on when every reading of a step is good.", "soft")
    return Section("work", "Order of work", (told, _steps(sheet.work)))


def aligned(sheet: BuildSheet) -> Section:
    """Alignment of the finished rig."""
    return Section("alignment", "Alignment", (_steps(sheet.alignment),))


def _steps(steps: Sequence[Step]) -> Grid:
    columns = (
        Column("", right=True),
        Column("step", wide=True, least=0.33),
        Column("reading"),
        Column("expected", right=True),
        Column("good", right=True),
        Column("read", right=True),
    )
    lines = []
    for n, step in enumerate(steps, 1):
        with_what = f" Instrument: {step.instrument}." if step.instrument else ""
        do = f"{step.title}. {step.do}{with_what}"
        # A range stays whole; names give way.
        told = [(each.what, each.expected, each.good.replace(" ", "\u00a0"), BLANK) for each in step.readings]
        told = told or [("", "", "", BLANK)]
        lines.append(Line((str(n), do, *(stacked(column) for column in zip(*told, strict=True)))))
    return Grid(columns, tuple(lines))


def switching(sheet: BuildSheet) -> Section:
    """What is switched in which direction and on which band, and what feeds it."""
    by_band = tuple((row.name, *row.bands) for row in sheet.switched if any(row.bands))
    bands = ("", *map(spelling.band, sheet.bands))
    blocks = (*(_fed(sheet) or _ways(sheet)), Heading("By band"), grid(bands, by_band, len(bands)))
    return Section("supply", "Switching and supply" if sheet.supply else "Switching", blocks)


def _ways(sheet: BuildSheet) -> tuple[Block, ...]:
    """Who is fed in which direction, where no supply is planned."""
    ways: dict[tuple[str, str], list[str]] = {}
    for row in sheet.switched:
        if row.receive != row.transmit:
            ways.setdefault((row.receive, row.transmit), []).append(row.name)
    by_way = tuple(Line((", ".join(names), *both)) for both, names in ways.items())
    columns = (Column("", wide=True), Column("receive"), Column("transmit"))
    rest = "What is not told here stays in its place and fed. Never feed both directions at once."
    return Grid(columns, by_way), words(rest, "soft")


def _fed(sheet: BuildSheet) -> tuple[Block, ...]:
    """The supply's tables, narrow ones two abreast."""
    blocks: list[Block] = []
    narrow: list[tuple[Block, ...]] = []
    for table in sheet.supply:
        made = (Heading(table.title), grid(table.heads, table.lines, len(table.heads)))
        if table.wide:
            blocks += made
        else:
            narrow.append(made)
    half = -(-len(narrow) // 2)
    left, right = (tuple(b for pair in part for b in pair) for part in (narrow[:half], narrow[half:]))
    at = next((n for n, table in enumerate(sheet.supply) if not table.wide), 0)
    return (*blocks[: 2 * at], *((Beside(left, right, shares=(0.5,)),) if left else ()), *blocks[2 * at :])


def checks(sheet: BuildSheet) -> Section:
    """Harmonics and other products, into the dummy load, before an antenna is connected."""
    blocks: list[Block] = [
        words(
            "Full power into the dummy load; a spectrum analyser behind 40 dB or more, or a receiver behind "
            "a step attenuator that is set for the same reading on each. Connect an antenna only when every "
            "line keeps its limit."
        )
    ]
    for each in sheet.purity:
        blocks += _purity(each)
    return Section("checks", "Checks before the antenna", tuple(blocks))


def _purity(of: Purity) -> tuple[Block, ...]:
    lines = []
    for each in of.harmonics:
        # Beyond what the wiring lets through no level is told either.
        least = -(_LEAVES.within or inf)
        level = LEVEL.written(of.output_dbm + max(each.result_dbc, least))
        level = f"under {level}" if each.result_dbc < least else level
        told = (_AT.text(each), _LEAVES.text(each), level, _LIMIT.text(each), _IN_HAND.text(each))
        lines.append((f"{each.number} times the dial", *told, BLANK))
    for spur in of.products:
        lines.append((_PRODUCTS.text(spur), "with the dial", _SPUR_LEVEL.text(spur), "", "", "", BLANK))
    if not lines:
        return ()
    head = f"{spelling.band(of.band)}: {LEVEL.written(of.output_dbm)} wanted"
    titles = ("product", "at", _LEAVES.title, "level", _LIMIT.title, _IN_HAND.title, "read")
    return Heading(head), grid(titles, tuple(lines))


def parts(sheet: BuildSheet) -> Section:
    """Like parts of the whole rig together."""
    columns = (
        Column("quantity", right=True),
        Column("value", wide=True),
        Column("type"),
        Column("rating"),
        Column("on hand", right=True),
        Column("to get", right=True),
        Column("where", wide=True),
    )
    lines, before = [], ""
    for each in sheet.needed:
        if each.what != before:
            total = sum(line.quantity for line in sheet.needed if line.what == each.what)
            lines.append(Line((str(total), f"{each.what}s", "", "", "", "", ""), head=True))
        before = each.what
        on_hand = BLANK if each.on_hand is None else str(each.on_hand)
        get = BLANK if each.on_hand is None else str(each.to_get)
        cells = (str(each.quantity), each.value, each.type, each.rating, on_hand, get, each.places)
        lines.append(Line(cells))
    return Section("parts", "Parts of the whole rig", (Grid(columns, tuple(lines)),))


def photographs(sheet: BuildSheet) -> Section:
    """What was photographed on the bench, two abreast."""
    made = [(Picture(each), _told(each, sheet)) for each in sheet.photographs]
    pairs = (made[n : n + 2] for n in range(0, len(made), 2))
    blocks = tuple(Beside(pair[0], pair[1] if len(pair) > 1 else (), shares=(0.5,)) for pair in pairs)
    return Section("photographs", "Photographs", blocks)


def _told(of: Photograph, sheet: BuildSheet) -> Words:
    titles = {each.stage: each.title for each in sheet.filters} | {p.stage: p.title for p in sheet.plain}
    return words(", ".join(filter(None, (of.caption, titles.get(of.stage, ""), of.date))), "soft", small=True)


def findings(sheet: BuildSheet) -> Section:
    """What the program noticed, the worst first."""
    told = tuple(
        Words(
            (
                Run(f"{each.severity.capitalize()}. ", "strong"),
                Run(each.text.replace(" -", " −")),
                Run(f" {each.remedy} ({each.source})", "soft"),
            )
        )
        for each in sheet.findings
    )
    return Section("findings", "Findings", told or (words("Nothing was found."),))
