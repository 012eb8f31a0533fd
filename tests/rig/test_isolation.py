"""What a stage with typed figures lets back from its output to its input: in the chain, in what stands beside
it, and in the loop round it. Closed forms of two matched ports, S11 = S22 = 0.
"""

from math import log10

import numpy as np
import pytest

from app.pictures.stages import block as block_picture
from app.state.look import Look
from core.circuits.active.two_port import block
from core.model.files import dumps, loads
from core.model.stages.amplifiers import Amplifier, PowerAmplifier
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.levels import LOOPS
from core.rig.levels.chain import ends_ohm
from core.rig.levels.ends import return_loss_db
from core.rig.remedies.remedy import remedies
from core.rig.rules import inspect
from core.rig.rules.amplifiers import mixer_termination, stage_lets_back
from core.stages.kinds.table import kind_of
from core.stages.steps import finished

F = np.array([1e6, 9e6])


def with_typed(project, **figures):
    """The rig with a block in the place of its first IF amplifier, between mixer and ladder."""
    given = {"gain_db": 16.0, "noise_figure_db": 4.0} | figures
    made = Amplifier(id="if_amplifier_1", name="Block", direction="receive", **given)
    return project.with_stages(tuple(made if each.id == made.id else each for each in project.stages))


def test_a_block_has_the_scattering_parameters_that_are_stated():
    found = block(16.0, 4.0, 50.0, F, -25.0)
    told = np.array([[0, 10 ** (-25 / 20)], [10 ** (16 / 20), 0]])
    for n in range(len(F)):
        np.testing.assert_allclose(found.s(50.0)[..., n], told, atol=1e-12)
    # Noise figure and gain between its resistances are those stated whatever comes back.
    np.testing.assert_allclose(found.noise_figure_db(50.0), 4.0, rtol=1e-12)
    np.testing.assert_allclose(found.gain_db(50.0, 50.0), 16.0, rtol=1e-12)
    # One that states nothing is one-way: its input hides the load.
    np.testing.assert_allclose(block(16.0, 4.0, 50.0, F).input_ohm(3.0 - 200j), 50.0)
    load = 10.0 + 70j
    turned = (load - 50) / (load + 50)
    seen = found.input_ohm(load)
    np.testing.assert_allclose((seen - 50) / (seen + 50), 10 ** ((16 - 25) / 20) * turned)


def test_stable_with_any_ends_as_long_as_it_isolates_more_than_it_amplifies():
    """µ of two matched ports is 1/|S12 S21|."""
    for isolation_db in (10.0, 15.9, 16.1, 40.0):
        _, mu = block(16.0, 4.0, 50.0, F, -isolation_db).stability()
        np.testing.assert_allclose(mu, 10 ** ((isolation_db - 16) / 20), rtol=1e-9)


def test_what_comes_back_counts_in_the_levels_and_before_the_ladder(tern):
    one_way, two_way = (Analysis(with_typed(tern, reverse_isolation_db=each)) for each in (None, 22.0))
    ends = one_way.ends("if_amplifier_1", "20m", "receive")
    # Through a one-way block nobody sees the ladder; through the other what it turns back, less 6 dB.
    assert return_loss_db(ends.input_ohm).min() > 200
    seen = two_way.ends("if_amplifier_1", "20m", "receive")
    np.testing.assert_allclose(return_loss_db(seen.input_ohm), return_loss_db(seen.load_ohm) + 6.0, atol=1e-6)
    assert not [f for f in mixer_termination(one_way) if f.subject == "if_amplifier_1"]
    stops = seen.stops.astype(bool)
    (told,) = [f for f in mixer_termination(two_way) if f.subject == "if_amplifier_1"]
    assert told.figure == pytest.approx(return_loss_db(seen.input_ohm)[stops].min())
    assert told.figure < 10
    # Behind a band-pass off its middle the whole gain changes by the closed form, 1/(1 − S12 S21 ΓS ΓL).
    at = 1 + next(n for n, each in enumerate(tern.stages) if each.id == "band_pass")

    def between(isolation_db):
        made = Amplifier(
            id="typed", name="Typed", direction="receive", gain_db=16.0, reverse_isolation_db=isolation_db
        )
        return Analysis(tern.with_stages((*tern.stages[:at], made, *tern.stages[at:])))

    before, after = (between(each) for each in (None, 22.0))
    blocks = after.blocks("20m", "receive", 14.8e6)
    place = next(n for n, each in enumerate(blocks) if each.stage == "typed")
    source, load = ((each - 50) / (each + 50) for each in ends_ohm(blocks, place))
    loop = 10 ** ((16.0 - 22.0) / 20) * source * load
    assert abs(loop) > 0.02
    gains = [each.receive("20m", 14.8e6).gain_db for each in (before, after)]
    assert gains[1] - gains[0] == pytest.approx(-20 * log10(abs(1 - loop)), abs=1e-6)


def test_a_file_without_it_reads_as_one_way_and_one_with_it_as_stated(tern):
    assert Amplifier(id="a", name="A").reverse_isolation_db is None
    assert PowerAmplifier(id="a", name="A").reverse_isolation_db is None
    rig = with_typed(tern, reverse_isolation_db=22.0)
    again = loads(dumps(rig))
    assert again == rig
    text = dumps(rig).replace('"reverse_isolation_db": 22.0', '"reverse_isolation_db": null')
    assert loads(text).stage("if_amplifier_1").reverse_isolation_db is None
    # Files of before state 30 dB of every block, which never counted; what somebody typed is kept.
    for written, read in (("30.0", None), ("30", None), ("45.0", 45.0)):
        before = dumps(rig).replace('"reverse_isolation_db": 22.0', f'"isolation_db": {written}')
        assert loads(before).stage("if_amplifier_1").reverse_isolation_db == read
    blocks = Analysis(with_typed(tern)).blocks("20m", "receive", 14.2e6)
    (made,) = [each for each in blocks if each.stage == "if_amplifier_1"]
    assert made.reverse_db is None


def test_its_table_tells_what_comes_back_or_that_nothing_does(tern):
    def told(project):
        look = Look("20m", "receive", 14.2e6, ("stages", "if_amplifier_1"))
        return dict(block_picture.picture_of(Analysis(project), look).table.rows)["from output to input"]

    assert told(with_typed(tern)) == "nothing: one-way"
    assert told(with_typed(tern, reverse_isolation_db=22.0)) == "−22.0 dB"
    look = Look("20m", "receive", 14.2e6, ("stages", "ladder"))
    rows = dict(block_picture.picture_of(Analysis(tern), look).table.rows)
    # A filter is the same either way.
    assert rows["from output to input"] == rows["gain"]


def test_a_stage_that_lets_back_more_than_it_has_is_told_with_an_edit_that_mends_it(tern):
    rig = with_typed(tern, gain_db=20.0, reverse_isolation_db=18.0)
    loop = next(each for each in Analysis(rig).loops() if (each.way, each.zone) == ("receive", "if"))
    assert loop.stage_db == pytest.approx(2.0)
    both = 10 ** (loop.box_db / 20) + 10 ** (2.0 / 20)
    assert loop.loop_db == pytest.approx(20 * log10(both))
    figures = keyed(LOOPS)
    assert (figures["stage_db"].text(loop), figures["loop_db"].get(loop)) == ("2", loop.loop_db)
    (found,) = stage_lets_back(Analysis(rig))
    assert found.figure == pytest.approx(loop.loop_db, abs=0.5)
    assert "Block amplifies 20 dB and isolates 18 dB backwards" in found.text
    assert found in inspect(Analysis(rig))
    (edit,) = finished(remedies(Analysis(rig), found))
    assert "Set the gain of Block" in edit.label
    mended = edit.on(rig)
    assert not list(stage_lets_back(Analysis(mended)))
    # It is told too where the box howls already.
    open_board = rig.edited(("station", "stray_isolation_db"), 5.0)
    assert [each.stage for each in stage_lets_back(Analysis(open_board))] == ["if_amplifier_1"]
    # More isolation does the same; none stated is one-way.
    for isolation_db in (40.0, None):
        assert not list(
            stage_lets_back(Analysis(with_typed(tern, gain_db=20.0, reverse_isolation_db=isolation_db)))
        )
    assert (
        figures["stage_db"].text(next(each for each in Analysis(tern).loops() if each.zone == "if"))
        == "none stated"
    )
    assert kind_of(rig.stage("if_amplifier_1")).making is None
