"""What pictures are made of: curves, labels and shapes in a plot's coordinates."""

from collections.abc import Sequence
from dataclasses import KW_ONLY
from typing import NamedTuple

import numpy as np

from core.circuits.ladder import Array
from core.record import record

#: A range of an axis: low and high.
Span = tuple[float, float]


@record(eq=False)
class Curve:
    """Points of a line, both of shape (N,); equal when all points are."""

    x: Array
    y: Array

    @classmethod
    def over(cls, x: Sequence[float], y: Sequence[float]) -> "Curve":
        """A curve through a few points."""
        return cls(np.array(x, dtype=float), np.array(y, dtype=float))

    def some(self, count: int = 9) -> tuple[tuple[float, float], ...]:
        """Points spread over the line, for a label that may stand anywhere along it."""
        places = np.linspace(0, self.x.size - 1, count + 2)[1:-1].astype(int)
        return tuple(zip(self.x[places].tolist(), self.y[places].tolist(), strict=True))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Curve):
            return NotImplemented
        return _same(self.x, other.x) and _same(self.y, other.y)

    __hash__ = None  # type: ignore[assignment]


def _same(a: Array, b: Array) -> bool:
    # Results that did not change are the very same arrays.
    return a is b or np.array_equal(a, b, equal_nan=True)


#: A line that is not there.
NO_CURVE = Curve.over((), ())


@record
class Label:
    """A text at a point of the plot; `side` is where it stands from there, `importance` who wins a place.

    `also` are further points at which it says the same, for where the first is crowded. `within` is the part
    of the axis upwards that it must not leave.
    """

    x: float
    y: float
    text: str
    role: str
    _: KW_ONLY
    side: str = "right"
    importance: float = 0.0
    #: Stands clear of all that is drawn or not at all.
    clear: bool = False
    also: tuple[tuple[float, float], ...] = ()
    within: Span | None = None


@record
class Shape:
    """A filled polygon in the plot's coordinates, by its corner points."""

    points: tuple[tuple[float, float], ...]
    fill: str | None
    edge: str | None = None
    dashed: bool = False

    @classmethod
    def box(
        cls, x: Span, y: Span, fill: str | None, edge: str | None = None, *, dashed: bool = False
    ) -> "Shape":
        """A rectangle."""
        (x0, x1), (y0, y1) = x, y
        return cls(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), fill, edge, dashed)


class Frame(NamedTuple):
    """The ranges of both axes; `key` tells whose picture it is, so that a builder's own zoom stays."""

    x: Span
    y: Span
    key: tuple[object, ...]


@record
class LinePicture:
    """One curve, what is held dashed, shapes behind, and a note in the corner."""

    line: Curve
    held: Curve
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame
