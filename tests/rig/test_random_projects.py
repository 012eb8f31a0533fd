"""A share of the random projects that the soak tries by the thousand."""

from tests.soak.projects import FINE, cases


def test_random_projects_are_answered_with_numbers_or_reasons(qapp):
    assert [outcome for outcome in cases(12, 100) if outcome.what not in FINE] == []


def test_an_audio_stage_ahead_of_the_mixer_is_named_for_its_noise(qapp):
    assert [outcome.what for outcome in cases(1, 40027)] == ["every figure a number or a reason"]
