"""The list of findings: what is current stays current while its figures change its place."""

import pytest
from PySide6.QtCore import Qt

from app.panels.findings_panel import FindingsPanel
from app.state.workbench import Workbench
from app.window.refresh import Refresher


@pytest.fixture
def bench(muddle):
    return Workbench(muddle)


@pytest.fixture
def panel(bench, on_screen):
    view = on_screen(FindingsPanel(bench), 400, 700)
    refresher = Refresher(bench, view)
    refresher.add(view)
    refresher.now()
    return view


def heads(panel):
    model = panel.list.model()
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def row_of(panel, part):
    (row,) = [n for n, text in enumerate(heads(panel)) if part in text]
    return row


def test_a_finding_that_is_current_stays_so_when_its_figure_becomes_worse(qtbot, panel, bench):
    wants = "Mixer wants 7 dBm of drive"
    before = row_of(panel, wants)
    panel.list.setCurrentIndex(panel.list.model().index(before, 0))
    panel.list.setFocus()
    # Much further from what is wanted, it goes up among the cautions.
    bench.edit(("vfo", "output_dbm"), -20.0)
    qtbot.waitUntil(lambda: "gets −20 dBm" in heads(panel)[row_of(panel, wants)])
    now = row_of(panel, wants)
    assert now < before - 5
    assert panel.list.currentIndex().row() == now
    qtbot.keyClick(panel.list, Qt.Key.Key_Return)
    assert bench.selection == ("vfo",)


def test_the_worst_of_a_severity_stands_first(panel):
    told = [text for text in heads(panel) if "is only" in text and "dB down" in text]
    downs = [float(text.split(" is only ")[1].split(" dB")[0]) for text in told]
    assert downs == sorted(downs)
    assert len(downs) == 3
