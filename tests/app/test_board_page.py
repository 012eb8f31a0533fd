"""The page of the board plan: parts are dragged, moved by keys and turned; one step of undo each."""

import pytest
from PySide6.QtCore import QCoreApplication, QPoint, QPointF, Qt
from PySide6.QtWidgets import QDialog, QFileDialog

from app.pages.board_plan import BoardPlanPage
from app.state.workbench import Workbench
from app.style import palette
from core.model.boards.board import Board, Fitting, Panel, Placed
from core.model.boards.package import OwnPackage
from core.model.stages.oscillators import HelperOscillator
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of
from tests.app.test_board_on_paper import check_line_mm, lines_of


@pytest.fixture
def page(sample, settings, on_screen):
    bench = Workbench(sample)
    bench.select(("stages", "driver"))
    made = on_screen(BoardPlanPage(bench, settings), 900, 600)
    bench.changed.connect(lambda: made.refresh(bench))
    made.refresh(bench)
    made.bench = bench
    return made


def place_of(bench, ref, stage="driver"):
    board = board_of(Analysis(bench.current), stage)
    return next(body.place for body in board.plan.bodies if body.item.ref == ref)


def at(page, key):
    return page.canvas.place_of(key).toPoint()


def drag(qtbot, page, key, by):
    """Press in the middle of a thing, move in three steps, and let go."""
    start = at(page, key)
    qtbot.mousePress(page.canvas, Qt.MouseButton.LeftButton, pos=start)
    for share in (0.3, 0.7, 1.0):
        qtbot.mouseMove(page.canvas, start + QPoint(round(by[0] * share), round(by[1] * share)))
    qtbot.mouseRelease(page.canvas, Qt.MouseButton.LeftButton, pos=start + QPoint(*by))


def test_a_part_follows_the_hand_and_one_undo_takes_the_drag_back(page, qtbot):
    bench, before = page.bench, place_of(page.bench, "RE1")
    scale = page.canvas.transform_mm().m11()
    drag(qtbot, page, "emitter:1", (60, 40))
    after = place_of(bench, "RE1")
    # As far as the hand went, on the grid of half a millimetre.
    assert after.x_m - before.x_m == pytest.approx(60 / scale / 1e3, abs=0.26e-3)
    assert after.y_m - before.y_m == pytest.approx(40 / scale / 1e3, abs=0.26e-3)
    assert after.x_m / 0.5e-3 == pytest.approx(round(after.x_m / 0.5e-3))
    bench.undo()
    assert place_of(bench, "RE1") == before
    assert bench.current.boards == ()
    assert bench.history.undo_label is None


def test_islands_are_dragged_and_their_leads_follow(page, qtbot):
    key = next(t.key for t in page.canvas.drawing.things if t.key == "coupling:1.1")
    before = board_of(page.bench.analysis, "driver").plan
    drag(qtbot, page, key, (-50, 0))
    plan = board_of(page.bench.analysis, "driver").plan
    was = next(i for i in before.islands if i.key == key).box.middle[0]
    now = next(i for i in plan.islands if i.key == key)
    assert now.box.middle[0] < was - 2e-3
    lead = next(b for b in plan.bodies if b.item.ref == "C1").leads[0]
    assert now.box.holds(lead.end)


def test_two_drags_are_two_steps(page, qtbot):
    for _ in range(2):
        drag(qtbot, page, "emitter:1", (30, 0))
    first = place_of(page.bench, "RE1")
    page.bench.undo()
    assert place_of(page.bench, "RE1") != first
    assert len(page.bench.current.boards) == 1
    page.bench.undo()
    assert page.bench.current.boards == ()


def moved_by(qtbot, page, start, by):
    qtbot.mouseMove(page.canvas, start + QPoint(*by))


def test_escape_gives_a_drag_up_and_leaves_no_step(page, qtbot):
    before = place_of(page.bench, "RE1")
    start = at(page, "emitter:1")
    page.canvas.setFocus()
    qtbot.mousePress(page.canvas, Qt.MouseButton.LeftButton, pos=start)
    moved_by(qtbot, page, start, (40, 20))
    assert place_of(page.bench, "RE1") != before
    qtbot.keyClick(page.canvas, Qt.Key.Key_Escape)
    assert place_of(page.bench, "RE1") == before
    # The hand is still down: what it does then is no drag any more.
    moved_by(qtbot, page, start, (60, 50))
    qtbot.mouseRelease(page.canvas, Qt.MouseButton.LeftButton, pos=start + QPoint(60, 50))
    assert page.bench.current.boards == ()
    assert page.bench.history.undo_label is None
    drag(qtbot, page, "emitter:1", (30, 0))
    assert place_of(page.bench, "RE1") != before
    page.bench.undo()
    assert place_of(page.bench, "RE1") == before


def test_a_part_turned_amid_a_drag_stays_turned_and_is_one_step(page, qtbot):
    before = place_of(page.bench, "RE1")
    start = at(page, "emitter:1")
    page.canvas.setFocus()
    qtbot.mousePress(page.canvas, Qt.MouseButton.LeftButton, pos=start)
    moved_by(qtbot, page, start, (30, 20))
    qtbot.keyClick(page.canvas, Qt.Key.Key_R)
    moved_by(qtbot, page, start, (60, 40))
    qtbot.mouseRelease(page.canvas, Qt.MouseButton.LeftButton, pos=start + QPoint(60, 40))
    after = place_of(page.bench, "RE1")
    assert after.turned == (before.turned + 1) % 4
    assert after.x_m > before.x_m + 1e-3
    page.bench.undo()
    assert place_of(page.bench, "RE1") == before
    assert page.bench.history.undo_label is None


def test_what_there_is_to_say_stands_at_the_top(page):
    page.bench.select(())
    page.refresh(page.bench)
    QCoreApplication.processEvents()
    assert "Select a stage" in page.sentence.text()
    assert page.sentence.geometry().top() < page.again.mapTo(page, QPoint(0, page.again.height())).y() + 40
    assert page.sentence.height() < 60


def test_arrow_keys_move_by_half_a_millimetre_and_r_turns(page, qtbot):
    before = place_of(page.bench, "RE1")
    page.canvas.setFocus()
    page.canvas.pick("emitter:1")
    qtbot.keyClick(page.canvas, Qt.Key.Key_Right)
    qtbot.keyClick(page.canvas, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    after = place_of(page.bench, "RE1")
    # Onto the grid first, then by half a millimetre, and by five.
    assert after.x_m == pytest.approx(before.x_m + 0.5e-3, abs=0.26e-3)
    assert after.y_m == pytest.approx(before.y_m + 5e-3, abs=0.26e-3)
    qtbot.keyClick(page.canvas, Qt.Key.Key_R)
    assert place_of(page.bench, "RE1").turned == (before.turned + 1) % 4
    qtbot.keyClick(page.canvas, Qt.Key.Key_Delete)
    assert place_of(page.bench, "RE1") == before


def test_a_key_held_down_is_one_step(page, qtbot):
    page.canvas.setFocus()
    page.canvas.pick("emitter:1")
    before = place_of(page.bench, "RE1")
    for _ in range(5):
        qtbot.keyPress(page.canvas, Qt.Key.Key_Right)
    qtbot.keyRelease(page.canvas, Qt.Key.Key_Right)
    assert place_of(page.bench, "RE1").x_m > before.x_m + 2e-3
    page.bench.undo()
    assert place_of(page.bench, "RE1") == before


def test_page_keys_pick_one_thing_after_the_other_and_the_list_goes_with_them(page, qtbot):
    page.canvas.setFocus()
    qtbot.keyClick(page.canvas, Qt.Key.Key_PageDown)
    assert page.canvas.thing.name.startswith("C1 100 nF,")
    assert page.things.currentRow() == 0
    qtbot.keyClick(page.canvas, Qt.Key.Key_PageUp)
    assert page.things.currentRow() == page.things.count() - 1
    page.things.setCurrentRow(2)
    assert page.canvas.thing.name.startswith("RB2 510 Ω,")


def test_clashes_are_told_in_words_and_places_taken_back(page, qtbot):
    resistor, island = at(page, "bias_lower"), at(page, "bias_upper")
    drag(qtbot, page, "bias_lower", ((island - resistor).x(), (island - resistor).y()))
    assert "RB1 lies on RB2; move one of them." in page.told.text()
    rows = [page.things.item(n).text() for n in range(page.things.count())]
    assert "RB2 510 Ω, resistor 1/4 W, lying: clash, put by hand" in rows
    assert page.again.isEnabled()
    qtbot.mouseClick(page.again, Qt.MouseButton.LeftButton)
    assert page.bench.current.boards == ()
    assert "lies on" not in page.told.text()
    assert not page.again.isEnabled()


def test_the_wheel_enlarges_around_the_pointer_and_the_ground_is_shifted(page, qtbot):
    page.canvas.zoom(2.0, QPointF(at(page, "emitter:1")))
    point = at(page, "emitter:1")
    page.canvas.zoom(1.5, QPointF(point))
    assert (at(page, "emitter:1") - point).manhattanLength() <= 1
    scale = page.canvas.transform_mm().m11()
    page.canvas.show_all()
    assert page.canvas.transform_mm().m11() < scale / 2


def look_at(page, what):
    page.looks.buttons[["stage", "whole", "front", "rear"].index(what)].click()


def test_boards_are_moved_on_the_whole_board(page, qtbot):
    look_at(page, "whole")
    before = page.canvas.place_of("driver")
    drag(qtbot, page, "driver", (25, 10))
    assert page.bench.current.boards[0].stage == "whole board"
    assert page.canvas.place_of("driver").x() > before.x() + 15
    page.bench.undo()
    assert page.bench.current.boards == ()


def test_fittings_of_a_panel_are_dragged_named_added_and_taken_off(page, qtbot):
    look_at(page, "front")
    bench = page.bench
    key = next(t.key for t in page.canvas.drawing.things if t.name.startswith("volume"))
    before = len(page.canvas.drawing.things)
    drag(qtbot, page, key, (12, 9))
    fitting = bench.current.panels[0].fittings[int(key)]
    assert fitting.label == "volume"
    page.panel.label.setFocus()
    page.panel.label.selectAll()
    qtbot.keyClicks(page.panel.label, "loudness")
    qtbot.keyClick(page.panel.label, Qt.Key.Key_Return)
    assert bench.current.panels[0].fittings[int(key)].label == "loudness"
    page.panel.kinds.setCurrentText("jack 6.3 mm")
    qtbot.mouseClick(page.panel.add, Qt.MouseButton.LeftButton)
    assert len(page.canvas.drawing.things) == before + 1
    page.canvas.setFocus()
    page.canvas.pick(key)
    qtbot.keyClick(page.canvas, Qt.Key.Key_Delete)
    assert "loudness" not in {f.label for f in bench.current.panels[0].fittings}
    width = page.panel.sizes["width_m"]
    width.setFocus()
    width.selectAll()
    qtbot.keyClicks(width, "250 mm")
    qtbot.keyClick(width, Qt.Key.Key_Return)
    assert bench.current.panels[0].width_m == pytest.approx(0.25)
    assert page.told.text().startswith("250 × 90 mm")


def test_what_is_on_show_is_saved_and_printed_at_its_true_size(page, qtbot, monkeypatch, tmp_path):
    file = tmp_path / "driver.svg"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *rest: (str(file), ""))
    qtbot.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert file.read_text().startswith("<svg")
    assert page.message.text() == f"{file} written, 1 : 1 in millimetres."
    pdf = tmp_path / "printed.pdf"

    def to_file(dialog):
        dialog.printer().setOutputFileName(str(pdf))
        return QDialog.DialogCode.Accepted

    monkeypatch.setattr("app.boards.printing.asked", to_file)
    page.mirrored.setChecked(True)
    qtbot.mouseClick(page.print_it, Qt.MouseButton.LeftButton)
    assert check_line_mm(lines_of(pdf.read_bytes())) == pytest.approx(100, abs=0.3)


def test_a_file_that_cannot_be_written_is_told_in_a_sentence(page, qtbot, monkeypatch, tmp_path):
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *rest: (str(tmp_path / "none" / "a.pdf"), ""))
    qtbot.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert page.message.isVisibleTo(page)
    assert page.message.text().endswith(".")
    assert "a.pdf" in page.message.text()


def test_a_finding_leads_to_the_board_or_panel_that_it_is_about(window, qtbot):
    bench = window.bench
    places = (Placed(key="coil:1", x_m=0.09, y_m=0.09),)
    bench.edit(("boards",), (Board(stage="low_pass", band="20m", places=places),))
    bench.edit(("panels",), (Panel(side="rear", fittings=(Fitting(kind="bnc", x_m=0.0, y_m=0.0),)),))
    bench.jump(("boards", 0), "20m")
    page = window.pages.current
    window.refresher.now()
    assert page.what == "stage"
    assert page.canvas.drawing.title.startswith("Low-pass")
    assert page.canvas.hasFocus()
    bench.jump(("panels", 0))
    window.refresher.now()
    assert page.canvas.drawing.title == "Rear panel"
    assert "reaches beyond the panel" in page.told.text()


def test_what_has_no_board_says_why(page):
    page.bench.select(("stages", "low_pass"))
    page.bench.select(())
    assert "Select a stage on the signal path" in page.sentence.text()
    page.bench.edit(("stages", "mixer", "figures_from"), "type")
    page.bench.select(("stages", "mixer"))
    assert "Mixer is a block of figures without parts" in page.sentence.text()


def test_the_board_is_painted_in_the_colours_of_the_theme(page):
    picture = page.canvas.grab().toImage()
    board = palette.color("board").rgb()
    count = sum(
        picture.pixel(x, y) == board
        for x in range(0, picture.width(), 4)
        for y in range(0, picture.height(), 4)
    )
    assert count > 1000


def test_the_board_follows_the_design(page):
    before = page.canvas.drawing
    page.bench.edit(("stages", "driver", "as_built"), {"bias_lower": 560.0})
    names = [thing.name for thing in page.canvas.drawing.things]
    assert "RB2 560 Ω, resistor 1/4 W, lying" in names
    assert page.canvas.drawing != before
    page.bench.edit(("stages", "driver", "name"), "Last but one")
    assert page.canvas.drawing.title == "Last but one"
    page.bench.undo()
    page.bench.undo()
    assert page.canvas.drawing == before


def test_the_supplys_board_is_looked_at_moved_and_kept_by_its_name(page, qtbot):
    bench = page.bench
    (button,) = [each for each in page.looks.buttons if each.text() == "Supply"]
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    names = [thing.name for thing in page.canvas.drawing.things]
    assert any(name.startswith("K1") for name in names)
    before = place_of(bench, "CF", "supply")
    drag(qtbot, page, "smoothing", (40, 30))
    assert place_of(bench, "CF", "supply") != before
    (kept,) = bench.current.boards
    assert kept.stage == "supply"
    bench.change(lambda project: project.edited(("supply",), None), label="no supply")
    assert page.sentence.text() == "No supply is planned for this rig; plan one on its page."


def test_the_helpers_board_is_dragged_turned_and_kept_by_its_name(page, qtbot):
    bench = page.bench
    (button,) = [each for each in page.looks.buttons if each.text() == "Helper"]
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    bench.edit(("read_out", "helper"), None)
    assert page.sentence.text().startswith("The helper oscillator is none of parts here")
    bench.edit(("read_out", "helper"), HelperOscillator())
    assert page.canvas.drawing.title == "Helper oscillator"
    before = place_of(bench, "Q1", "helper")
    scale = page.canvas.transform_mm().m11()
    drag(qtbot, page, "transistor:1", (50, 30))
    after = place_of(bench, "Q1", "helper")
    assert after.x_m - before.x_m == pytest.approx(50 / scale / 1e3, abs=0.26e-3)
    assert after.y_m - before.y_m == pytest.approx(30 / scale / 1e3, abs=0.26e-3)
    qtbot.keyClick(page.canvas, Qt.Key.Key_R)
    assert place_of(bench, "Q1", "helper").turned == (before.turned + 1) % 4
    (kept,) = bench.current.boards
    assert (kept.stage, [each.key for each in kept.places]) == ("helper", ["transistor:1"])
    page.focus_field(("boards", 0))
    assert page.what == "helper"
    qtbot.keyClick(page.canvas, Qt.Key.Key_Delete)
    assert bench.current.boards == ()
    assert place_of(bench, "Q1", "helper") == before


def test_what_is_said_of_the_helpers_board_leads_to_it(window, qtbot):
    bench = window.bench
    bench.edit(("read_out", "helper"), HelperOscillator())
    bench.edit(("boards",), (Board(stage="helper", places=(Placed(key="transistor:1", x_m=0.0, y_m=0.0),)),))
    bench.jump(("boards", 0))
    page = window.pages.current
    window.refresher.now()
    assert page.what == "helper"
    assert page.canvas.drawing.title == "Helper oscillator"


def test_a_package_is_chosen_for_one_part_or_for_all_like_it(page, qtbot):
    bench = page.bench
    bench.select(("stages", "ladder"))
    assert not page.package.isVisible()
    qtbot.mouseClick(page.canvas, Qt.MouseButton.LeftButton, pos=at(page, "crystal:3"))
    box = page.package.box
    assert page.package.isVisible()
    assert page.package.title.text() == "X3 comes in"
    assert box.currentText() == "crystal HC-49/U (usual)"
    # What drops down is wide enough for each of them, however narrow the box.
    names = [box.itemText(n) for n in range(box.count())]
    assert box.view().minimumWidth() > max(map(box.fontMetrics().horizontalAdvance, names)) + 10
    before = bench.current

    def choose(word):
        box.setCurrentIndex(box.findData(word))
        box.activated.emit(box.currentIndex())

    def cases():
        board = board_of(bench.analysis, "ladder")
        return [item.package.package for item in board.items if item.package.can]

    choose("crystal_hc49s")
    assert sorted(cases()) == ["crystal_hc49s"] + 7 * ["crystal_hc49u"]
    row = next(n for n in range(page.things.count()) if page.things.item(n).text().startswith("X3 "))
    assert "crystal HC-49/S" in page.things.item(row).text()
    page.package.alike.setChecked(True)
    choose("crystal_hc6u")
    assert cases() == 8 * ["crystal_hc6u"]
    bench.undo()
    assert box.currentData() == "crystal_hc49s"
    bench.undo()
    assert bench.current == before
    assert box.currentData() == ""
    choose("crystal_hc49s")
    choose("")
    assert bench.current.boards == ()


def test_an_island_has_no_package_and_an_own_one_is_offered(page, qtbot):
    bench = page.bench
    bench.edit(("packages",), (OwnPackage(name="Old disc"),))
    island = page.picture.things[-1]
    page.canvas.pick(island.key)
    assert not page.package.isVisible()
    page.canvas.pick("emitter:1")
    assert page.package.box.findData("Old disc") > 0
