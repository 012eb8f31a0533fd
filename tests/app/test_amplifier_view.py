"""An amplifier of parts in the window: inserted, edited and read as a builder does."""

import numpy as np
import pytest

from app.pictures.stages import amplifier
from app.sheet.drawings import drawn
from app.stage_views.amplifier import AmplifierView
from app.state.look import Look
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.levels.ends import return_loss_db


def rig(tern, **fields):
    made = BuiltAmplifier(id="rf_stage", name="RF stage", direction="receive", current_a=13e-3, **fields)
    return tern.with_stages(tuple(made if stage.id == "rf_stage" else stage for stage in tern.stages))


def look():
    return Look("20m", "receive", 14.2e6, ("stages", "rf_stage"))


def test_the_picture_is_one_value_and_holds_the_held_gain(tern):
    now, was = Analysis(rig(tern, gain_db=12.0)), Analysis(rig(tern, gain_db=16.0))
    picture = amplifier.picture_of(now, was, look())
    assert picture == amplifier.picture_of(Analysis(rig(tern, gain_db=12.0)), was, look())
    assert picture != amplifier.picture_of(now, None, look())
    before = amplifier.picture_of(was, None, look())
    np.testing.assert_array_equal(picture.gain.held.y, before.gain.gain.y[::4])
    rows = dict(picture.table.rows)
    assert rows["at"] == "10 MHz"
    assert rows["gain"] == "12.1 dB"
    assert float(rows["least µ"]) > 1
    assert rows["Q1 at rest"].startswith("13")
    assert all(picture.table.tips)


def test_the_view_follows_what_is_typed(bench, tern, qtbot):
    bench.start(rig(tern, gain_db=12.0))
    bench.select(("stages", "rf_stage"))
    view = AmplifierView()
    qtbot.addWidget(view)
    view.resize(900, 600)
    view.show()
    assert view.refresh(bench) == ""
    first = float(view.plot.picture.gain.y[100])
    bench.edit(("stages", "rf_stage", "gain_db"), 18.0)
    assert view.refresh(bench) == ""
    assert float(view.plot.picture.gain.y[100]) > first + 4
    assert {part.ref for part in view.schematic.circuit.parts} >= {"RF", "RD", "RO", "Q1", "Q2", "Q3"}
    bench.edit(("stages", "rf_stage", "gain_db"), 40.0)
    assert "cannot be had" in view.refresh(bench)


def test_a_reading_that_counts_in_place_of_the_computed_gain_is_told_beside_it(tern):
    plain = dict(amplifier.picture_of(Analysis(rig(tern, gain_db=12.0)), None, look()).table.rows)
    assert "gain as measured" not in plain
    told = amplifier.picture_of(Analysis(rig(tern, gain_db=12.0, measured_gain_db=9.5)), None, look())
    rows = dict(told.table.rows)
    assert (rows["gain"], rows["gain as measured"]) == ("12.1 dB", "9.5 dB")
    # Of a pair, that of the direction on show.
    pair = BilateralAmplifier(id="rf_stage", name="Pair", current_a=13e-3, measured_transmit_gain_db=14.0)
    both = tern.with_stages(tuple(pair if stage.id == "rf_stage" else stage for stage in tern.stages))
    found = {
        way: amplifier_facts(Analysis(both), pair, "20m", way).read.get("gain_db")
        for way in ("receive", "transmit")
    }
    assert found == {"receive": None, "transmit": 14.0}


def test_a_pairs_page_follows_the_direction(bench, tern, qtbot):
    made = BilateralAmplifier(
        id="rf_stage", name="Pair", receive_gain_db=21.0, transmit_gain_db=10.0, current_a=13e-3
    )
    stages = tuple(made if stage.id == "rf_stage" else stage for stage in tern.stages)
    bench.start(tern.with_stages(stages))
    bench.select(("stages", "rf_stage"))
    view = AmplifierView()
    qtbot.addWidget(view)
    view.resize(900, 600)
    view.show()
    for way, gain_db, refs in (("receive", 21.0, "123"), ("transmit", 10.0, "456")):
        bench.look_at_way(way)
        assert view.refresh(bench) == ""
        rows = dict(view.picture.table.rows)
        assert float(rows["gain"].removesuffix(" dB")) == pytest.approx(gain_db, abs=0.35)
        assert [title for title in rows if "at rest" in title] == [f"Q{n} at rest" for n in refs]
        assert float(rows["once round the pair"].removesuffix(" dB").replace("−", "-")) < -20
        assert view.picture.name == f"Pair, {way}"
        assert {part.ref for part in view.schematic.circuit.parts} >= {"RF1", "RF2", "Q1", "Q6"}
    assert "supply, transmit" in drawn(view.schematic.circuit, "#000000", "#555555")


def test_the_page_tells_what_stands_beside_it_and_which_parts_matter(bench, tern, qtbot):
    bench.start(tern)
    bench.select(("stages", "if_amplifier_1"))
    view = AmplifierView()
    qtbot.addWidget(view)
    view.resize(900, 900)
    view.show()
    assert view.refresh(bench) == ""
    picture = view.picture
    ends = bench.analysis.ends("if_amplifier_1", bench.look.band, "receive")
    assert view.ends.sentence == ""
    assert "around 19.66" in picture.ends.title
    np.testing.assert_allclose(picture.ends.change.y, ends.gain_change_db)
    assert any("as Mixer sees it" in label.text for label in picture.ends.labels)
    rows = dict(picture.table.rows)
    seen = float(rows["seen through it, stop-band"].removesuffix(" dB"))
    assert seen == pytest.approx(return_loss_db(ends.input_ohm)[ends.stops.astype(bool)].min(), abs=0.05)
    # What the parts do is told once the hand rests.
    assert view.parts.rowCount() == 0
    view.settle()
    assert "gain spread, parts ±5 %: 0." in view._parts_card.note
    heads = [
        view.parts.horizontalHeaderItem(n).text().replace("\n", " ") for n in range(view.parts.columnCount())
    ]
    assert heads[:4] == ["part", "gain, dB", "back, dB", "noise, dB"]
    assert heads[6:] == ["IP3, dB", "P1dB, dB", "supply, %"]
    facts = amplifier_facts(bench.analysis, bench.current.stage("if_amplifier_1"), bench.look.band, "receive")
    found = {each.ref: each for each in sensitivities(facts)}
    for row in range(view.parts.rowCount()):
        told = [view.parts.item(row, n).text().replace("−", "-") for n in range(9)]
        part = found[told[0].partition(" ")[0]]
        assert float(told[6]) == pytest.approx(part.intercept_db, abs=0.006)
        assert float(told[7]) == pytest.approx(part.compression_db, abs=0.006)
        assert float(told[8]) == pytest.approx(100 * part.supply_share, abs=0.06)
    # Without the ladder there is nothing to show of that.
    bench.edit(("stages",), tuple(stage for stage in tern.stages if stage.id != "ladder"))
    view.refresh(bench)
    assert "No filter stands beside it" in view.ends.sentence
