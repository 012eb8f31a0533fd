"""What is shown asks for no more than it shows."""

import pytest

from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.analysis import Analysis
from core.stages.amplifiers import design


def designed(monkeypatch):
    """The amplifiers that are asked for, as they come."""
    asked, whole = [], design.design
    monkeypatch.setattr(design, "design", lambda stage, *others: asked.append(stage) or whole(stage, *others))
    return asked


def test_filters_are_listed_without_designing_amplifiers(tern, monkeypatch):
    assert any(isinstance(stage, BuiltAmplifier) for stage in tern.stages)
    asked = designed(monkeypatch)
    analysis = Analysis(tern)
    kinds = [row.kind for row in analysis.filters]
    assert sorted(set(kinds)) == ["band_pass", "ladder", "low_pass"]
    assert not asked
    assert [row for row in analysis.circuits if row.kind in kinds] == list(analysis.filters)
    assert len(asked) == sum(isinstance(stage, BuiltAmplifier) for stage in tern.stages)


@pytest.mark.parametrize("band", ["20m", "12m"])
def test_products_of_a_direction_are_those_of_all_in_their_order(tern, monkeypatch, band):
    asked, analysis = designed(monkeypatch), Analysis(tern)
    heard = analysis.spurs(band, "receive")
    assert {stage.direction for stage in asked} == {"receive"}
    sent = analysis.spurs(band, "transmit")
    whole = analysis.spurs(band)
    assert list(heard) == [each for each in whole if each.kind != "transmit"]
    assert list(sent) == [each for each in whole if each.kind == "transmit"]
    assert len(heard) > 5
    assert sent


def test_amplifiers_that_differ_in_name_and_place_are_designed_once():
    one = BuiltAmplifier(id="one", name="One", direction="receive", gain_db=14.0)
    made = design.design(one)
    for field, value in (("name", "Another"), ("id", "other"), ("direction", "transmit"), ("in_path", False)):
        assert design.design(one.edited((field,), value)) is made
    assert design.design(one.edited(("measured_gain_db",), 12.0)) is made
    assert design.design(one.edited(("gain_db",), 14.5)) is not made
