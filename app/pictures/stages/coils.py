"""The coils of a filter: how each is wound, a column a coil; or what is taken where no core was chosen."""

from app.pictures.told import Told, in_columns, in_rows, line
from core.rig.analysis import Analysis
from core.rig.figures.filters import FilterOn
from core.rig.figures.parts import FREE, had
from core.rig.wound.windings import Winding, windings_of


def coils_of(analysis: Analysis, of: FilterOn) -> Told:
    """The table of a filter's coils."""
    found = windings_of(analysis, of.row)
    if not found:
        parts = () if of.design is None else of.design.network.parts
        return in_columns(FREE, (each for each in parts if each.role == "coil"))
    return wound_coils(found)


def wound_coils(found: tuple[Winding, ...]) -> Told:
    """Coils as they are wound; those alike share a column."""
    columns: list[list[Winding]] = []
    table = had(found)
    for each in found:
        for column in columns:
            if all(figure.text(each) == figure.text(column[0]) for figure in table):
                column.append(each)
                break
        else:
            columns.append([each])
    heads = ("coil", *(", ".join(each.ref for each in column) for column in columns))
    return in_rows(heads, (line(figure, *(column[0] for column in columns)) for figure in table))
