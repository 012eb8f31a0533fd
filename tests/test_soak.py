"""A small share of what the soak command tries by the thousand."""

from collections import Counter

from core.rig.analysis import Analysis
from core.rig.paper.report import as_text, report
from tests.soak import actions, files
from tests.soak.outcome import prints_no_number


def test_broken_files_are_read_or_refused_in_a_sentence():
    outcomes = list(files.cases(250, 5000))
    assert not [outcome for outcome in outcomes if outcome.what not in files.FINE]
    counts = Counter(outcome.what for outcome in outcomes)
    assert set(counts) == files.FINE, "each kind of file is tried"


def test_a_band_called_nan_is_no_number_and_a_number_that_is_none_is_found(tern):
    rig = tern.edited(("bands", "20m", "name"), "nan")
    text = as_text(report(Analysis(rig)))
    assert "nan" in text
    assert not prints_no_number(text, rig)
    for none in ("nan dB", "−inf Hz", "NaN"):
        assert prints_no_number(f"{text} {none}", tern)


def test_a_window_that_tab_went_through_leaves_no_widget_when_it_is_closed(qapp):
    outcomes = list(actions.session(14, 31))
    assert not [outcome for outcome in outcomes if outcome.what not in actions.FINE]
