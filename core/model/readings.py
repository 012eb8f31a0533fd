"""Readings of crystals as values, and the table in which builders type, keep and exchange them."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from io import StringIO
from typing import Annotated, Any

from annotated_types import Ge, Le
from pydantic import SerializerFunctionWrapHandler, model_serializer

from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.model.values.notation import parse, plain
from core.model.values.quantities import Decibel, Unit, limits_of, stated
from core.model.values.tables import Row, read_table

#: Crystals of one table; more than a bag holds would only make every edit slow.
MOST_CRYSTALS = 2000
#: A table longer than this is none, letters.
MOST_LETTERS = 200_000

#: What was read stays as it was read, be it possible or not; only what no instrument shows is no reading.
ReadHertz = Annotated[float, Ge(-10e9), Le(10e9), Unit("Hz", scaled=True)]
ReadFarad = Annotated[float, Ge(-1), Le(1), Unit("F", scaled=True)]


class TypedCell(Model):
    """A cell of the table that holds no figure of a reading."""

    column: str | None = stated(
        ..., "Column", "Its column's name; none: beyond the columns that the first row names."
    )
    text: str = stated(..., "Text", "What was typed.", max_length=MOST_LETTERS)


class CrystalReading(Model):
    """What was read of one crystal; which of the figures there are depends on the method."""

    label: str = stated("", "Crystal", "What is written on it.", max_length=MOST_LETTERS)
    peak_hz: ReadHertz | None = stated(None, "Peak", "Frequency of least loss in the fixture.")
    bandwidth_hz: ReadHertz | None = stated(None, "Bandwidth", "Between the −3 dB points in the fixture.")
    without_hz: ReadHertz | None = stated(None, "Without", "Oscillator's frequency, no capacitor in series.")
    with_hz: ReadHertz | None = stated(None, "With", "The same with the known capacitor in series or across.")
    series_hz: ReadHertz | None = stated(None, "Series", "Series resonance.")
    parallel_hz: ReadHertz | None = stated(None, "Parallel", "Parallel resonance.")
    loss_db: Decibel | None = stated(None, "Loss", "Insertion loss at the peak.")
    file: str = stated("", "File", "Name of its sweep.", max_length=MOST_LETTERS)
    c0_f: ReadFarad | None = stated(None, "C0", "Its holder capacitance, where it was measured.")
    typed: tuple[TypedCell, ...] = stated(
        (), "As typed", "Cells that could not be read as figures, and those of further columns."
    )

    @model_serializer(mode="wrap")
    def _without_empty(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        # A reading has a few of the figures; a bag of readings would be mostly nulls.
        return {name: value for name, value in handler(self).items() if value not in (None, "", (), [])}

    def figure(self, column: str) -> float | None:
        """The figure of a column such as `peak`; None where none was read."""
        return getattr(self, COLUMNS[column][0])

    def as_typed(self, column: str | None) -> str:
        """What was typed in a column, or beyond all, and is no figure; empty where nothing was."""
        return ", ".join(cell.text for cell in self.typed if cell.column == column)


#: The figures of a table by the column's name: the field, and unit and decimal power in which it is written.
COLUMNS: dict[str, tuple[str, str, str, int]] = {
    "peak": ("peak_hz", "Hz", "MHz", 6),
    "bandwidth": ("bandwidth_hz", "Hz", "Hz", 0),
    "without": ("without_hz", "Hz", "MHz", 6),
    "with": ("with_hz", "Hz", "MHz", 6),
    "series": ("series_hz", "Hz", "MHz", 6),
    "parallel": ("parallel_hz", "Hz", "MHz", 6),
    "loss": ("loss_db", "dB", "dB", 0),
    "c0": ("c0_f", "F", "pF", -12),
}
#: No reading of these units is larger.
_BEYOND = {"Hz": limits_of(ReadHertz)[1], "F": limits_of(ReadFarad)[1], "dB": limits_of(Decibel)[1]}


def figure_in(text: str, unit: str) -> float:
    """The figure in a cell, in `Hz`, `F` or `dB`; `DesignError` with one sentence where it holds none."""
    value = parse(text, unit)
    if abs(value) > _BEYOND[unit]:
        raise DesignError(f"{value:.3g} {unit} is beyond all measure; read again.")
    return value


@lru_cache(maxsize=8)
def readings_of(text: str) -> tuple[CrystalReading, ...]:
    """The readings in a CSV text with a header row, a row each.

    Columns may carry their unit in brackets, `peak (MHz)`; a decimal comma is accepted where columns are
    parted by semicolons or tabs. A cell that is no figure stays as it was typed. `DesignError` with one
    sentence when the text is no such table.
    """
    if len(text) > MOST_LETTERS:
        raise DesignError(f"The table has more than {MOST_LETTERS} letters; split it.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return tuple(_reading(row) for row in read_table(text, {"label": ""}, MOST_CRYSTALS))


def _reading(row: Row) -> CrystalReading:
    fields: dict[str, Any] = {}
    typed: list[TypedCell] = []
    for name, text in row.cells.items():
        if name in ("label", "file"):
            fields[name] = text
        elif name in COLUMNS and (value := _figure(text, COLUMNS[name][1])) is not None:
            fields[COLUMNS[name][0]] = value
        elif text:
            typed.append(TypedCell.checked(column=name, text=text))
    # In one order, whatever that of the columns is.
    typed.sort(key=lambda cell: cell.column or "")
    typed += [TypedCell.checked(column=None, text=text) for text in row.beyond]
    return CrystalReading.checked(**fields, typed=tuple(typed))


def _figure(text: str, unit: str) -> float | None:
    try:
        return figure_in(text, unit) if text else None
    except DesignError:
        return None


def table_of(readings: Sequence[CrystalReading], needed: Iterable[str]) -> str:
    """The readings as CSV with a header row, from which `readings_of` makes the same again.

    The columns are those that hold anything, and `needed`, the two and more columns of a method.
    """
    further = {cell.column for each in readings for cell in each.typed}
    used = {"label", *needed, *further}
    used |= {name for name in COLUMNS if any(each.figure(name) is not None for each in readings)}
    used |= {"file"} if any(each.file for each in readings) else set()
    known = ["label", *COLUMNS, "file"]
    names = [name for name in known if name in used]
    names += sorted(name for name in further if name is not None and name not in known)
    text = StringIO()
    lines = csv.writer(text, delimiter=";", lineterminator="\n")
    lines.writerow([f"{name} ({COLUMNS[name][2]})" if name in COLUMNS else name for name in names])
    for each in readings:
        lines.writerow([*(_cell(each, name) for name in names), *_beyond(each)])
    return text.getvalue()


def _cell(reading: CrystalReading, name: str) -> str:
    if typed := reading.as_typed(name):
        return typed
    if name in ("label", "file"):
        return str(getattr(reading, name))
    value = reading.figure(name) if name in COLUMNS else None
    return "" if value is None else plain(value, power=-COLUMNS[name][3])


def _beyond(reading: CrystalReading) -> Iterator[str]:
    return (cell.text for cell in reading.typed if cell.column is None)
