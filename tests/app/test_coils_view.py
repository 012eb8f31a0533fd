"""The coils of a filter on screen, and the button that chooses their core."""

import pytest
from PySide6.QtCore import Qt

from app.pages.stage import StagePage
from app.state.workbench import Workbench
from app.style.plain import tip
from core.rig.analysis import Analysis
from core.rig.figures.parts import WINDING
from core.rig.wound.core_choice import choose_core
from core.rig.wound.windings import windings


@pytest.fixture
def bench(tern):
    return Workbench(tern)


@pytest.fixture(params=["band_pass", "low_pass"])
def view(request, bench, on_screen):
    page = on_screen(StagePage(bench), 1000, 760)
    bench.select(("stages", request.param))
    page.refresh(bench)
    bench.changed.connect(lambda: page.refresh(bench))
    return page.view


def test_the_core_is_chosen_by_a_click_told_why_and_taken_back_by_one_undo(qtbot, view, bench, tern):
    stage = bench.look.stage
    expected = choose_core(Analysis(tern), stage, "20m")
    assert view.choose.isHidden()
    qtbot.mouseClick(view.told.buttons[2], Qt.MouseButton.LeftButton)
    heads = [view.table.horizontalHeaderItem(0).text().replace("\n", " "), view.table.texts()[0][0]]
    assert heads == ["coil, no core chosen", "L1"]
    qtbot.mouseClick(view.choose.button, Qt.MouseButton.LeftButton)
    assert bench.current == expected.edit.on(tern)
    assert view.choose.why.text() == expected.why
    assert not view.choose.why.isHidden()
    found = [each for each in windings(bench.analysis) if each.stage == stage]
    cells = {row[0]: row[1] for row in view.table.texts()}
    for figure in WINDING:
        if figure.get(found[0]) is not None:
            assert cells[figure.title] == figure.text(found[0])
    assert ("flux at full power" in cells) == (stage == "low_pass")
    bench.undo()
    assert bench.current == tern
    assert view.choose.why.isHidden()
    assert view.table.texts()[0][0] == "L1"


def test_every_figure_of_a_coil_is_told_when_pointed_at(qtbot, view, bench):
    qtbot.mouseClick(view.told.buttons[2], Qt.MouseButton.LeftButton)
    qtbot.mouseClick(view.choose.button, Qt.MouseButton.LeftButton)
    titles = {figure.title: figure for figure in WINDING}
    for row, cells in enumerate(view.table.texts()):
        assert view.table.item(row, 0).toolTip() == tip(titles[cells[0]].tip)


def test_what_was_said_of_a_core_goes_with_it(qtbot, view, bench):
    qtbot.mouseClick(view.told.buttons[2], Qt.MouseButton.LeftButton)
    qtbot.mouseClick(view.choose.button, Qt.MouseButton.LeftButton)
    bench.edit(("stages", bench.look.stage, "filters", 0, "core"), "T80-6")
    assert view.choose.why.isHidden()
    qtbot.mouseClick(view.told.buttons[0], Qt.MouseButton.LeftButton)
    assert view.choose.isHidden()


def test_why_no_core_can_be_had_is_said(qtbot, view, bench):
    stage = bench.look.stage
    qtbot.mouseClick(view.told.buttons[2], Qt.MouseButton.LeftButton)
    if stage == "band_pass":
        bench.edit(("stages", stage, "filters", 0, "ends"), "link")
        bench.edit(("stages", stage, "filters", 0, "inductance_h"), 15e-9)
    else:
        bench.edit(("stages", "power_amplifier", "rated_w"), 1500.0)
    before = bench.current
    qtbot.mouseClick(view.choose.button, Qt.MouseButton.LeftButton)
    assert bench.current is before
    assert "No core of the table suits every coil" in view.choose.why.text()


def test_what_width_and_q_cost_is_one_picture_beside_the_response(qtbot, view, bench):
    assert view.seen.isHidden() == (bench.look.stage == "low_pass")
    if bench.look.stage == "low_pass":
        return
    qtbot.mouseClick(view.seen.buttons[1], Qt.MouseButton.LeftButton)
    assert view.widths.isVisible()
    assert view._wide_card.note == "from above: coils of Q 80, 120, 180, 270"
    found = bench.analysis.loss_over_width("band_pass", "20m")
    x, y = view.widths.curves[0].getData()
    assert (x[5], y[5]) == (found.width_hz[5] / 1e3, found.loss_db[0][5])
    width, loss = view.widths.here.getData()
    assert width[0] == bench.current.stage("band_pass").filters[0].bandwidth_hz / 1e3
    assert loss[0] == bench.analysis.filter_figures("band_pass", "20m").insertion_loss_db
    bench.edit(("stages", "band_pass", "filters", 0, "bandwidth_hz"), 800e3)
    assert view.widths.here.getData()[0][0] == 800.0
    bench.select(("stages", "low_pass"))
    assert view.seen.isHidden()
    assert view.wide.isVisible()
