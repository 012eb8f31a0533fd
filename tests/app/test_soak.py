"""A small share of what is tried by the thousand in the window: actions by chance, and kills amid work."""

import pytest

from tests.soak import actions, kills


@pytest.mark.expects_log
@pytest.mark.parametrize("seed", [1, 2])
def test_actions_by_chance_raise_nothing(qapp, seed):
    bad = [outcome for outcome in actions.session(seed, 60) if outcome.what not in actions.FINE]
    assert bad == []


def test_a_killed_window_leaves_everything_whole():
    assert kills.kill(2, longest_s=1.5) in kills.FINE
