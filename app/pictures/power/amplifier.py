"""A power amplifier of parts: gain over the bands, load line, temperature over time, figures, drivers."""

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, Shape
from app.pictures.held import held_facts
from app.pictures.stages import block
from app.pictures.told import Told, in_columns, in_rows, line
from app.state.look import Look
from app.style import words
from core.record import record
from core.rig.analysis import Analysis
from core.rig.power.facts import (
    LOOKED_AT_HZ,
    PowerFacts,
    drivers,
    load_line,
    over_frequency,
    power_facts,
    warming,
)
from core.rig.sections.power import told
from core.rig.sections.power_bands import DRIVERS, EXPOSURE, ON_BANDS
from core.stages.outcome import Drawable, Unsolved

#: Gain is drawn between these, dB.
_LOW_DB, _HIGH_DB = -10.0, 35.0


@record(kw_only=True)
class PowerGainPicture:
    """Gain as it counts, of the circuit and of the device alone [dB] over MHz, the held gain dashed; a box a
    band.
    """

    gain: Curve
    network: Curve
    device: Curve
    held: Curve
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class LoadLinePicture:
    """Current [A] over voltage [V]: a carrier's path, the device at its largest drive, the held path."""

    path: Curve
    device: Curve
    held: Curve
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class WarmingPicture:
    """Junction and sink [°C] over minutes, the held junction dashed, what the junction should stay below."""

    junction: Curve
    sink: Curve
    held: Curve
    limit: Curve
    labels: tuple[Label, ...]
    frame: Frame


@record(kw_only=True)
class PowerPicture:
    """Everything the view shows of a power amplifier."""

    name: str
    gain: PowerGainPicture
    line: LoadLinePicture
    warming: WarmingPicture
    table: Told
    bands: Told
    drivers_title: str
    drivers: Told
    levels_title: str
    levels: Told
    exposure: Told
    drawing: Drawable


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> PowerPicture | Unsolved:
    """What there is to show of the selected power amplifier, or why there is nothing."""
    stage = analysis.project.stage(str(look.stage))
    facts = power_facts(analysis, stage)
    if isinstance(facts, Unsolved):
        return facts
    before = held_facts(held, look, power_facts)
    gain, path = _gain(analysis, facts, before), _load_line(facts, before)
    for each in (gain, path):
        if isinstance(each, Unsolved):
            return each
    assert not isinstance(gain, Unsolved)
    assert not isinstance(path, Unsolved)
    levels_title, levels = block.levels_of(analysis, look)
    return PowerPicture(
        name=facts.name,
        gain=gain,
        line=path,
        warming=_warming(facts, before),
        table=in_rows(("figure", "value"), (line(figure, facts) for figure in told(facts))),
        bands=in_columns(ON_BANDS, facts.bands),
        drivers_title=f"From the transmit mixer to the antenna on {words.band(look.band)}",
        drivers=in_columns(DRIVERS[1:], drivers(analysis, look.band)),
        levels_title=levels_title,
        levels=levels,
        exposure=in_columns(EXPOSURE, facts.exposures),
        drawing=facts.design.drawing,
    )


def _gain(analysis: Analysis, facts: PowerFacts, held: PowerFacts | None) -> PowerGainPicture | Unsolved:
    found = over_frequency(facts)
    if isinstance(found, Unsolved):
        return found
    before = None if held is None else over_frequency(held)
    x = found.f_hz / 1e6
    curves = [_cut(Curve(x, each)) for each in (found.gain_db, found.network_db, found.device_db)]
    named = (("gain", "curve", 9.0), ("of the circuit", "soft", 5.0), ("of the device", "soft", 4.0))
    labels = [
        Label(*curve.some()[place], text, role, side="above", importance=much, also=curve.some())
        for place, (curve, (text, role, much)) in enumerate(zip(curves, named, strict=True), 2)
        if curve.x.size
    ]
    shapes = tuple(
        Shape.box((band.low_hz / 1e6, band.high_hz / 1e6), (_LOW_DB, _HIGH_DB), "pass_band")
        for band in analysis.project.bands
    )
    return PowerGainPicture(
        gain=curves[0],
        network=curves[1],
        device=curves[2],
        held=NO_CURVE
        if before is None or isinstance(before, Unsolved)
        else _cut(Curve(before.f_hz / 1e6, before.gain_db)),
        shapes=shapes,
        labels=tuple(labels),
        frame=Frame(
            (LOOKED_AT_HZ[0] / 1e6, LOOKED_AT_HZ[1] / 1e6), (_LOW_DB, _HIGH_DB), ("power gain", facts.stage)
        ),
    )


def _cut(curve: Curve) -> Curve:
    """The part of a curve that lies in the picture."""
    inside = (curve.y >= _LOW_DB) & (curve.y <= _HIGH_DB)
    return Curve(curve.x[inside], curve.y[inside])


def _load_line(facts: PowerFacts, held: PowerFacts | None) -> LoadLinePicture | Unsolved:
    found = load_line(facts.design)
    if isinstance(found, Unsolved):
        return found
    before = None if held is None else load_line(held.design)
    path, device = Curve(found.path_v, found.path_a), Curve(found.device_v, found.device_a)
    top = 1.15 * float(max(found.path_a.max(), found.device_a.max()))
    labels = (
        Label(*path.some()[1], "a carrier's path", "curve", side="above", importance=9, also=path.some()),
        Label(
            *device.some()[7], "at the largest drive", "soft", side="below", importance=6, also=device.some()
        ),
    )
    return LoadLinePicture(
        path=path,
        device=device,
        held=NO_CURVE
        if before is None or isinstance(before, Unsolved)
        else Curve(before.path_v, before.path_a),
        labels=labels,
        frame=Frame((0.0, 1.05 * float(found.device_v[-1])), (0.0, top), ("load line", facts.stage)),
    )


def _warming(facts: PowerFacts, held: PowerFacts | None) -> WarmingPicture:
    found = warming(facts)
    minutes = found.time_s / 60
    before = None if held is None else warming(held)
    most = facts.most_junction_c
    junction, sink = Curve(minutes, found.junction_c), Curve(minutes, found.sink_c)
    end = float(minutes[-1])
    low = min(20.0, float(found.sink_c[0]))
    high = max(most, float(found.junction_c.max())) + 15
    labels = (
        Label(*junction.some()[5], "junction", "curve", side="above", importance=9, also=junction.some()),
        Label(*sink.some()[5], "sink", "soft", side="below", importance=8, also=sink.some()),
        Label(end / 3, most, "wise limit", "soft", side="above", importance=5, also=((2 * end / 3, most),)),
    )
    inside = None if before is None else before.time_s / 60 <= end
    return WarmingPicture(
        junction=junction,
        sink=sink,
        held=NO_CURVE
        if before is None or inside is None
        else Curve(before.time_s[inside] / 60, np.minimum(before.junction_c[inside], high)),
        limit=Curve.over((0.0, end), (most, most)),
        labels=labels,
        frame=Frame((0.0, end), (low, high), ("warming", facts.stage)),
    )
