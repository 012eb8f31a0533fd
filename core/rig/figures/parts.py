"""Figures of parts, whose unit hangs on the part, and of a tolerance run: how many filters of scattered parts
are good, what they come to, and which parts scatter them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from core.model.values.notation import format_value
from core.model.values.parts import TYPE
from core.rig.figures.figure import Figure, Table, bands_label, label
from core.rig.figures.filters import STRESS
from core.rig.rows import RigPart
from core.stages.outcome import PartRow
from core.stages.tolerance import Limits, Measured, ToleranceRun


def part_value(value: float | None, unit: str) -> str:
    """A part's value as it is written everywhere: crystals to the hertz, coils as they can be wound, others
    to what can be measured; empty for none, and for a transistor, which has a type.
    """
    if value is None or unit == TYPE:
        return ""
    if unit == "Hz":
        return format_value(round(value), unit, 10)
    return format_value(value, unit, 3 if unit in ("H", "-", "") else 4)


@dataclass(frozen=True, kw_only=True)
class PartFigure(Figure[RigPart]):
    """A figure of a part, in the part's own unit."""

    def text(self, of: RigPart) -> str:
        """The figure of a part as it is written everywhere."""
        return part_value(self._value(of.part), of.part.unit) or self.absent

    def read(self, row: Mapping[str, Any]) -> str:
        """The figure as written, from a row of JSON."""
        return part_value(row[self.key], row["unit"]) or self.absent

    def _value(self, part: PartRow) -> float | None:
        found: float | None = getattr(part, self.key)
        return found


def _value(key: str, title: str, what: str, source: str) -> PartFigure:
    return PartFigure(
        key=key, title=title, what=what, source=source, get=lambda r: getattr(r.part, key), unit="the part's"
    )


def _stressed(key: str) -> Figure[RigPart]:
    of = next(figure for figure in STRESS if figure.key == key)
    get: Callable[[RigPart], Any] = lambda r: None if r.stress is None else of.get(r.stress)  # noqa: E731
    return Figure(
        key=key, title=of.title, what=of.what, source=of.source, get=get, unit=of.unit, digits=of.digits
    )


DESIGNED = _value(
    "designed", "designed", "The value computed for what was asked.", "design equations of the circuit"
)
PREFERRED = _value(
    "preferred",
    "preferred",
    "The value to fit, from the series asked.",
    "values chosen together by what they do to the response",
)
AS_BUILT = _value("as_built", "as built", "The value really fitted.", "as typed in")
#: What stands of every part, in the app as on paper.
VALUES = (DESIGNED, PREFERRED, AS_BUILT)

PARTS: Table[RigPart] = (
    label("stage", "stage", lambda r: r.stage),
    bands_label(lambda r: r.bands),
    label("ref", "ref", lambda r: r.part.ref),
    label("kind", "kind", lambda r: r.part.kind),
    *VALUES,
    label("unit", "unit", lambda r: r.part.unit),
    label("note", "note", lambda r: r.part.note),
    _stressed("peak_voltage_v"),
    _stressed("rms_current_a"),
    _stressed("lost_w"),
)


_TRIED = "exact response of every trial, its parts drawn at random within their scatter"


@dataclass(frozen=True)
class Tried:
    """A run, and the limits that a good filter keeps."""

    run: ToleranceRun
    limits: Limits


TRIED: Table[Tried] = (
    Figure(
        key="kept",
        title="keep every limit",
        what="How many of the filters tried keep every limit.",
        source=_TRIED,
        # Counted, so that one in a thousand that does not is not rounded away.
        get=lambda t: round(t.run.good(t.limits) * t.run.measured[0].values.size),
        unit="-",
        places=0,
    ),
    Figure(
        key="trials",
        title="filters",
        what="How many filters were tried.",
        source="the trials asked",
        get=lambda t: t.run.measured[0].values.size,
        unit="-",
        places=0,
    ),
)

#: A part, and how much of a figure's scatter comes from it.
SCATTERERS: Table[tuple[str, float]] = (
    label("ref", "part", lambda s: s[0]),
    Figure(
        key="share_percent",
        title="share of the scatter",
        what="How much of the scatter of the figure that matters most comes from the part.",
        source="squared correlation of the part's value with the figure over all trials",
        get=lambda s: 100 * s[1],
        unit="%",
        places=0,
    ),
)


def figure_of(measured: Measured) -> Figure[Measured]:
    """What a run measured, as a figure; of the run itself it is that of the design on its nominal parts."""
    return Figure(
        key=measured.key,
        title=measured.title,
        what=measured.what,
        source=_TRIED,
        get=lambda m: m.nominal,
        unit=measured.unit,
    )
