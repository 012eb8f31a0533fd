"""Figures of parts, whose unit hangs on the part; of a tolerance run: how many filters of scattered parts are
good, what they come to, and which parts scatter them; and of coils as they are wound, and how to check them.
"""

from collections.abc import Callable, Mapping
from typing import Any

from core.circuits.circuit import Part
from core.model.values.notation import format_value
from core.model.values.parts import TYPE
from core.record import record
from core.rig.figures.figure import Figure, Table, bands_label, label
from core.rig.figures.filters import STRESS
from core.rig.rows import RigPart
from core.rig.wound.windings import Winding
from core.stages.outcome import PartRow
from core.stages.tolerance.judging import Limits, Measured, ToleranceRun


def part_value(value: float | None, unit: str) -> str:
    """A part's value as it is written everywhere: crystals to the hertz, coils as they can be wound, others
    to what can be measured; empty for none, and for a transistor, which has a type.
    """
    if value is None or unit == TYPE:
        return ""
    if unit == "Hz":
        return format_value(round(value), unit, 10)
    return format_value(value, unit, 3 if unit in ("H", "-", "") else 4)


@record(kw_only=True, slots=False)
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


def _stressed(key: str, *, listed: bool = True) -> Figure[RigPart]:
    of = next(figure for figure in STRESS if figure.key == key)
    get: Callable[[RigPart], Any] = lambda r: None if r.stress is None else of.get(r.stress)  # noqa: E731
    return Figure(
        key=key,
        title=of.title,
        what=of.what,
        source=of.source,
        get=get,
        unit=of.unit,
        digits=of.digits,
        listed=listed,
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
    *(_stressed(f"mismatched_{of}", listed=False) for of in "vaw"),
    _stressed("stands_it"),
)


_TRIED = "exact response of every trial, its parts drawn at random within their scatter"


@record(slots=False)
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


_A_L = "inductance of one turn from makers' tables, ±5 %, times the turns squared"
_SIZE = "the core's dimensions and enamelled wire of grade 1"


def _wound(
    key: str, title: str, what: str, source: str, get: Callable[[Winding], Any], **how: Any
) -> Figure[Winding]:
    return Figure(key=key, title=title, what=what, source=source, get=get, **how)


#: What is told of a coil, the same on screen and paper.
WINDING: Table[Winding] = (
    label("core", "core", lambda w: w.wound.on),
    _wound(
        "turns",
        "turns",
        "Whole turns on the core; the wire passes its hole so often.",
        _A_L,
        lambda w: w.wound.turns,
        unit="-",
        places=0,
    ),
    _wound(
        "turns_give_h",
        "turns give",
        "What they give, wound evenly.",
        _A_L,
        lambda w: w.wound.inductance_h,
        unit="H",
    ),
    _wound(
        "error_percent",
        "off what is wanted",
        "How far that is from the inductance wanted; a low-pass's coil is squeezed or spread to it as far as "
        "it goes, a band-pass's capacitors follow the coil.",
        _A_L,
        lambda w: 100 * w.wound.error,
        unit="%",
        places=1,
        signed=True,
    ),
    _wound(
        "set_h",
        "set to",
        "What the circuit is solved with; squeeze the turns together for more, spread them for less.",
        "the circuit as solved",
        lambda w: w.set_h,
        unit="H",
    ),
    _wound(
        "range_h",
        "spread to squeezed",
        "What spreading the turns all round, and squeezing them together over two thirds, makes of it.",
        "common practice, no source",
        lambda w: w.wound.range_h,
        unit="H",
        keys=("spread_h", "squeezed_h"),
        listed=False,
    ),
    _wound(
        "wire_m",
        "wire",
        "Diameter of the copper that is taken.",
        "wires that are sold, IEC 60317, from memory",
        lambda w: w.wound.wire_m,
        unit="m",
        places=2,
        prefix="m",
    ),
    _wound(
        "thickest_m",
        "thickest that fits",
        "Of the wires that are wound by hand, the thickest of which the turns fit in one layer.",
        _SIZE,
        lambda w: w.wound.thickest_m,
        unit="m",
        places=2,
        prefix="m",
        listed=False,
    ),
    _wound(
        "filled_percent",
        "window filled",
        "Share of the way round inside the core, or of a binocular core's hole, that the winding takes.",
        _SIZE,
        lambda w: 100 * w.wound.filled,
        unit="%",
        places=0,
        listed=False,
    ),
    _wound(
        "length_m",
        "wire to cut",
        "Length of the wire, with 5 cm at each end to solder.",
        _SIZE,
        lambda w: w.wound.length_m,
        unit="m",
        digits=2,
    ),
    _wound(
        "quality",
        "Q, an estimate",
        "Unloaded Q at the top of the bands served, ±30 %.",
        "skin effect in the wire, and a curve drawn through makers' plots for the core, from memory",
        lambda w: w.wound.quality,
        unit="-",
        places=0,
    ),
    _wound(
        "self_resonance_hz",
        "self-resonance, an estimate",
        "Where the wire is a quarter of a wave long; within two to one.",
        "length of the wire",
        lambda w: w.wound.self_resonance_hz,
        unit="Hz",
        digits=2,
        listed=False,
    ),
    _wound(
        "ppm",
        "drift",
        "Change of inductance for a kelvin.",
        "temperature coefficient of the core's material, makers' tables",
        lambda w: w.wound.ppm,
        unit="ppm/K",
        places=0,
        signed=True,
        listed=False,
    ),
    _wound(
        "flux_t",
        "flux at full power",
        "Peak flux density in the core at the lowest dial frequency, into a matched antenna.",
        "exact voltage across the coil, U = 4.44 f N A B",
        lambda w: w.flux_t,
        unit="T",
        digits=2,
    ),
    _wound(
        "most_flux_t",
        "flux that keeps it cool",
        "What a small core bears without getting hot: an estimate.",
        "a maker's application notes on powdered iron, from memory",
        lambda w: w.most_flux_t,
        unit="T",
        digits=2,
    ),
    _wound(
        "check_f",
        "check it with",
        "A known capacitor to put across the coil, coupled loosely to what finds its resonance.",
        "of the E6 series, so that it resonates near where it works",
        lambda w: w.check_f,
        unit="F",
    ),
    _wound(
        "check_hz",
        "resonates at",
        "Where it then resonates, its own capacitance aside; a bridge reads the inductance it is set to.",
        "f = 1/(2π√(LC))",
        lambda w: w.check_hz,
        unit="Hz",
        digits=4,
    ),
)
COILS: Table[Winding] = (
    label("stage", "stage", lambda w: w.stage),
    bands_label(lambda w: w.bands),
    label("ref", "coil", lambda w: w.ref),
    *WINDING,
)


def had(found: tuple[Winding, ...]) -> Table[Winding]:
    """The figures that any of these coils has."""
    return tuple(figure for figure in WINDING if any(figure.get(each) is not None for each in found))


#: Coils of a filter for which no core was chosen.
FREE: Table[Part] = (
    label("ref", "coil, no core chosen", lambda coil: coil.ref),
    Figure(
        key="inductance_h",
        title="inductance",
        what="What the circuit is solved with: without a core a coil may have any value.",
        source="the circuit as solved",
        get=lambda coil: coil.value,
        unit="H",
    ),
    Figure(
        key="quality",
        title="Q as asked",
        what="The unloaded Q that was typed in.",
        source="“Coil Q” of the filter",
        get=lambda coil: coil.q,
        unit="-",
        places=0,
    ),
)
