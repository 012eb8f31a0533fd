"""Searches in steps: what was found is kept, and a search can be left and taken up by another."""

import pytest

from core.stages.steps import finished, kept


def search(taken):
    @kept(2)
    def squares(most, *, plus=0):
        found = []
        for n in range(most):
            taken.append(n)
            found.append(n * n + plus)
            yield
        return tuple(found)

    return squares


def test_what_was_found_is_kept_and_takes_no_step_again():
    taken = []
    squares = search(taken)
    assert finished(squares(3)) == (0, 1, 4)
    assert taken == [0, 1, 2]
    assert list(squares(3)) == []
    assert finished(squares(3)) == (0, 1, 4)
    assert taken == [0, 1, 2]
    assert finished(squares(3, plus=1)) == (1, 2, 5)
    assert len(taken) == 6


def test_the_last_ones_asked_for_are_kept():
    taken = []
    squares = search(taken)
    for most in (1, 2, 1, 3):
        finished(squares(most))
    assert len(taken) == 1 + 2 + 3
    finished(squares(1))
    assert len(taken) == 6
    finished(squares(2))
    assert len(taken) == 8


def test_a_search_that_is_left_or_fails_keeps_nothing():
    taken = []
    squares = search(taken)
    next(squares(2))
    assert finished(squares(2)) == (0, 1)
    assert taken == [0, 0, 1]

    @kept(2)
    def failing():
        yield
        raise ZeroDivisionError

    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            finished(failing())
