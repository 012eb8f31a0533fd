"""The workbench: edits, history, what is looked at, and files."""

import gc

import pytest

from app.panels.path_edits import insert_stage, move_stage, position_of_gap, remove_stage
from app.pictures.rig.strip import stages_along
from app.state import guard
from app.state.history import UNDO_LIMIT
from app.state.recovery import Recovery
from app.state.tasks import Failed, Tasks
from app.state.workbench import Workbench
from app.style.words import title_of
from app.widgets.view import View
from app.window.refresh import Refresher
from core.model import files
from core.model.stages.amplifiers import Attenuator
from core.model.values.errors import DesignError, FileError
from core.rig.rules import inspect, inspection


def test_an_edit_makes_another_design_and_undo_brings_the_first_back(bench):
    first = bench.current
    assert bench.edit(("if_hz",), 19.7e6) is None
    assert bench.current.if_hz == 19.7e6
    assert bench.history.undo_label == "IF"
    bench.undo()
    assert bench.current is first
    bench.redo()
    assert bench.current.if_hz == 19.7e6


def test_a_refused_edit_says_why_and_changes_nothing(bench, qtbot):
    first = bench.current
    with qtbot.waitSignal(bench.refused) as said:
        reason = bench.edit(("bands", "20m", "low_hz"), 15e6)
    assert bench.current is first
    assert bench.history.undo_label is None
    assert said.args == [reason]
    assert "higher upper edge" in reason


def test_a_gesture_is_one_step(bench):
    for hz in range(5):
        bench.edit(("if_hz",), 19.6e6 + hz, gesture="drag 1")
    for hz in range(5):
        bench.edit(("if_hz",), 19.7e6 + hz, gesture="drag 2")
    bench.undo()
    assert bench.current.if_hz == 19.6e6 + 4
    bench.undo()
    assert bench.current.if_hz == 19.6608e6
    assert bench.history.undo_label is None


def test_a_gesture_that_comes_back_leaves_no_step_that_undoes_nothing(bench):
    first = bench.current
    bench.edit(("name",), "Another")
    named = bench.current
    for hz in (19.6608e6 + 100, 19.6608e6):  # A digit stepped up and down again.
        bench.edit(("if_hz",), hz, gesture="digit")
    assert bench.current is named
    assert bench.history.undo_label == "Name"
    bench.edit(("if_hz",), 19.6608e6 - 100, gesture="digit")
    bench.undo()
    assert bench.current is named
    bench.undo()
    assert bench.current is first


def test_many_steps_are_kept_and_no_more_than_the_limit(bench):
    assert UNDO_LIMIT >= 200
    for n in range(UNDO_LIMIT + 50):
        bench.edit(("if_hz",), 19e6 + n)
    steps = 0
    while bench.history.undo_label is not None:
        bench.undo()
        steps += 1
    assert steps == UNDO_LIMIT


def test_a_new_edit_ends_the_way_forward(bench):
    bench.edit(("if_hz",), 19e6)
    bench.undo()
    bench.edit(("if_hz",), 18e6)
    assert bench.history.redo_label is None


def test_saving_makes_clean_and_undo_back_to_the_saved_design_too(bench, tmp_path):
    assert not bench.dirty
    bench.edit(("if_hz",), 19e6)
    assert bench.dirty
    bench.save(tmp_path / "rig.json")
    assert not bench.dirty
    bench.edit(("if_hz",), 18e6)
    bench.undo()
    assert not bench.dirty
    assert files.load(tmp_path / "rig.json") == bench.current


def test_a_file_that_cannot_be_opened_leaves_all_as_it_was(bench, tmp_path):
    bad = tmp_path / "bad.json"
    bad.write_text('{"name": ')
    bench.edit(("if_hz",), 19e6)
    before = bench.current
    with pytest.raises(FileError):
        bench.open(bad)
    assert bench.current is before
    assert bench.history.undo_label == "IF"


def test_holding_keeps_a_design_beside_the_present_one(bench):
    bench.hold()
    held = bench.current
    bench.edit(("if_hz",), 19e6)
    assert bench.held is held
    assert bench.held_analysis.project is held
    assert bench.analysis.project is bench.current
    bench.clear_hold()
    assert bench.held_analysis is None


def test_each_band_remembers_its_dial_and_the_dial_stays_in_the_band(bench):
    bench.turn_dial(14.2e6)
    bench.look_at_band("12m")
    bench.turn_dial(30e6)
    assert bench.dial_hz == 24.99e6
    bench.look_at_band("20m")
    assert bench.dial_hz == 14.2e6
    bench.edit(("bands", "20m", "low_hz"), 14.25e6)
    assert bench.dial_hz == 14.25e6
    assert bench.history.undo_label == "20m: dial from"


def test_a_renamed_band_stays_in_view(bench):
    bench.turn_dial(14.2e6)
    bench.edit(("bands", "20m", "name"), "20m phone")
    assert bench.band_name == "20m phone"
    assert bench.dial_hz == 14.2e6


def test_a_selection_that_is_gone_falls_back_to_the_rig(bench):
    insert_stage(bench, 3, Attenuator(id="pad", name="Pad"))
    assert bench.selection == ("stages", "pad")
    bench.undo()
    assert bench.selection == ()


def test_removing_the_selected_stage_selects_its_neighbour(bench):
    bench.select(("stages", "mixer"))
    remove_stage(bench, "mixer")
    assert bench.selection == ("stages", "if_amplifier_1")


def test_selecting_a_transmit_stage_turns_to_transmit(bench):
    bench.select(("stages", "power_amplifier", "gain_db"))
    assert bench.selection == ("stages", "power_amplifier")
    assert bench.way == "transmit"


@pytest.mark.parametrize("way", ["receive", "transmit"])
def test_a_moved_stage_stands_where_it_was_put(bench, way):
    bench.look_at_way(way)
    names = [stage.id for stage in stages_along(bench.current, bench.way)]
    move_stage(bench, names[0], 3)
    assert [stage.id for stage in stages_along(bench.current, bench.way)] == [
        *names[1:3],
        names[0],
        *names[3:],
    ]
    move_stage(bench, names[0], 0)
    assert [stage.id for stage in stages_along(bench.current, bench.way)] == names
    other = "transmit" if way == "receive" else "receive"
    before = [s.id for s in bench.current.stages if s.direction == other]
    move_stage(bench, names[-1], 1)
    assert [s.id for s in bench.current.stages if s.direction == other] == before


@pytest.mark.parametrize("way", ["receive", "transmit"])
def test_an_inserted_stage_stands_in_its_gap(bench, way):
    bench.look_at_way(way)
    names = [stage.id for stage in stages_along(bench.current, bench.way)]
    for gap in (0, 2, len(names) + 2):
        pad = Attenuator(id="pad", name="Pad", direction=way)
        insert_stage(bench, position_of_gap(bench.current, bench.way, gap), pad)
        assert stages_along(bench.current, bench.way)[gap].id == bench.selection[1]


def test_a_place_is_called_by_its_fields_titles(rig):
    assert title_of(rig, ("if_hz",)) == "IF"
    assert title_of(rig, ("stages", "ladder", "poles")) == "Ladder filter: poles"
    assert title_of(rig, ("vfo", "output_dbm")) == "VFO: output"
    assert title_of(rig, ("stages", "low_pass", "filters", 0, "coil_q")) == "Low-pass: coil Q"


class Counting(View):
    def __init__(self):
        super().__init__()
        self.times = 0

    def refresh(self, bench):
        self.times += 1


def test_many_edits_of_one_turn_are_one_refresh_of_what_is_visible(bench, qtbot):
    refresher = Refresher(bench)
    seen, hidden = Counting(), Counting()
    for view in (seen, hidden):
        qtbot.addWidget(view)
        refresher.add(view)
    seen.show()
    qtbot.waitUntil(lambda: seen.times == 1)
    for n in range(100):
        bench.edit(("if_hz",), 19e6 + n)
    assert seen.times == 1
    qtbot.waitUntil(lambda: seen.times == 2)
    qtbot.wait(20)
    assert (seen.times, hidden.times) == (2, 0)
    hidden.show()
    qtbot.waitUntil(lambda: hidden.times == 1)


def test_the_latest_job_wins_and_errors_are_values(qtbot):
    tasks = Tasks()
    answers = []

    def broken(job):
        raise DesignError("No crystal fits.")

    tasks.start("survey", lambda job: 1, answers.append)
    tasks.start("survey", lambda job: 2, answers.append)
    tasks.start("other", broken, answers.append)
    qtbot.waitUntil(lambda: len(answers) == 2)
    qtbot.wait(20)
    assert sorted(answers, key=str) == [2, Failed("No crystal fits.")]
    tasks.close()


def test_a_cancelled_job_is_told_and_its_answer_dropped(qtbot):
    tasks = Tasks()
    answers, told = [], []

    def patient(job):
        while not job.cancelled:
            job.progress(0.5)
        told.append(True)

    tasks.start("survey", patient, answers.append)
    tasks.cancel("survey")
    tasks.close()
    qtbot.wait(20)
    assert answers == []
    assert not tasks.running("survey")


def test_unsaved_work_is_left_over_by_a_crash_and_by_nothing_else(bench, tmp_path):
    crashed = Recovery(bench, tmp_path)
    bench.edit(("if_hz",), 19e6)
    crashed.write()
    other = Recovery(Workbench(), tmp_path)
    assert other.leftovers() == (), "a running session is not left over"
    crashed._lock.unlock()  # what the system does when a process dies
    (left,) = other.leftovers()
    assert left.load() == bench.current
    assert left.file is None
    left.discard()
    assert other.leftovers() == ()
    assert list(tmp_path.iterdir()) == []


def test_saving_removes_the_copy(bench, tmp_path):
    recovery = Recovery(bench, tmp_path / "state")
    bench.edit(("if_hz",), 19e6)
    recovery.write()
    assert list((tmp_path / "state").glob("*.json"))
    bench.save(tmp_path / "rig.json")
    assert not list((tmp_path / "state").glob("*.json"))
    recovery.close()


def test_settings_remember_files_latest_first(settings, tmp_path):
    for n in range(12):
        settings.remember_file(tmp_path / f"{n}.json")
    settings.remember_file(tmp_path / "5.json")
    assert [file.stem for file in settings.recent] == ["5", "11", "10", "9", "8", "7", "6", "4"]
    settings.forget_file(tmp_path / "5.json")
    assert settings.recent[0].stem == "11"
    settings.theme = "dark"
    assert settings.theme == "dark"


class Settling(Counting):
    settled = 0
    findings = beside_the_plots = ()

    def refresh(self, bench):
        super().refresh(bench)
        self.beside_the_plots = self.findings

    def settle(self, bench):
        self.settled += 1
        self.findings = inspect(bench.analysis)


@pytest.fixture
def settling(bench, qtbot):
    """A refresher with one view of two phases on the screen."""
    refresher = Refresher(bench)
    view = Settling()
    qtbot.addWidget(view)
    refresher.add(view)
    view.show()
    qtbot.waitUntil(lambda: view.settled == 1)
    return refresher, view


def test_findings_follow_a_moment_after_an_edit(bench, qtbot, settling):
    refresher, view = settling
    assert view.findings == inspect(bench.analysis)
    before, times = view.findings, view.times
    bench.edit(("stages", "low_pass", "filters", 0, "order"), 3)
    qtbot.waitUntil(lambda: view.times == times + 1)
    qtbot.waitUntil(lambda: view.settled == 2)
    # The plots had their turn first: the former findings stood.
    assert view.beside_the_plots == before
    assert view.times == times + 1
    assert view.findings == inspect(bench.analysis) != before
    bench.edit(("stages", "low_pass", "filters", 0, "order"), 7)
    refresher.now()
    assert view.findings == inspect(bench.analysis) == before


def test_a_hand_that_moves_on_holds_the_findings_up_and_not_for_ever(bench, qtbot, settling, monkeypatch):
    _, view = settling
    monkeypatch.setattr("app.window.refresh.REST_MS", 60_000)
    edits = 0
    while view.settled == 1 and edits < 3000:
        edits += 1
        bench.edit(("if_hz",), 19.6e6 + edits)
        qtbot.wait(2)
    assert view.settled == 2
    # Held up: the plots were drawn many times over meanwhile.
    assert view.times > 5


def test_findings_are_looked_for_in_slices_between_which_the_window_lives(
    bench, qtbot, settling, monkeypatch
):
    _, view = settling
    # Long searches, on every processor: a slice ends after each step.
    monkeypatch.setattr("app.window.refresh.SLICE_MS", 0)
    first = bench.current.edited(("if_hz",), 9e6)
    taken, drawn = [], []

    def steps(analysis):
        for _ in inspection(analysis):
            taken.append(analysis.project)
            drawn.append(view.times)
            if len(taken) == 3:
                bench.edit(("if_hz",), 9.1e6)  # The hand moves on amid the search.
            yield

    monkeypatch.setattr("core.rig.rules.inspection", steps)
    bench.change(lambda _: first, label="IF")
    qtbot.waitUntil(lambda: view.settled == 2)
    count = taken.count(first)
    assert count > 20
    assert taken == [first] * count + [bench.current] * (len(taken) - count)
    # The plots followed the edit long before the search was over, and the views settled but once, at its end.
    assert drawn[2] < drawn[5] == drawn[-1]
    assert view.findings == inspect(bench.analysis)


@pytest.mark.expects_log
def test_a_view_whose_second_phase_fails_is_covered_until_both_succeed(bench, qtbot, settling):
    _, view = settling
    view.settle = lambda bench: 1 / 0
    bench.edit(("if_hz",), 19.5e6)
    qtbot.waitUntil(lambda: "ZeroDivisionError" in guard.failure(view))
    times = view.times
    bench.edit(("if_hz",), 19.6e6)
    qtbot.waitUntil(lambda: view.times > times + 1)
    assert "ZeroDivisionError" in guard.failure(view)
    del view.settle
    bench.edit(("if_hz",), 19.7e6)
    qtbot.waitUntil(lambda: not guard.failure(view))
    assert view.findings == inspect(bench.analysis)


def test_ten_thousand_edits_leave_only_the_undo_limit_behind(tern):
    bench = Workbench(tern)

    def edit(count: int) -> None:
        for step in range(count):
            bench.edit(("stages", "driver", "gain_db"), 10 + step % 977 / 100)

    def kept() -> int:
        gc.collect()
        return len(gc.get_objects())

    edit(UNDO_LIMIT + 10)
    before = kept()
    edit(10_000)
    # Of each edit a project is kept, and what differs in it: the limit's were there already.
    assert kept() - before < UNDO_LIMIT
