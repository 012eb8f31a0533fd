"""The page of receive levels, and its pictures: the bar, strong stations, S levels."""

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from app.pages.levels import LevelsPage
from app.pictures.rig import level_diagram
from app.pictures.rig.receiver import picture_of
from app.pictures.told import under_units
from app.sheet.pages import sheet_document
from app.sheet.sketches.noise_bar import noise_svg
from app.state.look import Look
from app.state.workbench import Workbench
from core.model.stages.gain_control import GainControl
from core.rig.analysis import Analysis
from core.rig.figures.receive import DYNAMIC_RANGE, S_METER
from core.rig.paper.receiver import receiver_sections

LOOK = Look("20m", "receive", 14.2e6, ())


def edges(shape):
    return min(x for x, _ in shape.points), max(x for x, _ in shape.points)


def test_the_bar_is_all_of_the_noise_stage_upon_stage(tern):
    picture = picture_of(Analysis(tern), None, LOOK)
    ends = [edges(shape) for shape in picture.bar.shapes]
    assert ends[0][0] == 0
    assert ends[-1][1] == pytest.approx(100, abs=0.01)
    assert all(one[1] == other[0] for one, other in pairwise(ends))
    # The parts of the table, in their order; what a mixer folds in from its image has a dashed edge.
    shares = [float(row[2].split()[0]) for row in picture.parts.rows]
    assert [high - low for low, high in ends] == pytest.approx(shares, abs=0.051)
    assert [shape.dashed for shape in picture.bar.shapes] == [r[1] == "its image" for r in picture.parts.rows]
    named = {label.text for label in picture.bar.labels}
    assert "RF stage 32.2 %" in named
    assert "Mixer, image 33.7 %" in named
    assert not any("Low-pass" in each for each in named)
    assert picture.noise_title == "Own noise by stage, 20\u00a0m: noise figure 9.7 dB"


def test_the_held_designs_bar_is_dashed_below(tern):
    held = Analysis(tern.edited(("stages", "rf_stage", "in_path"), False))
    now, both = (picture_of(Analysis(tern), each, LOOK).bar for each in (None, held))
    below = both.shapes[len(now.shapes) :]
    assert below
    assert all(shape.dashed and shape.fill is None for shape in below)
    assert max(y for shape in below for _, y in shape.points) < 0
    assert edges(below[-1])[1] == pytest.approx(100, abs=0.01)
    empty = Analysis(tern.with_stages(()))
    assert picture_of(Analysis(tern), empty, LOOK).bar == now


def test_tables_have_units_above_numbers_and_what_is_told(tern):
    picture = picture_of(Analysis(tern), None, LOOK)
    heads = picture.stations.heads
    assert "at the mixer, dBm" in heads
    assert "asks of audio" in heads
    (s9,) = (row for row in picture.stations.rows if row[0] == "S9")
    assert dict(zip(heads, s9, strict=True))["at the antenna, dBm"] == "−73"
    assert picture.few.heads == tuple(
        head for head in heads if head not in ("at the antenna, dBm", "audio gives")
    )
    assert picture.ranges.heads == ("", "pass-band", "2 kHz", "5 kHz", "20 kHz")
    assert {row[0]: row[1:] for row in picture.ranges.rows}["first limit"] == (
        "third order",
        "VFO noise",
        "third order",
        "third order",
    )
    assert all(picture.ranges.tips)
    told = under_units(S_METER, Analysis(tern).s_meter("20m"))
    assert told.head_tips == tuple(figure.tip for figure in S_METER)
    assert under_units(DYNAMIC_RANGE, Analysis(tern).dynamic_ranges("20m")).rows[0][1] == "pass-band"


def test_the_page_follows_what_is_looked_at_and_every_edit(qtbot, tern):
    bench = Workbench(tern)
    page = LevelsPage()
    qtbot.addWidget(page)
    page.resize(640, 1300)
    page.show()
    page.refresh(bench)
    assert page.stations.texts()[8][0] == "S9"
    taken = page.stations.texts()[12][5]
    assert taken == "44"
    bench.edit(("stages", "gain_control", "range_db"), 30.0)
    page.refresh(bench)
    assert page.stations.texts()[12][5] == "30"
    # 44 dB are too much for 30: 14 dB over the 50 mW held.
    assert page.stations.texts()[12][6] == "1.3 W"
    bench.edit(("stages", "gain_control", "in_path"), False)
    page.refresh(bench)
    assert page.stations.texts()[12][5] == "none"
    assert "RF stage 32.2 %" in page.bar.labels.texts
    bench.look_at_band("12m")
    page.refresh(bench)
    assert "12\u00a0m" in page._bar_card.heading.text()
    page.fold(True)
    page.refresh(bench)
    assert page.stations.columnCount() == 7
    page.fold(False)
    page.refresh(bench)
    assert page.stations.columnCount() == 9


def test_a_rig_that_does_not_receive_says_so(qtbot, tern):
    bench = Workbench(tern.with_stages(()))
    page = LevelsPage()
    qtbot.addWidget(page)
    page.show()
    page.refresh(bench)
    assert page.sentence.text().startswith("No stage works in receive")
    assert not page.ranges.isVisible()
    bench.start(tern)
    page.refresh(bench)
    assert page.ranges.isVisible()
    assert not page.sentence.isVisible()


def test_the_diagram_says_that_a_strong_station_is_turned_down(tern):
    texts = [label.text for label in level_diagram.picture_of(Analysis(tern), None, LOOK).labels]
    assert "S9 + 40 dB, turned down" in texts
    bare = tern.stage_removed("gain_control")
    texts = [label.text for label in level_diagram.picture_of(Analysis(bare), None, LOOK).labels]
    assert "S9 + 40 dB" in texts


def test_a_control_at_the_if_is_called_agc_below_the_diagram(tern):
    at = next(n for n, stage in enumerate(tern.stages) if stage.id == "if_amplifier_2")
    agc = GainControl(id="agc", name="AGC", direction="receive", turned="automatically")
    picture = level_diagram.picture_of(Analysis(tern.stage_inserted(at, agc)), None, LOOK)
    names = [name.strip() for _, name in picture.stages]
    assert "AGC" in names
    assert "vol" in names


# -- on paper -----------------------------------------------------------------------------------------------


def test_the_sheets_bar_is_the_noise_of_the_band(tern):
    (section, other) = receiver_sections(Analysis(tern))
    assert (section.band, other.band) == ("20m", "12m")
    drawn = ElementTree.fromstring(noise_svg(section.noise))
    boxes = [each for each in drawn if each.tag.endswith("rect")]
    widths = [float(box.get("width")) for box in boxes]
    assert [wide / sum(widths) for wide in widths] == pytest.approx(
        [each.part.share for each in section.noise], abs=1e-4
    )
    dashed = [box.get("stroke-dasharray") is not None for box in boxes]
    assert dashed == [each.part.image for each in section.noise]
    ends = [float(box.get("x")) for box in boxes]
    steps = [two - one for one, two in pairwise(ends)]
    assert steps == pytest.approx(widths[:-1], abs=0.011)
    numbers = [each.text for each in drawn if each.tag.endswith("text")]
    # The third part, the RF stage, is wide enough for its number, the first is not.
    assert "3" in numbers
    assert "1" not in numbers


def test_the_sheet_tells_every_s_level_and_what_it_bears(tern):
    document = sheet_document(tern, "A4", 72.0)
    text = document.text
    for band in ("20", "12"):
        assert f"Receiver on {band} m" in text
    assert "3 RF stage 32.2 %; 4 Mixer, image 33.7 %" in text
    assert "S9 + 60 dB" in text
    after = text[text.index("reciprocal mixing") :].split("\n")
    assert after[1:5] == ["none", "86 dB", "95 dB", "107 dB"]
    assert receiver_sections(Analysis(tern.with_stages(()))) == ()
    assert "Receiver on" not in sheet_document(tern.with_stages(()), "A4", 72.0).text
