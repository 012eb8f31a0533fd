"""A measured curve on screen: read with a button, laid over the computed one, its parts taken as built."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QFileDialog

from app.pages.stage import StagePage
from core.circuits.active.two_port import two_port
from core.model.values.notation import parse
from tests.published.reference import scattering
from tests.published.test_measured_curves import otherwise, value_of


@pytest.fixture
def stage_page(bench, on_screen):
    page = on_screen(StagePage(bench), 900, 900)
    bench.changed.connect(lambda: (page.refresh(bench), page.settle(bench)))
    bench.select(("stages", "low_pass"))
    page.refresh(bench)
    page.settle(bench)
    return page


def swept(bench, folder, shares, stage="low_pass", ends=(50.0, 50.0)):
    """A CSV of the stage's filter with parts off by shares."""
    design = bench.analysis.filter_design(stage, bench.look.band)
    values = {ref: value_of(design, ref) * (1 + share) for ref, share in shares.items()}
    f = np.linspace(*design.span_hz, 201)
    network = otherwise(design.network, values)
    network = type(network)(network.arms, *ends)
    db = 20 * np.log10(np.abs(scattering(network, f)[:, 1, 0]))
    file = folder / "swept.csv"
    rows = [f"{a:.0f};{b:.4f}" for a, b in zip(f, db, strict=True)]
    file.write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    return file, f, db


def choose(monkeypatch, file):
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(file), ""))


def test_a_curve_is_read_laid_over_told_taken_and_undone(qtbot, stage_page, bench, tmp_path, monkeypatch):
    view = stage_page.view
    assert view.measured_card.isHidden()
    least = view.least_height
    file, f, db = swept(bench, tmp_path, {"L2": -0.06})
    choose(monkeypatch, file)
    qtbot.mouseClick(view.read, Qt.MouseButton.LeftButton)
    assert view.measured_card.isVisible()
    assert view.least_height > least
    x, y = view.near.measured_line.getData()
    np.testing.assert_allclose(x, f / 1e6, rtol=1e-6)
    np.testing.assert_allclose(y, np.maximum(db, -140), atol=1e-3)
    view.near.labels.place()
    assert "measured" in view.near.labels.texts
    judged = view.measured.judged.text()
    assert judged.startswith("Within: loss in the pass-band up to ")
    assert "upper edge (−6 dB) at " in judged
    assert view.measured.told.text() == "L2 is about 6 % low; squeeze its turns together or wind one more."
    assert "swept.csv" in view.measured_card.note
    design = bench.analysis.filter_design("low_pass", bench.look.band)
    rows = {row[0]: row for row in view.measured.table.texts()}
    assert set(rows) == {part.ref for part in design.network.parts}
    value, interval = rows["L2"][2].split(" ± ")
    assert parse(value, "H") == pytest.approx(0.94 * value_of(design, "L2"), rel=0.01)
    assert parse(interval, "%") < 5
    assert rows["L2"][3].startswith("−")
    assert (rows["L2"][4], rows["L1"][4]) == ("yes", "no")
    # One action, one undo.
    before = bench.current
    qtbot.mouseClick(view.measured.take, Qt.MouseButton.LeftButton)
    built = dict(bench.current.stage("low_pass").filters[0].as_built)
    assert built["coil:2"] == pytest.approx(0.94 * value_of(design, "L2"), rel=0.002)
    assert view.measured.told.text().startswith("No part is off")
    bench.undo()
    assert bench.current == before
    assert view.measured.told.text().startswith("L2 is about 6 % low")
    qtbot.mouseClick(view.measured.remove, Qt.MouseButton.LeftButton)
    assert bench.current.measured == ()
    assert view.measured_card.isHidden()
    assert view.near.measured_line.getData()[0] is None or not len(view.near.measured_line.getData()[0])
    assert view.least_height == least


def test_what_it_tells_follows_the_design(qtbot, stage_page, bench, tmp_path, monkeypatch):
    file, *_ = swept(bench, tmp_path, {"L2": -0.06})
    choose(monkeypatch, file)
    qtbot.mouseClick(stage_page.view.read, Qt.MouseButton.LeftButton)
    bench.edit(("stages", "low_pass", "filters", 0, "cutoff_hz"), 25e6)
    words = stage_page.view.measured.told.text()
    assert words.startswith("No parts near their tolerances make this curve")
    assert not stage_page.view.measured.take.isEnabled()
    assert stage_page.view.measured.table.isHidden()
    bench.look_at_band("12m")
    assert stage_page.view.measured_card.isHidden(), "it is the curve of another filter of the stage"


def test_the_fixtures_resistances_are_typed(qtbot, stage_page, bench, tmp_path, monkeypatch):
    file, *_ = swept(bench, tmp_path, {"L2": -0.06}, ends=(200.0, 200.0))
    choose(monkeypatch, file)
    qtbot.mouseClick(stage_page.view.read, Qt.MouseButton.LeftButton)
    assert not stage_page.view.measured.told.text().startswith("L2 is about 6 % low")
    for field in stage_page.view.measured.fields.values():
        qtbot.keyClicks(field, "200")
        qtbot.keyClick(field, Qt.Key.Key_Return)
    assert bench.current.measured[0].load_ohm == 200.0
    assert stage_page.view.measured.told.text().startswith("L2 is about 6 % low; ")


def test_a_file_that_is_no_curve_is_told_and_changes_nothing(qtbot, stage_page, bench, tmp_path, monkeypatch):
    (tmp_path / "odd.csv").write_text("time;S21 (dB)\n1;-3\n2;-3")
    choose(monkeypatch, tmp_path / "odd.csv")
    before = bench.current
    with qtbot.waitSignal(bench.refused) as told:
        qtbot.mouseClick(stage_page.view.read, Qt.MouseButton.LeftButton)
    assert told.args[0].startswith("odd.csv: ")
    assert "frequency" in told.args[0]
    assert bench.current == before


def test_menu_and_drop_take_a_curve_of_the_filter_on_show(window, qtbot, tmp_path, monkeypatch):
    bench = window.bench
    action = next(
        each
        for menu in window.menuBar().actions()
        for each in menu.menu().actions()
        if each.text() == "Measured curve of this stage…"
    )
    action.trigger()
    assert "select one on the signal path" in window.statusBar().currentMessage()
    bench.select(("stages", "low_pass"))
    window.pages.show_page("Stage")
    window.refresher.now()
    file, *_ = swept(bench, tmp_path, {"L2": -0.06})
    choose(monkeypatch, file)
    action.trigger()
    window.refresher.now()
    assert [each.label for each in bench.current.measured] == ["swept.csv"]
    bench.undo()
    assert bench.current.measured == ()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(file))])
    no_keys, no_buttons = Qt.KeyboardModifier.NoModifier, Qt.MouseButton.NoButton
    window.dropEvent(QDropEvent(QPointF(5, 5), Qt.DropAction.CopyAction, data, no_buttons, no_keys))
    assert [each.label for each in bench.current.measured] == ["swept.csv"]


def test_an_amplifiers_curve_is_laid_over_its_gain_and_told(qtbot, bench, on_screen, tmp_path, monkeypatch):
    page = on_screen(StagePage(bench), 900, 1200)
    bench.changed.connect(lambda: (page.refresh(bench), page.settle(bench)))
    bench.select(("stages", "rf_stage"))
    for name, value in (("topology", "feedback_transformer"), ("gain_db", 12.0)):
        bench.edit(("stages", "rf_stage", name), value)
    page.refresh(bench)
    page.settle(bench)
    view = page.view
    assert view.measured_card.isHidden()
    circuit = bench.analysis.design("rf_stage", bench.look.band).circuit
    f = np.geomspace(1e6, 60e6, 201)
    wrong = next(b for b in circuit.branches if b.part.role == "degeneration")
    other = replace(wrong, part=replace(wrong.part, value=0.6 * wrong.part.value))
    branches = tuple(other if b is wrong else b for b in circuit.branches)
    db = two_port(replace(circuit, branches=branches), f).gain_db(50.0, 50.0)
    file = tmp_path / "gain.csv"
    rows = [f"{a:.0f};{b:.4f}" for a, b in zip(f, db, strict=True)]
    file.write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    choose(monkeypatch, file)
    qtbot.mouseClick(view.read, Qt.MouseButton.LeftButton)
    assert view.measured_card.isVisible()
    x, y = view.plot.measured.getData()
    np.testing.assert_allclose(x, f / 1e6, rtol=1e-6)
    np.testing.assert_allclose(y, db, atol=1e-3)
    told = view.measured.told.text()
    assert wrong.part.ref in told
    assert " low" in told
    assert any(row[0] == wrong.part.ref for row in view.measured.table.texts())
    # Its fit is taken as built, and undone.
    qtbot.mouseClick(view.measured.take, Qt.MouseButton.LeftButton)
    built = dict(bench.current.stage("rf_stage").as_built)
    assert len(built) > 3
    bench.undo()
    assert bench.current.stage("rf_stage").as_built == ()
    qtbot.mouseClick(view.measured.remove, Qt.MouseButton.LeftButton)
    assert view.measured_card.isHidden()
    assert view.plot.measured.getData()[0] is None or len(view.plot.measured.getData()[0]) == 0


@pytest.mark.parametrize(
    ("stage", "words"),
    [("mixer", "gain up to "), ("power_amplifier", "gain up to "), ("preamplifier", "gain up to ")],
)
def test_every_stage_takes_a_curve_and_has_a_verdict(
    qtbot, bench, on_screen, tmp_path, monkeypatch, stage, words
):
    page = on_screen(StagePage(bench), 900, 1500)
    bench.changed.connect(lambda: (page.refresh(bench), page.settle(bench)))
    bench.select(("stages", stage))
    page.refresh(bench)
    page.settle(bench)
    f = np.geomspace(20.0, 50e6, 801)
    file = tmp_path / "gain.csv"
    file.write_text("\n".join(["frequency (Hz);S21 (dB)", *(f"{each:.3f};-30" for each in f)]))
    choose(monkeypatch, file)
    qtbot.mouseClick(page.view.read, Qt.MouseButton.LeftButton)
    assert page.view.measured_card.isVisible()
    assert page.view.measured.judged.text().startswith(f"Out: {words}")
    assert "read the levels and voltages" in page.view.measured.told.text()
    assert not page.view.measured.take.isEnabled()
    qtbot.mouseClick(page.view.measured.remove, Qt.MouseButton.LeftButton)
    assert bench.current.measured == ()
