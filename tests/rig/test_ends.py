"""What an amplifier makes of the impedances beside it, against the row of two-ports solved by itself."""

import numpy as np
import pytest

from core.circuits.active.two_port import cascade, of_ladder, two_port
from core.circuits.units import T0_KELVIN
from core.model.stages.amplifiers import Attenuator
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import ENDS
from core.rig.figures.figure import keyed
from core.rig.levels.ends import Ends, return_loss_db
from core.rig.rules.amplifiers import mixer_termination
from core.stages.outcome import Unsolved


def with_stage(project, made):
    return project.with_stages(tuple(made if stage.id == made.id else stage for stage in project.stages))


def built(project, topology, **fields):
    asked = {"gain_db": 16.0, "current_a": 20e-3, "device": "2n3904"} | fields
    made = BuiltAmplifier(
        id="if_amplifier_1",
        name="IF 1",
        direction="receive",
        topology=topology,
        designed_at_hz=project.if_hz,
        **asked,
    )
    return Analysis(with_stage(project, made))


def around(analysis, stage="if_amplifier_1", way="receive"):
    found = analysis.ends(stage, "20m", way)
    assert isinstance(found, Ends), found
    return found


def test_three_transistors_hide_the_ladder_and_a_feedback_stage_does_not(tern):
    """As of a ladder of six poles at 9 MHz: 2 dB of return loss in the stop-band through one, 20 through the
    other (nodal solutions of whole circuits, independent of these).
    """
    hidden, shown = (around(built(tern, each)) for each in ("three_transistors", "feedback"))
    worst = {
        name: return_loss_db(ends.seen_ohm)[ends.stops.astype(bool)].min()
        for name, ends in (("three", hidden), ("feedback", shown))
    }
    assert worst["three"] > 17
    assert worst["feedback"] < 5
    for ends in (hidden, shown):
        assert (ends.before, ends.behind, ends.beside) == ("Mixer", "Ladder filter", "Ladder filter")
        assert ends.faces_input
        # The ladder itself is as good as a short or an open there.
        assert return_loss_db(ends.filter_ohm)[ends.stops.astype(bool)].min() < 0.5
        passes = ends.f_hz[ends.passes.astype(bool)]
        assert 1000 < np.ptp(passes) < 3000
    swing = {n: np.ptp(e.gain_change_db[e.stops.astype(bool)]) for n, e in ((1, hidden), (2, shown))}
    assert swing[1] < 1.0
    assert swing[2] > 2.0


def test_it_is_what_the_whole_row_of_two_ports_says(tern):
    analysis = built(tern, "feedback")
    found, f = around(analysis), around(analysis).f_hz
    # By itself: amplifier, ladder, second amplifier, detector, each two-port solved at every frequency.
    amplifier = two_port(analysis.design("if_amplifier_1", "20m").circuit, f)
    ladder = of_ladder(analysis.design("ladder", "20m").network, f, temperature_k=T0_KELVIN)
    second = two_port(analysis.design("if_amplifier_2", "20m").circuit, f)
    whole = cascade([amplifier, ladder, second])
    blocks = {each.stage: each for each in analysis.blocks("20m", "receive", 14.225e6)}
    detector = blocks["detector"].input_ohm
    np.testing.assert_allclose(found.input_ohm, whole.input_ohm(detector), rtol=5e-3)
    behind = cascade([ladder, second]).input_ohm(detector)
    np.testing.assert_allclose(found.load_ohm, behind, rtol=5e-3)
    # Transducer gain over that of an ideal stage of 50 ohm with the same S21 between the same ends.
    source, load = found.source_ohm, found.load_ohm
    real = amplifier.gain_db(source, load)
    s21_db = amplifier.gain_db(50.0, 50.0)
    match = [10 * np.log10(4 * 50 * z.real / np.abs(z + 50) ** 2) for z in (source, load)]
    np.testing.assert_allclose(found.gain_change_db, real - s21_db - match[0] - match[1], atol=0.01)


def test_behind_a_filter_the_output_tells_of_it(tern):
    found = around(Analysis(tern), "if_amplifier_2")
    assert not found.faces_input
    assert found.before == "Ladder filter"
    assert found.filter_ohm is found.source_ohm
    assert found.seen_ohm is found.output_ohm


def test_a_pair_is_looked_at_in_the_direction_that_is_on(tern):
    made = BilateralAmplifier(
        id="if_amplifier_1",
        name="IF pair",
        receive_gain_db=18.0,
        transmit_gain_db=12.0,
        current_a=13e-3,
        designed_at_hz=tern.if_hz,
    )
    analysis = Analysis(with_stage(tern, made))
    receive, transmit = around(analysis), around(analysis, way="transmit")
    assert receive.faces_input
    assert not transmit.faces_input
    assert receive.behind == "Ladder filter"
    assert (transmit.before, transmit.behind) == ("Transmit IF", "Mixer")


def test_figures_tell_the_worst_of_pass_band_and_stop_band(tern):
    found, table = around(built(tern, "feedback")), keyed(ENDS)
    passes, stops = (each.astype(bool) for each in (found.passes, found.stops))
    assert table["seen_stop_db"].get(found) == return_loss_db(found.input_ohm)[stops].min()
    assert table["seen_pass_db"].get(found) == return_loss_db(found.input_ohm)[passes].min()
    low, high = table["change_stop_db"].get(found)
    assert (low, high) == (found.gain_change_db[stops].min(), found.gain_change_db[stops].max())
    assert table["seen_stop_db"].get(found) < table["seen_pass_db"].get(found)


def test_where_no_filter_stands_beside_it_nothing_is_told(tern):
    bare = Analysis(tern.stage_removed("ladder"))
    found = bare.ends("if_amplifier_1", "20m", "receive")
    assert isinstance(found, Unsolved)
    assert "No filter stands beside it" in found.reason
    found = Analysis(tern).ends("if_amplifier_1", "20m", "transmit")
    assert "not in the path in transmit" in found.reason


def test_return_loss_by_hand():
    assert return_loss_db(np.array([100.0, 25.0, 0.0])) == pytest.approx([9.5424, 9.5424, 0.0], abs=1e-4)
    assert return_loss_db(np.array([50.0]))[0] == np.inf


def test_a_mixer_that_sees_the_ladder_through_is_told_and_what_is_advised_mends_it(tern):
    (told,) = mixer_termination(built(tern, "feedback"))
    assert told.stage == "mixer"
    assert told.figure == pytest.approx(2.4, abs=0.5)
    assert "sees a return loss of 2." in told.text
    assert not list(mixer_termination(built(tern, "three_transistors")))
    less = float(told.remedy.split("a pad of ")[1].split(" dB")[0])
    rig = built(tern, "feedback").project
    place = [stage.id for stage in rig.stages].index("if_amplifier_1")
    for loss_db, mends in ((less, True), (less - 1.5, False)):
        pad = Attenuator(id="pad", name="Pad", direction="receive", loss_db=loss_db)
        padded = rig.with_stages((*rig.stages[:place], pad, *rig.stages[place:]))
        assert (not list(mixer_termination(Analysis(padded)))) == mends
    # The ladder itself behind the mixer is worse than any amplifier.
    (bare,) = mixer_termination(Analysis(rig.stage_removed("if_amplifier_1")))
    assert bare.figure < 1
    # A transistor array does not ask for it.
    array = rig.edited(("stages", "mixer", "type"), "transistor_array")
    assert not list(mixer_termination(Analysis(array)))
