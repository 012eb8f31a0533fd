"""The junk box's page, acted on as a builder does."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from app.pages.notebook import own_list
from app.pages.notebook.junk_box import JunkBoxPage
from app.pages.notebook.own_list import begun_with, own_file
from app.panels.forms import Form
from core.model.notebook.junk_box import CapacitorOnHand, CrystalOnHand, JunkBox, VariableOnHand
from tests.app.acting import open_field, type_over


@pytest.fixture
def page(bench, on_screen, monkeypatch, tmp_path):
    # One's own list is a file of the user, which other tests at the same time would see.
    monkeypatch.setattr(own_list, "data_folder", lambda: tmp_path)
    bench.edit(("junk_box", "parts"), ())
    page = on_screen(JunkBoxPage(bench), 900, 600)
    bench.changed.connect(lambda: page.refresh(bench))
    page.refresh(bench)
    return page


def parts(bench):
    return bench.current.junk_box.parts


def add(page, kind):
    next(each for each in page.add.menu().actions() if each.text() == kind).trigger()


def typed(page, qtbot, text):
    type_over(page.table, qtbot, text)


def test_a_part_is_added_and_typed_in(page, bench, qtbot):
    add(page, "Capacitor")
    typed(page, qtbot, "2n2")
    assert parts(bench) == (CapacitorOnHand(capacitance_f=2.2e-9),)
    # A bare number is in the unit that such values are written in; a decimal comma is one.
    page.table.type_in(0, 1)
    typed(page, qtbot, "6,8")
    page.table.type_in(0, 4)
    typed(page, qtbot, "12")
    page.table.type_in(0, 3)
    typed(page, qtbot, "silver mica")
    assert parts(bench) == (CapacitorOnHand(capacitance_f=6.8e-12, type="silver_mica", count=12),)
    assert page.table.texts() == [["capacitor", "6.8 pF", "", "silver mica", "12", "0", ""]]
    add(page, "Variable capacitor")
    typed(page, qtbot, "5p")
    page.table.type_in(1, 2)
    typed(page, qtbot, "60p")
    assert parts(bench)[1] == VariableOnHand(low_f=5e-12, high_f=60e-12)
    bench.undo()
    assert parts(bench)[1] == VariableOnHand(low_f=5e-12)


def test_what_is_refused_is_told_and_stays_as_it_was(page, bench, qtbot):
    add(page, "Crystal")
    typed(page, qtbot, "9 pF")
    assert parts(bench) == (CrystalOnHand(),)
    assert page.told.isVisible()
    assert "is not a value in Hz" in page.told.text()
    page.table.type_in(0, 4)
    typed(page, qtbot, "many")
    assert "many is no whole number of pieces" in page.told.text()
    page.table.type_in(0, 4)
    typed(page, qtbot, "7")
    assert not page.told.isVisible()
    assert parts(bench) == (CrystalOnHand(count=7),)


def test_what_the_rig_takes_is_told(page, bench, qtbot):
    ladder = bench.current.stage("ladder")
    add(page, "Crystal")
    typed(page, qtbot, f"{bench.current.if_hz / 1e6} MHz")
    page.table.type_in(0, 4)
    typed(page, qtbot, "20")
    assert int(page.table.texts()[0][5]) >= ladder.poles
    assert f" {page.table.texts()[0][5]} are on hand." in page.summary.text()


def test_a_line_goes_by_key_and_by_button_and_comes_back(page, bench, qtbot):
    for kind in ("Core", "Relay", "Wire"):
        add(page, kind)
        qtbot.keyClick(open_field(page.table), Qt.Key.Key_Escape)
    page.table.pick(1)
    qtbot.keyClick(page.table, Qt.Key.Key_Delete)
    assert [each.kind for each in parts(bench)] == ["core", "wire"]
    page.table.pick(0)
    qtbot.mouseClick(page.remove, Qt.MouseButton.LeftButton)
    assert [each.kind for each in parts(bench)] == ["wire"]
    bench.undo()
    bench.undo()
    assert [each.kind for each in parts(bench)] == ["core", "relay", "wire"]


def test_a_table_comes_in_and_goes_out(page, bench, qtbot, tmp_path, monkeypatch):
    table = tmp_path / "mine.csv"
    table.write_text(
        "\ufeffkind;value;to;type;count;note\ncapacitor;8,2 pF;;C0G;3;\ncoil;1 µH;;;1;\ncore;;;T50-6;4;\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(table), ""))
    qtbot.mouseClick(page.bring, Qt.MouseButton.LeftButton)
    assert [each.kind for each in parts(bench)] == ["capacitor", "core"]
    assert page.told.text().splitlines()[0] == "2 parts were read and 1 line not:"
    assert page.told.text().splitlines()[1].startswith("Line 3: coil is no kind of part; write one of")
    # What is there already gets the count of the table.
    table.write_text("kind,value,count\ncapacitor,8.2 pF,9\n", encoding="utf-8")
    qtbot.mouseClick(page.bring, Qt.MouseButton.LeftButton)
    assert [each.count for each in parts(bench)] == [9, 4]
    assert not page.told.isVisible()
    out = tmp_path / "out.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(out), ""))
    qtbot.mouseClick(page.send, Qt.MouseButton.LeftButton)
    kept = parts(bench)
    bench.edit(("junk_box", "parts"), ())
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(out), ""))
    qtbot.mouseClick(page.bring, Qt.MouseButton.LeftButton)
    assert parts(bench) == kept


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"part,value\nC,1 pF\n", "bad.csv: The table lacks the column kind"),
        (b"\xff\xfe\x00kind", "bad.csv is not a text file in UTF-8"),
        (b"", "bad.csv: The table is empty"),
    ],
)
def test_what_is_no_table_is_one_sentence(page, bench, qtbot, tmp_path, monkeypatch, content, reason):
    table = tmp_path / "bad.csv"
    table.write_bytes(content)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(table), ""))
    before = bench.current
    qtbot.mouseClick(page.bring, Qt.MouseButton.LeftButton)
    assert page.told.text().startswith(reason)
    assert bench.current is before


def test_ones_own_list_is_kept_and_taken(page, bench, qtbot):
    qtbot.mouseClick(page.take_own, Qt.MouseButton.LeftButton)
    assert page.told.text() == "There are no parts in that list."
    add(page, "Core")
    qtbot.keyClick(open_field(page.table), Qt.Key.Key_Escape)
    qtbot.mouseClick(page.keep_own, Qt.MouseButton.LeftButton)
    assert own_file().read_text(encoding="utf-8").splitlines()[1] == "core,,,T50-6,1,"
    kept = parts(bench)
    bench.edit(("junk_box", "parts"), ())
    qtbot.mouseClick(page.take_own, Qt.MouseButton.LeftButton)
    assert parts(bench) == kept


def test_the_switch_is_the_designs_and_can_be_undone(page, bench, qtbot):
    assert not page.first.isChecked()
    qtbot.mouseClick(page.first, Qt.MouseButton.LeftButton)
    assert bench.current.junk_box.first
    bench.undo()
    assert not page.first.isChecked()


def test_a_new_rig_begins_with_ones_own_list(page, bench, qtbot):
    assert begun_with(JunkBox(crystals_hz=(9e6,))) == JunkBox(crystals_hz=(9e6,))
    add(page, "Core")
    qtbot.keyClick(open_field(page.table), Qt.Key.Key_Escape)
    qtbot.mouseClick(page.keep_own, Qt.MouseButton.LeftButton)
    assert begun_with(JunkBox(crystals_hz=(9e6,))).parts == parts(bench)
    counted = JunkBox(parts=(CrystalOnHand(),))
    assert begun_with(counted) is counted
    own_file().write_bytes(b"\xff\xfe")
    assert begun_with(JunkBox()) == JunkBox()


def test_crystals_in_the_junk_box_are_typed_in_megahertz(qtbot, bench):
    form = Form(JunkBox, bench)
    qtbot.addWidget(form)
    form.show()
    form.show_model(bench.current.junk_box, ("junk_box",))
    crystals, capacitors = form.field_at(("crystals_hz",)), form.field_at(("capacitors_f",))
    qtbot.keyClicks(crystals, "9; 4915.2 kHz; 10.24")
    qtbot.keyClick(crystals, Qt.Key.Key_Return)
    assert bench.current.junk_box.crystals_hz == pytest.approx((9e6, 4.9152e6, 10.24e6))
    qtbot.keyClicks(capacitors, "82; 1n; 150")
    qtbot.keyClick(capacitors, Qt.Key.Key_Return)
    assert bench.current.junk_box.capacitors_f == pytest.approx((82e-12, 1e-9, 150e-12))
