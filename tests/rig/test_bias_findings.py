"""An electrode that no direct current reaches is told in the rig, with the parts that meet there."""

from dataclasses import replace

import pytest

from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.analysis import Analysis
from core.rig.rules import inspect
from core.stages.amplifiers import design


def found(project):
    told = (each for each in inspect(Analysis(project)) if each.rule == "filter_unsolved")
    return [each for each in told if each.stage == "rf_stage"]


@pytest.mark.parametrize(
    ("topology", "device", "without", "says"),
    [
        ("source_follower", "j310", ("bias_gate",), "the gate of Q1, where only C1 ends"),
        ("common_source", "2n7000", ("bias_upper", "bias_lower"), "the gate of Q1, where only C1 and RF end"),
    ],
)
def test_an_electrode_without_bias_is_a_finding_with_the_parts_there(
    tern, monkeypatch, topology, device, without, says
):
    fields = {"topology": topology, "device": device, "gain_db": 5.0}
    made = BuiltAmplifier(id="rf_stage", name="RF stage", direction="receive", **fields)
    rig = tern.with_stages(tuple(made if stage.id == "rf_stage" else stage for stage in tern.stages))
    assert not found(rig)
    whole = design.Solver.circuit

    def lacking(self, values):
        made = whole(self, values)
        return replace(made, branches=tuple(b for b in made.branches if b.part.role not in without))

    monkeypatch.setattr(design.Solver, "circuit", lacking)
    design._design.cache_clear()
    try:
        (told,) = found(rig)
    finally:
        design._design.cache_clear()
    assert told.severity == "fault"
    assert f"No direct current reaches {says}; give it a resistor or a choke." in told.text
    assert told.source == "the stage's circuit"
