"""The supply's page as a picture: no window is made."""

import numpy as np
import pytest

from app.pictures.panels.differences import differences
from app.pictures.rig.supply import SupplyPicture, picture_of
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.supply.consumers import feeding
from core.rig.supply.sequence import switching
from core.rig.supply.state import totals
from core.rig.supply.works import works


def picture(project, what="feeds", held=None) -> SupplyPicture:
    return picture_of(Analysis(project), None if held is None else Analysis(held), what)


def test_without_a_supply_it_says_so(tern):
    assert picture(tern.edited(("supply",), None)).startswith("No supply is planned")


def test_the_diagram_joins_everybody_with_who_feeds_them(tern):
    found = picture(tern).diagram
    names = [box.name for box in found.boxes]
    assert names[:4] == ["battery", "fuse", "diode across, with the fuse", "rig"]
    fed_by = {names[other]: names[one] for one, other in found.lines}
    assert len(fed_by) == len(names) - 1
    assert fed_by["VFO"] == "8 V regulator"
    assert fed_by["Driver"] == "rig"
    box = {each.name: each for each in found.boxes}
    assert box["Driver"].told.startswith("T ")
    assert box["RF stage"].told.startswith("R ")
    assert box["VFO"].told == "R T  5.2 mA"
    assert box["VFO"].column == box["Driver"].column + 1
    # Both ways' currents where they differ.
    made = totals(feeding(Analysis(tern)))[1]
    told = format_value(made.receive_a, "A", 2)
    assert told in box["rig"].told
    assert "/" in box["rig"].told


def test_without_a_fuse_none_is_drawn(tern):
    bare = tern.edited(("supply", "fuse"), None).edited(("supply", "polarity", "scheme"), "none")
    names = [box.name for box in picture(bare).diagram.boxes]
    assert names[:2] == ["battery", "rig"]


def test_tables_tell_what_is_computed(tern):
    found = picture(tern, "protects")
    assert found.diagram is None
    assert [row[4] for row in found.polarity.rows] == ["no", "yes", "yes", "yes"]
    fuse = dict(found.fuse.rows)
    assert fuse["rated"] == fuse["proposed"] == "3 A"
    assert found.regulators.heads == ("regulator", "8 V", "9 V")
    kind, output = found.regulators.rows[:2]
    assert kind[:2] == ("type", "78L series, 0.1 A")
    assert output == ("output", "8 V", "9 V")
    assert all(found.polarity.head_tips)
    assert all(found.fuse.tips)


def test_bars_stand_where_things_work(tern):
    found, asked = picture(tern, "works").works, works(Analysis(tern))
    assert [name for _, name in found.names] == ["8 V", "9 V", "Antenna relay", "output"]
    for shape, each in zip(found.shapes, asked.ranges, strict=True):
        assert shape.points[0][0] == each.least_v
    # The lines stand at the voltages that the rig sees, and the curve's labels at its height there.
    assert [float(line.x[0]) for line in found.lines] == [volt for _, volt in asked.lines]
    told = [label for label in found.labels if label.text.endswith(" W")]
    for label, (_, volt) in zip(told, asked.lines, strict=True):
        watt = float(np.interp(volt, asked.volt, asked.power_w))
        assert label.text == f"{watt:.2g} W"
        assert float(np.interp(label.x, found.curve.x, found.curve.y)) == pytest.approx(label.y)
    assert found.note.endswith("an estimate.")


def test_the_held_rigs_output_stays_as_a_curve(tern):
    half = tern.edited(("stages", "power_amplifier", "rated_w"), 4.0)
    found = picture(half, "works", held=tern).works
    # It stands above the bars: two regulators and a relay.
    base = 2.5
    ratio = (found.held.y - base) / (found.curve.y - base)
    assert ratio == pytest.approx(np.full(ratio.shape, 2.0))


def test_the_sequence_is_drawn_in_milliseconds(tern):
    found, made = picture(tern, "works").sequence, switching(feeding(Analysis(tern)))
    assert [name for _, name in found.names] == [lane.name for lane in made.lanes]
    spans = [span for lane in made.lanes for span in lane.on]
    for shape, (begin, end) in zip(found.shapes, spans, strict=True):
        assert shape.points[0][0] == pytest.approx(1e3 * begin)
        assert shape.points[1][0] == pytest.approx(1e3 * end)
    assert "12.0 ms" in found.note


def test_a_receiver_alone_has_no_sequence(tern):
    alone = tern.with_stages(tuple(s for s in tern.stages if s.direction != "transmit"))
    found = picture(alone, "works")
    assert found.sequence is None
    assert found.events is None
    assert found.works.curve.x.size == 0
    assert "full output" not in found.title


def test_what_is_drawn_is_held_against_what_was(tern):
    typed = next(n for n, each in enumerate(tern.supply.loads) if each.of == "read_out")
    more = tern.edited(("supply", "loads", typed, "receive_a"), 0.13)
    rows = {row.name: row for row in differences(Analysis(tern), Analysis(more), "20m")}
    was, now = (totals(feeding(Analysis(rig)))[1].receive_a for rig in (tern, more))
    assert now - was == pytest.approx(0.1, rel=0.01)
    assert rows["supply, receive"].now == f"{1e3 * now:.3g} mA"
    assert rows["supply, receive"].held == f"{1e3 * was:.3g}"
    assert rows["battery lasts"].held > rows["battery lasts"].now


def test_pictures_of_one_design_are_alike_and_of_another_differ(tern):
    other = tern.edited(("supply", "fuse", "rated_a"), 4.0)
    for what in ("feeds", "protects", "works"):
        assert picture(tern, what) == picture(tern, what)
    assert picture(tern) != picture(other)
    assert picture(tern, "protects") != picture(other, "protects")
