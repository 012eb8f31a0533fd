"""Receiving through the transmitter's low-pass: told with and without it, and the remedies followed."""

import re

import numpy as np
import pytest

from core.rig.analysis import Analysis
from core.rig.rules import inspect


def listening(project):
    """What is said of receiving through the low-pass."""
    (found,) = (f for f in inspect(Analysis(project)) if f.rule.startswith("low_pass_"))
    return found


def changed(project, direction="transmit", **stage):
    """The sample with its low-pass in a direction and other band-passes."""
    project = project.edited(("stages", "low_pass", "direction"), direction)
    for n, _ in enumerate(project.stage("band_pass").filters):
        for field, value in stage.items():
            project = project.edited(("stages", "band_pass", "filters", n, field), value)
    return project


def number(text, before):
    return float(re.search(rf"{re.escape(before)}(\d+(?:\.\d+)?)", text).group(1))


def test_receiving_through_the_low_pass_is_told_with_and_without_it(tern):
    found = listening(tern)
    assert (found.rule, found.severity, found.edits) == ("low_pass_in_receive", "note", ())
    assert "That is worth it here." in found.text
    # By hand: the filters one behind the other, solved as circuits that an amplifier parts or not.
    text, bare = found.text, Analysis(changed(tern))
    plan = Analysis(tern).band_plan("20m")
    dial = np.linspace(plan.dial_low_hz, plan.dial_high_hz, 5)
    for name, hz in (
        ("image", np.linspace(plan.image_low_hz, plan.image_high_hz, 5)),
        ("IF", plan.carrier_hz),
    ):
        for rig, words in ((Analysis(tern), f"{name} "), (bare, None)):
            lost = rig.front_losses("20m", "receive", np.append(dial, hz))
            down = lost[5:].min() - lost[:5].max()
            if name == "IF":
                told = number(text, "is " if words else "dB down instead of ")
            else:
                told = number(text, "image " if words else f"image {number(text, 'image '):.0f} instead of ")
            assert told == pytest.approx(down, abs=0.51), (name, words)
    figures = [rig.receive("20m").noise_figure_db for rig in (Analysis(tern), bare)]
    through = number(text, "noise figure is ")
    assert through == pytest.approx(figures[0], abs=0.051)
    assert number(text, f"noise figure is {through:.1f} dB instead of ") == pytest.approx(
        figures[1], abs=0.051
    )
    loss = Analysis(tern).filter_response("low_pass", "20m", dial).loss_db.max()
    assert number(text, "It loses ") == pytest.approx(loss, abs=0.1)


def test_a_receiver_that_wants_the_low_pass_is_told_and_the_remedy_puts_it_in(tern):
    found = listening(changed(tern))
    assert found.rule == "low_pass_direction"
    assert found.remedy == "Let it work in both directions."
    (edit,) = found.edits
    after = edit.on(changed(tern))
    assert after.stage("low_pass").direction == "both"
    assert listening(after).rule == "low_pass_in_receive"
    held = [
        Analysis(rig).front_losses("20m", "receive", np.array([14.2e6, 98e6]))
        for rig in (after, changed(tern))
    ]
    assert np.ptp(held[0]) > np.ptp(held[1]) + 50


def test_a_receiver_that_needs_no_low_pass_is_told_and_the_remedy_takes_it_out(tern):
    narrow = changed(tern, "both", bandwidth_hz=300e3, ends="link")
    found = listening(narrow)
    assert found.rule == "low_pass_direction"
    assert "not worth it here, as all this is far enough down without it" in found.text
    (edit,) = found.edits
    after = edit.on(narrow)
    assert listening(after).rule == "low_pass_in_receive"
    assert Analysis(after).receive("20m").noise_figure_db < Analysis(narrow).receive("20m").noise_figure_db


def test_a_low_pass_that_hides_the_band_noise_is_not_worth_it(tern):
    through, without = (Analysis(rig).receive("12m").noise_margin_db for rig in (tern, changed(tern)))
    assert without > through
    quiet = tern.edited(("station", "noise_margin_db"), (through + without) / 2)
    found = listening(quiet)
    assert "not worth it here, as it hides the band noise" in found.text
    assert found.band == "12m"
    (edit,) = found.edits
    after = Analysis(edit.on(quiet)).receive("12m")
    assert after.noise_margin_db > quiet.station.noise_margin_db
    assert not [f for f in inspect(Analysis(edit.on(quiet))) if f.rule == "low_pass_direction"]


def test_without_a_receiver_or_a_low_pass_nothing_is_said(tern):
    none = tern.with_stages(tuple(s for s in tern.stages if s.kind != "low_pass"))
    deaf = tern.with_stages(tuple(s for s in tern.stages if not s.works_in("receive")))
    for rig in (none, deaf):
        assert not [f for f in inspect(Analysis(rig)) if f.rule.startswith("low_pass_")]
