"""The birdie finder and the read-out's page, also on a small screen."""

import pytest
from PySide6.QtCore import QCoreApplication, Qt

from app.pages.read_out import ReadOutPage
from app.pages.whole_rig import WholeRigPage
from app.panels.birdie_panel import BirdiePanel
from app.state.workbench import Workbench
from core.model.bands import Band
from core.rig.start.new_rig import with_band


@pytest.fixture
def finder(qtbot, muddle, on_screen):
    bench = Workbench(muddle)
    page = on_screen(WholeRigPage(bench), 1000, 700)
    bench.look_at_band("40m")
    qtbot.mouseClick(page.looks.buttons[1], Qt.MouseButton.LeftButton)
    assert page.finder.isVisible()
    # The page lives for as long as its finder is looked at.
    yield page.finder
    page.close()


def hear(qtbot, finder, dial, *, moves):
    """Type where a tone is heard, and choose how fast it moves."""
    finder.heard.selectAll()
    qtbot.keyClicks(finder.heard, dial)
    qtbot.keyClick(finder.heard, Qt.Key.Key_Return)
    finder.moves.setCurrentIndex(finder.moves.findData(moves))
    finder.moves.activated.emit(finder.moves.currentIndex())


def test_a_birdie_heard_is_explained(qtbot, finder):
    hear(qtbot, finder, "7.1355 MHz", moves=3.0)
    assert finder.sentence.text().startswith("Probably 3 VFO, in the IF: its tone moves 3 times as fast")
    assert finder.table.texts()[0][:2] == ["3 VFO, in the IF", "3"]


def test_off_by_is_told_as_the_dial_reads(qtbot, finder):
    hear(qtbot, finder, "7.125 MHz", moves=3.0)
    product, _, expected, off, _ = finder.table.texts()[0]
    assert product == "3 VFO, in the IF"
    assert expected.startswith("7.135")
    # The tone is three times as far away as the dial.
    assert off == "+10.3 kHz"


def test_the_direction_is_asked(qtbot, finder):
    hear(qtbot, finder, "7.1355 MHz", moves=3.0)
    finder.direction.setFocus()
    qtbot.keyClick(finder.direction, Qt.Key.Key_Down)
    qtbot.keyClick(finder.direction, Qt.Key.Key_Down)
    assert finder.direction.currentData() == "against"
    assert finder.sentence.text().startswith("Probably 2 carrier − 3 VFO, in the IF")
    assert "the other way" in finder.sentence.text()


def test_what_moves_otherwise_is_not_ours(qtbot, finder):
    finder.moves.setCurrentIndex(finder.moves.findData(7.0))
    finder.moves.activated.emit(finder.moves.currentIndex())
    text = finder.sentence.text()
    assert text.startswith("Nothing of the rig's own oscillators makes a tone on")
    assert text.endswith("that moves so.")
    assert finder.table.isHidden()


def test_a_place_off_the_dial_is_refused_with_the_reason(qtbot, finder):
    finder.heard.selectAll()
    qtbot.keyClicks(finder.heard, "14.2 MHz")
    qtbot.keyClick(finder.heard, Qt.Key.Key_Return)
    assert "does not go there" in finder.heard.toolTip()
    qtbot.mouseClick(finder.here, Qt.MouseButton.LeftButton)
    assert finder.heard.text().startswith("7.125")


def of_four_bands(project):
    for name, low_hz in (("17m", 18.11e6), ("15m", 21.15e6)):
        band = Band(name=name, low_hz=low_hz, high_hz=low_hz + 50e3, scheme=project.bands[0].scheme)
        project = with_band(project, band)
    return project


def test_four_bands_of_a_read_out_can_be_read_on_a_small_screen(sample, on_screen):
    page = on_screen(ReadOutPage(Workbench(of_four_bands(sample))), 630, 820)
    page.refresh(page._bench)
    QCoreApplication.processEvents()
    assert page.plan.isVisible()
    assert page.plan.geometry().bottom() < page.switching.geometry().top()
    assert page.switching.height() >= page.switching.heightForWidth(page.switching.width())


def test_the_birdie_finders_fields_keep_their_height(sample, on_screen):
    bench = Workbench(of_four_bands(sample))
    page = on_screen(WholeRigPage(bench), 630, 360)
    page.looks.buttons[1].click()
    page.refresh(bench)
    panel = page.findChild(BirdiePanel)
    panel.sentence.setText("None of the rig's own products lies within 10 kHz of that. " * 4)
    QCoreApplication.processEvents()
    for field in (panel.heard, panel.here, panel.moves, panel.direction):
        assert field.height() >= field.sizeHint().height() - 2
