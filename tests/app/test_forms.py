"""Editors made from the model's fields, acted on as a builder does."""

from typing import get_args

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QLineEdit, QPushButton

from app.panels.field_rows import Row
from app.panels.forms import Form
from app.state.workbench import Workbench
from app.style import words
from app.widgets.number_field import NumberField
from core.circuits.ladder import solve
from core.model.bands import Band
from core.model.project import Project
from core.model.stages.kinds import STAGES
from core.model.stages.tank import Device, TuningCapacitor
from core.trade.devices import devices


def field(panel, name, kind=QLineEdit):
    """The visible widget of a kind that a field's name stands on."""
    return next(w for w in panel.findChildren(kind, name) if w.isVisible())


def shown_texts(panel):
    return [label.text() for label in panel.findChildren(QLabel) if label.isVisible()]


@pytest.mark.parametrize("kind", [*STAGES.values(), Project, Band], ids=lambda kind: kind.__name__)
def test_every_model_has_an_editor_with_help_on_every_field(bench, qtbot, kind):
    form = Form(kind, bench)
    qtbot.addWidget(form)
    kinds = (QLineEdit, QComboBox, QCheckBox)
    edits = [w for each in kinds for w in form.findChildren(each) if w.objectName()]
    assert edits
    for widget in edits:
        if not widget.objectName().startswith("qt_"):
            assert widget.toolTip(), widget.objectName()
            assert widget.accessibleName(), widget.objectName()


def test_the_rigs_own_settings_speak_of_no_filter(panel, bench):
    bench.select(())
    panel.refresh(bench)
    assert not [text for text in shown_texts(panel) if "filter" in text.lower()]


def test_no_choice_shows_a_word_of_the_file():
    for kind in STAGES.values():
        for name, stage_field in kind.model_fields.items():
            if name == "kind":
                continue
            for value in get_args(stage_field.annotation):
                if isinstance(value, str):
                    assert "_" not in words.choice(value)


def test_a_row_without_what_it_must_say_is_refused_when_it_is_made(bench):
    class Silent(Row):
        def make(self):
            return QLineEdit()

    with pytest.raises(TypeError, match="show_value"):
        Silent(None, "name", Band.model_fields["name"])


def test_a_quantity_is_typed_with_its_unit(panel, bench, qtbot):
    bench.select(("stages", "ladder"))
    panel.refresh(bench)
    width = field(panel, "bandwidth_hz")
    assert width.text() == "2.4 kHz"
    width.setFocus()
    width.selectAll()
    qtbot.keyClicks(width, "2,7k")
    qtbot.keyClick(width, Qt.Key.Key_Return)
    assert bench.current.stage("ladder").bandwidth_hz == 2700
    bench.undo()
    panel.refresh(bench)
    assert width.text() == "2.4 kHz"


def test_a_wrong_number_is_marked_inline_with_the_reason(panel, bench, qtbot):
    bench.select(("stages", "ladder"))
    panel.refresh(bench)
    poles, before = field(panel, "poles"), bench.current.stage("ladder").poles
    poles.setFocus()
    poles.selectAll()
    qtbot.keyClicks(poles, "40")
    qtbot.keyClick(poles, Qt.Key.Key_Return)
    assert bench.current.stage("ladder").poles == before
    assert poles.property("wrong") is True
    reason = next(text for text in shown_texts(panel) if text.startswith("Poles:"))
    assert "12" in reason
    qtbot.keyClick(poles, Qt.Key.Key_Escape)
    assert poles.text() == str(before)
    assert not any(text.startswith("Poles:") for text in shown_texts(panel))


def test_a_choice_is_spelled_out_and_chosen(panel, bench, qtbot):
    bench.select(("stages", "mixer"))
    panel.refresh(bench)
    kind = field(panel, "type", QComboBox)
    assert kind.currentText() == "four-diode ring"
    kind.setFocus()
    qtbot.keyClick(kind, Qt.Key.Key_Up)
    assert bench.current.stage("mixer").type == "two_diode"


def test_a_switch_takes_a_stage_out_of_the_path(panel, bench, qtbot):
    bench.select(("stages", "rf_stage"))
    panel.refresh(bench)
    box = field(panel, "in_path", QCheckBox)
    assert box.isChecked()
    qtbot.mouseClick(box, Qt.MouseButton.LeftButton, pos=box.rect().center() - box.rect().center() / 2)
    assert not bench.current.stage("rf_stage").in_path


def test_an_empty_figure_means_typical_and_a_reading_replaces_it(panel, bench, qtbot):
    bench.select(("stages", "mixer"))
    panel.refresh(bench)
    gain = field(panel, "gain_db")
    assert gain.text() == ""
    assert gain.placeholderText() == "as below"
    gain.setFocus()
    qtbot.keyClicks(gain, "-7")
    qtbot.keyClick(gain, Qt.Key.Key_Return)
    assert bench.current.stage("mixer").gain_db == -7
    assert gain.text() == "−7 dB"


def test_the_filter_shown_is_that_of_the_band_looked_at(panel, bench, qtbot):
    bench.select(("stages", "low_pass"))
    panel.refresh(bench)
    assert "Filter for 20\u00a0m" in shown_texts(panel)
    order = field(panel, "order")
    bench.look_at_band("12m")
    panel.refresh(bench)
    assert "Filter for 12\u00a0m" in shown_texts(panel)
    assert field(panel, "order") is order, "the widgets stay"
    order.setFocus()
    order.selectAll()
    qtbot.keyClicks(order, "5")
    qtbot.keyClick(order, Qt.Key.Key_Return)
    assert [f.order for f in bench.current.stage("low_pass").filters] == [7, 5]


def test_bands_are_ticked_and_a_missing_filter_is_offered(panel, bench, qtbot):
    bench.select(("stages", "low_pass"))
    panel.refresh(bench)
    bands = next(w for w in panel.findChildren(QCheckBox) if w.text() == "20\u00a0m" and w.isVisible())
    bands.click()
    assert bench.current.stage("low_pass").filters[0].bands == ()
    panel.refresh(bench)
    assert any("No filter of this stage serves" in text for text in shown_texts(panel))
    buttons = panel.findChildren(QPushButton)
    add = next(b for b in buttons if b.isVisible() and b.text().startswith("Add a filter"))
    add.click()
    assert bench.current.stage("low_pass").filters[-1].bands == ("20m",)
    panel.refresh(bench)
    assert field(panel, "order").isVisible()


def test_an_optional_model_can_be_ticked_away_and_back(panel, bench, qtbot):
    bench.select(("stages", "ladder"))
    bench.edit(("stages", "ladder", "crystal", "motional_inductance_h"), 4e-3)
    panel.refresh(bench)
    box = next(w for w in panel.findChildren(QCheckBox) if w.text() == "Crystals" and w.isVisible())
    box.click()
    assert bench.current.stage("ladder").crystal is None
    panel.refresh(bench)
    assert not any(w.isVisible() for w in panel.findChildren(QLineEdit, "motional_inductance_h"))
    box.click()
    assert bench.current.stage("ladder").crystal.motional_inductance_h == 4e-3


def test_frequencies_on_hand_take_a_decimal_comma(panel, bench, qtbot):
    crystals = field(panel, "crystals_hz")
    crystals.setFocus()
    qtbot.keyClicks(crystals, "9 MHz; 19,6608M")
    qtbot.keyClick(crystals, Qt.Key.Key_Return)
    assert bench.current.junk_box.crystals_hz == (9e6, 19.6608e6)
    crystals.selectAll()
    qtbot.keyClicks(crystals, "nine")
    qtbot.keyClick(crystals, Qt.Key.Key_Return)
    assert crystals.property("wrong") is True
    assert bench.current.junk_box.crystals_hz == (9e6, 19.6608e6)


def test_capacitors_on_hand_are_typed_with_their_unit_and_make_the_ladder(panel, bench, qtbot):
    capacitors = field(panel, "capacitors_f")
    capacitors.setFocus()
    qtbot.keyClicks(capacitors, "150p; 160 pF; 220p;0,56 nF; 470p")
    qtbot.keyClick(capacitors, Qt.Key.Key_Return)
    on_hand = bench.current.junk_box.capacitors_f
    assert on_hand == pytest.approx((150e-12, 160e-12, 220e-12, 560e-12, 470e-12))
    bench.select(("stages", "ladder"))
    panel.refresh(bench)
    box = field(panel, "capacitors", QComboBox)
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_End)
    assert box.currentText() == "junk box"
    assert bench.current.stage("ladder").capacitors == "junk_box"
    rows = bench.analysis.filter_design("ladder", "20m").parts
    assert {row.fitted for row in rows if row.kind == "capacitor"} <= set(on_hand)


def test_the_form_of_a_kind_is_kept(panel, bench):
    bench.select(("stages", "if_amplifier_1"))
    panel.refresh(bench)
    form, gain = panel.form, field(panel, "gain_db")
    assert gain.text() == "16 dB"
    bench.select(("stages", "if_amplifier_2"))
    panel.refresh(bench)
    assert panel.form is form
    assert field(panel, "gain_db") is gain
    assert gain.text() == "20 dB"


def test_a_place_gets_the_focus(panel, bench, qtbot):
    qtbot.waitExposed(panel)
    panel.activateWindow()
    for path, name in (
        (("stages", "ladder", "crystal", "quality_factor"), "quality_factor"),
        (("stages", "low_pass", "filters", 1, "coil_q"), "coil_q"),
        (("bands", "20m", "high_hz"), "high_hz"),
        (("station", "power_w"), "power_w"),
        (("vfo", "second_harmonic_dbc"), "second_harmonic_dbc"),
    ):
        bench.jump(path, "12m" if "filters" in path else None)
        panel.focus(path)
        assert panel.focusWidget() is not None
        assert panel.focusWidget().objectName() == name


def test_a_reading_typed_as_built_replaces_one_value(panel, bench, qtbot):
    bench.select(("stages", "ladder"))
    panel.refresh(bench)
    table = panel.parts.table
    refs = [table.model().index(row, 0).data() for row in range(table.model().rowCount())]
    index = table.model().index(refs.index("C2"), 3)
    table.setCurrentIndex(index)
    table.edit(index)
    editor = next(w for w in table.findChildren(NumberField) if w.isVisible())
    qtbot.keyClicks(editor, "x")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert editor.isVisible(), "what is wrong stays to be mended"
    assert bench.current.stage("ladder").as_built == ()
    editor.selectAll()
    qtbot.keyClicks(editor, "61.5")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert dict(bench.current.stage("ladder").as_built) == {"coupling:2": pytest.approx(61.5e-12)}
    panel.refresh(bench)
    assert index.data() == "61.5 pF"


def test_the_held_design_is_compared_in_figures(panel, bench):
    same, waiting = "No figure differs from the held design.", "Held against now: comparing…"
    bench.hold()
    panel.refresh(bench)
    assert same not in shown_texts(panel), "nobody has compared them"
    assert waiting in shown_texts(panel)
    panel.settle(bench)
    assert same in shown_texts(panel)
    assert "Held against now" in shown_texts(panel)
    bench.edit(("if_hz",), 19.664e6)
    panel.refresh(bench)
    assert same not in shown_texts(panel), "the IF does"
    assert waiting in shown_texts(panel)
    panel.settle(bench)
    assert waiting not in shown_texts(panel)
    rows = {row.name: (row.held, row.now) for row in panel.differences.rows}
    assert rows["IF"] == ("19.660\u202f8", "19.664 MHz")
    bench.clear_hold()
    panel.refresh(bench)
    assert not panel.differences.isVisibleTo(panel)


def test_held_against_now_is_in_sight_however_long_the_editor_is(panel, bench, qtbot):
    bench.select(("vfo",))
    panel.resize(320, 420)
    panel.show()
    panel.refresh(bench)
    bench.hold()
    bench.edit(("if_hz",), 19.664e6)
    panel.refresh(bench)
    panel.settle(bench)
    qtbot.wait(1)
    title = next(label for label in panel.findChildren(QLabel) if label.text() == "Held against now")
    assert not title.visibleRegion().isEmpty()
    first = next(label for label in panel.differences.findChildren(QLabel) if label.text() == "IF")
    assert not first.visibleRegion().isEmpty()
    # The editor itself keeps more than half of the height.
    assert panel.form.visibleRegion().boundingRect().height() > 150


def test_only_what_the_vfos_device_has_is_asked_for(panel, bench):
    bench.select(("vfo",))
    panel.refresh(bench)
    assert devices()["j310"].kind == "jfet"
    for device in get_args(Device):
        bench.edit(("vfo", "tank", "feedback", "device"), device)
        panel.refresh(bench)
        jfet = devices()[device].kind == "jfet"
        for name, asked in (("gate_ohm", jfet), ("saturation_a", jfet), ("base_upper_ohm", not jfet)):
            field = panel.form.field_at(("tank", "feedback", name))
            assert field.isVisibleTo(panel) == asked, (device, name)


def served(panel):
    return {
        box.accessibleName().removeprefix("Serves bands "): box
        for box in panel.findChildren(QCheckBox)
        if box.isVisible() and box.accessibleName().startswith("Serves bands ")
    }


def test_a_new_band_is_offered_to_the_filter_on_show(panel, bench):
    bench.select(("stages", "low_pass"))
    panel.refresh(bench)
    assert list(served(panel)) == ["20\u00a0m", "12\u00a0m"]
    band = Band(name="15m", low_hz=21.15e6, high_hz=21.45e6, scheme="sum")
    bench.change(lambda project: project.edited(("bands",), (*project.bands, band)), label="a band")
    panel.refresh(bench)
    assert list(served(panel)) == ["20\u00a0m", "12\u00a0m", "15\u00a0m"]


def test_a_wide_filter_for_two_bands_and_a_bank_of_one_for_each(panel, bench, qtbot):
    band = Band(name="17m", low_hz=18.068e6, high_hz=18.168e6, scheme="sum")
    bench.change(lambda project: project.edited(("bands",), (*project.bands, band)), label="a band")
    bench.select(("stages", "band_pass"))
    bench.look_at_band("20m")
    panel.refresh(bench)
    served(panel)["17\u00a0m"].click()
    panel.refresh(bench)

    def typed(name, text):
        widget = field(panel, name)
        widget.setFocus()
        widget.selectAll()
        qtbot.keyClicks(widget, text)
        qtbot.keyClick(widget, Qt.Key.Key_Return)
        panel.refresh(bench)

    typed("bandwidth_hz", "5.5M")
    wide = bench.analysis.filter_design("band_pass", "20m")
    assert bench.analysis.filter_design("band_pass", "17m") is wide
    assert bench.current.stage("band_pass").filters[0].bands == ("20m", "17m")
    dials = [np.linspace(each.low_hz, each.high_hz, 9) for each in map(bench.current.band, ("20m", "17m"))]
    loss = solve(wide.network, np.concatenate(dials)).loss_db
    assert loss.max() < 2.5
    figures = bench.analysis.filter_figures("band_pass", "17m")
    assert figures.served_loss_db == pytest.approx(loss.max(), abs=0.02)
    # A bank: the second band gets a filter of its own, and each is tuned to its band.
    served(panel)["17\u00a0m"].click()
    typed("bandwidth_hz", "640k")
    bench.look_at_band("17m")
    panel.refresh(bench)
    buttons = (b for b in panel.findChildren(QPushButton) if b.isVisible())
    next(b for b in buttons if b.text().startswith("Add a filter")).click()
    panel.refresh(bench)
    assert bench.current.stage("band_pass").filters[-1].bands == ("17m",)
    for name, at, other in (("20m", 14.2e6, 18.1e6), ("17m", 18.1e6, 14.2e6)):
        network = bench.analysis.filter_design("band_pass", name).network
        passed, stopped = solve(network, np.array([at, other])).loss_db
        assert passed < 6
        assert stopped > passed + 25
    assert "Filter for 17\u00a0m" in shown_texts(panel)


def test_a_tick_that_is_refused_is_taken_back(panel, bench, monkeypatch):
    bench.select(("stages", "low_pass"))
    panel.refresh(bench)
    monkeypatch.setattr(bench, "edit", lambda *_: "No such design.")
    for box in (served(panel)["12\u00a0m"], field(panel, "in_path", QCheckBox)):
        before = box.isChecked()
        box.click()
        assert box.isChecked() == before


def test_a_measured_tuning_table_is_typed_in_a_line(qtbot, qapp, tern):
    bench = Workbench(tern)
    form = Form(TuningCapacitor, bench)
    qtbot.addWidget(form)
    path = ("vfo", "tank", "variable")
    form.show_model(bench.current.at(path), path)
    form.show()
    field = form.field_at(("table",))
    assert field.text() == ""
    for typed, reason in (
        ("0 100p; 50 lots", "“50 lots” is no entry of a measured table; write pairs like 50 48p."),
        ("0 100p; 150 10p", "Travel: must be at most 100 %."),
    ):
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, typed)
        qtbot.keyClick(field, Qt.Key.Key_Return)
        assert field.property("wrong") is True
        assert reason in field.toolTip()
        assert bench.current == tern
        assert field.text() == typed, "it can be mended"
    field.selectAll()
    qtbot.keyClicks(field, "0 100p; 12,5 92,5 pF;100 10p;")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    table = bench.current.vfo.tank.variable.table
    assert [(each.travel, each.capacitance_f) for each in table] == [
        (0.0, 100e-12),
        (0.125, 92.5e-12),
        (1.0, 10e-12),
    ]
    form.show_model(bench.current.at(path), path)
    assert field.text() == "0 100 pF; 12.5 92.5 pF; 100 10 pF"
    bench.edit((*path, "law"), "table")
    assert bench.edit((*path, "table"), table[1:]) == (
        "the measured table must run from 0 to 100 with falling capacitances."
    )
    bench.undo()
    bench.undo()
    assert bench.current == tern
