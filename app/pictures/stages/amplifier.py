"""An amplifier of parts: gain and match over frequency, figures, transistors at rest, schematic."""

from dataclasses import dataclass

from app.pictures.figures import NO_CURVE, Curve, Frame, Label
from app.pictures.stages import block
from app.state.look import Look
from core.model.values.notation import format_value
from core.rig.amplifier_facts import LOOKED_AT_HZ, AmplifierFacts, amplifier_facts
from core.rig.analysis import Analysis
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.outcome import Unsolved

#: Where stability needs a word.
_STABLE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GainPicture:
    """Gain and return losses of either port [dB] over MHz, the held gain dashed."""

    gain: Curve
    held: Curve
    into: Curve
    out: Curve
    labels: tuple[Label, ...]
    frame: Frame


@dataclass(frozen=True, slots=True, kw_only=True)
class AmplifierPicture:
    """Everything the view shows of an amplifier."""

    name: str
    gain: GainPicture
    rows: tuple[tuple[str, str], ...]
    levels_title: str
    levels: tuple[tuple[str, str], ...]
    design: AmplifierDesign


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> AmplifierPicture | Unsolved:
    """What there is to show of the selected amplifier, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = amplifier_facts(analysis, stage, look.band)
    if isinstance(facts, Unsolved):
        return facts
    at = block.picture_of(analysis, look)
    return AmplifierPicture(
        name=stage.name,
        gain=_gain(facts, _held(held, look), stage.id),
        rows=(*_rows(facts), *_at_rest(facts)),
        levels_title=f"{stage.name}: levels" if isinstance(at, Unsolved) else at.title,
        levels=(("levels", at.reason),) if isinstance(at, Unsolved) else at.rows,
        design=facts.design,
    )


def _held(held: Analysis | None, look: Look) -> AmplifierFacts | None:
    if held is None:
        return None
    stage = next((each for each in held.project.stages if each.id == look.stage), None)
    if stage is None or all(band.name != look.band for band in held.project.bands):
        return None
    found = amplifier_facts(held, stage, look.band)
    return None if isinstance(found, Unsolved) else found


def _gain(facts: AmplifierFacts, held: AmplifierFacts | None, stage_id: str) -> GainPicture:
    over = facts.sweep
    x = over.f_hz / 1e6
    into, out = -over.input_return_loss_db, -over.output_return_loss_db
    place = len(x) // 2
    labels = (
        Label(float(x[place]), float(over.gain_db[place]), "gain", "curve", "above", 9),
        Label(float(x[place]), float(into[place]), "reflected at the input", "soft", "above", 5),
        Label(float(x[-40]), float(out[-40]), "reflected at the output", "soft", "below", 4),
    )
    top = max(10.0, float(over.gain_db.max()) + 5)
    return GainPicture(
        gain=Curve(x, over.gain_db),
        held=NO_CURVE if held is None else Curve(x[::4], held.sweep.gain_db[::4]),
        into=Curve(x, into),
        out=Curve(x, out),
        labels=labels,
        frame=Frame((LOOKED_AT_HZ[0] / 1e6, LOOKED_AT_HZ[1] / 1e6), (-40.0, top), ("gain", stage_id)),
    )


def _rows(facts: AmplifierFacts) -> list[tuple[str, str]]:
    got = facts.figures
    at = format_value(facts.at_hz, "Hz", 3)
    steady = "with any ends" if facts.stability.least_mu > _STABLE else "with ordinary ends only"
    return [
        (f"gain at {at}", format_value(got.gain_db, "dB", 3)),
        ("from output back to input", format_value(got.reverse_db, "dB", 3)),
        ("input impedance", _ohm(got.input_ohm)),
        ("output impedance", _ohm(got.output_ohm)),
        ("return loss, input", format_value(got.input_return_loss_db, "dB", 3)),
        ("return loss, output", format_value(got.output_return_loss_db, "dB", 3)),
        ("noise figure", format_value(got.noise_figure_db, "dB", 3)),
        ("third-order intercept, output", format_value(got.oip3_dbm, "dBm", 3)),
        ("1 dB compression, output, ±0.5 dB", format_value(got.compression_dbm, "dBm", 3)),
        ("what ends first", got.first_limit),
        ("stable", f"{steady} (µ {facts.stability.least_mu:.2f})"),
        ("taken from the supply", format_value(got.supply_a, "A", 3)),
    ]


def _at_rest(facts: AmplifierFacts) -> list[tuple[str, str]]:
    return [
        (
            f"{each.ref} at rest",
            f"{format_value(each.output_a, 'A', 3)}, {format_value(each.output_v, 'V', 3)}, "
            f"{format_value(each.watt, 'W', 2)}",
        )
        for each in facts.figures.transistors
    ]


def _ohm(value: complex) -> str:
    sign = "+" if value.imag >= 0 else "−"
    return f"{value.real:.1f} {sign} j{abs(value.imag):.1f} Ω"
