"""Tables of figures as texts, each figure with what is told of it when it is pointed at."""

from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

from core.record import record
from core.rig.figures.figure import PLAIN, WORDS, Figure, Table

T = TypeVar("T")
#: Names of no more letters stand in one line.
_SHORT = 10
#: A row's cells, and its tip.
Line = tuple[tuple[str, ...], str]


@record
class Told:
    """A table of texts; `tips` and `head_tips` tell of its rows and columns, where anything is told."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    tips: tuple[str, ...] = ()
    head_tips: tuple[str, ...] = ()


def line(figure: Figure[T], *of: T) -> Line:
    """A figure of one or more results in a row, behind its title."""
    return (figure.title, *(figure.text(each) for each in of)), figure.tip


def said(name: str, *texts: str, tip: str = "") -> Line:
    """Words in a row."""
    return (name, *texts), tip


def composed(name: str, text: str, *figures: Figure[Any]) -> Line:
    """Words in a row that hold several figures, each told in its turn."""
    return (name, text), "\n".join(figure.tip for figure in figures)


def in_rows(heads: Sequence[str], lines: Iterable[Line]) -> Told:
    """A table of such rows."""
    made = tuple(lines)
    return Told(tuple(heads), tuple(cells for cells, _ in made), tuple(tip for _, tip in made))


def in_columns(table: Table[T], of: Iterable[T]) -> Told:
    """A table with a column for each figure and a row for each result."""
    return with_heads(table, (tuple(figure.text(each) for figure in table) for each in of))


def under_units(table: Table[T], of: Iterable[T]) -> Told:
    """The same with the units of numbers of fixed decimals in the heads, which leaves narrow columns."""
    heads = tuple(
        f"{each.title}, {each.prefix}{each.unit}" if _is_bare(each) else each.title for each in table
    )
    rows = tuple(tuple(_bare(figure, one) for figure in table) for one in of)
    return Told(heads, rows, head_tips=tuple(figure.tip for figure in table))


def _is_bare(figure: Figure[Any]) -> bool:
    return figure.places is not None and figure.unit not in (PLAIN, WORDS)


def _bare(figure: Figure[T], of: T) -> str:
    value = figure.get(of)
    if _is_bare(figure) and isinstance(value, float):
        return figure.bare(value)
    # A name of few letters is not broken.
    text = figure.text(of)
    return text.replace(" ", "\u00a0") if figure.unit == WORDS and len(text) <= _SHORT else text


def with_heads(table: Table[T], rows: Iterable[tuple[str, ...]]) -> Told:
    """Such rows below the titles of the figures that stand in their columns."""
    heads, tips = tuple(figure.title for figure in table), tuple(figure.tip for figure in table)
    return Told(heads, tuple(rows), head_tips=tips)
