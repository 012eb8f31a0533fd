"""What is done and read on the bench, as data: a step with its instrument and readings between limits."""

from typing import Any

from core.record import record
from core.rig.figures.figure import Figure

#: Frequencies are read on a counter, to ten hertz.
COUNTED: Figure[Any] = Figure(
    key="counted_hz",
    title="frequency",
    what="What a counter should show.",
    source="the frequency plan and the circuits as solved",
    get=lambda value: value,
    unit="Hz",
    places=5,
    prefix="M",
)


@record(kw_only=True)
class Reading:
    """A value that is expected, in SI units of the figure that writes it, and between what it is good; None
    where nothing bounds it.
    """

    what: str
    figure: Figure[Any]
    value: float | None
    least: float | None = None
    most: float | None = None

    @property
    def expected(self) -> str:
        """The value as every other place writes it."""
        return self.figure.written(self.value)

    @property
    def good(self) -> str:
        """Between what it is good, in words."""
        if self.least is not None and self.most is not None:
            return self.figure.written((self.least, self.most))
        if self.least is not None:
            return f"at least {self.figure.written(self.least)}"
        return "" if self.most is None else f"at most {self.figure.written(self.most)}"


@record(kw_only=True)
class Step:
    """Something to do, with what, and what must be read; `subject` is what it is about, a stage or a band."""

    title: str
    do: str
    instrument: str = ""
    readings: tuple[Reading, ...] = ()
    subject: str = ""
