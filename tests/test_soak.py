"""A small share of what the soak command tries by the thousand."""

from collections import Counter

from tests.soak import files


def test_broken_files_are_read_or_refused_in_a_sentence():
    outcomes = list(files.cases(250, 5000))
    assert not [outcome for outcome in outcomes if outcome.what not in files.FINE]
    counts = Counter(outcome.what for outcome in outcomes)
    assert set(counts) == files.FINE, "each kind of file is tried"
