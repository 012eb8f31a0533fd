"""Figures of parts, whose unit hangs on the part."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from core.model.values.notation import format_value
from core.model.values.parts import TYPE
from core.rig.figures.figure import Figure, Table, bands_label, label
from core.rig.figures.filters import STRESS
from core.rig.rows import RigPart
from core.stages.outcome import PartRow


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
