"""The bench log's page, acted on as a builder does."""

import re

import pytest
from PySide6.QtCore import QCoreApplication, QPoint, Qt
from PySide6.QtWidgets import QFileDialog

from app.pages.notebook.bench_log import BenchLogPage
from app.pages.notebook.junk_box import JunkBoxPage
from app.photographs.beside import folder_of
from app.pictures.bench.bench_log import FILTERS, NOTE, READ, TOLERANCE, Chosen, picture_of
from app.pictures.bench.junk_box import picture_of as picture_of_box
from app.state.workbench import Workbench
from app.style import palette
from core.model.notebook.junk_box import CapacitorOnHand, CoreOnHand
from core.rig.analysis import Analysis
from core.rig.built.measured import with_curve
from core.rig.log.bench_log import bench_log, reading_of
from core.rig.log.expected import items
from core.rig.log.item import found
from tests.app.acting import open_field
from tests.app.test_photographs import picture as photograph
from tests.rig.test_curve_verdicts import filter_curve


@pytest.fixture
def bench(sample, qapp):
    return Workbench(sample)


@pytest.fixture
def page(bench, on_screen):
    page = on_screen(BenchLogPage(bench), 1000, 700)
    bench.changed.connect(lambda: page.refresh(bench))
    page.refresh(bench)
    return page


def typed(table, qtbot, text):
    """Type over the present cell and take it with Return."""
    qtbot.keyClicks(table, text[0])
    field = open_field(table)
    qtbot.keyClicks(field, text[1:])
    qtbot.keyClick(field, Qt.Key.Key_Return)
    QCoreApplication.processEvents()


def row_of(page, code):
    return next(n for n, each in enumerate(page.picture.lines) if each.entry and each.entry.item.code == code)


def read(page, qtbot, code, text):
    page.table.pick(row_of(page, code), READ)
    typed(page.table, qtbot, text)


def cell(page, row, column):
    return page.table.texts()[row][column]


def explained(page, qtbot):
    qtbot.waitUntil(lambda: not page.busy)
    return page.why.text()


def choose(box, word):
    box.setCurrentIndex(box.findData(word))
    box.activated.emit(box.currentIndex())


def test_readings_are_typed_one_below_the_other(page, bench, qtbot):
    first = row_of(page, "supply/rail")
    page.table.pick(first, READ)
    typed(page.table, qtbot, "13.6")
    assert page.table.row == first + 1
    assert page.table.currentIndex().column() == READ
    (reading,) = bench.current.log
    assert (reading.stage, reading.key, reading.value, reading.unit) == ("supply", "rail", 13.6, "V")
    assert re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", reading.date)
    assert cell(page, first, READ) == "13.6 V"
    assert cell(page, first, 5) == "✓\u00a0within"
    assert page.whole.text() == f"1 of {page.picture.whole.whole} within"
    bench.undo()
    assert bench.current.log == ()
    assert cell(page, first, 5) == "–\u00a0not yet"


def test_what_is_no_reading_is_told_and_the_hand_stays(page, bench, qtbot):
    row = row_of(page, "supply/rail")
    page.table.pick(row, READ)
    typed(page.table, qtbot, "13.6 A")
    assert page.told.isVisible()
    assert "is not a value in V" in page.told.text()
    assert page.table.row == row
    assert bench.current.log == ()
    typed(page.table, qtbot, "13,6")
    assert not page.told.isVisible()
    assert bench.current.log[0].value == 13.6


def test_with_what_is_missing_alone_the_next_one_comes_up(page, bench, qtbot):
    choose(page.verdict, "not yet measured")
    codes = [each.entry.item.code for each in page.picture.lines]
    page.table.pick(0, READ)
    typed(page.table, qtbot, "13.5 V")
    assert [each.entry.item.code for each in page.picture.lines] == codes[1:]
    assert page.table.row == 0
    choose(page.verdict, "within")
    assert [each.entry.item.code for each in page.picture.lines] == codes[:1]


@pytest.mark.parametrize("verdict", list(FILTERS))
def test_each_filter_shows_its_lines_and_all_of_them(sample, verdict):
    project = sample
    for code, text in (("supply/rail", "13.6 V"), ("vfo/output", "-12 dBm")):
        item = found(items(Analysis(project)), code)
        project = project.edited(("log",), (*project.log, reading_of(item, text, "2026-11-26")))
    analysis = Analysis(project)
    entries = bench_log(analysis).entries
    shown = picture_of(analysis, Chosen(verdict)).lines
    wanted = {
        "": len(entries),
        "not yet measured": len(entries) - 2,
        "out": 1,
        "within": 1,
        "read": 2,
    }
    assert len(shown) == wanted[verdict]
    alone = picture_of(analysis, Chosen(verdict, "VFO")).lines
    assert all(each.cells[0] == "VFO" for each in alone)
    assert len(alone) == sum(each.cells[0] == "VFO" for each in shown)


def test_a_bar_chooses_its_stage(page, qtbot):
    progress, rect = next(pair for pair in page.bars.bars() if pair[0].name == "Ladder filter")
    at = QPoint(round(rect.center().x()), 20)
    qtbot.mouseClick(page.bars, Qt.MouseButton.LeftButton, pos=at)
    assert {each.cells[0] for each in page.picture.lines} == {"Ladder filter"}
    assert page.stage.currentText() == "Ladder filter"
    assert len(page.picture.lines) == progress.whole
    qtbot.mouseClick(page.bars, Qt.MouseButton.LeftButton, pos=at)
    assert page.stage.currentText() == "all stages"
    assert "Ladder filter 0 of" in page.bars.accessibleDescription()


def _apart(one, other):
    return sum(abs(a - b) for a, b in zip(one.getRgb(), other.getRgb(), strict=True))


def test_the_cross_of_a_bar_that_is_out_is_whole(page, bench):
    """Above the bar, as high as wide, and not cut by the edge of the bars."""
    bad = filter_curve(bench.analysis, L2=-0.25)
    bench.change(lambda project: with_curve(bench.analysis, bad), label="a measured curve")
    (rect,) = (rect for each, rect in page.bars.bars() if each.out)
    drawn, ink = page.bars.grab().toImage(), palette.color("fault")
    places = ((x, y) for x in range(drawn.width()) for y in range(8))
    above = [(x, y) for x, y in places if _apart(drawn.pixelColor(x, y), ink) < 200]
    xs, ys = zip(*above, strict=True)
    assert 1 <= min(ys) <= max(ys) <= 7
    assert max(xs) - min(xs) == max(ys) - min(ys) >= 5
    assert (min(xs) + max(xs) + 1) / 2 == pytest.approx(rect.center().x(), abs=1)


def test_a_reading_that_is_out_tells_its_causes(page, bench, qtbot):
    code = "if_amplifier_1/gain_db"
    expected = found(items(bench.analysis), code).value
    read(page, qtbot, code, f"{expected - 2:.2f} dB")
    page.table.pick(row_of(page, code), READ)
    assert page.busy
    text = explained(page, qtbot)
    assert re.match(r"Expected .* dB ±1 dB; read .*\. One of these alone would explain it:\n· ", text)
    assert " instead of " in text
    page.table.pick(row_of(page, "supply/rail"), READ)
    assert explained(page, qtbot) == "Expected 13.8 V ±1.4 V. What is read at supply."


def test_taking_a_reading_holds_the_design_and_moves_the_levels(page, bench, qtbot):
    code = "if_amplifier_1/gain_db"
    before = bench.analysis.receive("20m").noise_figure_db
    read(page, qtbot, code, "10 dB")
    page.table.pick(row_of(page, code), READ)
    assert bench.held is None
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert bench.held is not None
    assert bench.current.stage("if_amplifier_1").measured_gain_db == 10.0
    assert bench.held.stage("if_amplifier_1").measured_gain_db is None
    assert bench.analysis.receive("20m").noise_figure_db > before + 0.1
    assert cell(page, row_of(page, code), 5) == "✓\u00a0within"
    assert "taken into the design" in page.told.text()
    bench.undo()
    assert bench.current.stage("if_amplifier_1").measured_gain_db is None
    assert len(bench.current.log) == 1


def test_what_cannot_be_taken_says_why(page, bench, qtbot):
    code = "ladder/bandwidth_6db_hz/20m"
    read(page, qtbot, code, "2k")
    page.table.pick(row_of(page, code), READ)
    before = bench.current
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert bench.current is before
    assert "it follows from parts" in page.told.text()


def test_a_part_is_found_by_its_name_read_and_taken_as_built(page, bench, qtbot):
    known = [each.title for each in page.picture.log.known]
    title = next(each for each in known if each.startswith("Low-pass: C2"))
    page.besides.what.setText(title)
    qtbot.keyClick(page.besides.what, Qt.Key.Key_Return)
    qtbot.keyClicks(page.besides.amount, "400p")
    qtbot.keyClick(page.besides.amount, Qt.Key.Key_Return)
    (reading,) = bench.current.log
    assert (reading.about, reading.stage, reading.value) == ("part", "low_pass", 400e-12)
    assert page.line.entry.reading is reading
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    low_pass = bench.current.stage("low_pass").filters[0]
    assert dict(low_pass.as_built)[reading.key] == 400e-12
    qtbot.keyClicks(page.besides.what, "no such thing")
    qtbot.mouseClick(page.besides.add, Qt.MouseButton.LeftButton)
    assert page.told.text().startswith("Choose what was read from the list")


def test_figures_of_audio_and_power_are_found_by_their_names_and_explained(page, bench, qtbot):
    for title, amount in (
        ("Preamplifier: falls by 3 dB above", "3.6k"),
        ("Power amplifier: idle current", "520 mA"),
    ):
        page.besides.what.setText(title)
        qtbot.keyClick(page.besides.what, Qt.Key.Key_Return)
        qtbot.keyClicks(page.besides.amount, amount)
        qtbot.keyClick(page.besides.amount, Qt.Key.Key_Return)
        assert page.line.entry.item.title == title
        assert page.line.verdict == "out"
    assert [each.value for each in bench.current.log] == [3600.0, 0.52]
    explained(page, qtbot)
    assert any("Q1" in each or "RB" in each for each in page.why.text().splitlines()), page.why.text()


def test_the_completer_finds_by_any_letters(page):
    completer = page.besides.what.completer()
    completer.setCompletionPrefix("width at −6")
    assert completer.completionCount() >= 2


def test_notes_and_tolerances_belong_to_a_reading(page, bench, qtbot):
    read(page, qtbot, "supply/rail", "12.1 V")
    row = row_of(page, "supply/rail")
    assert cell(page, row, 5) == "✗\u00a0out"
    page.table.pick(row, TOLERANCE)
    typed(page.table, qtbot, "20 %")
    assert cell(page, row, 5) == "✓\u00a0within"
    assert cell(page, row, TOLERANCE) == "±2.4 V"
    page.table.pick(row, NOTE)
    typed(page.table, qtbot, "car battery")
    assert bench.current.log[0].note == "car battery"
    page.table.pick(row, READ)
    typed(page.table, qtbot, "12.3 V")
    (reading,) = bench.current.log
    assert (reading.value, reading.note) == (12.3, "car battery")
    assert reading.plus_minus == pytest.approx(2.42)


def test_read_again_adds_a_line_and_remove_takes_it_out(page, bench, qtbot):
    read(page, qtbot, "supply/rail", "12.1 V")
    row = row_of(page, "supply/rail")
    page.table.pick(row, READ)
    qtbot.mouseClick(page.again, Qt.MouseButton.LeftButton)
    field = open_field(page.table)
    field.selectAll()
    qtbot.keyClicks(field, "13.7 V")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    QCoreApplication.processEvents()
    assert [each.value for each in bench.current.log] == [12.1, 13.7]
    assert [cell(page, n, 5)[0] for n in (row, row + 1)] == ["✗", "✓"]
    assert page.whole.text().startswith("1 of ")
    page.table.pick(row, READ)
    qtbot.keyClick(page.table, Qt.Key.Key_Delete)
    assert [each.value for each in bench.current.log] == [13.7]


# -- photographs --------------------------------------------------------------------------------------------


def test_photographs_lie_beside_the_file(page, bench, qtbot, tmp_path, monkeypatch):
    view = page.photographs
    qtbot.mouseClick(page.views.buttons[1], Qt.MouseButton.LeftButton)
    assert view.isVisible()
    assert not page.table.isVisible()
    qtbot.mouseClick(view.bring, Qt.MouseButton.LeftButton)
    assert view.told.text() == "Save the design first: photographs lie beside its file."
    file = tmp_path / "rig.json"
    bench.save(file)
    good, bad = tmp_path / "board.jpg", tmp_path / "notes.txt"
    good.write_bytes(photograph("jpeg", 300, 200))
    bad.write_text("no picture", encoding="utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(good), str(bad)], ""))
    qtbot.mouseClick(view.bring, Qt.MouseButton.LeftButton)
    assert view.told.text() == "notes.txt is no JPEG and no PNG picture; choose another file."
    (kept,) = bench.current.photographs
    assert (folder_of(file) / kept.name).exists()
    assert not view.picture_label.pixmap().isNull()
    view.table.pick(0, 3)
    typed(view.table, qtbot, "the driver")
    choose(view.of, "driver")
    (kept,) = bench.current.photographs
    assert (kept.caption, kept.stage) == ("the driver", "driver")
    bench.save()
    # A missing file is a sentence where the picture was.
    (folder_of(file) / kept.name).unlink()
    view.forget()
    page.refresh(bench)
    assert "The photograph board.jpg is missing in" in view.picture_label.text()
    qtbot.mouseClick(view.take_out, Qt.MouseButton.LeftButton)
    assert bench.current.photographs == ()


def test_measured_curves_stand_in_the_log(sample, tmp_path):
    from core.model.measured import MeasuredCurve

    curve = MeasuredCurve(
        stage="low_pass",
        band="20m",
        label="lp.s2p",
        date="2026-05-17",
        f_hz=(1e6, 14e6, 30e6),
        s21_db=(-0.1, -0.3, -40),
    )
    project = sample.edited(("measured",), (curve,))
    (line,) = picture_of(Analysis(project), Chosen("read")).lines
    assert line.cells[:2] == ("Low-pass", "Measured curve, 20 m")
    assert line.cells[4:7] == ("lp.s2p", "?\u00a0unclear", "2026-05-17")
    assert "sweep that with 5 points at least" in line.help


def test_a_curve_that_is_out_is_explained_taken_noted_and_removed(page, bench, qtbot):
    bad = filter_curve(bench.analysis, L2=-0.25)
    bench.change(lambda project: with_curve(bench.analysis, bad), label="a measured curve")
    before = page.picture.whole
    page.verdict.setCurrentIndex(page.verdict.findData("out"))
    page.verdict.activated.emit(page.verdict.currentIndex())
    (line,) = page.picture.lines
    assert line.cells[4:7] == ("swept.s2p", "✗\u00a0out", "2026-11-26")
    page.table.pick(0, NOTE)
    qtbot.waitUntil(lambda: not page.busy)
    assert "Upper edge (−6 dB) at " in page.why.text()
    assert "L2 is about 25 % low; " in page.why.text()
    assert not page.again.isEnabled()
    typed(page.table, qtbot, "after rewinding")
    assert bench.current.measured[0].note == "after rewinding"
    page.table.pick(0, NOTE)
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert "taken into the design" in page.told.text()
    assert bench.held is not None
    assert dict(bench.current.stage("low_pass").filters[0].as_built)["coil:2"] > 0
    assert (page.picture.whole.out, page.picture.whole.within) == (before.out - 1, before.within + 1)
    page.verdict.setCurrentIndex(page.verdict.findData("within"))
    page.verdict.activated.emit(page.verdict.currentIndex())
    page.table.pick(0, NOTE)
    qtbot.mouseClick(page.remove, Qt.MouseButton.LeftButton)
    assert bench.current.measured == ()


EDITS = [
    (("if_hz",), 19.6618e6),
    (("stages", "ladder", "poles"), 6),
    (("bands", "20m", "name"), "home"),
    (("stages", "if_amplifier_1", "measured_gain_db"), 12.0),
    (("stages", "if_amplifier_1", "name"), "Second"),
    (("station", "supply_v"), 12.0),
    (("vfo", "output_dbm"), 3.0),
    (("junk_box", "first"), True),
    (("junk_box", "parts"), (CapacitorOnHand(capacitance_f=220e-12, count=9), CoreOnHand(count=4))),
    (("log",), ()),
]


def test_both_pages_follow_every_edit(bench, on_screen, qtbot):
    item = found(items(bench.analysis), "supply/rail")
    bench.edit(("log",), (reading_of(item, "12.9 V", "2026-11-26"),))
    kept = [on_screen(kind(bench), 900, 600) for kind in (BenchLogPage, JunkBoxPage)]
    for path, value in EDITS:
        assert bench.edit(path, value) is None
        for page in kept:
            page.refresh(bench)
            fresh = type(page)(bench)
            qtbot.addWidget(fresh)
            fresh.refresh(bench)
            assert page.table.texts() == fresh.table.texts(), path
            assert page.picture == fresh.picture
    assert kept[1].summary.text() == picture_of_box(bench.analysis).summary


def test_a_part_that_explains_a_reading_is_taken_as_built(page, bench, qtbot):
    code = "if_amplifier_1/transistor:1.base"
    expected = found(items(bench.analysis), code)
    read(page, qtbot, code, f"{expected.value + 1.5 * expected.plus_minus:.4f} V")
    page.table.pick(row_of(page, code), READ)
    explained(page, qtbot)
    texts = [page.taken_as.itemText(n) for n in range(page.taken_as.count())]
    assert len(texts) >= 2
    assert "the reading" not in texts, "a voltage is nothing that a design states"
    assert all(" instead of " in each for each in texts)
    wanted = next(n for n, text in enumerate(texts) if text.startswith("RB1 "))
    page.taken_as.setCurrentIndex(wanted)
    before = bench.current
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert len(dict(bench.current.stage("if_amplifier_1").as_built)) == 1
    assert bench.held == before
    assert "RB1 as built: taken into the design" in page.told.text()
    line = next(each for each in page.picture.lines if each.entry and each.entry.item.code == code)
    assert line.verdict == "within"
    bench.undo()
    assert bench.current == before


def test_a_reading_that_the_design_states_is_offered_first(page, bench, qtbot):
    read(page, qtbot, "vfo/output", "-3 dBm")
    page.table.pick(row_of(page, "vfo/output"), READ)
    explained(page, qtbot)
    assert page.taken_as.itemText(0) == "the reading"
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert bench.current.vfo.output_dbm == -3.0


def test_on_a_small_screen_the_table_has_the_page(bench, on_screen, qtbot):
    page = on_screen(BenchLogPage(bench), 630, 410)
    log = tuple(
        reading_of(each, each.text(each.value), "2026-11-26 18:40", note="with the longer cable " * 9)
        for each in items(bench.analysis)
        if each.sought and each.value
    )
    bench.edit(("log",), log)
    page.refresh(bench)
    QCoreApplication.processEvents()
    assert page.minimumHeight() <= 410
    table = page.table
    last = table.rowAt(table.viewport().height() - 1)
    assert last - table.rowAt(0) >= 5
    # Tolerance, date and the whole note are told of the line that is looked at, in the room that takes.
    assert page.why.text() == ""
    low = table.height()
    page.table.pick(row_of(page, "supply/rail"), READ)
    assert page.why.text().startswith("Expected 13.8 V ±1.4 V; read 2026-11-26 18:40; with the longer")
    assert page.why.text().count("longer") == 9
    QCoreApplication.processEvents()
    assert table.height() > low - 90
