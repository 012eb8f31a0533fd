"""What opening, undo, closing, presses and double clicks leave behind, done as a builder does."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractItemView, QApplication, QMessageBox

from app.pages.if_survey import IfSurveyPage
from app.pages.stage import StagePage
from app.panels.signal_path import SignalPath
from app.pictures.rig.strip import strip_of
from app.state.recovery import Recovery
from app.state.tasks import Tasks
from app.style import palette
from app.widgets.view import View
from app.window.main_window import MainWindow
from app.window.refresh import Refresher
from core.model import files
from core.rig.rules import inspect


def press(slider, share):
    """Where to press a slider for a share of its way."""
    return QPoint(round(7 + share * (slider.width() - 14)), slider.height() - 10)


def test_another_file_comes_without_the_held_design(bar, bench, rig, tmp_path):
    files.save(rig.edited(("if_hz",), 9e6), tmp_path / "other.json")
    QTest.mouseClick(bar.hold, Qt.MouseButton.LeftButton)
    assert bar.hold.isChecked()
    assert bar.hold.text() == "Held"
    bench.open(tmp_path / "other.json")
    assert bench.held is None
    assert bench.held_analysis is None
    assert not bar.hold.isChecked()
    assert bar.hold.text() == "Hold"


def test_the_hold_button_holds_the_design_of_its_press_and_lets_it_go(bar, bench):
    first = bench.current
    QTest.mouseClick(bar.hold, Qt.MouseButton.LeftButton)
    bench.edit(("if_hz",), 9e6)
    assert bench.held is first
    assert bar.hold.isChecked()
    QTest.mouseClick(bar.hold, Qt.MouseButton.LeftButton)
    assert bench.held is None
    assert not bar.hold.isChecked()


def test_a_drag_that_goes_on_after_undo_is_a_step_of_its_own(bar, bench):
    slider = bar.if_slider
    first = bench.current.if_hz
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=press(slider, 0.6))
    assert bench.current.if_hz > first
    bench.undo()
    assert bench.current.if_hz == first
    QTest.mouseMove(slider, press(slider, 0.8))
    moved = bench.current.if_hz
    assert moved > first
    QTest.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=press(slider, 0.8))
    bench.undo()
    assert bench.current.if_hz == first


def test_each_press_of_a_slider_is_a_step_and_moves_within_it_are_none(bar, bench):
    slider, seen = bar.if_slider, [bench.current.if_hz]
    for share in (0.6, 0.7, 0.8):
        QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=press(slider, share))
        QTest.mouseMove(slider, press(slider, share + 0.05))
        QTest.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=press(slider, share + 0.05))
        seen.append(bench.current.if_hz)
    assert seen == sorted(set(seen))
    for former in reversed(seen[:-1]):
        bench.undo()
        assert bench.current.if_hz == former
    bench.undo()
    assert bench.current.if_hz == seen[0], "nothing further was done"


class _Counted(View):
    """Counts how often it was asked to settle."""

    def __init__(self) -> None:
        super().__init__()
        self.settled = 0

    def settle(self, bench) -> None:
        self.settled += 1


def test_only_what_can_be_seen_settles(bench, qtbot):
    refresher = Refresher(bench)
    seen, hidden = _Counted(), _Counted()
    for view in (seen, hidden):
        qtbot.addWidget(view)
        refresher.add(view)
    seen.show()
    bench.edit(("if_hz",), 19.7e6)
    qtbot.waitUntil(lambda: seen.settled > 0)
    qtbot.wait(200)
    assert hidden.settled == 0
    hidden.show()
    qtbot.waitUntil(lambda: hidden.settled > 0)


@pytest.mark.parametrize("sideband", ["upper", "lower"])
def test_the_line_of_the_wanted_carrier_lies_where_the_carrier_is(qtbot, bench, sideband):
    for band in bench.current.bands:
        bench.edit(("bands", band.name, "sideband"), sideband)
    page = StagePage(bench)
    qtbot.addWidget(page)
    page.show()
    bench.select(("carrier",))
    page.refresh(bench)
    found = set()
    for line in page.view.pull.wanted:
        _, y = line.getData()
        if y is not None and len(y):
            assert y[0] == y[-1]
            found.add(round(1e3 * float(y[0])))
    wanted = {round(bench.analysis.carrier_hz(b.name) - bench.current.if_hz) for b in bench.current.bands}
    # For the upper sideband of a dial below the IF the carrier lies above the filter, else below it.
    assert found == wanted
    assert len({f > 0 for f in found}) == 2 or all(abs(f) > 100 for f in found)


def test_the_bar_of_an_island_is_as_full_as_its_headroom_is_used_up(bench):
    strip = strip_of(bench.analysis, inspect(bench.analysis), bench.look)
    told = [each for each in strip.islands if each.headroom.startswith("headroom")]
    assert len(told) >= 2
    for island in told:
        # 60 dB of headroom is an empty bar, none a full one.
        assert island.used == pytest.approx(1 - int(island.headroom.split()[1]) / 60, abs=0.51 / 60)
    bench.edit(("stages", "mixer", "p1db_in_dbm"), -50.0)
    over = next(
        each for each in strip_of(bench.analysis, (), bench.look).islands if each.path == ("stages", "mixer")
    )
    assert "too much" in over.headroom
    assert over.used == 1


def test_the_bar_is_painted_from_the_left_as_long_as_it_is_full(qtbot, bench):
    view = SignalPath(bench)
    qtbot.addWidget(view)
    view.resize(1600, 150)
    view.show()
    qtbot.waitExposed(view)
    view.refresh(bench)
    strip = view.strip
    image = strip.viewport().grab().toImage()
    good, scale = palette.color("good").rgb(), image.devicePixelRatio()
    place, island = next(
        (n, each) for n, each in enumerate(strip.shown.islands) if each.used and 0.1 < each.used < 0.9
    )
    rect = strip.geometry_of_strip.islands[place]
    left, width = rect.left() + 12, rect.width() - 24
    rows = []
    for y in range(int(rect.top()), int(rect.bottom())):
        line = [
            x
            for x in range(int(rect.left()), int(rect.right()))
            if image.pixel(int(x * scale), int(y * scale)) == good
        ]
        rows.append((len(line), min(line, default=0)))
    longest, start = max(rows)
    assert longest == pytest.approx(island.used * width, abs=2)
    assert start == pytest.approx(left, abs=2)


@pytest.fixture
def window(bench, settings, qtbot, tmp_path):
    recovery = Recovery(bench, tmp_path / "recovery")
    made = MainWindow(bench, settings, recovery)
    qtbot.addWidget(made, before_close_func=lambda w: w.bench.start(w.bench.current))
    made.show()
    qtbot.waitExposed(made)
    return made


def test_a_file_that_is_refused_is_no_longer_offered(window, settings, tmp_path, monkeypatch):
    monkeypatch.setattr(QMessageBox, "exec", lambda box: 0)
    good, bad = tmp_path / "good.json", tmp_path / "bad.json"
    files.save(window.bench.current, good)
    bad.write_text("{")
    settings.remember_file(bad)
    settings.remember_file(good)
    window.recent.aboutToShow.emit()
    next(each for each in window.recent.actions() if "bad.json" in each.text()).trigger()
    assert settings.recent == (good,)
    window.recent.aboutToShow.emit()
    assert not any("bad.json" in each.text() for each in window.recent.actions())


def test_giving_up_changes_at_the_end_leaves_no_copy_of_them(window, bench, tmp_path, monkeypatch):
    bench.edit(("if_hz",), 9e6)
    window.recovery.write()
    assert list((tmp_path / "recovery").glob("*.json"))

    def give_up(box):
        next(each for each in box.buttons() if each.text().replace("&", "") == "Give them up").click()
        return 0

    monkeypatch.setattr(QMessageBox, "exec", give_up)
    assert window.close()
    assert not list((tmp_path / "recovery").glob("*.json"))


def test_a_double_click_in_the_survey_moves_the_rig(qtbot, bench):
    tasks = Tasks()
    page = IfSurveyPage(bench, tasks)
    qtbot.addWidget(page)
    page.resize(1000, 600)
    page.show()
    page.refresh(bench)
    qtbot.waitUntil(lambda: page.table.row is not None)
    view, before = page.table.view, bench.current
    other = next(
        row
        for row in range(view.model().rowCount())
        if (view.selectRow(row), page.table.row)[1].if_hz != 19.6608e6
    )
    wanted = page.table.row
    index = view.model().index(other, 1)
    view.scrollTo(index, QAbstractItemView.ScrollHint.PositionAtCenter)
    QApplication.processEvents()
    where = view.visualRect(index).center()
    qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=where)
    assert bench.current is before, "one click only selects"
    qtbot.mouseDClick(view.viewport(), Qt.MouseButton.LeftButton, pos=where)
    assert bench.current.if_hz == wanted.if_hz
    assert tuple(band.scheme for band in bench.current.bands) == wanted.schemes
    bench.undo()
    assert bench.current == before
    tasks.close()
