"""A bilateral pair in a rig: levels in either direction, parts, sheet, netlist, report and findings."""

import pytest

from core.model.files import dumps, loads
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.amplifier_facts import amplifier_facts, amplifiers_of
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import netlist_of
from core.rig.paper.parts_list import parts_list
from core.rig.paper.report import as_text, report
from core.rig.rules import inspect
from core.rig.rules.amplifiers import amplifier_gain, pair_both_fed
from core.stages.amplifiers.figures import figures


def with_pair(project, before="ladder", **fields):
    """The project with a pair on the antenna's side of its ladder, or of another stage."""
    asked = {"receive_gain_db": 21.0, "transmit_gain_db": 12.0, "current_a": 13e-3} | fields
    made = BilateralAmplifier(id="if_pair", name="IF pair", designed_at_hz=project.if_hz, **asked)
    at = [stage.id for stage in project.stages].index(before)
    return project.with_stages((*project.stages[:at], made, *project.stages[at:]))


def block(analysis, way):
    (found,) = [each for each in analysis.blocks("20m", way, 14.2e6) if each.stage == "if_pair"]
    return found


def test_the_direction_decides_which_half_amplifies(tern):
    analysis = Analysis(with_pair(tern))
    f = analysis.carrier("20m").signal_hz(1000.0)
    for way, gain_db in (("receive", 21.0), ("transmit", 12.0)):
        found = block(analysis, way)
        got = figures(analysis.design("if_pair", "20m").on(way), f)
        assert found.gain_db == got.gain_db == pytest.approx(gain_db, abs=0.4)
        assert found.noise_figure_db == got.noise_figure_db
        assert found.p1db_out_dbm == got.compression_dbm
    measured = with_pair(tern, measured_transmit_gain_db=9.0)
    assert block(Analysis(measured), "transmit").gain_db == 9.0
    assert block(Analysis(measured), "receive").gain_db == block(analysis, "receive").gain_db
    measured = with_pair(tern, measured_receive_gain_db=19.0)
    assert block(Analysis(measured), "receive").gain_db == 19.0


def test_a_file_keeps_it(tern):
    rig = with_pair(tern, as_built=(("feedback:2", 560.0),))
    assert loads(dumps(rig)) == rig


def test_parts_sheet_and_report_tell_both_ways(tern):
    analysis = Analysis(with_pair(tern))
    refs = [each.part.ref for each in parts_list(analysis) if each.stage == "if_pair"]
    assert len(set(refs)) == len(refs) == 32
    assert {"Q6", "RBU2", "RF1", "RF2", "RE6", "C4"} <= set(refs)
    (section,) = [each for each in build_sheet(analysis).filters if each.title.startswith("IF pair")]
    told = dict(section.figures)
    for way, refs in (("receive", "123"), ("transmit", "456")):
        facts = amplifier_facts(analysis, analysis.project.stage("if_pair"), "20m", way)
        assert float(told[f"gain, {way}"].removesuffix(" dB")) == pytest.approx(
            facts.figures.gain_db, abs=0.05
        )
        resting = [title for title in told if title.endswith(f"at rest, {way}")]
        assert resting == [f"Q{n} at rest, {way}" for n in refs]
    rows = [row for row in report(analysis)["amplifiers"] if row["stage"].startswith("IF pair")]
    assert [row["stage"] for row in rows] == ["IF pair, receive", "IF pair, transmit"]
    assert rows[0]["gain_db"] == pytest.approx(21.0, abs=0.4)
    assert rows[1]["gain_db"] == pytest.approx(12.0, abs=0.4)
    assert rows[0]["both_fed_db"] == rows[1]["both_fed_db"] > 20
    assert rows[0]["ring_db"] < 0
    assert "IF pair, transmit" in as_text(report(analysis))
    names = [each.name for each in amplifiers_of(analysis)]
    assert [name for name in names if "pair" in name] == ["IF pair, receive", "IF pair, transmit"]


def test_its_netlist_is_fed_and_driven_one_way_or_the_other(tern):
    analysis = Analysis(with_pair(tern))
    for way, node, other in (
        ("receive", "antenna_side", "transmit"),
        ("transmit", "audio_side", "receive"),
    ):
        lines = netlist_of(analysis, "if_pair", "20m", way).splitlines()
        assert lines[0].endswith(way)
        assert f"V_rail_{way}_supply {way}_supply 0 DC 12.0" in lines
        assert f"V_rail_{other}_supply {other}_supply 0 DC 0.0" in lines
        assert any(line.startswith("R_source") and line.split()[2] == node for line in lines)


def test_both_fed_is_told_and_so_little_gain_that_nothing_howls_is_not(tern):
    (told,) = [each for each in inspect(Analysis(with_pair(tern))) if each.rule == "pair_both_fed"]
    assert told.severity == "note"
    assert told.figure > 20
    assert "howls" in told.text
    quiet = with_pair(tern, receive_gain_db=1.0, transmit_gain_db=1.0)
    assert not list(pair_both_fed(Analysis(quiet)))


def test_gain_that_one_half_has_not_is_told_with_its_direction(tern):
    rig = with_pair(tern, as_built=(("degeneration:2", 100.0),))
    (told,) = amplifier_gain(Analysis(rig))
    assert "IF pair in transmit" in told.text
    assert told.path == ("stages", "if_pair", "transmit_gain_db")
    assert told.limit == 12.0
    assert "as built" in told.remedy
    assert not list(amplifier_gain(Analysis(rig.edited(("stages", "if_pair", "as_built"), ()))))


def test_values_of_parts_that_a_circuit_has_no_more_are_told_of_an_amplifier_too(tern):
    fields = {"id": "of_parts", "name": "Of parts", "direction": "receive"}
    made = BuiltAmplifier(**fields, topology="common_gate", device="j310", as_built=(("feedback", 470.0),))
    rig = tern.with_stages((made, *tern.stages))
    (told,) = [each for each in inspect(Analysis(rig)) if each.rule == "as_built_unused"]
    assert "values for RF" in told.text
