"""Measured curves of a rig's filters and amplifiers against these as designed."""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, ComplexArray, frozen
from core.model.measured import MeasuredCurve
from core.model.project import Project
from core.model.values.errors import DesignError
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.scattered import spreads
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.built.amplifier_curve import fit_amplifier
from core.stages.built.curve_fit import fit
from core.stages.built.curve_subject import CurveFit
from core.stages.built.curve_words import verdict
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance import Spreads


def place_of(analysis: Analysis, stage_id: str, band: str) -> int | None:
    """The place of the curve of a stage's filter on a band among the project's; None where there is none."""
    member = analysis.member_on(stage_id, band)
    if isinstance(member, Unsolved):
        return None
    for n, curve in enumerate(analysis.project.measured):
        if curve.stage == stage_id and (member.bands is None or curve.band in member.bands):
            return n
    return None


def curve_of(analysis: Analysis, stage_id: str, band: str) -> MeasuredCurve | None:
    """The measured curve of a stage's filter on a band."""
    place = place_of(analysis, stage_id, band)
    return None if place is None else analysis.project.measured[place]


@lru_cache(maxsize=16)
def drawn(curve: MeasuredCurve) -> tuple[Array, Array]:
    """Frequencies [Hz] and S21 [dB] of a curve, each of shape (F,)."""
    return frozen(np.array(curve.f_hz)), frozen(np.array(curve.s21_db))


def fitted(analysis: Analysis, stage_id: str, band: str) -> CurveFit | Unsolved | None:
    """What the measured curve of a stage on a band tells of its parts; None without a curve."""
    curve, design = curve_of(analysis, stage_id, band), analysis.design(stage_id, band)
    if curve is None:
        return None
    if isinstance(design, FilterDesign):
        return _fitted(design, curve, spreads(analysis.project.scatter))
    if isinstance(design, AmplifierDesign):
        return _amplified(design, curve)
    if isinstance(design, Unsolved):
        return design
    return Unsolved("Of such a stage no parts are fitted; its curve is kept with the design.")


def told(analysis: Analysis, stage_id: str, band: str) -> str:
    """That in words; empty without a curve."""
    found, design = fitted(analysis, stage_id, band), analysis.design(stage_id, band)
    if found is None:
        return ""
    if isinstance(found, Unsolved) or isinstance(design, Unsolved):
        return found.reason if isinstance(found, Unsolved) else ""
    return verdict(found, dict(getattr(design, "wound", ())))


def with_curve(analysis: Analysis, curve: MeasuredCurve) -> Project:
    """The rig with a curve, instead of the former one of the same filter."""
    project, place = analysis.project, place_of(analysis, curve.stage, curve.band)
    rest = tuple(each for n, each in enumerate(project.measured) if n != place)
    return project.edited(("measured",), (*rest, curve))


def without_curve(analysis: Analysis, stage_id: str, band: str) -> Project:
    """The rig without the curve of a stage's filter on a band."""
    place = place_of(analysis, stage_id, band)
    return analysis.project.edited(
        ("measured",), tuple(each for n, each in enumerate(analysis.project.measured) if n != place)
    )


def with_fitted(analysis: Analysis, stage_id: str, band: str) -> Project:
    """The rig whose filter is built of the parts that make the measured curve; `DesignError` without any."""
    found, member = fitted(analysis, stage_id, band), analysis.member_on(stage_id, band)
    if found is None or isinstance(found, Unsolved) or isinstance(member, Unsolved):
        raise DesignError("There is no fit to a measured curve; read one first.")
    path = (*member.path_in(stage_id), "as_built")
    values = dict(analysis.project.at(path))
    # All of them: what stands in the filter is soldered, and nothing is to be designed around one part.
    moved = {part.row.ref: part.value for part in found.fitted}
    for part in found.parts:
        value = moved.get(part.row.ref, part.taken)
        # Hertz to a tenth, everything else to what can be measured.
        values[part.row.key] = round(value, 1) if part.row.kind == "crystal" else significant(value, 4)
    return analysis.project.edited(path, values)


@lru_cache(maxsize=16)
def _fitted(design: FilterDesign, curve: MeasuredCurve, parts: Spreads) -> CurveFit | Unsolved:
    f_hz, s21_db = drawn(curve)
    ends = {"source_ohm": curve.source_ohm, "load_ohm": curve.load_ohm}
    return fit(design, f_hz, s21_db, parts, s11=_reflected(curve), **ends)


@lru_cache(maxsize=16)
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
