"""The panels around the pages, as pictures: no window is made."""

import pytest

from app.pictures.panels import differences, editor, findings, frequency_bar, parts
from app.state.look import Look
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import vfo_for
from core.rig.rules import inspect


@pytest.fixture(scope="module")
def analysis(tern):
    return Analysis(tern)


def look_at(*selection, band="20m", dial_hz=14.2e6):
    return Look(band, "receive", dial_hz, selection)


def parts_of(project, *selection):
    return parts.picture_of(Analysis(project), look_at(*selection))


def test_the_bars_terms_add_up_to_the_dial(analysis, tern):
    picture = frequency_bar.picture_of(analysis, None, look_at(dial_hz=14.234567e6))
    carrier_hz = analysis.carrier_hz("20m")
    off = float(picture.offset.removesuffix(" kHz")) * 1e3
    assert off == abs(round(carrier_hz) - round(tern.if_hz))
    vfo = float(picture.vfo.removesuffix(" MHz").replace("\u202f", "")) * 1e6
    assert vfo == pytest.approx(vfo_for(tern.band("20m").scheme, round(carrier_hz), 14234567), abs=0.5)
    assert (picture.low_hz, picture.high_hz) == (tern.band("20m").low_hz, tern.band("20m").high_hz)
    assert not picture.held


def test_what_is_looked_at_is_part_of_the_bars_picture(analysis):
    shown = frequency_bar.picture_of(analysis, None, look_at())
    assert shown == frequency_bar.picture_of(analysis, None, look_at("vfo"))
    for other in (
        frequency_bar.picture_of(analysis, None, look_at(dial_hz=14.2e6 + 1)),
        frequency_bar.picture_of(analysis, None, look_at(band="12m", dial_hz=24.95e6)),
        frequency_bar.picture_of(analysis, analysis, look_at()),
    ):
        assert other != shown


def test_ticks_are_what_crosses_the_dial(analysis):
    ticks = frequency_bar.ticks_of(analysis, look_at(band="12m", dial_hz=24.95e6))
    crossing = [s for s in analysis.spurs("12m") if s.crosses and s.kind != "transmit"]
    assert [tick.hz for tick in ticks] == [spur.dial_hz for spur in crossing]


def test_findings_stand_under_where_they_belong(muddle):
    picture = findings.picture_of(Analysis(muddle))
    assert [row.finding for row in picture.rows] == list(inspect(Analysis(muddle)))
    names = {stage.id: stage.name for stage in muddle.stages}
    for row in picture.rows:
        if row.finding.stage in names:
            assert row.head.split(" · ")[1] == names[row.finding.stage]
    faults = sum(row.finding.severity == "fault" for row in picture.rows)
    assert picture.count.split(",")[0] == f"{faults} faults"


def test_a_part_as_built_stands_beside_what_was_designed(tern):
    plain = parts_of(tern, "stages", "ladder")
    line = next(each for each in plain.lines if each.key == "coupling:1")
    assert line.cells[3] == ""
    assert line.path == ("stages", "ladder", "as_built")
    built = parts_of(tern.edited(line.path, {"coupling:1": 123e-12}), "stages", "ladder")
    line = next(each for each in built.lines if each.key == "coupling:1")
    assert line.cells[0] == "C1"
    assert line.cells[3] == "123 pF"


def test_a_value_that_no_part_takes_can_be_cleared_and_nothing_else(tern):
    path = ("stages", "ladder", "as_built")
    last = parts_of(tern.edited(path, {"coupling:11": 1e-10}), "stages", "ladder").lines[-1]
    assert last.cells == ("C11", "", "", "100 pF")
    assert last.typed
    assert "clear it" in last.help[0]


def test_a_transformer_has_no_value_to_type(tern):
    lines = [line for stage in tern.stages for line in parts_of(tern, "stages", stage.id).lines]
    assert {line.typed for line in lines if line.ref.startswith("T")} <= {False}
    assert {line.typed for line in lines if line.ref.startswith(("C", "L", "X"))} == {True}


def test_parts_that_cannot_be_found_say_why(tern):
    picture = parts_of(tern.edited(("stages", "ladder", "crystal"), None), "stages", "ladder")
    assert picture.lines == ()
    assert "crystal" in picture.reason


def test_the_held_design_differs_in_what_was_edited(tern):
    held = Analysis(tern)
    assert differences.differences(held, Analysis(tern), "20m") == ()
    rows = {row.name: row for row in differences.differences(held, moved(tern), "20m")}
    assert rows["IF"].now.endswith("MHz")
    assert "Noise figure" not in rows


def moved(tern):
    return Analysis(tern.edited(("if_hz",), tern.if_hz + 1000))


@pytest.mark.parametrize(
    ("selection", "title", "kind", "has_parts"),
    [
        ((), "The rig", "", False),
        (("vfo",), "VFO", "", True),
        (("speaker",), "Speaker", "", False),
        (("stages", "ladder"), "Ladder filter", "Crystal ladder filter", True),
    ],
)
def test_the_editor_names_what_is_selected(tern, selection, title, kind, has_parts):
    picture = editor.picture_of(tern, None, look_at(*selection))
    assert (picture.title, picture.kind, picture.parts) == (title, kind, has_parts)
    assert editor.picture_of(tern, tern, look_at(*selection)).held
