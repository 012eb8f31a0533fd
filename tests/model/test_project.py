"""The one immutable project: edits validate, and untouched parts keep their identity."""

import pytest
from annotated_types import Ge, Gt, Le, Lt
from pydantic import ValidationError

from core.model.project import Project
from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.model.stages.kinds import STAGES
from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.model.values.quantities import unit_of
from core.rig.start.new_rig import default_stage
from core.stages.kinds.table import KINDS


def test_an_edit_is_another_project_that_shares_what_did_not_change(tern):
    edited = tern.edited(("stages", "ladder", "poles"), 6)
    assert edited.stage("ladder").poles == 6
    assert tern.stage("ladder").poles == 8
    assert edited.stage("low_pass") is tern.stage("low_pass")
    assert edited.bands[0] is tern.bands[0]


@pytest.mark.parametrize(
    ("path", "value", "hint"),
    [
        (("stages", "ladder", "poles"), 99, "Poles: .*12"),
        (("if_hz",), float("nan"), "IF: .*finite"),
        (("if_hz",), -1.0, "IF: must be at least 10 kHz"),
        (("bands", "20m", "high_hz"), 1e6, "ends below its start"),
        (("stages", "nowhere", "poles"), 3, "no stages.nowhere"),
        (("nothing",), 3, "no nothing"),
        (("stages", "ladder", "shape"), "square", "Shape"),
        (("bands",), (), "Bands"),
    ],
)
def test_an_edit_that_gives_no_design_is_refused_in_a_sentence(tern, path, value, hint):
    with pytest.raises(DesignError, match=hint) as refusal:
        tern.edited(path, value)
    assert str(refusal.value).endswith(".")


def test_frozen_is_frozen(tern):
    with pytest.raises(ValidationError):
        tern.name = "other"
    rig = tern.edited(("stages", "ladder", "as_built"), {"coupling:1": 1e-10})
    assert rig.stage("ladder").as_built == (("coupling:1", 1e-10),)
    hash(rig)


def test_stages_are_added_moved_copied_and_removed(tern):
    keys = [stage.id for stage in tern.stages]
    copied = tern.stage_duplicated("ladder")
    assert [stage.id for stage in copied.stages] == [*keys[:10], "ladder_2", *keys[10:]]
    assert copied.stage_removed("ladder_2") == tern
    moved = tern.stage_moved("ladder", 0)
    assert moved.stages[0].id == "ladder"
    assert moved.stage_moved("ladder", 9) == tern
    with pytest.raises(DesignError):
        tern.stage_removed("nowhere")


def test_one_list_of_stages_gives_both_directions(tern):
    receive = [stage.id for stage in tern.path("receive")]
    transmit = [stage.id for stage in tern.path("transmit")]
    both = [stage.id for stage in tern.stages if stage.direction == "both"]
    assert [key for key in receive if key in both] == both
    assert [key for key in transmit if key in both] == both[::-1]
    out = tern.edited(("stages", "rf_stage", "in_path"), False)
    assert "rf_stage" not in [stage.id for stage in out.path("receive")]


def test_every_kind_of_stage_has_a_default_and_units_on_its_quantities(tern):
    assert {kind.model_fields["kind"].default for kind in STAGES.values()} == set(KINDS)
    for kind in KINDS:
        stage = default_stage(kind, tern.bands, tern.if_hz)
        assert stage.kind == kind
        for name, field in type(stage).model_fields.items():
            if name.endswith(("_hz", "_db", "_dbm", "_dbc", "_ohm", "_h", "_f", "_w", "_m")):
                assert unit_of(field) is not None, name
            if name != "kind":
                assert field.title, name
                assert field.description, name


def test_the_schema_is_json_with_units():
    schema = Project.model_json_schema()
    assert schema["$defs"]["LadderFilter"]["properties"]["bandwidth_hz"]["unit"] == "Hz"


def _models(base=Model):
    for each in base.__subclasses__():
        yield each
        yield from _models(each)


@pytest.mark.parametrize("model", sorted(set(_models()), key=lambda each: each.__name__))
def test_no_limit_of_a_field_is_silently_lost(model):
    # Of two limits of one kind pydantic keeps the last; the narrower one must not be the other.
    for name, field in model.model_fields.items():
        for kind in (Ge, Gt, Le, Lt):
            assert sum(isinstance(item, kind) for item in field.metadata) <= 1, name


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("stages", "ladder", "ripple_db"), 0.0),
        (("stages", "ladder", "ripple_db"), 3.1),
        (("stages", "band_pass", "filters", 0, "ripple_db"), -1.0),
        (("vfo", "tank", "margin_hz"), -1.0),
        (("vfo", "tank", "feedback", "beta"), 0.9),
        (("carrier", "edge_suppression_db"), 61.0),
        (("carrier", "lowest_audio_hz"), 2001.0),
        (("carrier", "amplifier_gain_db"), -1.0),
        (("scatter", "crystal_hz"), -1.0),
        (("read_out", "counter", "gate_s"), 101.0),
    ],
)
def test_what_lies_outside_a_fields_limits_is_refused(tern, path, value):
    with pytest.raises(DesignError):
        tern.edited(path, value)


def test_a_filter_like_another_takes_over_what_does_not_belong_to_its_bands():
    one = BandPassFilter(bands=("20m",), centre_hz=14.2e6, coil_q=123.0, as_built={"coil:1": 1e-6})
    assert one.like_it_for("40m") == BandPassFilter(bands=("40m",), coil_q=123.0)
    other = LowPassFilter(bands=("20m",), cutoff_hz=16e6, order=5, as_built={"coil:2": 1e-6})
    assert other.like_it_for("40m") == LowPassFilter(bands=("40m",), order=5)


def test_a_band_that_goes_takes_its_own_filters_with_it_and_no_other(tern):
    idle = BandPassFilter(bands=(), coil_q=99.0)
    filters = (*tern.stage("band_pass").filters, idle)
    rig = tern.edited(("stages", "band_pass", "filters"), filters)
    left = rig.band_removed("12m").stage("band_pass").filters
    assert left == tuple(each for each in filters if each.bands != ("12m",))
    assert idle in left
    renamed = rig.edited(("bands", "12m", "name"), "11m").stage("band_pass").filters
    assert [each.bands for each in renamed] == [
        tuple("11m" if name == "12m" else name for name in each.bands) for each in filters
    ]
