"""Measured curves as readings: each against what the rig makes of its stage, as a verdict with its figures.

A filter and an amplifier are held against their own scattered parts (`core.stages.built.judged`), what else
is made of parts against the gain of its circuit, and a stage of which figures are all that is known against
the gain that it counts with, over the frequencies that it works at.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.bands import Dials
from core.model.measured import MeasuredCurve
from core.model.stages.kinds import Stage
from core.model.stages.stage import Way
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.built.measured import KEPT, drawn
from core.rig.levels.blocks import Block
from core.rig.scattered import spreads
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.built.judged import CurveVerdict, Expected, judged, scattered, scattered_gain
from core.stages.filters.carrier_oscillator import SPEECH_HZ
from core.stages.kinds.kind import Place
from core.stages.kinds.table import kind_of
from core.stages.outcome import Design, FilterDesign, Unsolved
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.gain import over
from core.stages.tolerance.judging import Spreads

#: Points of a curve that are judged: more tell no more; of a stage of figures only, fewer do.
_POINTS, _FEW = 201, 21
#: To either side of the IF a stage of figures only is looked at so far, Hz.
_IF_WIDTH_HZ = 3e3


def verdict_of(analysis: Analysis, curve: MeasuredCurve) -> CurveVerdict | Unsolved:
    """Whether a curve of a stage is what the rig expects, and where it is off; or why nobody can tell."""
    band = curve.band or analysis.project.bands[0].name
    design, member = analysis.design(curve.stage, band), analysis.member_on(curve.stage, band)
    if isinstance(member, Unsolved):
        return _of_figures(analysis, curve, band)
    if isinstance(design, Unsolved):
        return design
    if isinstance(design, FilterDesign):
        dials = analysis.dials(member.bands or ())
        return _of_filter(design, curve, spreads(analysis.project.scatter), dials)
    found = _of_circuit(analysis, design, curve)
    return _of_figures(analysis, curve, band) if found is None else found


@lru_cache(maxsize=KEPT)
def _of_filter(
    design: FilterDesign, curve: MeasuredCurve, parts: Spreads, dials: Dials
) -> CurveVerdict | Unsolved:
    network = design.network
    between = replace(
        network,
        source_ohm=network.source_ohm if curve.source_ohm is None else curve.source_ohm,
        load_ohm=network.load_ohm if curve.load_ohm is None else curve.load_ohm,
    )
    swept = _within(curve, design.span_hz)
    if isinstance(swept, Unsolved):
        return swept
    f_hz, loss_db = swept
    expected = scattered(replace(design, network=between), f_hz, parts, dials)
    return expected if isinstance(expected, Unsolved) else judged(loss_db, expected)


def _of_circuit(analysis: Analysis, design: Design, curve: MeasuredCurve) -> CurveVerdict | Unsolved | None:
    """Against the gain of a circuit; None where it is none for a signal that passes it as it is."""
    stage, block = analysis.project.stage(curve.stage), _block(analysis, curve)
    if kind_of(stage).driver(stage) is not None:
        # What comes out of a mixer has another frequency.
        return None
    way: Way = curve.way or "receive"
    parts = spreads(analysis.project.scatter)
    return _amplified(stage, design, curve, Place(zone="rf" if block is None else block.zone, way=way), parts)


@lru_cache(maxsize=KEPT)
def _amplified(
    stage: Stage, design: Design, curve: MeasuredCurve, at: Place, parts: Spreads
) -> CurveVerdict | Unsolved | None:
    swept = _within(curve, design.span_hz)
    if isinstance(swept, Unsolved):
        return swept
    f_hz, loss_db = swept
    if isinstance(design, PowerDesign):
        sent = over(design, tuple(f_hz.tolist()))
        if isinstance(sent, Unsolved):
            return sent
        gain_db = sent.gain_db
    else:
        port = kind_of(stage).two_port(stage, replace(at, design=design), tuple(f_hz.tolist()))
        if port is None:
            return None
        source, load = design.circuit.ports[:2]
        ends = (curve.source_ohm or source.ohm, curve.load_ohm or load.ohm)
        gain_db = port.gain_db(*ends)
        for each in amplifiers_in(design):
            if each.way in (None, at.way):
                return judged(loss_db, scattered_gain(each, f_hz, gain_db, parts, ends))
    nothing = frozen(np.empty((0, f_hz.size)))
    return judged(loss_db, Expected(f_hz=f_hz, loss_db=frozen(-gain_db), trials_db=nothing, gains=True))


def _within(curve: MeasuredCurve, span_hz: tuple[float, float]) -> tuple[Array, Array] | Unsolved:
    """Frequencies [Hz] and loss [dB] of the part of a curve where its stage is looked at."""
    f_hz, s21_db = drawn(curve)
    inside = np.flatnonzero((f_hz >= span_hz[0]) & (f_hz <= span_hz[1]))
    if inside.size < 2:
        return Unsolved(f"This curve runs from {_range(f_hz[0], f_hz[-1])}; sweep from {_range(*span_hz)}.")
    some = inside[np.unique(np.linspace(0, inside.size - 1, _POINTS).astype(int))]
    return frozen(f_hz[some]), frozen(-s21_db[some])


def _range(low_hz: float, high_hz: float) -> str:
    return " to ".join(format_value(float(each), "Hz", 5) for each in (low_hz, high_hz))


def _of_figures(analysis: Analysis, curve: MeasuredCurve, band: str) -> CurveVerdict | Unsolved:
    """Against the gain that a stage counts with in the levels, where it works."""
    block = _block(analysis, curve)
    if block is None:
        return Unsolved("The stage is switched out of the signal path, so that no gain is expected of it.")
    dial = analysis.project.band(band)
    if_hz = analysis.project.if_hz
    low, high = {
        "rf": (dial.low_hz, dial.high_hz),
        "if": (if_hz - _IF_WIDTH_HZ, if_hz + _IF_WIDTH_HZ),
        "audio": SPEECH_HZ,
    }[block.zone]
    f_hz, s21_db = drawn(curve)
    if f_hz[0] > low or f_hz[-1] < high:
        return Unsolved(
            f"The gain of this stage is known from {_range(low, high)}, and this curve runs from "
            f"{_range(f_hz[0], f_hz[-1])}; sweep all of that."
        )
    grid = frozen(np.linspace(low, high, _FEW))
    expected = Expected(
        f_hz=grid,
        loss_db=frozen(np.full(_FEW, -block.gain_db)),
        trials_db=frozen(np.empty((0, _FEW))),
        gains=True,
    )
    return judged(-np.interp(grid, f_hz, s21_db), expected)


def _block(analysis: Analysis, curve: MeasuredCurve) -> Block | None:
    """The stage as it counts in the levels; None where it is switched out."""
    band = curve.band or analysis.project.bands[0].name
    ways: tuple[Way, ...] = (curve.way,) if curve.way else ("receive", "transmit")
    dial_hz = analysis.project.band(band).centre_hz
    every = (block for way in ways for block in analysis.blocks(band, way, dial_hz))
    return next((block for block in every if block.stage == curve.stage), None)
