"""The frequency bar: the rig's arithmetic, typed, stepped and dragged."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from app.panels.frequency_bar import FrequencyBar
from app.pictures.panels.frequency_bar import ticks_of
from app.state.workbench import Workbench
from core.model.bands import Band
from core.rig.start.new_rig import new_rig


def hertz(text):
    """What a figure on the bar says, in whole hertz."""
    scale = 1e6 if text.endswith("MHz") else 1e3
    number = "".join(c for c in text.split("Hz")[0].replace("−", "-") if c in "-.0123456789")
    return round(float(number) * scale)


def equation(bar):
    """The terms from left to right with the signs between them, as written."""
    grid = bar._terms
    texts = []
    for column in range(7):
        texts.append(grid.itemAtPosition(1, column).widget().text())
    return texts


def value_of(texts):
    total = hertz(texts[2])
    for sign, term in zip(texts[3::2], texts[4::2], strict=True):
        total += hertz(term) if sign == "+" else -hertz(term)
    return total


@pytest.mark.parametrize("scheme", ["if_minus_vfo", "sum", "vfo_minus_if"])
@pytest.mark.parametrize("sideband", ["upper", "lower"])
def test_the_line_is_right_to_the_digit_for_every_scheme(bar, bench, scheme, sideband):
    bench.edit(("bands", "20m", "scheme"), scheme)
    bench.edit(("bands", "20m", "sideband"), sideband)
    for dial_hz in (14.1e6, 14.2e6, 14.234567e6):
        bench.turn_dial(dial_hz)
        texts = equation(bar)
        assert texts[1] == "="
        assert hertz(texts[0]) == value_of(texts) == round(dial_hz)


def test_the_line_names_its_terms_in_the_order_of_the_scheme(bar, bench):
    assert bar.vfo.x() > bar.intermediate.x()
    bench.edit(("bands", "20m", "scheme"), "vfo_minus_if")
    bar.layout().activate()
    QTest.qWait(1)
    assert bar.vfo.x() < bar.intermediate.x()


def test_typing_the_if_moves_it_and_the_vfo_follows(bar, bench, qtbot):
    before = hertz(bar.vfo.text())
    bar.intermediate.setFocus()
    bar.intermediate.selectAll()
    qtbot.keyClicks(bar.intermediate, "19,664 MHz")
    qtbot.keyClick(bar.intermediate, Qt.Key.Key_Return)
    assert bench.current.if_hz == 19.664e6
    assert bar.intermediate.text() == "19.664\u202f000 MHz"
    assert hertz(bar.vfo.text()) - before == pytest.approx(3200, abs=20)


def test_arrow_keys_step_the_if_in_one_step_of_undo(bar, bench, qtbot):
    field = bar.intermediate
    field.setFocus()
    field.setCursorPosition(field.text().index("8"))
    for _ in range(3):
        qtbot.keyClick(field, Qt.Key.Key_Up)
    assert bench.current.if_hz == 19_661_100.0
    bench.undo()
    assert bench.current.if_hz == 19_660_800.0
    assert field.text() == "19.660\u202f800 MHz"


def test_a_wrong_if_is_told_and_the_design_stays(bar, bench, qtbot):
    bar.intermediate.setFocus()
    bar.intermediate.selectAll()
    with qtbot.waitSignal(bench.refused) as said:
        qtbot.keyClicks(bar.intermediate, "-1 MHz")
        qtbot.keyClick(bar.intermediate, Qt.Key.Key_Return)
    assert "IF" in said.args[0]
    assert bench.current.if_hz == 19.6608e6
    assert bar.intermediate.property("wrong") is True


def drag(slider, start, end):
    y = slider.height() - 10
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, pos=QPoint(start, y))
    for x in range(start, end, 4):
        QTest.mouseMove(slider, QPoint(x, y))
    QTest.mouseRelease(slider, Qt.MouseButton.LeftButton, pos=QPoint(end, y))


def test_dragging_the_ifs_slider_is_one_step_of_undo(bar, bench):
    middle = bar.if_slider.width() // 2
    drag(bar.if_slider, middle, middle + 60)
    moved = bench.current.if_hz
    assert moved > 19.6608e6 + 1e3
    drag(bar.if_slider, middle, middle + 30)
    assert 19.6608e6 < bench.current.if_hz < moved
    bench.undo()
    assert bench.current.if_hz == moved
    bench.undo()
    assert bench.current.if_hz == 19.6608e6


def test_the_ifs_slider_follows_far_moves(bar, bench):
    bench.edit(("if_hz",), 9e6)
    assert bar.if_slider.low_hz < 9e6 < bar.if_slider.high_hz
    assert bar.if_slider.hz == pytest.approx(9e6, abs=50)
    assert bench.current.if_hz == 9e6, "showing it does not round it"


def test_the_dial_is_turned_by_slider_and_field_and_is_not_undone(bar, bench, qtbot):
    drag(bar.dial_slider, bar.dial_slider.width() // 2, bar.dial_slider.width() - 10)
    assert bench.dial_hz > 14.3e6
    assert bench.history.undo_label is None
    bar.dial.setFocus()
    bar.dial.selectAll()
    qtbot.keyClicks(bar.dial, "14.2")
    qtbot.keyClick(bar.dial, Qt.Key.Key_Return)
    assert bench.dial_hz == 14.2e6
    bar.dial.selectAll()
    qtbot.keyClicks(bar.dial, "15")
    qtbot.keyClick(bar.dial, Qt.Key.Key_Return)
    assert bench.dial_hz == 14.2e6
    assert "14.35 MHz" in bar.dial.reason


def test_buttons_choose_band_direction_and_hold(bar, bench, qtbot):
    second = bar._band_group.buttons()[1]
    assert second.text() == "12\u00a0m"
    qtbot.mouseClick(second, Qt.MouseButton.LeftButton)
    assert bench.band_name == "12m"
    assert equation(bar)[5] == "+"
    qtbot.mouseClick(bar.way_buttons["transmit"], Qt.MouseButton.LeftButton)
    assert bench.way == "transmit"
    qtbot.mouseClick(bar.hold, Qt.MouseButton.LeftButton)
    assert bench.held is bench.current
    qtbot.mouseClick(bar.hold, Qt.MouseButton.LeftButton)
    assert bench.held is None


def test_terms_lead_to_where_they_come_from(bar, bench, qtbot):
    qtbot.mouseClick(bar.vfo, Qt.MouseButton.LeftButton)
    assert bench.selection == ("vfo",)
    bar.offset.setFocus()
    qtbot.keyClick(bar.offset, Qt.Key.Key_Space)
    assert bench.selection == ("carrier",)


def test_birdies_are_ticks_on_the_dial(qtbot):
    bands = (Band(name="40m", low_hz=7.05e6, high_hz=7.2e6, sideband="lower", scheme="if_minus_vfo"),)
    bench = Workbench(new_rig(bands, 10.7e6))
    view = FrequencyBar(bench)
    qtbot.addWidget(view)
    view.refresh(bench)
    marks = view.dial_slider.ticks
    assert marks == ticks_of(bench.analysis, bench.look)
    assert marks
    assert all(7.05e6 <= mark.hz <= 7.2e6 for mark in marks)
    assert marks[0].text.startswith("3 VFO, in the IF, order 3, about +23 dB on S9, at 7.13")
    assert all("order" in mark.text for mark in marks)


def test_a_bar_too_narrow_for_one_row_takes_two(bar):
    wide = bar.layout().heightForWidth(1280)
    narrow = bar.layout().heightForWidth(800)
    assert narrow > wide
    bar.resize(800, narrow)
    bar.layout().activate()
    right = max(child.geometry().right() for child in bar.children() if child.isWidgetType())
    assert right <= 800
