"""Bands are spelled in one way, `20 m`, wherever a builder reads them; files and JSON have the names."""

import re

import pytest

from core.model.project import Project
from core.model.stages.filters import BandPass
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import VFO, netlist_of
from core.rig.paper.parts_list import parts_csv
from core.rig.paper.report import as_text, report, vfo_text
from core.rig.rules import inspect
from core.stages.outcome import Unsolved

#: A band's name as it stands in a file.
_AS_A_KEY = re.compile(r"\b(160|80|60|40|30|20|17|15|12|10|6)m\b")


def _texts(value: object) -> list[str]:
    """Every text in a value made of tuples, lists, dictionaries and records."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, list | tuple):
        return [text for each in value for text in _texts(each)]
    return []


@pytest.fixture(params=["tern", "muddle"])
def rig(request) -> Project:
    return request.getfixturevalue(request.param)


def test_the_reports_in_words_spell_bands_as_the_window_does(rig):
    analysis = Analysis(rig)
    text = as_text(report(analysis))
    assert _AS_A_KEY.findall(text) == []
    assert re.search(r"^20 m +IF [−+] VFO", text, re.M)
    assert "_vfo" not in text
    assert f"{rig.bands[0].name.removesuffix('m')} m, not: " in text
    told = [text, vfo_text(analysis, analysis.tank), parts_csv(analysis)]
    told += [each for finding in inspect(analysis) for each in (finding.text, finding.remedy)]
    sheet = build_sheet(analysis)
    told += [*_texts(sheet.facts), *_texts([(s.title, s.reason, s.figures) for s in sheet.filters])]
    told += [*_texts(sheet.vfo.limits), *(part.note for part in sheet.vfo.parts)]
    assert [each for each in told if _AS_A_KEY.search(each)] == []
    # JSON has the names as they are.
    assert {row["band"] for row in report(analysis)["spurs"]} == {band.name for band in rig.bands}


def test_a_reason_spells_the_band_that_lacks_something(rig):
    name = rig.bands[0].name
    stage = next(each for each in rig.stages if isinstance(each, BandPass))
    others = tuple(each for each in stage.filters if name not in each.bands)
    bare = rig.edited(("stages", stage.id, "filters"), others)
    design = Analysis(bare).filter_design(stage.id, name)
    assert isinstance(design, Unsolved)
    assert f"has no filter for {name.removesuffix('m')} m;" in design.reason


def test_refusals_spell_bands(tern):
    with pytest.raises(DesignError, match=r"band 20 m ends below its start"):
        tern.edited(("bands", 0, "high_hz"), 14.0e6)
    through = tern.edited(("if_hz",), 14.2e6).edited(("bands", 0, "scheme"), "if_minus_vfo")
    with pytest.raises(DesignError, match=r"On 20 m the VFO would pass zero"):
        netlist_of(Analysis(through), VFO, "20m")
    assert "On 20 m the VFO" in Analysis(through).vfo_on("20m").reason


def test_what_a_band_shift_brings_is_told_by_the_bands_spelling(tern):
    made = Analysis(tern.edited(("bands", 0, "vfo_shift"), "series")).tank
    assert any(each.startswith("band shift, 20 m ") for each in made.found)
    assert "band shift, 20 m" in [part.note for part in made.parts]
    assert str(made.limits[0]).startswith("On 20 m these parts tune ")
    across = Analysis(tern.edited(("bands", 0, "vfo_shift"), "parallel")).tank
    assert "brings the VFO to 20 m, which lies above the plain range; make 20 m the" in str(across.limits[0])
