"""An audio stage of parts in the window: chosen, edited and read as a builder does."""

import numpy as np
import pytest
from PySide6.QtCore import Qt

from app.pages.stage import StagePage
from app.panels.editor_panel import EditorPanel
from app.pictures.audio import stage as picture
from app.sheet.drawings import drawn
from app.stage_views.audio import AudioView
from app.state.look import Look
from app.widgets.number_field import NumberField
from core.rig.analysis import Analysis
from core.rig.audio.chain import TONES_HZ
from tests.audio_rig import with_audio


def look(stage, way="receive"):
    return Look("20m", way, 14.2e6, ("stages", stage))


def test_the_picture_is_one_value_with_the_held_response(tern):
    now, was = Analysis(with_audio(tern)), Analysis(with_audio(tern, preamplifier={"low_hz": 400.0}))
    shown = picture.picture_of(now, was, look("preamplifier"))
    assert shown == picture.picture_of(Analysis(with_audio(tern)), was, look("preamplifier"))
    assert shown != picture.picture_of(now, None, look("preamplifier"))
    held = picture.picture_of(was, None, look("preamplifier"))
    np.testing.assert_array_equal(shown.speech.held.y, held.speech.line.y[::4])
    # The held one has less bass.
    bass = int(np.searchsorted(TONES_HZ, 300.0))
    assert held.speech.line.y[bass] < shown.speech.line.y[bass] - 1.0


def test_tables_tell_what_it_is_made_with_what_limits_and_what_is_heard(tern):
    analysis = Analysis(with_audio(tern))
    shown = picture.picture_of(analysis, None, look("audio"))
    rows = dict(shown.table.rows)
    assert rows["made with"].startswith("LM386")
    assert rows["voltage gain"] == "35.7 dB"
    assert rows["largest power"] == "810 mW"
    assert rows["as warm as"] == "99 °C"
    assert all(shown.table.tips)
    assert shown.limits.rows[0][:2] == ("U", "voltage")
    assert dict(shown.ends.rows)["loudest sound"] == "92 dB SPL"
    spoken = picture.picture_of(analysis, None, look("microphone_amplifier", "transmit"))
    assert spoken.ends_title == "Microphone"
    assert dict(spoken.ends.rows)["type"] == "dynamic"
    assert "from the microphone on" in spoken.speech_title


def test_the_view_follows_what_is_typed(bench, tern, on_screen, qtbot):
    bench.start(with_audio(tern))
    bench.select(("stages", "preamplifier"))
    editor, page = on_screen(EditorPanel(bench), 420, 900), on_screen(StagePage(bench), 1000, 800)
    editor.refresh(bench)
    page.refresh(bench)
    view = page.findChild(AudioView)
    bass = int(np.searchsorted(TONES_HZ, 300.0))
    before = float(view.speech.picture.line.y[bass])
    low = next(each for each in editor.findChildren(NumberField) if each.text() == "200 Hz")
    low.setFocus()
    low.selectAll()
    qtbot.keyClicks(low, "400 Hz")
    qtbot.keyClick(low, Qt.Key.Key_Return)
    assert bench.current.stage("preamplifier").low_hz == 400.0
    page.refresh(bench)
    assert float(view.speech.picture.line.y[bass]) < before - 1.5


@pytest.mark.parametrize(
    ("stage", "fields"),
    [
        ("preamplifier", {"topology": "single"}),
        ("preamplifier", {"topology": "single", "device": "2n3819", "gain_db": 6.0, "input_ohm": 1e6}),
        ("preamplifier", {"topology": "pair", "electret_ohm": 4.7e3}),
        ("preamplifier", {"topology": "operational", "electret_ohm": 4.7e3}),
        ("audio", {"topology": "complementary", "gain_db": 26.0}),
        ("audio", {"load_ohm": 32.0, "series_ohm": 220.0}),
        ("gain_control", {}),
    ],
)
def test_every_circuit_is_drawn_with_all_its_parts(tern, stage, fields):
    rig = with_audio(tern, **({"preamplifier": fields} if stage == "preamplifier" else {"power": fields}))
    made = Analysis(rig).design(stage, "20m")
    svg = drawn(made.drawing, "#000", "#666")
    for part in made.parts:
        assert f">{part.ref}<" in svg or f">{part.ref} as diode<" in svg, part.ref
