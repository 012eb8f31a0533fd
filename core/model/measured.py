"""A measured response of one stage of the rig, kept with the design that it is held against."""

from functools import cached_property
from itertools import pairwise
from typing import Literal, Self

from pydantic import model_validator

from core.model.values.base import Model
from core.model.values.quantities import Decibel, Degrees, Hertz, Name, Ohm, stated

#: Curves of a rig, and points of one; a longer sweep is thinned out as it is read.
MOST_CURVES, MOST_POINTS = 40, 2001


class MeasuredCurve(Model):
    """S21 of a stage as swept on the bench, with S11 where that was swept too."""

    stage: str = stated(..., "Stage", "Key of the stage that was measured.", max_length=40)
    band: Name = stated("", "Band", "A band the stage serves; empty: the same on all.", max_length=16)
    way: Literal["", "receive", "transmit"] = stated(
        "", "Direction", "Of a stage that works either way; empty: the one that it has."
    )
    label: Name = stated("", "File", "Name of the file that it was read from.", max_length=400)
    date: Name = stated("", "Measured on", "Day of the measurement.", "2026-05-17", max_length=40)
    note: str = stated("", "Note", "What was done.", max_length=2000)
    source_ohm: Ohm | None = stated(
        None, "Measured from", "Resistance of the source; empty: that around the stage.", "50 Ω"
    )
    load_ohm: Ohm | None = stated(
        None, "Measured into", "Resistance of the load; empty: that around the stage.", "50 Ω"
    )
    f_hz: tuple[Hertz, ...] = stated(
        ..., "Frequencies", "Where it was measured, ascending.", min_length=2, max_length=MOST_POINTS
    )
    s21_db: tuple[Decibel, ...] = stated(..., "S21", "Magnitude of S21 at each frequency.")
    s11_db: tuple[Decibel, ...] = stated((), "S11", "Magnitude of S11; empty: not measured.")
    s11_degrees: tuple[Degrees, ...] = stated((), "Phase of S11", "Phase of S11; empty: not measured.")

    @model_validator(mode="after")
    def _matched(self) -> Self:
        count = len(self.f_hz)
        if len(self.s21_db) != count or {len(self.s11_db), len(self.s11_degrees)} not in ({0}, {count}):
            raise ValueError("a measured curve wants as many readings as frequencies; read its file again")
        if any(b <= a for a, b in pairwise(self.f_hz)):
            raise ValueError("the frequencies of a measured curve must ascend; read its file again")
        return self

    # Thousands of numbers: what is cached on a curve would hash them at every look.
    @cached_property
    def _digest(self) -> int:
        around = (self.stage, self.band, self.way, self.source_ohm, self.load_ohm)
        return hash((around, self.f_hz, self.s21_db, self.s11_db, self.s11_degrees))

    def __hash__(self) -> int:
        return self._digest
