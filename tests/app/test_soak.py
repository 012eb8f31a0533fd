"""A small share of what is tried by the thousand in the window: actions by chance, and kills amid work."""

import pytest

from core.model.files import load, save
from core.model.samples import sample_path
from tests.soak import actions, kills


@pytest.mark.expects_log
@pytest.mark.parametrize("seed", [1, 2])
def test_actions_by_chance_raise_nothing(qapp, seed):
    bad = [outcome for outcome in actions.session(seed, 60) if outcome.what not in actions.FINE]
    assert bad == []


def test_a_killed_window_leaves_everything_whole():
    assert kills.kill(2, longest_s=1.5) in kills.FINE


def test_a_line_cut_off_with_the_window_is_left_out(tmp_path):
    project = load(sample_path()).edited(("if_hz",), float(kills._BASE_HZ + 3))
    save(project, tmp_path / "rig.json")
    told = "edit 1 10.0\nedit 3 11.0\nsaving 3 12.0\nsaved 3 12.5\n"
    assert kills.judged(tmp_path, told, 13.0) == kills.SAVED
    assert kills.judged(tmp_path, f"{told}edi", 13.0) == kills.SAVED
    assert kills.judged(tmp_path, told.replace("3", "9"), 13.0) != kills.SAVED
