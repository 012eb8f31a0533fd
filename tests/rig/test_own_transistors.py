"""Transistors of the builder's own: chosen, renamed, missed, and told where their figures come from."""

import pytest

from core.model.project import Project
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.transistors import OwnTransistor
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import report
from core.rig.rules.filters import cannot_be_made
from core.stages.amplifiers.design import design
from core.stages.amplifiers.figures import figures
from core.stages.outcome import Unsolved
from core.stages.transistors import choices, own_row, transistor
from core.trade.devices import devices

FAST = OwnTransistor(name="Fast one", transition_hz=3e9, transition_at_a=20e-3, current_gain=90.0)


def stage(**fields):
    asked = {
        "id": "rf_stage",
        "name": "RF stage",
        "direction": "receive",
        "gain_db": 12.0,
        "current_a": 13e-3,
    }
    return BuiltAmplifier(**{**asked, **fields})


def rig_with(tern, own, **fields):
    """The sample with transistors of its own, and its RF stage built of parts."""
    stages = tuple(stage(**fields) if each.id == "rf_stage" else each for each in tern.stages)
    return tern.edited(("transistors",), own).with_stages(stages)


def unsolved(project):
    return list(cannot_be_made(Analysis(project)))


def test_a_faster_transistor_of_ones_own_keeps_its_gain_higher_up(tern):
    own = Analysis(rig_with(tern, (FAST,), device="Fast one"))
    usual = Analysis(rig_with(tern, ()))
    gain = {}
    for name, analysis in (("own", own), ("usual", usual)):
        made = analysis.design("rf_stage", "12m")
        gain[name] = figures(made, 10e6).gain_db - figures(made, 50e6).gain_db
    assert gain["own"] < gain["usual"] - 2
    assert own.design("rf_stage", "12m").transistor.name == "Fast one"


def test_a_name_that_nobody_has_is_a_finding_and_adding_it_mends_it(tern):
    rig = rig_with(tern, (), device="Fast one")
    (told,) = unsolved(rig)
    assert told.words == (
        "No transistor is called Fast one, in the table or among the rig's own; choose another, or add Fast "
        "one to the rig's own transistors."
    )
    assert (told.stage, told.severity) == ("rf_stage", "fault")
    assert not unsolved(rig.edited(("transistors",), (FAST,)))
    assert not unsolved(rig.edited(("stages", "rf_stage", "device"), "2n5109"))


def test_a_new_name_goes_along_to_the_stages(tern):
    rig = rig_with(tern, (FAST,), device="Fast one")
    renamed = rig.edited(("transistors", "Fast one", "name"), "Faster one")
    assert renamed.stage("rf_stage").device == "Faster one"
    assert not unsolved(renamed)
    # Taken away it is missed.
    assert unsolved(renamed.edited(("transistors",), ()))


def told_of(analysis):
    """What the report tells of the RF stage's transistor."""
    rows = report(analysis)["amplifiers"]
    return next(row["transistor"] for row in rows if row["stage"].startswith("RF stage"))


def test_report_and_sheet_tell_whose_figures_were_counted_with(tern):
    analysis = Analysis(rig_with(tern, (FAST,), device="Fast one"))
    assert told_of(analysis) == "Fast one (bipolar), as typed in"
    table = Analysis(rig_with(tern, (), device="2n3904"))
    assert told_of(table) == "2N3904 (bipolar), from memory"
    (section,) = [each for each in build_sheet(analysis).filters if each.title == "RF stage"]
    assert ("transistor", "Fast one (bipolar), as typed in") in section.figures


def test_ones_own_stand_before_the_tables_and_win_over_it():
    mine = OwnTransistor(name="2n3904", current_gain=70.0)
    assert transistor("2n3904", (mine,)).current_gain == 70.0
    assert transistor("2n3904", ()).current_gain == 150
    assert choices((FAST,))[0] == ("Fast one", "Fast one (bipolar), own")
    assert ("irf510", "IRF510 (MOSFET)") in choices(())


@pytest.mark.parametrize(
    ("own", "told"),
    [
        (OwnTransistor(name="X", transition_hz=9e9), "fT cannot be above 7.69 GHz"),
        (OwnTransistor(name="X", type="mosfet", transfer_f=50e-12), "Crss is a part of Ciss and of Coss"),
        (OwnTransistor(name="X", type="mosfet", transfer_f=20e-12), "Crss is a part of Ciss and of Coss"),
    ],
)
def test_figures_that_contradict_each_other_are_refused_in_a_sentence(own, told):
    found = design(
        stage(device="X", topology="feedback" if own.type == "bipolar" else "common_source"), (own,)
    )
    assert isinstance(found, Unsolved)
    assert told in found.reason
    assert found.reason.endswith(".")


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"current_gain": 0.5}, "Current gain: must be more than 1"),
        ({"transition_hz": 1e3}, "Transition frequency: must be at least 1 MHz"),
        ({"input_f": 1.0}, "Ciss: must be at most 10 nF"),
        ({"name": ""}, "Name: must have at least 1 letters"),
    ],
)
def test_figures_have_limits(fields, told):
    with pytest.raises(DesignError, match=told):
        OwnTransistor.checked(**fields)


def test_two_of_one_name_are_refused(tern):
    with pytest.raises(DesignError, match="two entries share the transistor Fast one"):
        tern.edited(("transistors",), (FAST, FAST))


def test_a_file_from_before_opens_and_one_with_them_returns_whole(tern):
    rig = rig_with(tern, (FAST, OwnTransistor(name="M", type="mosfet")), device="Fast one")
    assert Project.model_validate_json(rig.model_dump_json()) == rig
    assert "transistors" not in tern.model_dump(exclude_defaults=True)


def test_the_tables_own_figures_typed_in_make_the_same_stage():
    row = devices()["bs170"]
    names = OwnTransistor(type="mosfet").figures
    mine = OwnTransistor(name="B", type="mosfet", **{name: getattr(row, name) for name in names})
    assert own_row(mine).model == row.model
    asked = {"topology": "common_source", "gain_db": 8.0, "current_a": 60e-3}
    of_table, of_mine = design(stage(device="bs170", **asked)), design(stage(device="B", **asked), (mine,))
    assert figures(of_mine, 10e6).gain_db == figures(of_table, 10e6).gain_db
