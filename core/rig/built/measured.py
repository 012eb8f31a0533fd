"""Measured curves of a rig's stages against these as designed: which is whose, and what parts explain it."""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, ComplexArray, frozen
from core.model.measured import MeasuredCurve
from core.model.project import Project, Stage
from core.model.stages.stage import Way
from core.model.values.errors import DesignError
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.scattered import spreads
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.built.amplifier_curve import fit_amplifier
from core.stages.built.curve_fit import fit
from core.stages.built.curve_subject import CurveFit
from core.stages.built.curve_words import verdict
from core.stages.kinds.table import kind_of
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance.judging import Spreads

#: Curves whose fits are kept: as many as a rig has, and some.
KEPT = 64


def bound_to(analysis: Analysis, stage_id: str, band: str, way: Way) -> tuple[str, str]:
    """The band and direction that a curve of a stage is kept under, each empty where that makes no
    difference; `DesignError` where a stage has nothing on the band.
    """
    stage = analysis.project.stage(stage_id)
    if not _made_of_parts(stage):
        return band, way if stage.direction == "both" else ""
    member = analysis.member_on(stage_id, band)
    if isinstance(member, Unsolved):
        raise DesignError(member.reason)
    pair = len(amplifiers_in(analysis.design(stage_id, band))) > 1
    return "" if member.bands is None else band, way if pair else ""


def _made_of_parts(stage: Stage) -> bool:
    """Whether a stage has a circuit, or filters of which one may lack."""
    making = kind_of(stage).making
    return making is not None and (bool(stage.members) or making.fresh is not None)


def place_of(analysis: Analysis, stage_id: str, band: str, way: str = "") -> int | None:
    """The place of the curve of a stage on a band among the project's; None where there is none. `way` tells
    two of a stage that works either way apart.
    """
    member = analysis.member_on(stage_id, band)
    if isinstance(member, Unsolved):
        if _made_of_parts(analysis.project.stage(stage_id)):
            return None
        bands: tuple[str, ...] | None = ("", band)
    else:
        bands = member.bands
    for n, curve in enumerate(analysis.project.measured):
        if curve.stage != stage_id or (way and curve.way not in ("", way)):
            continue
        if bands is None or curve.band in bands:
            return n
    return None


def curve_of(analysis: Analysis, stage_id: str, band: str, way: str = "") -> MeasuredCurve | None:
    """The measured curve of a stage on a band, of one that works either way in a direction."""
    place = place_of(analysis, stage_id, band, way)
    return None if place is None else analysis.project.measured[place]


@lru_cache(maxsize=KEPT)
def drawn(curve: MeasuredCurve) -> tuple[Array, Array]:
    """Frequencies [Hz] and S21 [dB] of a curve, each of shape (F,)."""
    return frozen(np.array(curve.f_hz)), frozen(np.array(curve.s21_db))


def fitted(analysis: Analysis, stage_id: str, band: str, way: str = "") -> CurveFit | Unsolved | None:
    """What the measured curve of a stage on a band tells of its parts; None without a curve."""
    curve = curve_of(analysis, stage_id, band, way)
    return None if curve is None else fit_of(analysis, curve)


def fit_of(analysis: Analysis, curve: MeasuredCurve) -> CurveFit | Unsolved:
    """What a measured curve tells of the parts of its stage."""
    design = analysis.design(curve.stage, curve.band or analysis.project.bands[0].name)
    if isinstance(design, FilterDesign):
        return _fitted(design, curve, spreads(analysis.project.scatter))
    for each in amplifiers_in(design):
        if each.way in (None, curve.way or "receive"):
            return _amplified(each, curve)
    if isinstance(design, Unsolved) and _made_of_parts(analysis.project.stage(curve.stage)):
        return design
    return Unsolved("Of such a stage no parts are fitted: if it is out, read the levels and voltages in it.")


def told(analysis: Analysis, stage_id: str, band: str, way: str = "") -> str:
    """That in words; empty without a curve."""
    found, design = fitted(analysis, stage_id, band, way), analysis.design(stage_id, band)
    if found is None:
        return ""
    return found.reason if isinstance(found, Unsolved) else verdict(found, dict(getattr(design, "wound", ())))


def with_curve(analysis: Analysis, curve: MeasuredCurve) -> Project:
    """The rig with a curve, instead of the former one of the same filter."""
    project, place = analysis.project, place_of(analysis, curve.stage, curve.band, curve.way)
    rest = tuple(each for n, each in enumerate(project.measured) if n != place)
    return project.edited(("measured",), (*rest, curve))


def without_curve(analysis: Analysis, stage_id: str, band: str, way: str = "") -> Project:
    """The rig without the curve of a stage on a band."""
    place = place_of(analysis, stage_id, band, way)
    return analysis.project.edited(
        ("measured",), tuple(each for n, each in enumerate(analysis.project.measured) if n != place)
    )


def with_fitted(analysis: Analysis, stage_id: str, band: str, way: str = "") -> Project:
    """The rig whose stage is built of the parts that make the measured curve; `DesignError` without any."""
    found, member = fitted(analysis, stage_id, band, way), analysis.member_on(stage_id, band)
    if found is None:
        raise DesignError("There is no fit to a measured curve; read one first.")
    if isinstance(found, Unsolved) or isinstance(member, Unsolved):
        raise DesignError(found.reason if isinstance(found, Unsolved) else "Such a stage has no parts.")
    path = (*member.path_in(stage_id), "as_built")
    values = dict(analysis.project.at(path))
    # All of them: what stands in the filter is soldered, and nothing is to be designed around one part.
    moved = {part.row.ref: part.value for part in found.fitted}
    for part in found.parts:
        value = moved.get(part.row.ref, part.taken)
        # Hertz to a tenth, everything else to what can be measured.
        values[part.row.key] = round(value, 1) if part.row.kind == "crystal" else significant(value, 4)
    return analysis.project.edited(path, values)


@lru_cache(maxsize=KEPT)
def _fitted(design: FilterDesign, curve: MeasuredCurve, parts: Spreads) -> CurveFit | Unsolved:
    f_hz, s21_db = drawn(curve)
    ends = {"source_ohm": curve.source_ohm, "load_ohm": curve.load_ohm}
    return fit(design, f_hz, s21_db, parts, s11=_reflected(curve), **ends)


@lru_cache(maxsize=KEPT)
def _amplified(design: AmplifierDesign, curve: MeasuredCurve) -> CurveFit | Unsolved:
    f_hz, s21_db = drawn(curve)
    ends = {"source_ohm": curve.source_ohm, "load_ohm": curve.load_ohm}
    return fit_amplifier(design, f_hz, s21_db, s11=_reflected(curve), **ends)


def _reflected(curve: MeasuredCurve) -> ComplexArray | None:
    """S11 (F,) [-] of a curve; None where it was not measured."""
    if not curve.s11_db:
        return None
    turned = np.exp(1j * np.radians(np.array(curve.s11_degrees)))
    return np.asarray(10 ** (np.array(curve.s11_db) / 20) * turned, dtype=complex)
