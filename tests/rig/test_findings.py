"""What a finding is: a number and a sentence that agree, an identity without the number, and an order."""

import re
from itertools import pairwise
from math import inf

import pytest

from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import RULES, SEVERITIES, Finding, ranked
from core.rig.paper.report import report
from core.rig.rules import inspect, inspection, ladders
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.steps import finished
from tests.spoilt import spoilt


def finding(**other):
    given = {
        "severity": "caution",
        "rule": "loss",
        "path": ("stages", "ladder"),
        "words": "The ladder loses <figure>, where <limit> is much.",
        "figure": 9.04,
        "limit": 8.0,
        "unit": "dB",
        "shown": ".1f",
        "remedy": "Take fewer poles.",
        "source": "a test",
    }
    return Finding(**given | other)


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({}, "The ladder loses 9.0 dB, where 8 dB is much."),
        ({"limit": 8.25}, "The ladder loses 9.0 dB, where 8.2 dB is much."),
        (
            {"words": "From <bare figure> to 5.2 MHz.", "figure": -1.25e6, "unit": "Hz", "shown": ".3f M"},
            "From −1.250 to 5.2 MHz.",
        ),
        (
            {"words": "<figure>; at least <limit>.", "figure": -48.4, "limit": -43.0},
            "−48.4 dB; at least −43 dB.",
        ),
        (
            {"words": "It has <figure>.", "figure": 0.8412e-12, "unit": "F", "shown": ".3g p"},
            "It has 0.841 pF.",
        ),
        ({"words": "It has <figure>.", "figure": 5.7e-9, "unit": "W", "shown": "2"}, "It has 5.7 nW."),
        ({"words": "Nothing passes.", "figure": None, "limit": None}, "Nothing passes."),
    ],
)
def test_the_sentence_is_made_from_the_numbers(given, text):
    assert finding(**given).text == text


def test_the_number_is_no_part_of_the_identity():
    assert finding().key == finding(figure=12.0, limit=9.0, severity="fault").key
    for other in ({"rule": "gain"}, {"stage": "mixer"}, {"band": "20m"}, {"path": ()}, {"subject": "image"}):
        assert finding(**other).key != finding().key


@pytest.mark.parametrize(
    ("given", "over_db"),
    [
        ({}, 1.04),
        ({"at_least": True}, -1.04),
        ({"figure": -50.0, "limit": -43.0, "unit": "dBc"}, -7.0),
        ({"figure": 2.0, "limit": 20.0, "unit": "W", "at_least": True}, 10.0),
        ({"figure": 20e3, "limit": 2e3, "unit": "Hz"}, 20.0),
        ({"figure": -1e6, "limit": 0.0, "unit": "Hz", "at_least": True}, inf),
        ({"limit": None}, inf),
        ({"figure": None, "limit": None}, inf),
    ],
)
def test_how_far_a_figure_is_over_its_limit(given, over_db):
    assert finding(**given).over_db == pytest.approx(over_db)


@pytest.mark.parametrize(
    ("figure", "limit", "over_db"), [(4.0, 2.0, 3.0103), (1.0, 2.0, -3.0103), (20.0, 0.2, 20.0)]
)
def test_watts_are_compared_as_powers(figure, limit, over_db):
    assert finding(figure=figure, limit=limit, unit="W").over_db == pytest.approx(over_db, abs=1e-4)
    assert finding(figure=figure, limit=limit, unit="V").over_db == pytest.approx(2 * over_db, abs=1e-4)


def test_the_worst_comes_first():
    slight, bad = finding(figure=8.1), finding(figure=20.0)
    missing, fault = finding(figure=None), finding(severity="fault", figure=8.2)
    kept = finding(severity="note", figure=50.0)
    assert ranked([kept, slight, bad, fault, missing]) == (fault, missing, bad, slight, kept)


@pytest.fixture(scope="module")
def every(tern, muddle):
    """The findings of all spoilt rigs, by what was done."""
    return {name: inspect(Analysis(project)) for name, project in spoilt(tern, muddle)}


def test_number_and_sentence_agree_in_every_finding(every):
    for name, findings in every.items():
        for each in findings:
            assert "<" not in each.text, f"{name}: {each.text}"
            assert each.text[0].isupper() or each.text[0].isdigit(), f"{name}: {each.text}"
            if each.figure is None:
                assert each.limit is None
                continue
            assert "<figure>" in each.words or "<bare figure>" in each.words, f"{name}: {each.text}"
            spec, _, prefix = each.shown.partition(" ")
            place = next(n for n, sign in enumerate(spec) if sign.isdigit())
            scale = {"": 1.0, "k": 1e3, "M": 1e6, "p": 1e-12}[prefix]
            # A figure that would read like its limit is told with one or two digits more.
            told = [
                format_value(each.figure, each.unit, int(spec) + more)
                if spec.isdigit()
                else format(
                    each.figure / scale, f"{spec[:place]}{int(spec[place]) + more}{spec[place + 1 :]}"
                ).replace("-", "−")
                for more in range(3)
            ]
            assert any(
                re.search(rf"(?<![\d.]){re.escape(digits)}(?![\d.]\d)", each.text) for digits in told
            ), f"{name}: {each.text}"


def test_what_is_more_than_a_note_is_over_its_limit(every):
    for name, findings in every.items():
        for each in findings:
            if each.severity != "note" and each.limit is not None:
                assert each.over_db > 0, f"{name}: {each.text}"


def test_no_two_findings_of_a_rig_are_the_same_one(every):
    for name, findings in every.items():
        keys = [each.key for each in findings]
        assert len(set(keys)) == len(keys), name


def test_findings_come_worst_first(every):
    for findings in every.values():
        # To a millionth of a decibel: beyond that bands that lie alike stay in their order.
        places = [(SEVERITIES.index(each.severity), -round(each.over_db, 6)) for each in findings]
    assert all(a <= b for a, b in pairwise(places))


def test_the_spoilt_rigs_set_off_every_rule(tern, muddle):
    silent = {rule.__name__ for rule in RULES}
    for _, project in spoilt(tern, muddle):
        analysis = Analysis(project)
        silent -= {
            name
            for name in silent
            if any(True for r in RULES if r.__name__ == name for f in r(analysis) if f)
        }
    assert silent == set()


def test_json_prints_figure_and_limit(muddle):
    rows = {(r["rule"], r["band"]): r for r in report(Analysis(muddle))["findings"]}
    row = rows["vfo_start", ""]
    assert row["text"].count(f"{row['figure']:.2f} {row['unit']}") == 1
    assert (row["limit"], row["unit"]) == (2.5, "times")
    assert row["path"] == ["vfo", "tank", "feedback", "bias_ohm"]
    assert rows["dummy_load_first", ""]["figure"] is None


@pytest.mark.parametrize(
    ("figure", "shown", "sentence"),
    [
        (-42.6, ".0f", "leaves at \u221242.6 dBc, at most \u221243 dBc"),
        (-42.96, ".0f", "leaves at \u221242.96 dBc, at most \u221243 dBc"),
        (-38.2, ".0f", "leaves at \u221238 dBc, at most \u221243 dBc"),
        (-43.0, ".0f", "leaves at \u221243 dBc, at most \u221243 dBc"),
    ],
)
def test_a_figure_just_over_its_limit_is_told_apart_from_it(figure, shown, sentence):
    found = Finding(
        severity="fault",
        rule="x",
        path=(),
        words="leaves at <figure>, at most <limit>",
        figure=figure,
        limit=-43.0,
        unit="dBc",
        shown=shown,
        remedy="",
        source="",
    )
    assert found.text == sentence


def test_a_limit_gets_more_digits_too_where_the_figure_would_read_on_its_other_side():
    found = Finding(
        severity="caution",
        rule="x",
        path=(),
        words="asks <figure>; it gives <limit>",
        figure=306.505e-6,
        limit=305.53e-6,
        unit="W",
        shown="2",
        remedy="",
        source="",
    )
    assert found.text == "asks 307 µW; it gives 306 µW"


@pytest.mark.parametrize(
    ("figure", "sentence"),
    [(9.96, "10 W"), (10.04, "10.04 W"), (10.4, "10.4 W"), (10.0, "10 W"), (12.34, "12 W")],
)
def test_digits_of_a_figure_beside_its_limit(figure, sentence):
    told = finding(words="<figure>, <limit>.", figure=figure, limit=10.0, unit="W", shown="2").text
    assert told in (f"{sentence}, 10 W.", "9.96 W, 10 W.")
    assert figure == 10.0 or not told.startswith("10 W")


def test_advice_on_a_far_too_wide_ladder_tries_few(tern, monkeypatch):
    # Ten thousand widths would be ten thousand designs.
    tried = []
    design = ladders.ladder_filter.design
    monkeypatch.setattr(ladders.ladder_filter, "design", lambda *args: tried.append(args) or design(*args))
    finished(ladders._narrower(AskedLadder(tern.stage("ladder"), tern.if_hz).edited(("bandwidth_hz",), 1e6)))
    assert 1 < len(tried) <= 40


@pytest.mark.parametrize("flatness", ["as_designed", "for_the_crystals"])
def test_no_step_of_an_inspection_measures_more_than_two_ladders(tern, monkeypatch, flatness):
    # The window waits for one step: with ten poles and the crystals' Q counted, a ladder takes 50 to 150 ms.
    ladder = ("stages", "ladder")
    rig = tern.edited((*ladder, "poles"), 10).edited((*ladder, "crystal", "quality_factor"), 40e3)
    analysis = Analysis(rig.edited((*ladder, "flatness"), flatness).edited(("if_hz",), 9.239726e6))
    measured = 0

    def counted(*args, **kwargs):
        nonlocal measured
        measured += 1
        return pass_band(*args, **kwargs)

    pass_band = ladders.ladder_filter.pass_band
    assert analysis.filters
    monkeypatch.setattr(ladders.ladder_filter, "pass_band", counted)
    in_step = []
    for _ in inspection(analysis):
        in_step.append(measured)
        measured = 0
    assert sum(in_step) > 20
    # Its own and the one without loss that it is held against.
    assert max(in_step) <= 2
    assert any(finding.rule == "ladder_ripple" for finding in inspect(analysis))


# -- two bands alike -----------------------------------------------------------------------------------


def twinned(project):
    """The project with a second band exactly like its first, on the same filters."""
    first = project.bands[0].name
    for stage in project.stages:
        for place, one in enumerate(getattr(stage, "filters", ())):
            if first in one.bands:
                project = project.edited(
                    ("stages", stage.id, "filters", place, "bands"), (*one.bands, "twin")
                )
    twin = project.bands[0].edited(("name",), "twin")
    return project.edited(("bands",), (project.bands[0], twin, *project.bands[1:]))


def test_no_band_hides_another_that_is_as_bad(tern, muddle):
    seen = set()
    for name, project in spoilt(tern, muddle):
        if project.bands[0].name != project.bands[1].name and len(project.bands) < 3:
            try:
                both = twinned(project)
            except DesignError:
                continue
            first = both.bands[0].name
            told = inspect(Analysis(both))
            for each in told:
                if each.band not in (first, "twin"):
                    continue
                other = "twin" if each.band == first else first
                alike = [f for f in told if f.rule == each.rule and f.stage == each.stage and f.band == other]
                # A filter without a solution is one, however many bands it serves.
                if each.rule != "filter_unsolved":
                    assert alike or spelled(other) in each.text, f"{name}: {each.rule}, {each.text}"
                    seen.add(each.rule)
    assert len(seen) > 25, seen
