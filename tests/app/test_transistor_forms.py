"""Transistors of one's own, and stages built of them, in the editors."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QPushButton

from core.model.stages.built_amplifier import BuiltAmplifier


def test_a_builder_adds_a_transistor_and_builds_a_stage_of_it(panel, bench, qtbot):
    panel.refresh(bench)
    add = next(b for b in panel.findChildren(QPushButton) if b.text() == "Add one" and b.isVisible())
    qtbot.mouseClick(add, Qt.MouseButton.LeftButton)
    panel.refresh(bench)
    assert [each.name for each in bench.current.transistors] == ["My transistor"]
    inner = panel.form.field_at(("transistors", 0, "type"))
    # Only what this kind has is asked for.
    assert panel.form.field_at(("transistors", 0, "current_gain")).isVisible()
    assert not panel.form.field_at(("transistors", 0, "threshold_v")).isVisible()
    inner.setCurrentIndex(inner.findData("mosfet"))
    inner.activated.emit(inner.currentIndex())
    panel.refresh(bench)
    assert bench.current.transistors[0].type == "mosfet"
    slope = panel.form.field_at(("transistors", 0, "transconductance_s"))
    assert slope.isVisible()
    slope.selectAll()
    qtbot.keyClicks(slope, "150m")
    qtbot.keyClick(slope, Qt.Key.Key_Return)
    assert bench.current.transistors[0].transconductance_s == 0.15
    stage = BuiltAmplifier(id="mosfet", name="M", topology="common_source", gain_db=6.0, current_a=60e-3)
    bench.change(lambda p: p.stage_inserted(0, stage), label="a stage")
    bench.select(("stages", "mosfet"))
    panel.refresh(bench)
    box = panel.form.field_at(("device",))
    assert box.itemText(0) == "My transistor (MOSFET), own"
    box.setCurrentIndex(0)
    box.activated.emit(0)
    assert bench.current.stage("mosfet").device == "My transistor"
    assert bench.analysis.design("mosfet", "20m").transistor.transconductance_s == 0.15
    # Another name goes along; without it the stage's field says that nobody knows it.
    bench.edit(("transistors", 0, "name"), "Mine")
    panel.refresh(bench)
    assert bench.current.stage("mosfet").device == "Mine"
    assert box.currentText() == "Mine (MOSFET), own"
    bench.edit(("transistors",), ())
    panel.refresh(bench)
    assert box.currentText() == "Mine (unknown)"


def test_transistors_of_ones_own_are_looked_at_one_by_one_and_taken_away(panel, bench, qtbot):
    def press(text):
        button = next(b for b in panel.findChildren(QPushButton) if b.text() == text and b.isVisible())
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        panel.refresh(bench)

    press("Add one")
    press("Add one")
    assert [each.name for each in bench.current.transistors] == ["My transistor", "My transistor 2"]
    boxes = panel.findChildren(QComboBox)
    chooser = next(box for box in boxes if box.accessibleName() == "Own transistors")
    assert chooser.currentText() == "My transistor 2"
    chooser.setCurrentIndex(0)
    chooser.activated.emit(0)
    press("Remove it")
    assert [each.name for each in bench.current.transistors] == ["My transistor 2"]
    press("Remove it")
    assert bench.current.transistors == ()
    assert not chooser.isVisible()
