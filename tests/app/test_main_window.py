"""The window as a builder uses it: files, questions, keys, pages, themes."""

import gc
import weakref
from itertools import count

import pytest
from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QToolButton,
)

from app.panels.remedy_dialog import RemedyDialog
from app.pictures.rig.strip import stages_along
from app.stage_views.ladder import LadderView
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import Text
from app.window import main_window
from app.window.main_window import MainWindow
from core.model import files
from core.model.samples import sample_path
from tests.app.acting import menu_action, type_if


def settle():
    """Let layouts, refresh and painting come to rest."""
    for _ in range(4):
        QApplication.processEvents()


def test_the_first_paint_shows_what_needs_no_computing_and_the_rest_follows(qtbot, tern, tmp_path):
    bench = Workbench(tern)
    window = MainWindow(bench, Settings(tmp_path / "settings.ini"))
    qtbot.addWidget(window)
    window.show()
    window.grab()
    names = [island.name for island in window.signal_path.strip.shown.islands]
    assert names == ["Antenna", *(stage.name for stage in stages_along(tern, "receive")), "Speaker"]
    assert set(window.signal_path.strip.shown.levels) == {""}
    assert window.frequency_bar.dial.value == bench.dial_hz
    assert window.frequency_bar.intermediate.value == tern.if_hz
    assert window.frequency_bar.vfo.text() == ""
    assert window.editor.form.field_at(("name",)).text() == tern.name
    settle()
    assert all(window.signal_path.strip.shown.levels)
    assert window.frequency_bar.vfo.text()
    assert window.pages.current.isVisible()


def test_typing_the_if_moves_everything_in_sight(window, bench, qtbot):
    before = {
        "vfo": window.frequency_bar.vfo.text(),
        "strip": window.signal_path.strip.shown,
    }
    qtbot.keyClick(type_if(window, qtbot, "19.7 MHz"), Qt.Key.Key_Return)
    QApplication.processEvents()
    assert bench.current.if_hz == 19.7e6
    assert window.frequency_bar.vfo.text() != before["vfo"]
    assert window.signal_path.strip.shown != before["strip"]
    ladder = bench.analysis.filter_design("ladder", "20m")
    assert {part.designed for part in ladder.parts if part.kind == "crystal"} == {19.7e6}


def test_undo_and_redo_by_menu_and_key_while_the_focus_is_in_a_field(window, bench, qtbot):
    field = type_if(window, qtbot, "19.7 MHz")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()
    assert menu_action(window, "Undo").text() == "Undo: IF"
    qtbot.keyClick(field, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    QApplication.processEvents()
    assert bench.current.if_hz == 19.6608e6
    assert field.text() == "19.660\u202f800 MHz"
    menu_action(window, "Redo").trigger()
    assert bench.current.if_hz == 19.7e6


def test_undo_while_typing_is_the_texts_own(window, bench, qtbot):
    field = type_if(window, qtbot, "19.7")
    qtbot.keyClick(field, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert bench.current.if_hz == 19.6608e6
    assert bench.history.undo_label is None


def test_a_name_from_a_file_is_never_markup(window, bench, qtbot, answers):
    bench.edit(("name",), "<b>bold</b>")
    bench.edit(("stages", "mixer", "name"), "<img src=x>")
    bench.select(("stages", "mixer"))
    QApplication.processEvents()
    answers.press = ["Stay here"]
    window.close()
    assert "<b>bold</b>" in answers.asked[0]
    assert window.editor.title.textFormat() == Qt.TextFormat.PlainText


def test_a_refused_edit_stands_in_the_status_line(window, bench):
    bench.edit(("if_hz",), -1)
    assert "IF" in window.statusBar().currentMessage()


def test_the_status_line_tells_how_long_it_took(window, bench, qtbot):
    bench.edit(("if_hz",), 19.67e6)
    qtbot.waitUntil(lambda: "ms" in window.status.speed.text())


def test_a_finding_leads_to_its_stage_and_field(window, bench, qtbot):
    bench.edit(("stages", "low_pass", "filters", 0, "order"), 3)
    model = window.findings.list.model()

    def low_pass_faults():
        return [row for row in range(model.rowCount()) if "Fault · Low-pass" in model.index(row).data()]

    qtbot.waitUntil(lambda: bool(low_pass_faults()))
    faults = low_pass_faults()
    assert faults[0] <= 2, "worst first"
    view = window.findings.list
    view.setCurrentIndex(model.index(faults[0]))
    view.setFocus()
    qtbot.keyClick(view, Qt.Key.Key_Return)
    QApplication.processEvents()
    assert bench.selection == ("stages", "low_pass")
    assert window.editor.title.text() == "Low-pass"
    assert window.editor.isAncestorOf(QApplication.focusWidget())


def test_pages_are_made_when_they_are_looked_at(window):
    assert list(window.pages._made) == ["Whole rig"]
    for name in window.pages.names:
        page = window.pages.show_page(name)
        QApplication.processEvents()
        assert page.isVisible()


def test_opening_a_stage_shows_its_page(window, bench, qtbot):
    bench.select(("stages", "ladder"))
    QApplication.processEvents()
    qtbot.keyClick(window.signal_path.strip, Qt.Key.Key_Return)
    assert window.pages.tabs.tabText(window.pages.tabs.currentIndex()) == "Stage"


def test_both_themes_are_chosen_and_remembered(window, settings, qtbot):
    for choice, paper in (("dark", palette.DARK.paper), ("light", palette.LIGHT.paper)):
        window.colours.choose(choice)
        qtbot.waitUntil(window.updatesEnabled)
        QApplication.processEvents()
        assert settings.theme == choice
        assert palette.color("paper").name() == paper
        assert window.grab().toImage().pixelColor(3, window.height() - 3).name() == paper


def test_colours_change_in_steps_between_which_the_window_lives_and_nothing_half_done_is_painted(
    window, settings, qtbot
):
    app, seen = QApplication.instance(), []
    watch = QTimer(window, interval=0)
    watch.timeout.connect(lambda: seen.append((bool(app.styleSheet()), window.updatesEnabled())))
    watch.start()
    window.colours.choose("dark")
    # Another choice in the midst of it counts.
    window.colours.choose("light")
    window.colours.choose("dark")
    qtbot.waitUntil(window.updatesEnabled)
    watch.stop()
    assert (False, False) in seen
    assert (False, True) not in seen
    assert palette.theme() == settings.theme == "dark"
    assert palette.DARK.paper in app.styleSheet()
    window.colours.choose("light")
    qtbot.waitUntil(window.updatesEnabled)


def test_f6_goes_round_the_parts(window, bench):
    bench.select(("stages", "ladder"))
    QApplication.processEvents()
    visited = []
    for _ in range(5):
        window._next_part()
        focus = QApplication.focusWidget()
        parts = (window.frequency_bar, window.signal_path, window.editor, window.pages, window.findings)
        visited.append(next(part for part in parts if part.isAncestorOf(focus)))
    assert len(set(visited)) == 5


def test_everything_to_act_on_has_a_name(window, bench):
    for selection in ((), ("stages", "ladder"), ("stages", "band_pass"), ("vfo",)):
        bench.select(selection)
        QApplication.processEvents()
        for kind in (QLineEdit, QComboBox, QAbstractButton):
            for widget in window.findChildren(kind):
                if widget.isVisible() and not widget.objectName().startswith("qt_"):
                    text = widget.accessibleName() or getattr(widget, "text", str)()
                    assert text or widget.toolTip(), (selection, widget)


@pytest.mark.parametrize("size", [(1280, 720), (860, 500)])
def test_no_label_of_the_shell_is_cut_off(window, bench, size):
    window.resize(*size)
    for selection in ((), ("stages", "ladder"), ("stages", "band_pass"), ("stages", "mixer")):
        bench.select(selection)
        # Findings and all: their count would come in a slice of some later turn, just before it is looked at.
        window.refresher.now()
        settle()
        for part in (window.frequency_bar, window.editor, window.findings):
            for label in part.findChildren(QLabel):
                if not label.isVisible() or not label.text():
                    continue
                needed = label.heightForWidth(label.width()) if label.wordWrap() else 0
                assert label.height() >= needed, label.text()
                if not label.wordWrap():
                    assert label.width() >= label.sizeHint().width(), label.text()


def test_a_closed_window_goes_away(rig, settings, qtbot):
    window = MainWindow(Workbench(rig), settings)
    window.show()
    QApplication.processEvents()
    window.close()
    ghost = weakref.ref(window)
    window.deleteLater()
    del window
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    settle()
    gc.collect()
    assert ghost() is None


def test_a_band_is_added_from_the_menu_and_removed_again(window):
    before = window.bench.current
    window.add_band.aboutToShow.emit()
    next(a for a in window.add_band.actions() if a.text().startswith("17")).trigger()
    assert [band.name for band in window.bench.current.bands] == ["20m", "12m", "17m"]
    assert window.bench.band_name == "17m"
    window.remove_band.trigger()
    assert window.bench.current == before


def test_the_time_told_counts_the_drawing(window, monkeypatch):
    """Plots are painted a turn later than the rest: every painting behind a refresh counts."""
    clock = count(0, 30)
    monkeypatch.setattr(main_window, "perf_counter", lambda: next(clock) / 1000)
    window.status.refreshed(0.010)
    for _ in range(2):
        window.event(QEvent(QEvent.Type.UpdateRequest))
    window.status.tell_speed()
    assert window.status.speed.text() == "Recalculated and drawn in 70 ms"


def test_one_name_of_a_band_however_it_is_typed(qtbot, bench):
    for typed in ("17 m", "17M", "17m"):
        assert bench.edit(("bands", 0, "name"), typed) is None
        assert bench.current.bands[0].name == "17m"
        assert bench.current.at(("stages", "band_pass")).filters[0].bands == ("17m",)
        bench.undo()


def test_a_new_rig_keeps_the_parts_on_hand_that_the_survey_counted_on(window, bench, qtbot, monkeypatch):
    from app.pages.new_rig import NewRigDialog

    bench.edit(("junk_box", "crystals_hz"), (19.6608e6,))

    def choose(dialog):
        for choice in dialog.choices:
            if choice.box.text().startswith(("20", "12")):
                choice.box.click()
        assert "crystal on hand" in dialog.hint.text()
        qtbot.mouseClick(dialog.ok, Qt.MouseButton.LeftButton)
        return dialog.result()

    monkeypatch.setattr(NewRigDialog, "exec", choose)
    bench.start(bench.current)
    menu_action(window, "New rig").trigger()
    assert bench.current.name == "New rig"
    assert bench.current.junk_box.crystals_hz == (19.6608e6,)


@pytest.mark.parametrize("width", [400, 640, 1400])
def test_every_page_has_its_tab_whatever_the_width(window, qtbot, width):
    tabs = window.pages.tabs
    tabs.setFixedWidth(width)
    QTest.qWait(20)
    rects = [tabs.tabRect(n) for n in range(tabs.count())]
    assert max(rect.right() for rect in rects) <= width
    assert min(rect.width() for rect in rects) > 20
    assert not any(one.intersects(other) for n, one in enumerate(rects) for other in rects[:n])
    arrows = [each for each in tabs.findChildren(QToolButton) if each.isVisible()]
    assert arrows == []
    rows = {rect.top() for rect in rects}
    assert len(rows) == {400: 3, 640: 2, 1400: 1}[width]
    # No name ends in dots.
    wanted = [tabs.fontMetrics().horizontalAdvance(tabs.tabText(n)) for n in range(tabs.count())]
    assert all(rect.width() > least for rect, least in zip(rects, wanted, strict=True))


def test_the_group_of_tabs_that_was_left_is_painted_again(window, qtbot):
    """Or two pages are marked as the current one until something else has it painted."""

    class Painted(QObject):
        def __init__(self):
            super().__init__()
            self.found = []

        def eventFilter(self, watched, event):
            if event.type() == QEvent.Type.Paint:
                self.found.append(watched)
            return False

    designed, _, built = window.pages.tabs.bars
    QTest.qWait(20)
    painted = Painted()
    designed.installEventFilter(painted)
    qtbot.mouseClick(built, Qt.MouseButton.LeftButton, pos=built.tabRect(0).center())
    qtbot.waitUntil(lambda: designed in painted.found)


def test_one_page_of_all_groups_of_tabs_is_the_current_one(window, qtbot):
    tabs, (designed, beside, built) = window.pages.tabs, window.pages.tabs.bars
    assert (bool(designed.property("away")), bool(built.property("away"))) == (False, True)
    # The first tab of the last group is its own current one already, and a click brings it to the front.
    first = designed.count() + beside.count()
    middle = built.tabRect(0).center()
    qtbot.mouseClick(built, Qt.MouseButton.LeftButton, pos=middle)
    assert tabs.currentIndex() == first
    assert window.pages.current is window.pages.show_page(tabs.tabText(first))
    assert (bool(designed.property("away")), bool(built.property("away"))) == (True, False)
    qtbot.mouseClick(designed, Qt.MouseButton.LeftButton, pos=designed.tabRect(0).center())
    assert tabs.currentIndex() == 0
    # Keys move within a group.
    built.setFocus()
    qtbot.keyClick(built, Qt.Key.Key_Right)
    assert tabs.currentIndex() == first + 1


def test_menus_that_are_filled_anew_belong_to_the_window(window):
    # Made by another menu, their wrappers were taken away after some time, and filling them raised.
    assert window.recent.parent() is window
    assert window.add_band.parent() is window


def test_where_counting_the_q_gains_nothing_the_window_says_what_would(qtbot, window, bench):
    bench.start(files.load(sample_path()))
    bench.select(("stages", "ladder"))
    settle()
    boxes = {box.objectName(): box for box in window.findChildren(QComboBox) if box.isVisible()}

    def choose(name, text):
        boxes[name].setFocus()
        qtbot.keyClick(boxes[name], Qt.Key.Key_Home)
        while boxes[name].currentText() != text:
            qtbot.keyClick(boxes[name], Qt.Key.Key_Down)
        settle()

    choose("capacitors", "E6")
    choose("flatness", "with their Q")
    ladder = bench.current.stage("ladder")
    assert (ladder.capacitors, ladder.flatness) == ("E6", "for_the_crystals")
    qtbot.keyClick(window.signal_path.strip, Qt.Key.Key_Return)
    settle()
    view = window.findChild(LadderView)
    qtbot.mouseClick(view.circuit.buttons[1], Qt.MouseButton.LeftButton)
    settle()
    rows = dict(view.table.texts())
    without, with_q = (
        rows[f"designed {how}: ripple and least loss"] for how in ("without loss", "with the crystals' Q")
    )
    assert float(without.split()[0]) - float(with_q.split()[0]) < 0.1
    assert rows["the crystals' Q"].startswith("Counting the crystals' Q in gains nothing with these parts")
    flatter = rows["with pairs of E12 capacitors too: ripple and least loss"]
    place = [name for name, _ in view.table.texts()].index("the crystals' Q")
    item = view.table.item(place, 1)
    view.table.scrollToItem(item)
    settle()
    box = view.table.visualItemRect(item)
    assert view.table.viewport().rect().contains(box)
    assert view.table.rowHeight(place) >= view.table.sizeHintForRow(place)
    # What it names is a choice of the same field, and does what was said.
    choose("capacitors", "pairs of E12")
    rows = dict(view.table.texts())
    now = rows["designed with the crystals' Q: ripple and least loss"]
    # What is advised is tried at the IF to three digits.
    assert float(now.split()[0]) == pytest.approx(float(flatter.split()[0]), abs=0.05)
    assert "the crystals' Q" not in rows


def test_gains_are_proposed_from_the_menu_and_one_click_does_it(qtbot, window):
    (action,) = [a for a in window.findChildren(QAction) if a.text() == "Where to put how much gain…"]
    before = window.bench.current
    action.trigger()
    qtbot.waitUntil(lambda: bool(window.findChildren(RemedyDialog)), timeout=60000)
    (dialog,) = window.findChildren(RemedyDialog)
    why = next(label.text() for label in dialog.findChildren(Text) if "proposed" in label.text())
    assert "Audio power stage: 40 dB now, " in why
    qtbot.mouseClick(dialog.apply, Qt.MouseButton.LeftButton)
    assert window.bench.current != before
    assert window.bench.history.undo_label == "set all gains"
    window.bench.undo()
    assert window.bench.current == before


def test_a_stage_that_cannot_be_made_says_why_in_a_small_window_too(window, bench):
    window.resize(853, 480)
    bench.select(("stages", "if_amplifier_1"))
    page = window.pages.show_page("Stage")
    window.refresher.now()
    # The page has been as high as an amplifier's cards.
    bench.edit(("stages", "if_amplifier_1", "topology"), "common_gate")
    window.refresher.now()
    QApplication.processEvents()
    assert page.sentence.text() == (
        "This circuit is for a JFET and 2N3904 is none; choose another transistor for it."
    )
    shown = page.sentence.visibleRegion().boundingRect()
    text = page.sentence.fontMetrics().boundingRect(
        page.sentence.contentsRect().adjusted(24, 24, -24, -24),
        page.sentence.alignment() | Qt.TextFlag.TextWordWrap,
        page.sentence.text(),
    )
    assert shown.top() <= text.top()
    assert text.bottom() <= shown.bottom()
