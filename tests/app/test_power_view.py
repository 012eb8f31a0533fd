"""A power amplifier of parts in the window: inserted, edited and read as a builder does."""

import numpy as np
import pytest

from app.pictures.power import amplifier
from app.sheet.drawings import drawn
from app.stage_views.amplifier import PowerView
from app.state.look import Look
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.rig.analysis import Analysis
from core.rig.power.facts import power_facts
from core.stages.kinds.table import kind_of


def rig(tern, **fields):
    old = next(s for s in tern.stages if kind_of(s).role == "power_amplifier")
    made = BuiltPowerAmplifier(id=old.id, name=old.name, direction="transmit", **fields)
    return tern.with_stages(tuple(made if s is old else s for s in tern.stages))


def look(band="20m"):
    return Look(band, "transmit", 14.2e6, ("stages", "power_amplifier"))


def test_the_picture_is_one_value_and_holds_what_is_held(tern):
    now, was = (
        Analysis(rig(tern, sink_k_w=4.0)),
        Analysis(rig(tern, sink_k_w=8.0, device="irf510", power_w=5.0)),
    )
    picture = amplifier.picture_of(now, was, look())
    assert picture == amplifier.picture_of(Analysis(rig(tern, sink_k_w=4.0)), was, look())
    before = amplifier.picture_of(was, None, look())
    assert picture != amplifier.picture_of(now, None, look())
    np.testing.assert_array_equal(picture.gain.held.y, before.gain.gain.y)
    np.testing.assert_array_equal(picture.line.held.y, before.line.path.y)
    facts = power_facts(now, now.project.stage("power_amplifier"))
    # After a third of the time shown the sink has gone five thirds of its time constant.
    x, y = picture.warming.sink.x, picture.warming.sink.y
    rise = (np.interp(float(x[-1]) / 3, x, y) - 40.0) / (facts.sink_c - 40.0)
    assert rise == pytest.approx(1 - np.exp(-5 / 3), abs=2e-3)
    assert picture.warming.limit.y[0] == 125.0
    # The carrier's path runs from the knee at the peak to nothing far up.
    assert float(picture.line.path.x[0]) > facts.design.knee_v
    assert float(picture.line.path.y[0]) == pytest.approx(facts.working.output.peak_a, rel=1e-3)
    assert float(picture.line.path.y[-1]) == 0.0
    rows = dict(picture.table.rows)
    assert rows["idle current"] == "250 mA"
    assert rows["it bears"] == "50 V"
    assert rows["two tones, third order"] == "−25 dBc"
    assert all(picture.table.tips)
    assert [row[0] for row in picture.bands.rows] == ["20 m", "12 m"]
    assert [row[0] for row in picture.drivers.rows][-2:] == ["Power amplifier", "Low-pass"]


def test_better_than_thirty_decibels_is_not_told(tern):
    quiet = amplifier.picture_of(Analysis(rig(tern, idle_a=1.2, sink_k_w=1.0)), None, look())
    assert dict(quiet.table.rows)["two tones, third order"] == "below −30 dBc, not told"


def test_the_view_follows_what_is_typed(bench, tern, qtbot):
    bench.start(rig(tern))
    bench.select(("stages", "power_amplifier"))
    view = PowerView()
    qtbot.addWidget(view)
    view.resize(900, 900)
    view.show()
    assert view.refresh(bench) == ""
    view.settle()
    hot = float(view.warming.picture.junction.y[-1])
    bench.edit(("stages", "power_amplifier", "sink_k_w"), 2.0)
    assert view.refresh(bench) == ""
    assert float(view.warming.picture.junction.y[-1]) < hot - 10
    high = float(view.gain.picture.gain.y[-1])
    bench.edit(("stages", "power_amplifier", "device"), "irf510")
    assert "takes more current" not in view.refresh(bench)
    assert float(view.gain.picture.gain.y[-1]) < high - 5
    bench.edit(("stages", "power_amplifier", "topology"), "push_pull")
    assert view.refresh(bench) == ""
    view.settle()
    assert {part.ref for part in view.schematic.circuit.parts} >= {"Q1", "Q2", "TI", "TO", "RBU", "RV"}
    bench.edit(("stages", "power_amplifier", "match"), "pi")
    assert "Push-pull wants a transformer" in view.refresh(bench)


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"topology": "push_pull"},
        {"topology": "parallel", "degeneration_ohm": 0.2},
        {"match": "pi", "core": "T68-2", "feedback_ohm": 220.0},
        {"match": "l", "power_w": 1.0, "tracking": "thermistor"},
        {"device": "2n5109", "power_w": 0.5, "idle_a": 0.03, "degeneration_ohm": 2.0, "bias_from": "divider"},
        {"input_turns": 1, "tracking": "none"},
    ],
    ids=str,
)
def test_every_part_is_in_the_schematic(tern, fields):
    made = Analysis(rig(tern, **fields)).design("power_amplifier", "20m")
    svg = drawn(made.drawing, "#000000", "#444444")
    for row in made.parts:
        assert row.ref in svg, row.ref
