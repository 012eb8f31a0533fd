"""A mixer in the window: its figures over the drive, products, and what stands behind its oscillator."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox

from app.pages.board_plan import BoardPlanPage
from app.panels.editor_panel import EditorPanel
from app.pictures.rig.strip import strip_of
from app.pictures.stages import block, mixer
from app.stage_views.mixer import MixerView
from app.state.look import Look
from app.state.settings import Settings
from core.model.stages.amplifiers import Amplifier
from core.rig.analysis import Analysis
from core.rig.figures.parts import VALUES
from core.rig.levels.oscillator_drive import driven
from core.rig.mixer_facts import mixer_facts
from core.stages.mixers.drive import over_drive

AT = Look("20m", "receive", 14.2e6, ("stages", "mixer"))


def of_circuit(tern, **fields):
    for name, value in {"figures_from": "circuit", **fields}.items():
        tern = tern.edited(("stages", "mixer", name), value)
    return tern


def test_the_picture_is_one_value_with_the_working_point_on_its_curves(tern):
    rig = of_circuit(tern)
    picture = mixer.picture_of(Analysis(rig), None, AT)
    assert picture == mixer.picture_of(Analysis(of_circuit(tern)), None, AT)
    over, gets = over_drive(rig.stage("mixer")), rig.vfo.output_dbm
    assert {x for x, _, _ in picture.drive.spots} == {gets}
    told = {role: y for _, y, role in picture.drive.spots}
    assert told["curve"] == pytest.approx(np.interp(gets, over.drive_dbm, over.gain_db))
    assert told["image"] == pytest.approx(np.interp(gets, over.drive_dbm, over.iip3_dbm))
    (box,) = picture.drive.shapes
    assert {x for x, _ in box.points} == {over.least_dbm, over.most_dbm}
    rows = dict(picture.table.rows)
    assert rows["drive"] == f"+{gets:.1f} dBm"
    assert rows["type"] == "four-diode ring"
    assert all(picture.table.tips)


def test_the_held_gain_is_dashed_and_another_diode_moves_the_curves(tern):
    was, now = Analysis(of_circuit(tern)), Analysis(of_circuit(tern, diode="hsms_2822"))
    picture = mixer.picture_of(now, was, AT)
    before = mixer.picture_of(was, None, AT)
    assert picture != mixer.picture_of(now, None, AT)
    for place in range(3):
        held = dict(zip(picture.drive.held[place].x, picture.drive.held[place].y, strict=True))
        own = dict(zip(before.drive.curves[place].x, before.drive.curves[place].y, strict=True))
        assert held
        assert held == own
    assert before.drive.held == ()
    assert picture.down.held == before.down.curves
    assert picture.down.curves != before.down.curves


def test_a_type_alone_has_no_curves_and_says_so(tern):
    picture = mixer.picture_of(Analysis(tern), None, AT)
    assert picture.drive == (
        "Figures are typical of the type; let empty figures be of its circuit to see them over the drive."
    )
    rows = dict(picture.table.rows)
    assert rows["conversion gain"] == "−6.0 dB"
    assert "input impedance" not in rows


def test_what_is_held_down_is_what_the_spurs_count_with_at_the_drive_it_gets(tern):
    """At a node of drive the curve is the very figure; the signal is 10 dB under compression there."""
    analysis = Analysis(of_circuit(tern).edited(("vfo", "output_dbm"), 8.0))
    picture = mixer.picture_of(analysis, None, AT).down
    figures = analysis.mixer_figures("receive")
    told = {label.text: curve for label, curve in zip(picture.labels, picture.curves, strict=False)}
    at = {name: dict(zip(curve.x, curve.y, strict=True))[8.0] for name, curve in told.items()}
    assert at["isolation"] == pytest.approx(figures.oscillator_leak_db)
    for name, m, n in (("2 × 1", 2, 1), ("1 × 2", 1, 2), ("1 × 3", 1, 3)):
        assert at[name] == pytest.approx(float(figures.suppression_db(m, n)), abs=0.3)
    assert {x for x, _, _ in picture.spots} == {8.0}
    assert len(picture.spots) == 4
    # Starved, it holds the signal's multiples down less.
    assert told["1 × 3"].y[0] < at["1 × 3"] - 10


def test_a_modulators_carrier_is_among_what_it_holds_down(tern):
    rig = tern.edited(("stages", "detector", "figures_from"), "circuit").edited(
        ("stages", "detector", "type"), "two_diode"
    )
    picture = mixer.picture_of(
        Analysis(rig), None, Look("20m", "receive", 14.2e6, ("stages", "detector"))
    ).down
    names = [label.text for label in picture.labels]
    assert "carrier" in names
    carrier = picture.curves[names.index("carrier")]
    balance = mixer_facts(Analysis(rig), rig.stage("detector"), "20m").balance
    told = np.interp(rig.carrier.output_dbm, carrier.x, carrier.y)
    assert told == pytest.approx(balance.trimmed_db, abs=0.2)
    # Devices that differ twice as much leave a carrier 6 dB stronger; a larger potentiometer would hide some.
    same = rig.edited(("stages", "detector", "as_built"), {"potentiometer": 10.0})
    poor = same.edited(("stages", "detector", "difference_v"), 20e-3).edited(
        ("stages", "detector", "uneven_share"), 0.02
    )
    worse = mixer_facts(Analysis(poor), poor.stage("detector"), "20m").balance
    assert balance.trimmed_db - worse.trimmed_db == pytest.approx(20 * np.log10(2), abs=0.01)


def test_a_mixer_of_parts_shows_its_circuit_and_windings_and_a_type_neither(bench, on_screen, qtbot):
    view = on_screen(MixerView(), 900, 900)
    bench.select(("stages", "mixer"))
    view.refresh(bench)
    cards = view._circuit_card, view._coils_card
    assert not any(card.isVisible() for card in cards)
    bench.edit(("stages", "mixer", "figures_from"), "circuit")
    view.refresh(bench)
    view.settle()
    assert all(card.isVisible() for card in cards)
    qtbot.waitUntil(lambda: "T1" in view.schematic.svg)
    for text in ("T2", "D4", "1N5711", "3 × 3", ">RF<", ">IF<", ">VFO<"):
        assert text in view.schematic.svg, text
    picture = mixer.picture_of(bench.analysis, None, bench.look)
    rows = {row[0]: row[1:] for row in picture.coils.rows}
    assert picture.coils.heads == ("coil", "T1", "T2")
    assert rows["core"] == ("FT37-43", "FT37-43")
    # 3 turns of 0.375 µH/turn² are 3.4 µH, at 14 MHz 297 Ω; the VFO at 5 MHz wants 5.
    assert rows["turns"] == ("3", "5")
    told = dict(picture.table.rows)
    assert told["reactance of a winding"] == "297 Ω"
    assert told["lost there besides"] == "0.04 dB"
    bench.edit(("stages", "mixer", "core"), "")
    view.refresh(bench)
    assert not view._coils_card.isVisible()
    assert view._circuit_card.isVisible()


def test_products_are_those_that_the_spurs_count_with(tern):
    analysis = Analysis(of_circuit(tern))
    rows = mixer.picture_of(analysis, None, AT).products.rows
    figures = analysis.mixer_figures("receive")
    assert rows[1][1] == "0 dB"
    # The ring's circuit is balanced better than a type is taken to be.
    assert float(rows[1][2].removesuffix(" dB")) > 47
    for m, row in enumerate(rows):
        for n, text in enumerate(row[1:], start=1):
            assert text == f"{float(figures.suppression_db(m, n)) + 0:.0f} dB".replace("-0", "0")


def test_a_builder_lets_a_mixer_be_computed_and_sees_it_over_its_drive(bench, on_screen, qtbot):
    bench.select(("stages", "mixer"))
    panel, view = on_screen(EditorPanel(bench), 330, 700), on_screen(MixerView(), 700, 500)
    panel.refresh(bench)
    view.refresh(bench)
    assert view.plot.sentence.startswith("Figures are typical of the type")
    assert not panel.form.field_at(("diode",)).isVisible()
    box = panel.form.field_at(("figures_from",))
    assert isinstance(box, QComboBox)
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_Down)
    panel.refresh(bench)
    view.refresh(bench)
    assert bench.current.stage("mixer").figures_from == "circuit"
    assert panel.form.field_at(("diode",)).isVisible()
    assert view.plot.sentence == ""
    x, y = view.plot.curves[0].getData()
    assert len(x) > 10
    assert y.max() == pytest.approx(over_drive(bench.current.stage("mixer")).gain_db.max())
    assert len(view.plot.spots.points()) == 3


def test_what_stands_behind_the_vfo_is_on_the_strip_with_its_level_and_the_signal_goes_round(tern):
    buffer = Amplifier(id="buffer", name="Buffer", direction="vfo", gain_db=10.0, p1db_dbm=25.0)
    rig = tern.edited(("vfo", "output_dbm"), -1.0).stage_inserted(2, buffer)
    analysis = Analysis(rig)
    for way in ("receive", "transmit"):
        strip = strip_of(analysis, (), Look("20m", way, 14.2e6, ()))
        (island,) = [each for each in strip.islands if each.name == "Buffer"]
        assert island.bypassed
        assert island.figure == "VFO, +9 dBm"
        plain = strip_of(Analysis(tern), (), Look("20m", way, 14.2e6, ()))
        assert len(strip.islands) == len(plain.islands) + 1
    assert driven(rig, "vfo").delivered_dbm < 9.1
    reason = block.picture_of(analysis, Look("20m", "receive", 14.2e6, ("stages", "buffer"))).reason
    assert reason == (
        "Buffer stands behind the VFO, where it gives +9 dBm with 17.0 dB in hand; no signal passes it."
    )


def test_the_schematic_has_the_width_of_the_page_and_can_be_read(bench, on_screen):
    view = on_screen(MixerView(), 630, 1300)
    bench.select(("stages", "mixer"))
    bench.edit(("stages", "mixer", "figures_from"), "circuit")
    view.refresh(bench)
    view.settle()
    assert view.schematic.width() > 590
    assert view.schematic.height() >= 300
    # Without one the page asks for no room for it.
    with_it = view.least_height
    bench.edit(("stages", "mixer", "figures_from"), "type")
    view.refresh(bench)
    assert view.least_height == with_it - 230 - 230 - 110


@pytest.mark.parametrize(("diode", "name"), [("1n5711", "1N5711, Schottky"), ("1n4148", "1N4148, silicon")])
def test_a_diodes_name_stands_whole_in_its_box(bench, on_screen, diode, name):
    bench.edit(("stages", "mixer", "figures_from"), "circuit")
    bench.edit(("stages", "mixer", "diode"), diode)
    bench.select(("stages", "mixer"))
    panel = on_screen(EditorPanel(bench), 330, 900)
    panel.refresh(bench)
    box = next(each for each in panel.findChildren(QComboBox) if each.currentText() == name)
    assert box.fontMetrics().horizontalAdvance(name) < box.width() - 30


def test_a_transformer_of_three_windings_is_told_by_its_turns_and_named_once_on_its_board(bench, on_screen):
    """Its ratio of 1, which no winding has in a stepped one, told nobody anything."""
    bench.edit(("stages", "mixer", "figures_from"), "circuit")
    bench.select(("stages", "mixer"))
    rows = {each.part.ref: each for each in bench.analysis.parts if each.stage == "mixer"}
    assert [figure.text(rows["T1"]) for figure in VALUES[:2]] == [VALUES[0].absent] * 2
    assert rows["T1"].part.note.startswith("3 × 3 turns trifilar on FT37-43")
    page = on_screen(BoardPlanPage(bench, Settings()), 900, 600)
    page.refresh(bench)
    things = [page.things.item(n).text() for n in range(page.things.count())]
    assert "T1 3 × 3 turns on FT37-43" in things
    assert "D1 1N5711, diode DO-35, lying" in things
