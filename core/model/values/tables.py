"""Tables of readings as builders keep them: CSV with a header row that may carry units."""

import csv
import io
import re
from collections.abc import Sequence
from typing import NamedTuple

from core.model.values.errors import DesignError
from core.model.values.wording import shortened, visible

_BARE = re.compile(r"[-+−]?[\d\s.,]+([eE][-+]?\d+)?")


class Row(NamedTuple):
    """A row by the header's names, each cell with the unit of its column, and the cells beyond the names."""

    cells: dict[str, str]
    beyond: tuple[str, ...]
    line: int

    def texts(self, names: Sequence[str]) -> dict[str, str]:
        """The cells of these columns, empty where there are none; `DesignError` for a row with more cells
        than columns. The mark is gone by which a spreadsheet was kept from computing one.
        """
        if self.beyond:
            raise DesignError(
                f"There are more cells than columns ({shortened(visible(self.beyond[0]))} is one too many); "
                "a decimal comma wants semicolons between cells, or quotation marks around the number."
            )
        return {name: self.cells.get(name, "").removeprefix("'") for name in names}


def plain_lines(text: str, most: int) -> str:
    """A text of at most `most` letters without a mark of byte order, its lines ended alike; `DesignError`
    for a longer one.
    """
    if len(text) > most:
        raise DesignError(f"The table has more than {most} letters; split it.")
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def read_table(text: str, columns: dict[str, str], most: int) -> list[Row]:
    """The rows of a CSV text below its header, without empty ones.

    `columns` are the names to look for, those after the mark `?` may be missing. `DesignError` with one
    sentence when the header lacks a column, a cell never ends or the table has more than `most` rows.
    """
    first = next((line for line in text.splitlines() if line.strip()), None)
    if first is None:
        raise DesignError("The table is empty; its first row names the columns.")
    delimiter = next((each for each in (";", "\t") if each in first), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True)
    heads: list[tuple[str, str]] = []
    found: list[Row] = []
    begins = 1
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                pass
            elif not heads:
                heads = [_head(cell, number) for number, cell in enumerate(cells, 1)]
                _check_heads([name for name, _ in heads], columns)
            elif len(found) == most:
                raise DesignError(f"The table has more than {most} rows; split it.")
            else:
                found.append(_row(cells, heads, reader.line_num))
            begins = reader.line_num + 1
    except csv.Error:  # which the reader has for one thing only
        raise DesignError(
            f"The row that begins in line {begins} of the table has a cell of more than "
            f"{csv.field_size_limit()} letters; shorten it, or close the quotation mark that opens it."
        ) from None
    return found


def _check_heads(names: list[str], columns: dict[str, str]) -> None:
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise DesignError(
            f"The table's first row names {shortened(visible(twice))} twice; rename one of them."
        )
    needed = [name for name in columns if not name.startswith("?")]
    missing = [name for name in needed if name not in names]
    if missing:
        raise DesignError(
            f"The table lacks the column {missing[0]}; its first row must name {', '.join(needed)}."
        )


def _row(cells: list[str], heads: list[tuple[str, str]], line: int) -> Row:
    row = {}
    for (name, unit), cell in zip(heads, cells, strict=False):
        bare = _BARE.fullmatch(cell.strip())
        row[name] = f"{cell.strip()} {unit}".strip() if bare and unit else cell.strip()
    return Row(row, tuple(cell.strip() for cell in cells[len(heads) :] if cell.strip()), line)


def _head(cell: str, number: int) -> tuple[str, str]:
    """`Peak (MHz)` as its name and unit; a column without a name has its number."""
    match = re.fullmatch(r"\s*([\w ]+?)\s*(?:[(\[](.*?)[)\]])?\s*", cell)
    if match is None:
        return cell.strip().lower() or f"column {number}", ""
    unit = (match[2] or "").strip()
    return match[1].lower(), "" if unit.lower() in ("degree", "degrees", "deg", "°") else unit
