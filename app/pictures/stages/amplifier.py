"""An amplifier of parts: gain and match over frequency, figures, transistors at rest, schematic."""

from app.pictures.figures import NO_CURVE, Curve, Frame, Label
from app.pictures.held import held_facts, held_on_band
from app.pictures.stages import block, ends
from app.pictures.stages.ends import EndsPicture
from app.pictures.told import Told, in_columns, in_rows, line, said
from app.state.look import Look
from core.circuits.ladder import Array
from core.model.measured import MeasuredCurve
from core.record import record
from core.rig.amplifier_facts import LOOKED_AT_HZ, AmplifierFacts, amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.built.measured import curve_of, drawn
from core.rig.figures.amplifiers import AT_REST, ENDS, SENSITIVITY, SPREAD, told
from core.rig.levels.ends import Ends
from core.stages.outcome import Drawable, Unsolved

#: So many parts are listed.
_MOST_PARTS = 10


@record(kw_only=True)
class GainPicture:
    """Gain and return losses of either port [dB] over MHz, the held gain dashed, and the gain as measured."""

    gain: Curve
    held: Curve
    measured: Curve
    into: Curve
    out: Curve
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class AmplifierPicture:
    """Everything the view shows of an amplifier."""

    name: str
    gain: GainPicture
    table: Told
    levels_title: str
    levels: Told
    ends: EndsPicture
    drawing: Drawable


@record
class PartsPicture:
    """What the parts do that do most, and a note on all of them together."""

    title: str
    note: str
    tip: str
    parts: Told


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> AmplifierPicture | Unsolved:
    """What there is to show of the selected amplifier, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = amplifier_facts(analysis, stage, look.band, look.way)
    made = analysis.design(stage.id, look.band)
    if isinstance(facts, Unsolved):
        return facts
    assert not isinstance(made, Unsolved)
    beside = ends.ends_of(analysis, look)
    before = held_facts(
        held_on_band(held, look),
        look,
        lambda kept, stage: amplifier_facts(kept, stage, look.band, look.way),
    )
    levels_title, levels = block.levels_of(analysis, look)
    return AmplifierPicture(
        name=facts.name,
        gain=_gain(facts, before, stage.id, curve_of(analysis, stage.id, look.band, look.way)),
        table=_table(facts, beside),
        levels_title=levels_title,
        levels=levels,
        ends=ends.picture_of(beside, look),
        drawing=made.drawing,
    )


def _gain(
    facts: AmplifierFacts, held: AmplifierFacts | None, stage_id: str, curve: MeasuredCurve | None
) -> GainPicture:
    over = facts.sweep
    x = over.f_hz / 1e6
    into, out = -over.input_return_loss_db, -over.output_return_loss_db
    place = len(x) // 2

    def label(y: Array, at: int, text: str, role: str, side: str, importance: float) -> Label:
        also = Curve(x, y).some()
        return Label(float(x[at]), float(y[at]), text, role, side=side, importance=importance, also=also)

    labels = (
        label(over.gain_db, place, "gain", "curve", "above", 9),
        label(into, place, "reflected at the input", "soft", "above", 5),
        label(out, -40, "reflected at the output", "soft", "below", 4),
    )
    top = max(10.0, float(over.gain_db.max()) + 5)
    return GainPicture(
        gain=Curve(x, over.gain_db),
        held=NO_CURVE if held is None else Curve(x[::4], held.sweep.gain_db[::4]),
        measured=NO_CURVE if curve is None else _swept(curve),
        into=Curve(x, into),
        out=Curve(x, out),
        labels=labels,
        frame=Frame((LOOKED_AT_HZ[0] / 1e6, LOOKED_AT_HZ[1] / 1e6), (-40.0, top), ("gain", stage_id)),
    )


def _swept(curve: MeasuredCurve) -> Curve:
    """What of a measured curve lies within the plot."""
    f_hz, s21_db = drawn(curve)
    inside = (f_hz >= LOOKED_AT_HZ[0]) & (f_hz <= LOOKED_AT_HZ[1])
    return Curve(f_hz[inside] / 1e6, s21_db[inside]) if inside.any() else NO_CURVE


def _table(facts: AmplifierFacts, beside: Ends | Unsolved) -> Told:
    (at_rest,) = AT_REST
    lines = [line(figure, facts) for figure in told(facts)]
    lines += [
        said(f"{each.ref} {at_rest.title}", at_rest.text(each), tip=at_rest.tip) for each in facts.figures.fed
    ]
    if not isinstance(beside, Unsolved):
        lines += [line(figure, beside) for figure in ENDS]
    return in_rows(("figure", "value"), lines)


def parts_of(analysis: Analysis, look: Look) -> PartsPicture | None:
    """What the parts of the selected amplifier do, for when the hand rests; None while it has no figures."""
    facts = amplifier_facts(analysis, analysis.project.stage(str(look.stage)), look.band, look.way)
    if isinstance(facts, Unsolved):
        return None
    found, title = sensitivities(facts), f"{facts.name}: what its parts do, each 10 % larger"
    if isinstance(found, Unsolved):
        return PartsPicture(title, "", "", in_rows(("part", "value"), [said("parts", found.reason)]))
    note = "; ".join(f"{figure.title}: {figure.text(found)}" for figure in SPREAD)
    tip = "\n".join(figure.tip for figure in SPREAD)
    return PartsPicture(title, note, tip, in_columns(SENSITIVITY, found[:_MOST_PARTS]))
