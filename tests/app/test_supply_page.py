"""The supply's page, acted on as a builder does."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QPushButton

from app.pages.supply.page import SupplyPage
from app.widgets.choice_box import ChoiceBox
from app.widgets.number_field import NumberField
from core.rig.analysis import Analysis
from core.rig.figures.parts import part_value
from core.rig.rules import inspect
from core.rig.supply.soldered import supply_soldered


@pytest.fixture
def page(bench, on_screen):
    page = on_screen(SupplyPage(bench), 1100, 800)
    page.refresh(bench)
    return page


def field(page, path, kind=QLineEdit):
    found = page.form.field_at(path)
    assert isinstance(found, kind), found
    return found


def typed(page, bench, qtbot, path, text):
    widget = field(page, path)
    widget.setFocus()
    widget.selectAll()
    qtbot.keyClicks(widget, text)
    qtbot.keyClick(widget, Qt.Key.Key_Return)
    page.refresh(bench)


def cell(table, row, column):
    heads = [table.horizontalHeaderItem(n).text().replace("\n", " ") for n in range(table.columnCount())]
    line = next(n for n in range(table.rowCount()) if table.item(n, 0).text() == row)
    return table.item(line, heads.index(column)).text()


def test_a_fuse_that_is_typed_is_told_at_once(page, bench, qtbot):
    qtbot.mouseClick(page.looks.buttons[1], Qt.MouseButton.LeftButton)
    assert dict(page.tables["fuse"].texts())["rated"] == "3 A"
    typed(page, bench, qtbot, ("supply", "fuse", "rated_a"), "5")
    assert bench.current.supply.fuse.rated_a == 5.0
    assert dict(page.tables["fuse"].texts())["rated"] == "5 A"
    assert dict(page.tables["fuse"].texts())["carries"] == "3.75 A"


def test_the_nominal_voltage_is_the_stations(page, bench, qtbot):
    widget = page.nominal.field_at(("supply_v",))
    widget.setFocus()
    widget.selectAll()
    qtbot.keyClicks(widget, "12.6")
    qtbot.keyClick(widget, Qt.Key.Key_Return)
    page.refresh(bench)
    assert bench.current.station.supply_v == 12.6
    assert page.sentence.text().startswith("12.6 V: ")


def test_somebody_is_hung_on_a_regulator_by_a_tick(page, bench, qtbot):
    box = next(
        each for each in page.form.findChildren(QCheckBox) if each.accessibleName() == "Feeds Read-out"
    )
    assert not box.isChecked()
    box.click()
    page.refresh(bench)
    assert "read_out" in bench.current.supply.regulators[0].feeds
    boxes = [each.name for each in page.diagram.picture.boxes]
    assert boxes.index("Read-out") < boxes.index("Antenna relay")


def test_a_current_is_added_and_told_of_a_stage(page, bench, qtbot):
    add = [each for each in page.form.findChildren(QPushButton, "") if each.text() == "Add one"][-1]
    count = len(bench.current.supply.loads)
    add.click()
    page.refresh(bench)
    assert len(bench.current.supply.loads) == count + 1
    who = field(page, ("supply", "loads", count, "of"), ChoiceBox)
    who.setCurrentIndex(who.findData("driver"))
    who.activated.emit(who.currentIndex())
    page.refresh(bench)
    typed(page, bench, qtbot, ("supply", "loads", count, "transmit_a"), "55m")
    assert bench.current.supply.loads[count].of == "driver"
    assert cell(page.tables["currents"], "Driver", "full output") == "55 mA"


def test_a_scheme_is_chosen_and_only_its_parts_are_asked_for(page, bench, qtbot):
    scheme = field(page, ("supply", "polarity", "scheme"), QComboBox)
    diode = field(page, ("supply", "polarity", "diode"), QComboBox)
    mosfet = field(page, ("supply", "polarity", "mosfet"), QComboBox)
    assert diode.isVisible()
    assert not mosfet.isVisible()
    scheme.setCurrentIndex(scheme.findData("p_mosfet"))
    scheme.activated.emit(scheme.currentIndex())
    page.refresh(bench)
    assert bench.current.supply.polarity.scheme == "p_mosfet"
    assert mosfet.isVisible()
    assert not diode.isVisible()
    assert mosfet.currentText() == "IRF4905"


def test_a_rig_without_a_supply_says_how_to_plan_one(page, bench, qtbot):
    box = next(each for each in page.form.findChildren(QCheckBox) if each.text() == "Supply")
    box.click()
    page.refresh(bench)
    assert bench.current.supply is None
    assert page.sentence.text().startswith("No supply is planned")
    assert not page.looks.isVisible()
    box.click()
    page.refresh(bench)
    assert bench.current.supply is not None
    assert page.diagram.isVisible()


def test_three_ways_to_look_show_their_own(page, bench, qtbot):
    for place, shown, hidden in (
        (0, page.diagram, page.works),
        (1, page.tables["polarity"], page.diagram),
        (2, page.works, page.tables["polarity"]),
    ):
        qtbot.mouseClick(page.looks.buttons[place], Qt.MouseButton.LeftButton)
        assert shown.isVisible()
        assert not hidden.isVisible()


def test_a_finding_leads_to_its_field(page, bench, qtbot):
    bench.edit(("supply", "relays", 0, "suppressor"), "none")
    found = next(each for each in inspect(Analysis(bench.current)) if each.rule == "coil_bare")
    page.focus_field(found.path)
    focused = page.form.field_at(found.path)
    assert focused.objectName() == "suppressor"
    assert focused.currentText() == "nothing"
    assert focused.hasFocus()


def test_a_delay_moves_the_bars(page, bench, qtbot):
    qtbot.mouseClick(page.looks.buttons[2], Qt.MouseButton.LeftButton)
    before = page.sequence.bars.shapes
    typed(page, bench, qtbot, ("supply", "sequence", "transmit_s"), "40 ms")
    power = page.sequence.bars.shapes[-1]
    assert power != before[-1]
    assert power.points[0][0] == pytest.approx(40.0)


def test_the_circuit_is_drawn_with_every_part_and_follows_an_edit(page, bench, qtbot):
    qtbot.mouseClick(page.looks.buttons[3], Qt.MouseButton.LeftButton)
    page.settle(bench)
    page.schematic.grab()
    made = supply_soldered(bench.analysis)
    for row in made.parts:
        assert f">{row.ref}" in page.schematic.svg, row.ref
    for each in made.hanging:
        assert each.name.split()[0] in page.schematic.svg
    named = [page.parts.table.model().index(n, 0).data() for n in range(len(made.parts))]
    assert [each.split(" · ")[0] for each in named] == [row.ref for row in made.parts]
    assert "P6KE18A" not in page.schematic.svg
    choice = field(page, ("supply", "suppressor"), ChoiceBox)
    choice.setFocus()
    qtbot.keyClicks(choice, "P6")
    page.refresh(bench)
    page.settle(bench)
    page.schematic.grab()
    assert bench.current.supply.suppressor == "p6ke18a"
    assert "P6KE18A" in page.schematic.svg


@pytest.mark.parametrize(
    ("ref", "text", "path", "built"),
    [
        ("U1", "7.8 V", ("supply", "regulators", 0, "as_built"), {"regulator": 7.8}),
        ("CO1", "10u", ("supply", "regulators", 0, "as_built"), {"regulator_output": 10e-6}),
        ("CF", "1 mF", ("supply", "as_built"), {"smoothing": 1e-3}),
        ("QR1", "200m", ("supply", "as_built"), {"rail_switch:1": 0.2}),
        ("RK1", "5k6", ("supply", "relays", 0, "as_built"), {"relay_base": 5600.0}),
    ],
)
def test_what_was_fitted_is_typed_beside_what_was_asked(page, bench, qtbot, ref, text, path, built):
    qtbot.mouseClick(page.looks.buttons[3], Qt.MouseButton.LeftButton)
    model = page.parts.table.model()
    bench.changed.connect(lambda: page.refresh(bench))

    def last_cell():
        row = next(n for n in range(model.rowCount()) if model.index(n, 0).data().split(" · ")[0] == ref)
        return model.index(row, 3)

    def type_in(letters):
        page.parts.table.setCurrentIndex(last_cell())
        page.parts.table.edit(last_cell())
        edit = page.parts.table.findChildren(NumberField)[-1]
        edit.selectAll()
        qtbot.keyClick(edit, Qt.Key.Key_Delete)
        qtbot.keyClicks(edit, letters)
        qtbot.keyClick(edit, Qt.Key.Key_Return)
        qtbot.wait(1)

    type_in(text)
    assert dict(bench.current.at(path)) == built
    assert last_cell().data().replace("\u00a0", " ") == part_value(
        *built.values(), model.row(last_cell()).unit
    )
    type_in("")
    assert dict(bench.current.at(path)) == {}


def test_parts_without_a_value_are_told_and_not_typed(page, bench, qtbot):
    qtbot.mouseClick(page.looks.buttons[3], Qt.MouseButton.LeftButton)
    model = page.parts.table.model()
    named = {model.index(n, 0).data(): model.index(n, 3).flags() for n in range(model.rowCount())}
    assert not named["QK1 · 2N3904"] & Qt.ItemFlag.ItemIsEditable
    assert not named["D · 6A4"] & Qt.ItemFlag.ItemIsEditable
    assert named["U1 · 78L08"] & Qt.ItemFlag.ItemIsEditable


def test_in_a_small_window_nothing_of_it_is_cut(bench, on_screen, qtbot):
    """As wide as the page is between the form and the findings of a window 1280 wide."""
    page = on_screen(SupplyPage(bench), 632, 900)
    page.refresh(bench)
    last = page.looks.buttons[-1]
    assert last.mapTo(page, last.rect().topRight()).x() < page.width()
    assert all(each.width() >= each.minimumSizeHint().width() for each in page.looks.buttons)
    currents = page.tables["currents"]
    lines = {row[0]: n for n, row in enumerate(currents.texts())}
    # A current with its unit stands on one line.
    assert currents.texts()[lines["RF stage"]][3] == "18.7 mA"
    assert currents.rowHeight(lines["RF stage"]) == currents.rowHeight(lines["Driver"])
    qtbot.mouseClick(page.looks.buttons[1], Qt.MouseButton.LeftButton)
    assert page.tables["polarity"].horizontalScrollBar().maximum() == 0
