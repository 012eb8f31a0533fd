"""Figures of what was measured: crystals, the batch, which crystal goes where, and curves of filters."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

from core.model.measured import MeasuredCurve
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bench.batch_figures import BatchFigures
from core.rig.bench.crystal_bench import BatchRow
from core.rig.built import measured
from core.rig.built.verdict import verdict_of
from core.rig.figures.figure import Figure, Table, bands_label, label
from core.rig.figures.parts import part_value
from core.stages.built.curve_subject import CurveFit, FittedPart
from core.stages.built.judged import CurveVerdict
from core.stages.crystals.crystal_choice import ChoiceFigures, Placed, Placement
from core.stages.outcome import Unsolved

_READ = "the readings, by the method chosen for the batch"
_BATCH = "mean and standard deviation over the crystals that may be chosen"


def _own(key: str, title: str, what: str, unit: str, digits: int = 4, **how: Any) -> Figure[BatchRow]:
    """A figure that stands under its own name among a crystal's parameters."""

    def get(row: BatchRow) -> Any:
        return None if row.parameters is None else getattr(row.parameters, key)

    return Figure(key=key, title=title, what=what, source=_READ, get=get, unit=unit, digits=digits, **how)


#: Motional parameters, in the order of their columns.
FS = _own("fs_hz", "fs", "Series resonance.", "Hz", places=6, prefix="M")
PARAMETERS: Table[BatchRow] = (
    FS,
    _own("lm_h", "Lm", "Motional inductance.", "H"),
    _own("cm_f", "Cm", "Motional capacitance, which resonates with Lm at fs.", "F"),
    _own("rm_ohm", "Rm", "Motional resistance.", "Ω"),
    _own("c0_f", "C0", "Capacitance of holder and electrodes.", "F", 3),
    _own("q", "Q", "Unloaded Q: reactance of Lm over Rm.", "-", places=0),
)


def _interval(of: Figure[BatchRow], name: Literal["spread", "whole_spread"], source: str) -> Figure[BatchRow]:
    """Half the interval of a parameter; two digits of it say all."""

    def get(row: BatchRow) -> float | None:
        return None if row.parameters is None else dict(getattr(row.parameters, name)).get(of.key)

    what = f"By how much {of.title} may be off, either way, 95 % of the time."
    return Figure(key=of.key, title=of.title, what=what, source=source, get=get, unit=of.unit, digits=2)


#: How sure the parameters are, by the readings alone and with a fixture that is off.
INTERVALS_OF_READINGS: Table[BatchRow] = tuple(
    _interval(figure, "spread", "what the last digits of the readings allow") for figure in PARAMETERS
)
INTERVALS: Table[BatchRow] = tuple(
    _interval(figure, "whole_spread", "the same, at worst with a fixture off as well")
    for figure in PARAMETERS
)
#: The same beside Lm in its cell, where there is room for one digit.
LM_INTERVAL = replace(INTERVALS_OF_READINGS[1], digits=1)

CRYSTALS: Table[BatchRow] = (
    label("label", "label", lambda r: r.label),
    *PARAMETERS,
    Figure(
        key="refused",
        title="refused",
        what="Why the readings make no crystal.",
        source=_READ,
        get=lambda r: r.refused or None,
        listed=False,
    ),
    Figure(
        key="doubt",
        title="doubt",
        what="What speaks against the readings.",
        source="what quartz allows; from memory",
        get=lambda r: (r.parameters and r.parameters.doubt) or None,
        listed=False,
    ),
    Figure(
        key="left_out",
        title="left out",
        what="Whether the crystal was ticked out.",
        source="the batch's table",
        get=lambda r: r.left_out,
        listed=False,
    ),
)


def _batch(
    key: str, title: str, what: str, get: Callable[[BatchFigures], Any], unit: str, digits: int = 3
) -> Figure[BatchFigures]:
    return Figure(key=key, title=title, what=what, source=_BATCH, get=get, unit=unit, digits=digits)


BATCH: Table[BatchFigures] = (
    _batch("count", "crystals", "How many may be chosen.", lambda b: b.count, "-"),
    _batch("fs_mean_hz", "fs, mean", "Mean series resonance.", lambda b: b.fs_hz[0], "Hz", 9),
    _batch("fs_deviation_hz", "fs, deviation", "Its standard deviation.", lambda b: b.fs_hz[1], "Hz", 2),
    _batch("lm_mean_h", "Lm, mean", "Mean motional inductance.", lambda b: b.lm_h[0], "H"),
    _batch("lm_deviation_h", "Lm, deviation", "Its standard deviation.", lambda b: b.lm_h[1], "H", 2),
    _batch("spread_hz", "fs, spread", "From the lowest to the highest fs.", lambda b: b.spread_hz, "Hz"),
)

PLACED: Table[Placed] = (
    Figure(
        key="mesh",
        title="mesh",
        what="Which mesh of the ladder, counted from the source.",
        source="assignment with the least error of all meshes together",
        get=lambda p: p.mesh,
        unit="-",
    ),
    label("label", "crystal", lambda p: p.label),
    Figure(
        key="error_hz",
        title="off by",
        what="How far the mesh then lies from the frequency that all come near.",
        source="resonance of the crystal with its mesh's capacitors",
        get=lambda p: p.error_hz,
        unit="Hz",
        places=0,
        signed=True,
    ),
)


def _rms(key: str, what: str) -> Figure[Placement]:
    return Figure(
        key=key,
        title=key.removesuffix("_rms_hz").replace("rms_hz", "so placed"),
        what=what,
        source="resonance of each crystal with its mesh's capacitors",
        get=lambda p: getattr(p, key),
        unit="Hz",
        places=0,
    )


PLACEMENT: Table[Placement] = (
    _rms("rms_hz", "Distance of the meshes from their common frequency, root mean square."),
    _rms("sorted_rms_hz", "The same with the closest crystals merely sorted."),
    _rms("random_rms_hz", "The same with crystals taken at random."),
)

RESPONSES: Table[ChoiceFigures] = (
    label("choice", "choice", lambda c: c.way),
    Figure(
        key="loss_db",
        title="least loss",
        what="What the ladder made of these crystals loses where it passes best.",
        source="exact response with each crystal's own figures",
        get=lambda c: c.loss_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="worst_db",
        title="worst inside",
        what="The most that it loses over the inner pass-band.",
        source="exact response with each crystal's own figures",
        get=lambda c: c.worst_db,
        unit="dB",
        places=1,
    ),
    Figure(
        key="width_3db_hz",
        title="width at −3 dB",
        what="From edge to edge where the loss is 3 dB above the least.",
        source="exact response with each crystal's own figures",
        get=lambda c: c.width_hz,
        unit="Hz",
        digits=4,
        absent="beyond the range",
    ),
)


_FITTED_BY = "least squares on the exact circuit, parts within their tolerances"


@record(kw_only=True, slots=False)
class MeasuredOn:
    """The curve of a stage, the bands it serves, the verdict, and what the fit tells, in words too."""

    stage: str
    bands: tuple[str, ...]
    curve: MeasuredCurve
    verdict: CurveVerdict | Unsolved
    fit: CurveFit | None
    told: str


def measured_on(analysis: Analysis) -> list[MeasuredOn]:
    """Every measured curve of a stage that the rig has, in the order of the path."""
    order = {stage.id: n for n, stage in enumerate(analysis.project.stages)}
    curves = [each for each in analysis.project.measured if each.stage in order]
    return [_measured_on(analysis, each) for each in sorted(curves, key=lambda each: order[each.stage])]


def measured_of(analysis: Analysis, stage: str, band: str, way: str = "") -> list[MeasuredOn]:
    """That of one filter, or of a stage in a direction, if there is one."""
    curve = measured.curve_of(analysis, stage, band, way)
    return [] if curve is None else [_measured_on(analysis, curve)]


def _measured_on(analysis: Analysis, curve: MeasuredCurve) -> MeasuredOn:
    band = curve.band or analysis.project.bands[0].name
    found = measured.fitted(analysis, curve.stage, band, curve.way)
    return MeasuredOn(
        stage=curve.stage,
        bands=getattr(analysis.member_on(curve.stage, band), "bands", None) or (),
        curve=curve,
        verdict=verdict_of(analysis, curve),
        fit=found if isinstance(found, CurveFit) else None,
        told=measured.told(analysis, curve.stage, band, curve.way),
    )


def _missed(key: str, title: str, what: str, get: Callable[[CurveFit], float]) -> Figure[MeasuredOn]:
    return Figure(
        key=key,
        title=title,
        what=what,
        source=_FITTED_BY,
        get=lambda m: None if m.fit is None else get(m.fit),
        unit="dB",
        places=2,
    )


MEASURED: Table[MeasuredOn] = (
    label("stage", "stage", lambda m: m.stage),
    bands_label(lambda m: m.bands),
    label("file", "file", lambda m: m.curve.label),
    label("date", "measured on", lambda m: m.curve.date),
    Figure(
        key="verdict",
        title="verdict",
        what="Whether it lies where such a stage does with parts within their tolerances.",
        source="the curve of the circuit, of a filter with 64 trials of scattered parts",
        get=lambda m: None if isinstance(m.verdict, Unsolved) else "within" if m.verdict.within else "out",
    ),
    Figure(
        key="against_expected",
        title="against what is expected",
        what="How far it is off in pass-band and edges, and how far it may be.",
        source="the curve of the circuit and the trials of the verdict",
        get=lambda m: m.verdict.reason if isinstance(m.verdict, Unsolved) else m.verdict.words,
        listed=False,
    ),
    _missed(
        "miss_before_db",
        "off as designed",
        "How far the measured curve is from the computed one, rms within 40 dB of its top.",
        lambda f: f.miss_before_db,
    ),
    _missed("miss_db", "off as fitted", "The same once the parts are fitted to it.", lambda f: f.miss_db),
    Figure(
        key="told",
        title="measured against designed",
        what="Which parts explain the measured curve, and what mends them.",
        source=_FITTED_BY,
        get=lambda m: m.told,
    ),
)


def _plus_minus(part: FittedPart) -> str:
    unit = part.row.unit
    if unit == "Hz":
        return f"{part_value(part.value, unit)} ± {part.plus_minus:.0f} Hz"
    return f"{part_value(part.value, unit)} ± {100 * part.plus_minus / part.value:.1f} %"


def _off(part: FittedPart) -> str:
    if part.row.kind == "crystal":
        return f"{round(part.off):+d} Hz".replace("-", "−")
    # No minus before a nought.
    return f"{round(100 * part.off, 1) + 0.0:+.1f} %".replace("-", "−")


def _fitted(key: str, title: str, what: str, get: Callable[[FittedPart], str | bool]) -> Figure[FittedPart]:
    """Of a fitted part as words, as each is in its own unit."""
    return Figure(key=key, title=title, what=what, source=_FITTED_BY, get=get)


FITTED: Table[FittedPart] = (
    label("ref", "part", lambda p: p.row.ref),
    _fitted("taken", "taken for", "The value it was taken for.", lambda p: part_value(p.taken, p.row.unit)),
    _fitted(
        "fitted", "fitted, 95 %", "The value that explains the curve, with its 95 % interval.", _plus_minus
    ),
    _fitted("off", "off by", "By how much the fitted value is off.", _off),
    _fitted(
        "determined",
        "determined",
        "Whether the curve narrows the part's tolerance down to less than half.",
        lambda p: p.determined,
    ),
)
