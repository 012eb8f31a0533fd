"""VFO view and read-out page, used as a builder uses them."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from app.pages.read_out import ReadOutPage
from app.pages.stage import StagePage
from app.sheet.tank_schematic import tank_svg
from app.stage_views.vfo import VfoView
from app.state.workbench import Workbench
from app.style.plain import tip
from app.widgets.number_field import NumberField
from core.rig.figures.vfo import DRIFT
from core.rig.wound.oscillator_core import choose_vfo_core
from core.stages.vfo import vfo
from core.stages.vfo.tank import resonance


@pytest.fixture
def bench(tern):
    return Workbench(tern)


@pytest.fixture
def view(bench, on_screen):
    page = on_screen(StagePage(bench), 1000, 760)
    bench.select(("vfo",))
    page.refresh(bench)
    assert isinstance(page.view, VfoView)
    bench.changed.connect(lambda: page.refresh(bench))
    return page.view


def figures(table) -> dict[str, str]:
    return {row[0]: row[1] for row in table.texts()}


def test_the_dial_is_drawn_for_every_band(view, bench):
    made = bench.analysis.tank
    turns, mhz = view.dial.curves[0].getData()
    exact = resonance(made, "20m", np.linspace(0, 1, turns.size)).f_hz
    np.testing.assert_allclose(mhz, exact / 1e6)
    assert turns[-1] == pytest.approx(18)
    view.dial.labels.place()
    assert {"20 m", "12 m"} <= set(view.dial.labels.texts)
    assert view.dial.here.getData()[1][0] == pytest.approx(
        bench.analysis.band_plan("20m").vfo_at(bench.dial_hz) / 1e6
    )


def test_each_look_shows_its_curve(qtbot, view, bench):
    found = vfo.figures(bench.analysis.tank, "20m")
    assert view.rate.line.getData()[1].max() == pytest.approx(found.dial.worst_hz_per_turn / 1e3)
    qtbot.mouseClick(view.looks.buttons[1], Qt.MouseButton.LeftButton)
    assert np.abs(view.scale.line.getData()[1]).max() == pytest.approx(found.dial.worst_scale_error_hz / 1e3)
    qtbot.mouseClick(view.looks.buttons[2], Qt.MouseButton.LeftButton)
    minutes, hz = view.warming.line.getData()
    rise = bench.current.vfo.tank.warmth.rise_k
    assert hz[-1] == pytest.approx(found.worst_drift.hz_per_k * rise, rel=0.02)
    assert minutes[-1] == 90


def test_the_drift_adds_up(view, bench):
    rows = view.drift.texts()
    effects = [float(row[4].replace("−", "-")) for row in rows]
    assert rows[-1][0] == "sum"
    assert sum(effects[:-1]) == pytest.approx(effects[-1], abs=0.05 * len(effects))


def test_every_figure_of_the_drift_is_told_when_pointed_at_however_wide_the_table_is(view, bench):
    table = view.drift
    for width in (500, 180, 90, 500):
        table.resize(width, 200)
        for column, figure in enumerate(DRIFT):
            told = table.horizontalHeaderItem(column).toolTip()
            assert told == tip(figure.tip), (width, figure.key)
            assert table.item(0, column).toolTip() == told


def test_a_held_design_is_dashed(view, bench):
    bench.hold()
    bench.edit(("vfo", "tank", "variable", "high_f"), 150e-12)
    held = view.dial.held_line.getData()[1]
    now = view.dial.curves[0].getData()[1]
    assert held.size
    assert held[len(held) // 2] != pytest.approx(now[len(now) // 2], rel=1e-4)


def test_parts_are_kept_and_solved_anew(qtbot, view, bench):
    made = bench.analysis.tank
    qtbot.mouseClick(view.keep, Qt.MouseButton.LeftButton)
    built = {row.key: row.fitted for row in made.parts}
    assert dict(bench.current.vfo.tank.as_built) == pytest.approx(built)
    bench.edit(("if_hz",), bench.current.if_hz + 150e3)
    assert not bench.analysis.tank.ranges[0].covers
    assert "too little" in figures(view.table)["covered"]
    assert view.reason.text()
    qtbot.mouseClick(view.anew, Qt.MouseButton.LeftButton)
    assert bench.analysis.tank.ranges[0].covers
    bench.undo()
    assert bench.current.vfo.tank.as_built


def test_compensation_is_one_click_and_one_undo(qtbot, view, bench):
    bench.edit(("vfo", "tank", "compensation_f"), None)
    before = abs(vfo.drift(bench.analysis.tank, "20m", 0.5).hz_per_k)
    qtbot.mouseClick(view.compensate, Qt.MouseButton.LeftButton)
    assert abs(vfo.drift(bench.analysis.tank, "20m", 0.5).hz_per_k) < 0.2 * before
    bench.undo()
    assert bench.current.vfo.tank.compensation_f is None
    bench.edit(("vfo", "tank", "compensation_type"), "p100")
    qtbot.mouseClick(view.compensate, Qt.MouseButton.LeftButton)
    assert "only add" in view.reason.text()


def test_parts_as_built_are_not_overfilled_by_the_button(qtbot, view, bench):
    bench.edit(("vfo", "tank", "compensation_f"), None)
    qtbot.mouseClick(view.keep, Qt.MouseButton.LeftButton)
    kept = bench.current
    qtbot.mouseClick(view.compensate, Qt.MouseButton.LeftButton)
    # Refused with what to do; nothing is added to parts that are soldered.
    assert bench.current is kept
    assert "pF as built" in view.reason.text()
    assert "clear the trimmer's too" in view.reason.text()
    assert "pF as built" in figures(view.table)["compensation"]
    parts = {ref: value for ref, value in kept.vfo.tank.as_built if ref not in ("parallel", "trimmer")}
    bench.edit(("vfo", "tank", "as_built"), parts)
    qtbot.mouseClick(view.compensate, Qt.MouseButton.LeftButton)
    assert all(each.covers for each in bench.analysis.tank.ranges)
    assert "is fitted and leaves" in figures(view.table)["compensation"]


def test_the_device_is_told_with_the_current_its_resistor_gives(view, bench):
    assert figures(view.table)["device"] == "J310 at 5.2 mA, 6.76 mS"
    bench.edit(("vfo", "tank", "feedback", "bias_ohm"), 2200.0)
    assert figures(view.table)["device"] == "J310 at 1.4 mA, 3.56 mS"


def test_the_drive_of_the_mixer_is_told(view, bench):
    assert "wants +7 dBm, gets +7 dBm" in figures(view.table)["drive of Mixer"]
    bench.edit(("vfo", "output_dbm"), 0.0)
    assert "a buffer of 7 dB more" in figures(view.table)["drive of Mixer"]


def test_a_vfo_without_a_tank_says_what_to_do(qtbot, bench):
    page = StagePage(bench)
    qtbot.addWidget(page)
    bench.edit(("vfo", "tank"), None)
    bench.select(("vfo",))
    page.refresh(bench)
    assert "tick “Tank”" in page.sentence.text()


def test_a_range_through_zero_is_a_sentence_on_the_page(qtbot, bench):
    page = StagePage(bench)
    qtbot.addWidget(page)
    bench.edit(("if_hz",), 14.2e6)
    bench.edit(("vfo", "tank", "compensation_f"), None)
    bench.edit(("vfo", "tank", "coil_h"), 1.2e-6)
    bench.select(("vfo",))
    page.refresh(bench)
    # The other band's range is still drawn.
    assert "pass zero" in page.view.rate.sentence
    assert page.view.dial.curves[0].getData()[0].size
    bench.edit(("bands",), bench.current.bands[:1])
    page.refresh(bench)
    assert "pass zero" in page.sentence.text()


@pytest.mark.parametrize("tuned", ["parallel", "series"])
@pytest.mark.parametrize("device", ["j310", "2n3904"])
def test_the_schematic_names_every_part(tern, tuned, device):
    rig = tern.edited(("vfo", "tank", "tuned"), tuned).edited(("vfo", "tank", "feedback", "device"), device)
    rig = rig.edited(("bands", "12m", "vfo_shift"), "parallel").edited(("vfo", "tank", "coil_h"), 9e-6)
    made = Workbench(rig).analysis.tank
    svg = tank_svg(made)
    for ref in made.values:
        assert f">{ref}<" in svg
    assert "<image" not in svg
    bias = (">RG<", ">RS<") if device == "j310" else (">RB1<", ">RB2<", ">RE<")
    assert all(each in svg for each in (*bias, ">LC<", ">CD1<"))
    # The current that the drawn resistors give, and no other.
    assert ("J310, 5.2 mA" if device == "j310" else "2N3904, 6 mA") in svg
    drawn = rig.edited(("vfo", "tank", "feedback", "choke_h"), None)
    bare = tank_svg(Workbench(drawn.edited(("vfo", "tank", "feedback", "bias_ohm"), 2200.0)).analysis.tank)
    assert ">LC<" not in bare
    assert ">2.2 kΩ<" in bare
    assert ("J310, 1.4 mA" if device == "j310" else "2N3904, 1.5 mA") in bare


@pytest.fixture
def window(window):
    window.resize(1440, 900)
    return window


def test_an_as_built_coil_is_typed_into_the_parts(qtbot, window, bench):
    bench.select(("vfo",))
    window.refresher.now()
    table = window.editor.parts.table
    model = table.model()
    refs = [model.index(row, 0).data() for row in range(model.rowCount())]
    assert refs[0] == "L1"
    table.setCurrentIndex(model.index(0, 3))
    table.edit(model.index(0, 3))
    editor = next(w for w in table.findChildren(NumberField) if w.isVisible())
    editor.selectAll()
    qtbot.keyClicks(editor, "3u1")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert dict(bench.current.vfo.tank.as_built) == {"coil": pytest.approx(3.1e-6)}
    assert bench.analysis.tank.coil_h == pytest.approx(3.1e-6)


def test_a_finding_of_the_read_out_leads_to_its_page(qtbot, window, bench):
    bench.jump(("read_out", "counter", "programmes"))
    QApplication.processEvents()
    page = window.pages.current
    assert isinstance(page, ReadOutPage)
    field = page.form.field_at(("read_out", "counter", "programmes"))
    assert QApplication.focusWidget() is field


@pytest.fixture
def page(bench, on_screen):
    made = on_screen(ReadOutPage(bench), 1000, 800)
    made.refresh(bench)
    bench.changed.connect(lambda: made.refresh(bench))
    return made


def test_the_page_shows_the_plan_of_every_band(page, bench):
    heads = [page.plan.horizontalHeaderItem(c).text() for c in range(page.plan.columnCount())]
    assert heads == ["", "20\u00a0m", "12\u00a0m"]
    rows = {row[0]: row[1:] for row in page.plan.texts()}
    # To one step of the counter, 10 Hz, which drops what is left over.
    shown = [float(text) for text in rows["shows"][0].removesuffix(" MHz").split(" to ")]
    assert shown == pytest.approx([14.1, 14.35], abs=1.01e-5)
    assert rows["scheme"][1] == "VFO counted, carrier added"
    assert "helper on" in page.switching.text()
    turned_down = {row[0]: row[1] for row in page.refused.texts()}
    assert "zeros" in turned_down["VFO counted, carrier subtracted"]


def test_the_schemes_are_given_the_room_that_counts_do_not_need(qtbot, page):
    header, metrics = page.others.horizontalHeader(), page.others.fontMetrics()
    qtbot.waitUntil(lambda: header.length() == page.others.viewport().width())
    scheme, stored, _, birdies = (header.sectionSize(n) for n in range(header.count()))
    assert scheme > 1.5 * birdies
    assert stored >= max(metrics.horizontalAdvance(row[1]) for row in page.others.texts())


def test_another_helper_is_taken_and_given_back(qtbot, page, bench):
    first = bench.analysis.read_out.helper_hz
    assert not page.take.isEnabled()
    page.others.selectRow(0)
    wanted = bench.analysis.read_out_options[0].alternatives[0].helper_hz
    assert page.take.isEnabled()
    qtbot.mouseClick(page.take, Qt.MouseButton.LeftButton)
    assert bench.current.read_out.helper_hz == wanted != first
    assert bench.analysis.read_out.helper_hz == wanted
    qtbot.mouseClick(page.free, Qt.MouseButton.LeftButton)
    assert bench.analysis.read_out.helper_hz == first
    assert not page.free.isEnabled()


def test_without_a_counter_the_page_says_what_to_do(qtbot, page, bench):
    box = page.form.field_at(("read_out",))
    box.click()
    assert bench.current.read_out is None
    assert "tick “Read-out”" in page.switching.text()
    box.click()
    assert bench.current.read_out is not None
    assert page.plan.rowCount()


def test_the_page_follows_the_if(page, bench):
    before = page.plan.texts()
    bench.edit(("if_hz",), bench.current.if_hz + 5e3)
    assert page.plan.texts() != before


def test_the_coil_is_told_turn_by_turn_where_it_is_said_how_it_is_wound(qtbot, view, bench):
    coil = view.circuit.buttons[3]
    qtbot.mouseClick(coil, Qt.MouseButton.LeftButton)
    assert "as typed in" in view.coil.texts()[0][1]
    bench.edit(("vfo", "tank", "core"), "T68-6")
    told = figures(view.coil)
    assert (told["core"], told["turns"]) == ("T68-6", "24")
    assert told["drift"] == "+35 ppm/K"
    assert "T68-6" in {row[1] for row in view.drift.texts()}


def test_the_vfos_core_is_chosen_by_a_click_and_taken_back_by_one_undo(qtbot, view, bench):
    qtbot.mouseClick(view.circuit.buttons[3], Qt.MouseButton.LeftButton)
    before, expected = bench.current, choose_vfo_core(bench.analysis)
    qtbot.mouseClick(view.core.button, Qt.MouseButton.LeftButton)
    assert bench.current.vfo.tank.core == expected.core
    assert view.core.why.text() == expected.why
    assert expected.core in figures(view.coil).values()
    bench.undo()
    assert bench.current == before
    assert view.core.why.isHidden()
