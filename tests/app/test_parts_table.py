"""The column of values as built, typed into as a builder does."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit

from app.panels.parts_table import PartsTable
from app.pictures.panels.parts import AS_BUILT
from app.widgets.number_field import NumberField
from core.model.bench import CrystalBatch, Sweep
from core.model.readings import readings_of
from core.rig import bag
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.bench.crystal_bench import batch_of
from core.rig.rules import inspect
from core.stages.filters.asked_ladder import AskedLadder
from tests.published.test_crystals import sweep


@pytest.fixture
def parts(bench, on_screen):
    return on_screen(PartsTable(bench), 330, 700)


def refs(view):
    model = view.table.model()
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def cells(view, ref):
    """All four cells of a part as shown."""
    model = view.table.model()
    return [model.index(refs(view).index(ref), column).data() for column in range(4)]


def type_into(view, bench, qtbot, ref, text):
    """Open the last cell of a part, type, and press Enter."""
    index = view.table.model().index(refs(view).index(ref), AS_BUILT)
    view.table.setCurrentIndex(index)
    view.table.edit(index)
    field = view.table.indexWidget(index) or view.table.findChildren(NumberField)[-1]
    edit = field if isinstance(field, QLineEdit) else field.findChild(QLineEdit)
    edit.selectAll()
    qtbot.keyClick(edit, Qt.Key.Key_Delete)
    qtbot.keyClicks(edit, text)
    qtbot.keyClick(edit, Qt.Key.Key_Return)
    qtbot.wait(1)  # The window refreshes once the events of this turn are done.
    view.refresh(bench)


def test_a_crystal_is_not_given_picofarads(parts, bench, qtbot):
    bench.select(("stages", "ladder"))
    parts.refresh(bench)
    said = []
    bench.refused.connect(said.append)
    type_into(parts, bench, qtbot, "X1", "123p")
    assert bench.current.stage("ladder").as_built == ()
    assert any("X1" in sentence for sentence in said)


def test_values_of_cleared_poles_can_be_cleared(parts, bench, qtbot):
    bench.edit(("stages", "ladder", "poles"), 10)
    bench.edit(
        ("stages", "ladder", "as_built"),
        {"crystal:9": 19.6609e6, "crystal:9.lm": 5e-3, "coupling:1": 100e-12},
    )
    bench.select(("stages", "ladder"))
    parts.refresh(bench)
    assert "X9.lm" not in refs(parts)
    bench.edit(("stages", "ladder", "poles"), 8)
    parts.refresh(bench)
    finding = next(f for f in inspect(bench.analysis) if f.rule == "as_built_unused")
    assert "X9, X9.lm" in finding.text
    assert refs(parts)[-2:] == ["X9", "X9.lm"]
    assert cells(parts, "X9.lm") == ["X9.lm", "", "", "5 mH"]
    for ref in ("X9", "X9.lm"):
        type_into(parts, bench, qtbot, ref, "")
    assert bench.current.stage("ladder").as_built == (("coupling:1", 100e-12),)
    assert "X9" not in refs(parts)
    assert "as_built_unused" not in [f.rule for f in inspect(bench.analysis)]


def test_the_tanks_idle_values_are_told_and_cleared_too(parts, bench, qtbot):
    bench.edit(("vfo", "tank", "as_built"), {"shift:40m": 1e-9})
    bench.select(("vfo",))
    parts.refresh(bench)
    finding = next(f for f in inspect(bench.analysis) if f.rule == "as_built_unused")
    assert finding.text == "The VFO has as-built values for CB40m, which it does not have now."
    assert finding.path == ("vfo", "tank")
    type_into(parts, bench, qtbot, "CB40m", "")
    assert bench.current.vfo.tank.as_built == ()


def test_values_of_a_design_that_cannot_be_made_can_still_be_cleared(parts, bench, qtbot):
    bench.edit(("stages", "ladder", "as_built"), {"coupling:1": 100e-12})
    bench.edit(("stages", "ladder", "crystal"), None)
    bench.select(("stages", "ladder"))
    parts.refresh(bench)
    assert refs(parts) == ["C1"]
    assert parts.table.isVisible()
    type_into(parts, bench, qtbot, "C1", "")
    assert bench.current.stage("ladder").as_built == ()
    assert not parts.table.isVisible()


def test_each_place_names_the_measured_crystal_that_stands_there(parts, bench, qtbot, tern):
    bench.start(tern)
    rows = crystal_bench.batch_of(tern.crystal_batch)
    placement = crystals_in_ladder.place(rows, AskedLadder(bench.analysis.ladder, tern.if_hz))
    bench.change(lambda rig: crystals_in_ladder.fit_in(rig, "ladder", rows, placement), label="placing")
    bench.select(("stages", "ladder"))
    parts.refresh(bench)
    assert refs(parts)[:8] == [f"{each.ref} · {each.label}" for each in placement.placed]
    told = parts.table.model().index(0, 0).data(Qt.ItemDataRole.ToolTipRole)
    assert f"Crystal {placement.placed[0].label} of the batch." in told
    # A value of one's own is no crystal of the batch; the others keep their names.
    type_into(parts, bench, qtbot, f"X1 · {placement.placed[0].label}", "19.66012M")
    assert refs(parts)[:2] == ["X1", f"X2 · {placement.placed[1].label}"]
    bench.edit(("crystal_batch", "readings"), ())
    parts.refresh(bench)
    assert refs(parts)[:2] == ["X1", "X2"]


def test_nobody_waits_for_the_sweeps_of_a_ladders_crystals(window, tern, qtbot):
    f, s21 = sweep(801, noise_db=41)
    level = tuple((20 * np.log10(abs(s21))).tolist())
    swept = tuple(Sweep.checked(label=f"x{n}", f_hz=tuple((f + n).tolist()), s21_db=level) for n in range(12))
    batch = CrystalBatch.checked(
        method="sweep",
        readings=readings_of("label;file\n" + "".join(f"{n};x{n}\n" for n in range(12))),
        sweeps=swept,
    )
    found = [row.parameters for row in batch_of(batch)]
    built = {"crystal:1": found[3].fs_hz, "crystal:1.lm": found[3].lm_h}
    for known in (crystal_bench._fitted, bag._read):
        known._found.clear()
    rig = tern.edited(("crystal_batch",), batch).edited(("stages", "ladder", "as_built"), built)
    window.bench.start(rig, None)
    window.bench.select(("stages", "ladder"))
    window.refresher.now()
    assert cells(window.editor.parts, "X1 · being fitted")[0] == "X1 · being fitted"
    assert bag.unfitted(batch) == 12
    qtbot.waitUntil(lambda: "X1 · 3" in refs(window.editor.parts))
    assert bag.unfitted(batch) == 0
