"""The page of the IF survey."""

from html import unescape

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.pages.if_survey import IfSurveyPage
from app.pages.survey_table import SurveyTable
from app.pictures.bench.survey import survey_of
from app.state.tasks import Tasks
from core.model.bands import Band


@pytest.fixture
def survey_page(qtbot, bench, on_screen):
    tasks = Tasks()
    page = on_screen(IfSurveyPage(bench, tasks), 900, 600)
    page.refresh(bench)
    qtbot.waitUntil(lambda: page.table.row is not None)
    yield page
    tasks.close()


def test_what_speaks_for_a_row_is_in_sight_in_a_narrow_window(survey_page, qtbot):
    view = survey_page.table.view
    last = view.model().columnCount() - 1
    for width in (1300, 700):
        survey_page.resize(width, 500)
        QTest.qWait(20)
        header = view.horizontalHeader()
        assert header.sectionSize(last) >= 110, width
        assert header.length() <= view.viewport().width() + 2, width
        assert header.sectionSize(2) >= view.sizeHintForColumn(2), width
    # What ends in dots there is told whole.
    cell = view.model().index(0, 2)
    assert cell.data(Qt.ItemDataRole.ToolTipRole).startswith(f"<p>{cell.data()}<br>")


@pytest.mark.parametrize("width", [750, 1300])
def test_the_survey_shows_its_best_rows_and_every_column(survey_page, bench, qtbot, width):
    survey_page.resize(width, 500)
    table, view = survey_page.table, survey_page.table.view
    last = view.model().rowCount() - 1
    view.selectRow(last)
    row = table.row
    view.selectRow(0)
    assert table.pick(row.if_hz, row.schemes)
    assert view.selectionModel().selectedRows()[0].row() == last
    assert view.rowAt(1) == 0
    header = view.horizontalHeader()
    qtbot.waitUntil(lambda: header.length() <= view.viewport().width())
    titles = [view.model().headerData(n, Qt.Orientation.Horizontal) for n in range(header.count())]
    for n, title in enumerate(titles[:-1]):
        assert header.fontMetrics().horizontalAdvance(title) < header.sectionSize(n), title
    assert header.sectionSize(header.count() - 1) > 100


def test_the_survey_selects_the_rigs_own_row(survey_page, bench):
    row = survey_page.table.row
    assert row.if_hz == bench.current.if_hz
    assert row.schemes == tuple(band.scheme for band in bench.current.bands)


def test_a_filter_field_sifts_the_survey_and_says_so(qtbot, survey_page):
    qtbot.keyClicks(survey_page.table.max_vfo, "5,6 MHz")
    view = survey_page.table.view
    assert 0 < view.model().rowCount() < 200
    assert f"{view.model().rowCount()} of" in survey_page.table.count.text()
    qtbot.keyClicks(survey_page.table.crystal, "99.9")
    assert "empty a filter field" in survey_page.table.count.text()


def test_nonsense_in_a_filter_field_is_marked(qtbot, survey_page):
    qtbot.keyClicks(survey_page.table.max_vfo, "fast")
    assert survey_page.table.max_vfo.property("wrong") is True


def test_applying_a_row_is_one_step_of_undo(qtbot, survey_page, bench):
    before = bench.current
    view = survey_page.table.view
    view.setFocus()
    view.selectRow(
        0 if survey_page.table.pick(20e6, ("if_minus_vfo", "sum")) is False else view.currentIndex().row()
    )
    assert survey_page.table.pick(20e6, ("if_minus_vfo", "sum"))
    QTest.mouseClick(survey_page.apply, Qt.MouseButton.LeftButton)
    assert bench.current.if_hz == 20e6
    bench.undo()
    assert bench.current == before


def test_the_survey_shows_every_term_with_its_points(survey_page, bench):
    view, row = survey_page.table.view, survey_page.table.row
    model, at = view.model(), view.currentIndex().row()
    cells = [model.index(at, column).data() for column in range(model.columnCount())]
    hover = unescape(model.index(at, 0).data(Qt.ItemDataRole.ToolTipRole))
    assert cells[0] == f"{row.cost:.1f}"
    assert f"{cells[1]} MHz" == row.crystal == "19.6608 MHz"
    assert survey_page.details.text().startswith(f"19.6608 MHz costs {row.cost:.1f}: ")
    for charge in row.charges:
        assert f"{charge.title}: {charge.words}" in hover
        assert f"{charge.words} (" in cells[-1]
        assert f"{charge.words} (" in survey_page.details.text()
    costs = [model.index(n, 0).data(Qt.ItemDataRole.UserRole) for n in range(model.rowCount())]
    assert costs == sorted(costs)


def test_the_survey_asks_for_the_rigs_own_ladder(qtbot, survey_page, bench):
    bench.edit(("stages", "ladder", "bandwidth_hz"), 12e3)
    survey_page.refresh(bench)
    view = survey_page.table.view

    def last() -> str:
        return view.model().index(view.model().rowCount() - 1, 0).data(Qt.ItemDataRole.ToolTipRole)

    qtbot.waitUntil(lambda: "12 kHz is wanted" in last())
    assert view.model().index(view.model().rowCount() - 1, 0).data() == "—"


@pytest.mark.parametrize("typed", ["6", "6 MHz", "6000k", "6000"])
def test_the_surveys_filter_reads_a_bare_number_in_megahertz(qtbot, qapp, typed):
    table = SurveyTable()
    qtbot.addWidget(table)
    table.show()
    table.show_rows(survey_of([Band(name="20m")], ()))
    qtbot.keyClicks(table.max_vfo, typed)
    left = [row for row in table._model.rows if row.vfo_high_hz <= 6e6]
    assert 0 < len(left) < len(table._model.rows)
    assert table.count.text().startswith(f"{len(left)} of ")
