"""The way to a new rig."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.pages.new_rig import NewRigDialog
from app.style import words
from core.rig.analysis import Analysis


def test_a_band_of_ones_own_makes_a_rig_that_is_advised_against(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.own.box.click()
    dialog.own.name_field.selectAll()
    qtbot.keyClicks(dialog.own.name_field, "magic")
    qtbot.keyClick(dialog.own.name_field, Qt.Key.Key_Return)
    assert dialog.bands[0].name == "magic"
    assert dialog.table.count.text().startswith("Nothing here to recommend: ")
    QTest.mouseClick(dialog.ok, Qt.MouseButton.LeftButton)
    assert [band.name for band in dialog.project.bands] == ["magic"]
    assert dialog.project.bands[0].low_hz == 50.1e6


def test_a_name_of_ones_own_is_not_taken_twice(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    next(c for c in dialog.choices if c.box.text().startswith("20")).box.click()
    dialog.own.box.click()
    dialog.own.name_field.selectAll()
    qtbot.keyClicks(dialog.own.name_field, "20m")
    qtbot.keyClick(dialog.own.name_field, Qt.Key.Key_Return)
    assert "20m stands twice" in dialog.hint.text()
    assert not dialog.ok.isEnabled()


def test_a_new_rig_from_bands_to_project(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    assert not dialog.ok.isEnabled()
    assert "Tick one to four bands" in dialog.hint.text()
    for choice in dialog.choices:
        if choice.box.text().startswith(("40", "20")):
            choice.box.click()
    assert dialog.table.row is not None
    QTest.mouseClick(dialog.ok, Qt.MouseButton.LeftButton)
    project = dialog.project
    assert [band.name for band in project.bands] == ["40m", "20m"]
    assert Analysis(project).transmit("40m").output_w == pytest.approx(5.0, rel=0.2)


def test_edges_of_ones_own_and_a_wrong_one(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    choice = next(c for c in dialog.choices if c.box.text().startswith("20"))
    choice.box.click()
    choice.low.selectAll()
    qtbot.keyClicks(choice.low, "14,2 MHz")
    qtbot.keyClick(choice.low, Qt.Key.Key_Return)
    assert dialog.bands[0].low_hz == 14.2e6
    assert dialog.project is None, "Enter in a field only takes the field"
    choice.low.selectAll()
    qtbot.keyClicks(choice.low, "15 MHz")
    qtbot.keyClick(choice.low, Qt.Key.Key_Return)
    assert isinstance(dialog.bands, str)
    assert not dialog.ok.isEnabled()


def test_more_than_four_bands_are_refused_in_a_sentence(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    for choice in dialog.choices[:5]:
        choice.box.click()
    assert "at most 4 bands" in dialog.hint.text()


@pytest.mark.parametrize("typed", ["24.95", "24950", "24,95 MHz", "24950k"])
def test_a_new_rigs_dial_is_typed_in_megahertz(qtbot, qapp, typed):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    choice = next(each for each in dialog.choices if each.box.text() == words.band("12m"))
    choice.box.click()
    choice.low.selectAll()
    qtbot.keyClicks(choice.low, typed)
    qtbot.keyClick(choice.low, Qt.Key.Key_Return)
    assert dialog.bands[0].low_hz == pytest.approx(24.95e6)
    assert choice.low.text() == "24.950 MHz"
