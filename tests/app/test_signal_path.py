"""The signal path, walked, dragged and rearranged as a builder does."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage, QPainter, QRegion
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMenu

from app.panels.path_edits import insert_stage, switch_stage
from app.panels.signal_path import SignalPath
from app.pictures.rig.strip import stages_along, strip_of
from app.pictures.stages.ladder_table import ladder_table
from app.state.look import Look
from core.circuits.ladder import solve
from core.model.stages.amplifiers import Attenuator
from core.rig.analysis import Analysis
from core.rig.figures.filters import filter_on
from core.rig.rules import inspect


@pytest.fixture
def path(bench, on_screen):
    view = on_screen(SignalPath(bench), 1300, 140)
    bench.changed.connect(lambda: view.refresh(bench))
    view.refresh(bench)
    view.strip.setFocus()
    return view


def middle(path, name):
    """The middle of an island in the viewport, scrolled to."""
    strip = path.strip
    place = [island.name for island in strip.shown.islands].index(name)
    rect = strip.geometry_of_strip.islands[place]
    bar = strip.horizontalScrollBar()
    if not bar.value() <= rect.left() <= rect.right() <= bar.value() + strip.viewport().width():
        bar.setValue(int(rect.left()) - 40)
    return QPoint(int(rect.center().x()) - bar.value(), int(rect.center().y()))


def click(qtbot, path, name):
    qtbot.mouseClick(path.strip.viewport(), Qt.MouseButton.LeftButton, pos=middle(path, name))


def shown_on(bench):
    """What a strip that has settled shows."""
    return strip_of(bench.analysis, inspect(bench.analysis), bench.look)


def names(bench):
    return [stage.name for stage in stages_along(bench.current, bench.way)]


def test_the_strip_runs_from_antenna_to_speaker_and_from_microphone_to_antenna(bench):
    receive = shown_on(bench)
    assert receive.islands[0].name == "Antenna"
    assert receive.islands[-1].name == "Speaker"
    assert len(receive.levels) == len(receive.islands) - 1
    assert receive.levels[0] == "−73.0 dBm"
    bench.look_at_way("transmit")
    transmit = shown_on(bench)
    assert transmit.islands[0].name == "Microphone"
    assert transmit.islands[-1].name == "Antenna"
    assert transmit.islands[-1].figure.endswith(" W")
    assert "RF stage" not in [island.name for island in transmit.islands]


def test_levels_between_islands_differ_by_the_figure_on_the_island(bench):
    strip = shown_on(bench)

    def number(text):
        return float(text.replace("−", "-").split()[0])

    for before, island, after in zip(strip.levels, strip.islands[1:-1], strip.levels[1:], strict=False):
        assert number(after) - number(before) == pytest.approx(number(island.figure), abs=0.11)


def test_a_switched_out_stage_stays_to_be_seen_and_costs_no_gain(bench):
    switch_stage(bench, "rf_stage")
    strip = shown_on(bench)
    island = next(each for each in strip.islands if each.name == "RF stage")
    place = strip.islands.index(island)
    assert island.bypassed
    assert "switched out" in island.spoken
    assert strip.levels[place - 1].split()[0] == strip.levels[place].split()[0]


def test_a_fault_is_told_in_words(bench):
    bench.edit(("stages", "power_amplifier", "rated_w"), 0.1)
    bench.look_at_way("transmit")
    island = next(each for each in shown_on(bench).islands if each.name == "Power amplifier")
    assert island.severity == "fault"
    assert "fault" in island.mark
    assert "too much" in island.headroom


def test_a_click_selects_and_a_click_beside_deselects(path, bench, qtbot):
    click(qtbot, path, "Mixer")
    assert bench.selection == ("stages", "mixer")
    assert "Mixer" in path.strip.accessibleName()
    qtbot.mouseClick(path.strip.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(5, 5))
    assert bench.selection == ()


def test_the_ends_and_the_oscillators_can_be_selected(path, bench, qtbot):
    click(qtbot, path, "Antenna")
    assert bench.selection == ("station",)
    click(qtbot, path, "Mixer")
    qtbot.keyClick(path.strip, Qt.Key.Key_Down)
    assert bench.selection == ("vfo",)
    qtbot.keyClick(path.strip, Qt.Key.Key_Up)
    assert bench.selection == ("stages", "mixer")
    place = [island.name for island in path.strip.shown.islands].index("Mixer")
    tag = path.strip.geometry_of_strip.tags[place].center().toPoint()
    qtbot.mouseClick(
        path.strip.viewport(),
        Qt.MouseButton.LeftButton,
        pos=tag - QPoint(path.strip.horizontalScrollBar().value(), 0),
    )
    assert bench.selection == ("vfo",)


def test_the_arrows_walk_along_the_path(path, bench, qtbot):
    qtbot.keyClick(path.strip, Qt.Key.Key_Right)
    assert bench.selection == ("station",)
    qtbot.keyClick(path.strip, Qt.Key.Key_Right)
    assert bench.selection == ("stages", "low_pass")
    qtbot.keyClick(path.strip, Qt.Key.Key_End)
    assert bench.selection == ("speaker",)
    qtbot.keyClick(path.strip, Qt.Key.Key_Left)
    assert bench.selection == ("stages", "audio")
    qtbot.keyClick(path.strip, Qt.Key.Key_Escape)
    assert bench.selection == ()


def test_the_selection_is_scrolled_into_view(path, bench, qtbot):
    path.resize(500, 140)
    qtbot.keyClick(path.strip, Qt.Key.Key_End)
    bar = path.strip.horizontalScrollBar()
    assert bar.value() > 0
    rect = path.strip.geometry_of_strip.islands[-1]
    assert rect.right() <= bar.value() + path.strip.viewport().width()


def test_too_many_stages_scroll_and_are_not_squeezed(path, bench):
    width = path.strip.geometry_of_strip.islands[1].width()
    for _ in range(20):
        insert_stage(bench, 3, Attenuator(id="pad", name="Pad"))
    geometry = path.strip.geometry_of_strip
    assert geometry.islands[1].width() == width
    assert path.strip.horizontalScrollBar().maximum() > 0
    for left, right in zip(geometry.islands, geometry.islands[1:], strict=False):
        assert left.right() < right.left()


def test_dragging_reorders_in_one_step(path, bench, qtbot):
    before = names(bench)
    start = middle(path, "Band-pass")
    end = middle(path, "Mixer") + QPoint(60, 0)
    area = path.strip.viewport()
    QTest.mousePress(area, Qt.MouseButton.LeftButton, pos=start)
    for step in range(1, 6):
        QTest.mouseMove(area, start + (end - start) * (step / 5))
    QTest.mouseRelease(area, Qt.MouseButton.LeftButton, pos=end)
    moved = names(bench)
    assert moved.index("Band-pass") == moved.index("Mixer") + 1
    bench.undo()
    assert names(bench) == before


def test_escape_gives_a_drag_up_and_leaves_the_stage_selected(path, bench, qtbot):
    before = names(bench)
    start, end = middle(path, "Band-pass"), middle(path, "Mixer") + QPoint(60, 0)
    area = path.strip.viewport()
    QTest.mousePress(area, Qt.MouseButton.LeftButton, pos=start)
    QTest.mouseMove(area, end)
    qtbot.keyClick(path.strip, Qt.Key.Key_Escape)
    QTest.mouseMove(area, end + QPoint(5, 0))
    QTest.mouseRelease(area, Qt.MouseButton.LeftButton, pos=end)
    assert names(bench) == before
    assert bench.selection == ("stages", "band_pass")
    qtbot.keyClick(path.strip, Qt.Key.Key_Escape)
    assert bench.selection == ()


def test_keys_duplicate_remove_move_and_switch(path, bench, qtbot):
    bench.select(("stages", "rf_stage"))
    qtbot.keyClick(path.strip, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    assert names(bench).count("RF stage") == 2
    assert bench.selection == ("stages", "rf_stage_2")
    qtbot.keyClick(path.strip, Qt.Key.Key_Delete)
    assert names(bench).count("RF stage") == 1
    bench.select(("stages", "rf_stage"))
    here = names(bench).index("RF stage")
    qtbot.keyClick(path.strip, Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier)
    assert names(bench).index("RF stage") == here - 1
    qtbot.keyClick(path.strip, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    assert names(bench).index("RF stage") == here
    qtbot.keyClick(path.strip, Qt.Key.Key_Space)
    assert not bench.current.stage("rf_stage").in_path
    assert "RF stage" in names(bench)


@pytest.mark.parametrize("way", ["receive", "transmit"])
def test_a_plus_inserts_a_stage_in_its_gap(path, bench, qtbot, way):
    bench.look_at_way(way)
    plus = path.strip.geometry_of_strip.pluses[2].center().toPoint()
    qtbot.mouseClick(path.strip.viewport(), Qt.MouseButton.LeftButton, pos=plus)
    menu = next(m for m in path.strip.findChildren(QMenu) if m.isVisible())
    next(action for action in menu.actions() if action.text() == "Amplifier").trigger()
    menu.close()
    stage = stages_along(bench.current, bench.way)[2]
    assert stage.name == "Amplifier"
    assert stage.direction == way
    assert bench.selection == ("stages", stage.id)


def test_every_kind_can_be_inserted_and_undone(path, bench):
    before = bench.current
    for action in path.strip.kind_menu(1).actions():
        action.trigger()
        assert len(bench.current.stages) == len(before.stages) + 1
        bench.undo()
        assert bench.current == before


def test_a_bilateral_amplifier_is_inserted_once_for_both_directions(path, bench):
    action = next(a for a in path.strip.kind_menu(7).actions() if a.text().startswith("Bilateral"))
    action.trigger()
    made = bench.selected_stage
    assert made.direction == "both"
    for way in ("receive", "transmit"):
        assert made.id in [stage.id for stage in stages_along(bench.current, way)]


def test_a_double_click_opens_the_stage(path, qtbot):
    with qtbot.waitSignal(path.opened):
        qtbot.mouseDClick(path.strip.viewport(), Qt.MouseButton.LeftButton, pos=middle(path, "Mixer"))


def test_it_is_painted_again_only_when_something_differs(path, bench, qtbot):
    painted = []
    original = path.strip.viewport().update
    path.strip.viewport().update = lambda *where: (painted.append(1), original(*where))
    bench.edit(("name",), "Another name")
    assert painted == []
    bench.edit(("stages", "rf_stage", "gain_db"), 12)
    assert painted


def painted(strip, onto=None, region=None):
    """The strip as a picture: painted whole, or in a region only onto a former picture."""
    picture = QImage(strip.viewport().size(), QImage.Format.Format_RGB32) if onto is None else onto.copy()
    painter = QPainter(picture)
    whole = QRegion(strip.viewport().rect())
    strip.viewport().render(painter, (region or whole).boundingRect().topLeft(), region or whole)
    painter.end()
    return picture


def test_what_is_painted_in_part_is_as_if_painted_whole(path, bench):
    strip, parts = path.strip, []
    original = strip.viewport().update
    strip.viewport().update = lambda *where: (parts.append(where), original(*where))
    kept, in_part = painted(strip), 0
    for gain_db in (12.0, 12.3, 12.4, 13.0, 13.6, 14.1):
        bench.edit(("stages", "rf_stage", "gain_db"), gain_db)
        region = QRegion()
        for (where,) in parts:
            region = region.united(where.intersected(strip.viewport().rect()))
        parts.clear()
        in_part += region != QRegion(strip.viewport().rect())
        kept = painted(strip, kept, region)
        assert kept == painted(strip)
    assert in_part >= 2


def test_each_loss_of_a_ladder_is_told_as_what_it_is_and_with_the_same_digits(muddle):
    analysis = Analysis(muddle)
    figures, design = analysis.filter_figures("ladder", "20m"), analysis.filter_design("ladder", "20m")
    (told,) = [f for f in inspect(analysis) if f.rule == "ladder_loss"]
    least = f"{figures.insertion_loss_db:.1f} dB"
    assert f"loses {least} where it passes best" in told.text
    assert ("least loss", least) in ladder_table(filter_on(analysis, "ladder", "20m")).rows
    strip = strip_of(analysis, inspect(analysis), Look(band="20m", way="receive", dial_hz=14.1e6))
    (ladder,) = [each for each in strip.islands if each.stage == "ladder"]
    at_tone = float(solve(design.network, np.array([analysis.carrier("20m").signal_hz(1000.0)])).loss_db[0])
    assert ladder.figure == f"−{at_tone:.1f} dB"
    assert at_tone > figures.insertion_loss_db
    first = ladder.help.splitlines()[0]
    assert first == "Crystal ladder filter; the figure is its gain at a tone of 1 kHz, not its least loss"


def test_an_audio_stage_behind_a_control_shows_its_headroom(tern):
    def audio(project):
        strip = strip_of(Analysis(project), (), Look("20m", "receive", 14.2e6, ()))
        return next(island for island in strip.islands if island.name == "Audio power stage")

    # Turned down to 50 mW of 1.02 W: 13 dB, and 1 dB more until its gain is 1 dB less.
    assert audio(tern).headroom == "headroom 14 dB"
    assert audio(tern.stage_removed("gain_control")).headroom == ""
