"""A table of the rig with what fills it."""

from collections.abc import Callable, Sequence
from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Row, Table, plain_row


@record(slots=False)
class Section:
    """A table of the rig: its key, its figures, and the results that fill its rows."""

    key: str
    table: Table[Any]
    of: Callable[[Analysis], Sequence[Any]]

    def rows(self, analysis: Analysis) -> list[Row]:
        """The rows as plain data."""
        return [plain_row(self.table, each) for each in self.of(analysis)]
