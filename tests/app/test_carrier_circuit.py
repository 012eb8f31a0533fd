"""A crystal oscillator of parts in the window: ticked, as built, its schematic, and the helper's card."""

import pytest
from PySide6.QtWidgets import QCheckBox

from app.pages.board_plan import BoardPlanPage
from app.pages.read_out import ReadOutPage
from app.pages.stage import StagePage
from app.panels.editor_panel import EditorPanel
from app.panels.parts_table import PartsTable
from app.state.settings import Settings
from app.state.workbench import Workbench
from core.model.stages.oscillators import CrystalCircuit, HelperOscillator
from tests.app.test_parts_table import cells, type_into


@pytest.fixture
def bench(qapp, muddle):
    """A rig of both sidebands whose oscillators are blocks."""
    return Workbench(muddle)


@pytest.fixture
def page(bench, on_screen):
    page = on_screen(StagePage(bench), 900, 900)
    bench.select(("carrier",))
    page.refresh(bench)
    return page


def texts(page):
    return {row[0]: row[1:] for row in page.view.table.texts()}


def test_a_tick_builds_it_of_parts(page, bench, on_screen):
    page.view.looks.buttons[1].click()
    assert "is a block of figures" in page.view.reason.text()
    assert page.view.schematic.isHidden()
    assert "oscillates at" not in texts(page)
    editor = on_screen(EditorPanel(bench), 340, 900)
    editor.refresh(bench)
    box = next(w for w in editor.findChildren(QCheckBox) if w.text() == "Circuit" and w.isVisible())
    box.click()
    assert bench.current.carrier.circuit == CrystalCircuit()
    page.refresh(bench)
    page.settle(bench)
    # Where the plan of the rig has its carriers, lower and upper sideband.
    wanted = [f"{each.place.frequency_hz / 1e6:.6f} MHz" for each in bench.analysis.carriers]
    assert texts(page)["oscillates at"] == wanted
    assert len(set(wanted)) == 2
    assert texts(page)["beside what is asked"] == ["0 Hz", "0 Hz"]
    assert not page.view.schematic.isHidden()
    assert page.view.reason.isHidden()
    refs = {part.ref for part in page.view.schematic.shown_picture.parts}
    assert {"X1", "Q1", "Q2", "CTupper", "CTlower"} <= refs
    drive = [row for row in page.view.drive.texts() if row[0].startswith("Detector")]
    assert drive[0][2] == "+7 dBm"
    bench.edit(("carrier", "circuit", "as_built"), {"degeneration": 60.0})
    page.refresh(bench)
    drive = [row for row in page.view.drive.texts() if row[0].startswith("Detector")]
    assert drive[0][2] == f"{bench.analysis.carrier_circuit.level_dbm:+.0f} dBm".replace("-", "−")
    assert bench.analysis.carrier_circuit.level_dbm < 0


def test_a_part_as_built_moves_the_frequency(page, bench, on_screen, qtbot):
    bench.edit(("carrier", "circuit"), CrystalCircuit())
    parts = on_screen(PartsTable(bench), 330, 700)
    parts.refresh(bench)
    assert cells(parts, "Q1")[0] == "Q1"
    assert cells(parts, "CTupper")[1] == "42.08 pF"
    type_into(parts, bench, qtbot, "CTupper", "30p")
    assert dict(bench.current.carrier.circuit.as_built) == {"trimmer:upper": 30e-12}
    page.refresh(bench)
    lower, upper = texts(page)["beside what is asked"]
    assert lower == "0 Hz"
    assert upper.startswith("+")
    assert float(upper.removeprefix("+").removesuffix(" Hz").replace("\u202f", "")) > 500


def test_its_board_is_that_of_what_is_selected(bench, on_screen):
    page = on_screen(BoardPlanPage(bench, Settings()), 900, 600)
    bench.select(("carrier",))
    page.refresh(bench)
    assert "is a block of figures without parts" in page.sentence.text()
    bench.edit(("carrier", "circuit"), CrystalCircuit())
    page.refresh(bench)
    names = {page.things.item(n).text().split(":")[0].split(" ")[0] for n in range(page.things.count())}
    assert {"X1", "Q1", "LC2", "CTlower"} <= names


def test_the_helper_has_a_card_where_it_is_of_parts(bench, on_screen):
    page = on_screen(ReadOutPage(bench), 900, 900)
    page.refresh(bench)
    assert not page.helper.isVisibleTo(page)
    bench.edit(("read_out", "helper"), HelperOscillator())
    page.refresh(bench)
    assert page.helper.isVisibleTo(page)
    rows = {row[0]: row[1:] for row in page.helper.texts()}
    assert rows["oscillates at"] == ["6.144000 MHz"]
    assert "X1" in {part.ref for part in page.schematic.shown_picture.parts}


def test_its_schematic_has_the_room_of_both_cards(page, bench):
    bench.edit(("carrier", "circuit"), CrystalCircuit())
    page.refresh(bench)
    page.settle(bench)
    assert page.view.audio_card.isVisible()
    page.view.looks.buttons[1].click()
    page.view.grid.activate()
    assert not page.view.audio_card.isVisible()
    assert page.view.pull_card.width() > 0.97 * page.view.width()
    page.view.looks.buttons[0].click()
    page.view.grid.activate()
    assert page.view.audio_card.isVisible()
    assert page.view.pull_card.width() < 0.6 * page.view.width()
