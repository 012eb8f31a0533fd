"""The microphone's page: chosen and typed as a builder does, told as the levels have it."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox

from app.pages.stage import StagePage
from app.panels.editor_panel import EditorPanel
from app.stage_views.sending import SendingView


@pytest.fixture
def page(bench, qtbot):
    page = StagePage(bench)
    qtbot.addWidget(page)
    page.resize(900, 700)
    page.show()
    bench.edit(("microphone", "type"), "level")
    bench.select(("microphone",))
    page.refresh(bench)
    return page


def test_a_level_typed_in_is_told_as_that(page):
    assert isinstance(page.view, SendingView)
    assert page.view.microphone.item(0, 1).text() == "−50.0 dBm"


def test_a_type_chosen_in_the_form_is_worked_out(bench, page, qtbot):
    panel = EditorPanel(bench)
    qtbot.addWidget(panel)
    panel.show()
    panel.refresh(bench)
    box = next(each for each in panel.findChildren(QComboBox, "type") if each.isVisible())
    assert box.currentText() == "typed-in level"
    box.setFocus()
    for _ in range(2):
        qtbot.keyClick(box, Qt.Key.Key_Down)
    assert bench.current.microphone.type == "electret"
    page.refresh(bench)
    rows = dict(page.view.picture.microphone.rows)
    assert rows["type"] == "electret capsule"
    # 20 mV behind 2.2 kΩ into the 5.1 kΩ of the amplifier's circuit.
    assert rows["at the amplifier"] == "14 mV"
    level = bench.analysis.microphone.level_dbm
    assert float(rows["into the amplifier"].removesuffix(" dBm").replace("−", "-")) == pytest.approx(
        level, abs=0.05
    )
    told = dict(page.view.picture.transmitter.rows)
    assert told["most of it from"]
    assert {row[1] for row in page.view.picture.loops.rows} == {"RF", "IF"}
