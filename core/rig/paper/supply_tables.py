"""Supply, fuse and switching as printed: the figures of each, those of a single thing one below the other."""

from core.record import record
from core.rig.analysis import Analysis
from core.rig.sections.rig import Section
from core.rig.sections.supply import SUPPLY

#: What stands above each table, by the table's key, in the order of the sheet.
_TITLES = {
    "switching": "Who is fed, and draws how much",
    "supply": "All together",
    "fuse": "Fuse",
    "lead": "Lead",
    "battery": "Battery",
    "regulators": "Regulators",
    "relays": "Relays",
    "key_down": "Key down",
    "polarity": "Connected backwards",
    "decoupling": "Decoupling",
    "sequence": "From key down to power, and back",
}
#: Tables of more rows than this have a row for each of them.
_MOST_ABREAST = 2
_WIDE = frozenset({"switching", "supply", "polarity", "decoupling", "sequence"})


@record(kw_only=True)
class FigureTable:
    """A table as printed: its titles, empty where the first column names figures, and its lines."""

    key: str
    title: str
    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]

    @property
    def wide(self) -> bool:
        """Whether it takes the width of the page."""
        return self.key in _WIDE


def supply_tables(analysis: Analysis) -> tuple[FigureTable, ...]:
    """The tables that the supply fills; none where none is planned."""
    by_key = {section.key: section for section in SUPPLY}
    made = (_table(by_key[key], title, analysis) for key, title in _TITLES.items() if key in by_key)
    return tuple(table for table in made if table is not None)


def _table(section: Section, title: str, analysis: Analysis) -> FigureTable | None:
    rows = list(section.of(analysis))
    if not rows:
        return None
    figures = [figure for figure in section.table if figure.listed]
    heads = tuple(figure.title for figure in figures)
    if section.key in _WIDE or len(rows) > _MOST_ABREAST:
        lines = tuple(tuple(figure.text(row) for figure in figures) for row in rows)
    else:
        lines = tuple((figure.title, *(figure.text(row) for row in rows)) for figure in figures)
        heads = ("",) * (1 + len(rows))
    return FigureTable(key=section.key, title=title, heads=heads, lines=lines)
