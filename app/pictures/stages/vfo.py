"""The VFO: its dial, its drift part by part, warming up, and the figures of the parts found for it."""

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, LinePicture, Shape
from app.pictures.held import held_on_band
from app.pictures.stages.coils import wound_coils
from app.pictures.stages.vfo_table import drive_lines, vfo_lines
from app.pictures.told import Told, in_rows, said, with_heads
from app.state.look import Look
from app.style import words
from core.circuits.ladder import Array
from core.record import record
from core.rig import tuning
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.vfo import DRIFT, DRIFTS_AT, VFO, VfoOn
from core.rig.plan.frequency_plan import dial_for
from core.rig.wound.windings import vfo_windings
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign
from core.stages.vfo.vfo import VfoFigures

FIGURES = keyed(VFO)
_MINUTES = np.linspace(0.0, 90.0, 181)
#: Most curves in the dial's picture: a rig has four bands at most.
MOST = 4
#: What a VFO view shows beside the dial: tuning rate, error of an even scale, or warming up.
RATE, SCALE, WARMING = range(3)


@record(kw_only=True)
class DialPicture:
    """VFO [MHz] over turns of the knob: a curve a band, the held one's, and where the dial stands."""

    ranges: tuple[Curve, ...]
    held: Curve
    here: Curve
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class VfoPicture:
    """Everything the view shows of a tank; `beside` is the chosen plot, or why there is none.

    `drift_at` is where the drift is told, empty where there is none; `fitted`: parts have as-built values.
    """

    band: str
    tank: TankDesign
    dial: DialPicture | str
    beside: LinePicture | str
    drift_at: str
    drift: Told
    figures: Told
    limits: str
    fitted: bool
    core: str
    coil: Told


def picture_of(
    analysis: Analysis, held: Analysis | None, look: Look, *, beside: int
) -> VfoPicture | Unsolved:
    """What there is to show of the VFO, or why there is nothing; `beside` is RATE, SCALE or WARMING."""
    made = analysis.tank
    if made is None:
        return Unsolved(
            "The VFO is a block without a tank; tick “Tank” on the left to design what tunes it, or edit "
            "its level and harmonics there."
        )
    if isinstance(made, Unsolved):
        return made
    found, then = analysis.vfo_on(look.band), held_on_band(held, look)
    beside_it: LinePicture | str
    if isinstance(found, Unsolved):
        beside_it, drift_at, drift = found.reason, "", Told(("part",), ())
        figures = in_rows(("figure", "value"), ())
    else:
        beside_it = _beside(analysis, then, look, made, found, beside)
        drift_at, drift = DRIFTS_AT.text(found.worst_drift), _drift(found)
        of = VfoOn(found.cover, found, tuning.warm_up(made, found.worst_drift.hz_per_k))
        lines = vfo_lines(made, of, tuning.compensation_of(made))
        driven = drive_lines(analysis)
        figures = in_rows(("figure", words.band(look.band)), (*lines, *driven))
    return VfoPicture(
        band=words.band(look.band),
        tank=made,
        dial=_dial(analysis, then, look, made),
        beside=beside_it,
        drift_at=drift_at,
        drift=drift,
        figures=figures,
        limits=" ".join(map(str, made.limits)),
        fitted=bool(made.tank.as_built),
        core=made.tank.core,
        coil=_coil(analysis),
    )


def _coil(analysis: Analysis) -> Told:
    found = vfo_windings(analysis)
    if found:
        return wound_coils(found)
    return in_rows(("coil", "wound"), [said("", "nothing is said of core or former: it is as typed in")])


def _dial(analysis: Analysis, held: Analysis | None, look: Look, made: TankDesign) -> DialPicture | str:
    covers = [(cover, tuning.dial_on(analysis, cover.band)) for cover in made.ranges]
    ranges = [(cover, dial) for cover, dial in covers if not isinstance(dial, Unsolved)]
    if not ranges:
        return "The parts tune nothing of what the bands want; see below what stands in the way."
    first = ranges[0][1].turns
    x = (float(first[0]), float(first[-1]))
    low = min(min(float(dial.f_hz[0]), cover.wanted_low_hz) for cover, dial in ranges) / 1e6
    high = max(max(float(dial.f_hz[-1]), cover.wanted_high_hz) for cover, dial in ranges) / 1e6
    room = 0.06 * (high - low)
    shapes, labels = [], []
    for cover, _ in ranges:
        here, wanted = cover.band == look.band, (cover.wanted_low_hz / 1e6, cover.wanted_high_hz / 1e6)
        shapes.append(Shape.box(x, wanted, "pass_band" if here else "corridor", "rule"))
        side = "below_right" if here else "above_right"
        role = "dial" if here else "soft"
        labels.append(
            Label(
                x[0], wanted[1] if here else wanted[0], words.band(cover.band), role, side=side, importance=5
            )
        )
    was = Unsolved("") if held is None else tuning.dial_on(held, look.band)
    kept = NO_CURVE if isinstance(was, Unsolved) else Curve(was.turns[::4], was.f_hz[::4] / 1e6)
    mhz = analysis.band_plan(look.band).vfo_at(look.dial_hz) / 1e6
    return DialPicture(
        ranges=tuple(Curve(dial.turns, dial.f_hz / 1e6) for _, dial in ranges),
        held=kept,
        here=Curve.over(x, (mhz, mhz)),
        shapes=tuple(shapes),
        labels=tuple(labels),
        frame=Frame(x, (low - room, high + room), ("dial", len(ranges))),
    )


def _beside(
    analysis: Analysis,
    held: Analysis | None,
    look: Look,
    made: TankDesign,
    found: VfoFigures,
    beside: int,
) -> LinePicture:
    was = None if held is None else held.vfo_on(look.band)
    before = was if isinstance(was, VfoFigures) else None
    if beside == WARMING:
        return _warming(held, made, found, before)
    of, then = found.dial, None if before is None else before.dial
    x = _dials(analysis, look.band, of.wanted_f_hz)
    kept_x = None if then is None else _dials(analysis, look.band, then.wanted_f_hz)
    if beside == RATE:
        note = f"at most {FIGURES['worst_hz_per_turn'].written(of.worst_hz_per_turn)}"
        kept = None if then is None else then.hz_per_turn / 1e3
        return _over_the_band(x, of.hz_per_turn / 1e3, note, kept_x, kept, from_zero=True)
    sign = analysis.band_plan(look.band).vfo_rises / 1e3
    note = f"at most {FIGURES['scale_error_hz'].written(of.worst_scale_error_hz)} off"
    kept = None if then is None else sign * then.scale_error_hz
    return _over_the_band(x, sign * of.scale_error_hz, note, kept_x, kept, from_zero=False)


def _dials(analysis: Analysis, band: str, vfo_hz: Array) -> Array:
    """Dial frequencies [MHz] of VFO frequencies, shape (P,) [Hz]."""
    plan = analysis.band_plan(band)
    return dial_for(plan.scheme, plan.carrier_hz, vfo_hz) / 1e6


def _over_the_band(
    x: Array, y: Array, note: str, held_x: Array | None, held_y: Array | None, *, from_zero: bool
) -> LinePicture:
    """One figure over the dial [MHz] of a band."""
    order = np.argsort(x)
    low, high = float(y.min()), float(y.max())
    low = min(low, 0.0) if from_zero else low
    room = 0.12 * ((high - low) or 1.0)
    span = (float(x.min()), float(x.max()))
    return LinePicture(
        line=Curve(x[order], y[order]),
        held=NO_CURVE if held_x is None or held_y is None else Curve(held_x, held_y),
        shapes=(),
        labels=(Label(span[1], high + 1.9 * room, note, "soft", side="below_left", importance=9),),
        frame=Frame(span, (low - (0 if from_zero and low == 0 else room), high + 2 * room), ("band",)),
    )


def _warming(
    held: Analysis | None, made: TankDesign, found: VfoFigures, before: VfoFigures | None
) -> LinePicture:
    """Drift after switching on: as the parts nominally are, and between their tolerances."""
    drift, seconds = found.worst_drift, 60 * _MINUTES
    worst = tuning.warm_up_hz(made, drift.worst_hz_per_k, seconds)
    outline = [*zip(_MINUTES, worst, strict=True), *zip(_MINUTES[::-1], -worst[::-1], strict=True)]
    was = None if held is None else held.tank
    kept = NO_CURVE
    if before is not None and isinstance(was, TankDesign):
        kept = Curve(_MINUTES, tuning.warm_up_hz(was, before.worst_drift.hz_per_k, seconds))
    reach = 1.1 * max(float(np.abs(worst).max()), 1.0)
    span = (float(_MINUTES[0]), float(_MINUTES[-1]))
    note = f"box {made.tank.warmth.rise_k:g} K warmer; shaded: worst case"
    return LinePicture(
        line=Curve(_MINUTES, tuning.warm_up_hz(made, drift.hz_per_k, seconds)),
        held=kept,
        shapes=(Shape(tuple((float(x), float(y)) for x, y in outline), "corridor"),),
        labels=(Label(span[1], 0.97 * reach, note, "soft", side="below_left", importance=9),),
        frame=Frame(span, (-reach, reach), ("warm-up",)),
    )


def _drift(found: VfoFigures) -> Told:
    """A row a part: its share of the energy and what it adds to the drift."""
    at = found.worst_drift
    part, kind, share, coefficient, effect = DRIFT
    rows = (
        (
            part.text(c),
            kind.text(c),
            share.text(c),
            coefficient.bare(c.coefficient_ppm),
            effect.bare(c.effect_ppm),
        )
        for c in at.contributions
    )
    return with_heads(DRIFT, (*rows, ("sum", "strays steady", "", "", effect.bare(at.ppm_per_k))))
