"""Readings in a table that a builder keeps: CSV in, each line by the code of what was read."""

from core.model.notebook.bench_log import MOST_READINGS, LogReading
from core.model.values.errors import DesignError
from core.model.values.tables import plain_lines, read_table
from core.rig.log.bench_log import reading_of
from core.rig.log.item import Item, found

#: The columns; only the first two must be there.
COLUMNS = ("code", "reading", "tolerance", "date", "note")
#: A text longer than this is no table of readings, letters.
MOST_LETTERS = 1_000_000


def readings_in(text: str, known: tuple[Item, ...], date: str) -> tuple[LogReading, ...]:
    """The readings in a CSV text with a header row, of what is `known` to be read.

    Those without a date are of `date`; lines without a reading are left out. Parted by commas, semicolons or
    tabs; a decimal comma wants one of the last two, or quotation marks. A mark of byte order is passed over.
    `DesignError` names the first line that is none, with its reason.
    """
    wanted = {name if name in COLUMNS[:2] else f"?{name}": "" for name in COLUMNS}
    readings = []
    for row in read_table(plain_lines(text, MOST_LETTERS), wanted, MOST_READINGS):
        try:
            cells = row.texts(COLUMNS)
            if not cells["reading"]:
                continue
            readings.append(
                reading_of(
                    found(known, cells["code"]),
                    cells["reading"],
                    cells["date"] or date,
                    plus_minus=cells["tolerance"],
                    note=cells["note"],
                )
            )
        except DesignError as error:
            raise DesignError(f"Line {row.line}: {error}") from None
    return tuple(readings)
