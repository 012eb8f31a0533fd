"""The bench's pages as pictures: no window is made."""

import numpy as np
import pytest

from app.pictures.bench import crystals, junk_box, read_out, survey, tolerance
from app.pictures.bench.crystals import Outcome
from app.state.look import Look
from core.model.notebook.junk_box import JunkBox, RelayOnHand, VariableOnHand, WireOnHand
from core.model.values.notation import format_value
from core.rig import scattered
from core.rig.analysis import Analysis
from core.rig.bag import bag_of, placement_of
from tests.bags import with_table

LOOK = Look("20m", "receive", 14.2e6)


@pytest.fixture(scope="module")
def analysis(tern):
    return Analysis(tern)


def told(project, text=""):
    return Outcome(text, project.crystal_batch)


def crystals_of(project, *, by_mesh=False):
    return crystals.picture_of(Analysis(project), told(project), by_mesh=by_mesh)


def test_every_crystal_has_its_line_and_the_placed_ones_their_mesh(tern, analysis):
    picture = crystals_of(tern)
    assert [line.label for line in picture.lines] == [row.label for row in bag_of(analysis).rows]
    placed = {each.label: str(each.mesh) for each in placement_of(analysis).placed}
    assert {line.label: line.cells[1] for line in picture.lines if line.cells[1]} == placed
    ordered = crystals_of(tern, by_mesh=True).lines
    assert [line.cells[1] for line in ordered[:8]] == [str(n) for n in range(1, 9)]
    assert sum(picture.histogram.counts) == len([line for line in picture.lines if line.ticked is not None])


def test_turning_the_if_a_little_reads_nothing_anew(tern, analysis):
    turned = Analysis(tern.edited(("if_hz",), tern.if_hz + 20))
    assert bag_of(turned) is bag_of(analysis)
    lines = crystals.picture_of(turned, told(tern), by_mesh=False).lines
    assert [line.cells[2:] for line in lines] == [line.cells[2:] for line in crystals_of(tern).lines]


def test_a_table_that_cannot_be_read_says_why_and_an_empty_one_what_to_do(tern):
    wrong = crystals_of(with_table(tern, "what is this"))
    assert "lacks the column" in wrong.summary
    assert not wrong.placed
    empty = crystals_of(with_table(tern, ""))
    assert empty.summary.startswith("Paste a table")
    assert empty.lines == ()
    assert isinstance(empty.histogram, str)


def test_what_an_import_said_is_told_of_its_batch_alone(tern, analysis):
    def summary(said, project=tern):
        return crystals.picture_of(Analysis(project), said, by_mesh=False).summary

    imported, refused = told(tern, "No x.csv there."), Outcome("It is a project.", tern)
    assert summary(imported).endswith("No x.csv there.")
    assert "No x.csv" not in summary(imported, tern.edited(("crystal_batch", "c0_f"), 4e-12))
    assert summary(refused) == "It is a project."
    assert "project" not in summary(refused, tern.edited(("name",), "Another"))


def test_every_band_has_its_column_in_the_read_out_plan(tern, analysis):
    picture = read_out.picture_of(analysis, LOOK)
    assert picture.plan.heads == ("", "20\u00a0m", "12\u00a0m")
    plan = analysis.read_out
    assert [row[1:] for row in picture.plan.rows if row[0] == "scheme"] == [
        (f"helper − VFO, helper {format_value(plan.helper_hz, 'Hz', 8)}", "VFO counted, carrier added")
    ]
    options = {each.band: each for each in analysis.read_out_options}
    assert len(picture.others.rows.rows) == len(options["20m"].alternatives)
    assert picture.others.helpers_hz == tuple(r.helper_hz for r in options["20m"].alternatives)
    turned_down = dict(picture.others.refused.rows)
    assert len(picture.others.refused.rows) == len(options["20m"].refused)
    assert turned_down["VFO counted, carrier subtracted"] == (
        "5.561 MHz less 19.661 MHz is negative, and the module shows zeros for that."
    )
    for each in options["20m"].refused:
        if len(each.helpers_hz) == 1:
            name = f"{each.scheme}, helper {format_value(each.helpers_hz[0], 'Hz', 8)}"
            assert turned_down[name] == each.words


def test_a_rig_without_counter_is_a_sentence(tern):
    assert "no counter" in read_out.picture_of(Analysis(tern.edited(("read_out",), None)), LOOK)


def test_a_helper_that_was_chosen_can_be_let_go(tern):
    def chosen(project):
        return read_out.picture_of(Analysis(project), LOOK).chosen

    assert chosen(tern.edited(("read_out", "helper_hz"), 10e6))
    free = tern.edited(("read_out", "helper_hz"), None).edited(("read_out", "helper_measured_hz"), None)
    assert not chosen(free)


@pytest.fixture(scope="module")
def tried(tern):
    return Analysis(tern.edited(("scatter", "trials"), 200))


@pytest.fixture(scope="module")
def ran(tried):
    source = tolerance.source_of(tried, None)
    return tolerance.Ran(source, scattered.run(source.tried, source.scatter))


def test_a_run_is_drawn_in_corridor_histograms_and_words(tried, ran):
    picture = tolerance.picture_of(tried, None, ran)
    assert picture.choices[picture.chosen] == "Ladder filter"
    np.testing.assert_allclose(picture.envelope.nominal.y, -ran.run.nominal_db)
    for (_, histogram, _), figure in zip(picture.titled, ran.run.measured, strict=True):
        assert sum(histogram.counts) == np.isfinite(figure.values).sum()
    assert "of 200 filters keep every limit" in picture.verdict
    assert "earlier" not in picture.verdict


def test_limits_change_what_is_kept_and_not_the_run(tern, tried, ran):
    strict = Analysis(tried.project.edited(("scatter", "loss_db"), 0.01))
    picture, before = (tolerance.picture_of(each, None, ran) for each in (strict, tried))
    assert picture.verdict.startswith("0 of")
    assert picture.titled[2][1].kept == ()
    assert picture.titled[2][1].counts == before.titled[2][1].counts
    assert picture.envelope is before.envelope
    wider = Analysis(tried.project.edited(("scatter", "crystal_hz"), 80.0))
    assert "earlier design or scatter" in tolerance.picture_of(wider, None, ran).verdict


def test_the_chosen_filter_stays_chosen_until_it_is_gone(tern, tried):
    tuned = scattered.scatterable(tried)
    key = next(tolerance.key_of(each) for each in tuned if each.stage == "low_pass")
    picture = tolerance.picture_of(tried, key, "nothing yet")
    assert picture.choices[picture.chosen].startswith("Low-pass")
    assert "crystal_hz" not in picture.fields
    assert "coupling_tolerance" in picture.fields
    assert (picture.envelope, picture.titled, picture.verdict) == ("nothing yet", (), "")
    gone = tolerance.picture_of(Analysis(tried.project.stage_removed(key[0])), key, "nothing yet")
    assert gone.choices[gone.chosen] == "Ladder filter"


def test_a_survey_is_asked_anew_only_for_what_it_looks_at(tern, analysis):
    asked = survey.asked_of(analysis)
    for path, value in (
        (("bands", "20m", "scheme"), "sum"),
        (("if_hz",), tern.if_hz + 1000),
        (("stages", "ladder", "system_ohm"), 200.0),
    ):
        assert survey.asked_of(Analysis(tern.edited(path, value))) == asked, path
    for path, value in (
        (("bands", "20m", "high_hz"), 14.3e6),
        (("stages", "ladder", "poles"), 6),
        (("junk_box", "crystals_hz"), (9e6,)),
    ):
        assert survey.asked_of(Analysis(tern.edited(path, value))) != asked, path


def test_the_surveys_ladder_counts_as_the_rigs_own(tern, analysis):
    asked = survey.asked_of(analysis)
    rows = survey.survey_of(asked.bands, asked.junk_box, asked.ladder)
    assert rows == survey.survey_of(tern.bands, tern.junk_box.crystals_hz, analysis.ladder)
    best = rows[0]
    assert survey.details_of(best).startswith(f"{best.crystal} costs {best.cost:.1f}: ")
    assert all(charge.words in survey.told(best) for charge in best.charges)
    assert survey.count_of(rows, 3).endswith(
        f"3 of {len(rows)} rows, best first: every crystal with every mixing scheme"
    )
    assert survey.count_of((), 0).startswith("No crystal gives these bands a VFO")
    assert survey.hint_of(asked.bands, best).startswith(
        f"20\u00a0m and 12\u00a0m with an IF of {best.crystal}: "
    )


def test_one_filter_in_a_thousand_that_fails_is_not_rounded_away(tried, ran, monkeypatch):
    for share, words in ((1.0, "All of 200"), (0.995, "199 of 200"), (0.0, "0 of 200")):
        monkeypatch.setattr(type(ran.run), "good", lambda run, limits, share=share: share)
        verdict = tolerance.picture_of(tried, None, ran).verdict
        assert verdict.startswith(f"{words} filters keep every limit.")


def test_a_relay_and_a_tuning_capacitor_on_hand_say_that_the_rig_takes_them(sample):
    box = JunkBox(
        parts=(
            RelayOnHand(coil_v=12.0, contacts="2 change-over"),
            VariableOnHand(low_f=10e-12, high_f=100e-12, count=2),
            WireOnHand(diameter_m=0.315e-3, length_m=20.0),
        )
    )
    lines = junk_box.picture_of(Analysis(sample.edited(("junk_box",), box))).lines
    assert [line.cells[5] for line in lines] == ["1", "1", ""]
    assert [line.short for line in lines] == [True, False, False]
