"""Tables of readings as builders keep them: CSV with a header row that may carry units."""

import csv
import io
import re
from typing import NamedTuple

from core.model.values.errors import DesignError
from core.model.values.wording import shortened, visible

_BARE = re.compile(r"[-+−]?[\d\s.,]+([eE][-+]?\d+)?")


class Row(NamedTuple):
    """A row by the header's names, each cell with the unit of its column; or why it cannot be used."""

    cells: dict[str, str]
    problem: str = ""


def read_table(text: str, columns: dict[str, str], most: int) -> list[Row]:
    """The rows of a CSV text below its header, without empty ones.

    `columns` are the names to look for, those after the mark `?` may be missing. A row that cannot be used
    stays, with its line and the reason. `DesignError` with one sentence when the header lacks a column or
    the table has more than `most` rows.
    """
    first = next((line for line in text.splitlines() if line.strip()), None)
    if first is None:
        raise DesignError("The table is empty; its first row names the columns.")
    delimiter = next((each for each in (";", "\t") if each in first), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True)
    heads: list[tuple[str, str]] = []
    found: list[Row] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not heads:
                heads = [_head(cell) for cell in cells]
                _check_heads([name for name, _ in heads], columns)
            elif len(found) == most:
                raise DesignError(f"The table has more than {most} rows; split it.")
            else:
                found.append(_row(cells, heads, reader.line_num, delimiter))
    except csv.Error:
        problem = "cannot be read as cells; look for a quotation mark that is never closed"
        if not heads:
            raise DesignError(f"Line {reader.line_num} of the table {problem}.") from None
        found.append(Row({}, f"line {reader.line_num} {problem}"))
    return found


def _check_heads(names: list[str], columns: dict[str, str]) -> None:
    needed = [name for name in columns if not name.startswith("?")]
    missing = [name for name in needed if name not in names]
    if missing:
        raise DesignError(
            f"The table lacks the column {missing[0]}; its first row must name {', '.join(needed)}."
        )


def _row(cells: list[str], heads: list[tuple[str, str]], line: int, delimiter: str) -> Row:
    row = {}
    for (name, unit), cell in zip(heads, cells, strict=False):
        bare = _BARE.fullmatch(cell.strip())
        row[name] = f"{cell.strip()} {unit}".strip() if bare and unit else cell.strip()
    if "label" in row:
        # A label is quoted wherever its crystal is spoken of.
        row["label"] = shortened(visible(row["label"]))
    if any(cell.strip() for cell in cells[len(heads) :]):
        commas = "; part columns by semicolons where commas are decimal marks" if delimiter == "," else ""
        return Row(row, f"line {line} has {len(cells)} cells and the first row names {len(heads)}{commas}")
    return Row(row)


def _head(cell: str) -> tuple[str, str]:
    """`Peak (MHz)` as its name and unit."""
    match = re.fullmatch(r"\s*([\w ]+?)\s*(?:[(\[](.*?)[)\]])?\s*", cell)
    if match is None:
        return cell.strip().lower(), ""
    unit = (match[2] or "").strip()
    return match[1].lower(), "" if unit.lower() in ("degree", "degrees", "deg", "°") else unit
