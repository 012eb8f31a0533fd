"""What of the sheet is wanted, what stands on it, and that it fits whatever the names."""

import re
from itertools import pairwise
from math import pi

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox, QFileDialog

from app.commands.command_line import main
from app.photographs.beside import put
from app.sheet import choice
from app.sheet.choice import SectionsDialog, choose_sections, chosen_sections
from app.sheet.content.blocks import Beside, Grid
from app.sheet.content.groups import ALL, GROUPS
from app.sheet.content.stages import circuit
from app.sheet.pages import Wanted, sheet_document
from app.sheet.preview import SheetPage
from app.state.settings import Settings
from app.state.workbench import Workbench
from core.model import files
from core.model.bands import Band
from core.model.notebook.bench_log import Photograph
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.rig.analysis import Analysis
from core.rig.figures.levels import LEVEL
from core.rig.paper.build_sheet import build_sheet, revision
from core.rig.paper.needed import needed_of
from core.rig.start.new_rig import new_rig
from core.rig.workshop.test_points import at_stage
from core.stages.kinds.table import KINDS
from tests.app.test_sheet import read


def titles(document) -> list[str]:
    return [each.piece.heading for each in document.placed if each.piece.heading]


def test_each_group_of_sections_can_be_left_out_and_chosen_alone(qapp, tern):
    whole = titles(sheet_document(tern, "A4", 72.0))
    found = []
    for group in GROUPS:
        mine = titles(sheet_document(tern, "A4", 72.0, of=Wanted((group,))))
        found += mine
        if group != "photographs":
            assert mine, group
    assert sorted(found) == sorted(whole)
    bare = sheet_document(tern, "A4", 72.0, of=Wanted(()))
    assert bare.pages == 1
    assert "Before you switch on" in bare.text


def test_the_ticks_are_remembered_and_the_page_follows(qtbot, tern, tmp_path, monkeypatch):
    settings = Settings(tmp_path / "s.ini")
    bench = Workbench(tern)
    page = SheetPage(bench, settings)
    qtbot.addWidget(page)
    page.resize(800, 700)
    page.show()
    page.refresh(bench)
    qtbot.waitUntil(lambda: not page.busy, timeout=60_000)
    before = page.pages

    def untick(dialog):
        for group in ALL[1:]:
            dialog.ticks[group].setChecked(False)
        box = dialog.findChild(QDialogButtonBox)
        qtbot.mouseClick(box.button(QDialogButtonBox.StandardButton.Ok), Qt.MouseButton.LeftButton)
        return dialog.result()

    monkeypatch.setattr(choice, "asked", untick)
    qtbot.mouseClick(page.choice, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not page.busy, timeout=60_000)
    assert page.pages < before
    assert chosen_sections(Settings(tmp_path / "s.ini")) == ALL[:1]
    # Who gives up leaves it as it was.
    monkeypatch.setattr(choice, "asked", lambda dialog: dialog.DialogCode.Rejected)
    assert not choose_sections(settings)
    assert chosen_sections(settings) == ALL[:1]
    dialog = SectionsDialog(chosen_sections(settings))
    qtbot.addWidget(dialog)
    assert [group for group, tick in dialog.ticks.items() if tick.isChecked()] == [ALL[0]]


def test_the_command_line_chooses_sections_and_refuses_others_in_a_sentence(qapp, tern, tmp_path, capsys):
    project = tmp_path / "rig.json"
    files.save(tern, project)
    file = tmp_path / "some.pdf"
    assert main(["sheet", str(project), "-o", str(file), "--sections", "alignment", "checks"]) == 0
    text = read(file)
    assert "Alignment" in text
    assert "Order of work" not in text
    assert main(["sheet", str(project), "-o", str(file), "--sections", "poetry"]) == 2
    told = capsys.readouterr().err
    assert "poetry" in told
    assert len(told.strip().splitlines()) == 1
    assert main(["sheet", str(project), "-o", str(tmp_path / "parts.csv")]) == 0
    assert (
        (tmp_path / "parts.csv")
        .read_text()
        .startswith("what,value,type,rating,quantity,on hand,to get,where")
    )


def test_levels_on_paper_are_the_analysis_to_the_printed_digit(qapp, tern):
    text = sheet_document(tern, "A4", 72.0, of=Wanted(("levels", "stages"))).text
    analysis = Analysis(tern)
    for band in tern.bands:
        for way, levels, level in (
            ("receive", analysis.receive(band.name), lambda f: f.s9_dbm),
            ("transmit", analysis.transmit(band.name), lambda f: f.level_dbm),
        ):
            for n, block in enumerate(levels.blocks):
                row = text[text.index(f"\n{block.name}\n", text.index(way.capitalize() + ": levels")) :]
                cells = row.split("\n")[2 : 2 + 3 * len(tern.bands)]
                column = [each.name for each in tern.bands].index(band.name)
                assert cells[3 * column + 1] == LEVEL.bare(float(level(levels)[n + 1])), block.name


def test_test_points_have_a_blank_and_voltages_by_definition(qapp, tern):
    text = sheet_document(tern, "A4", 72.0, of=Wanted(("stages",))).text
    after = text[text.index("\nDriver\n") :]
    row = after[after.index("output, transmit, 20 m\n") :].split("\n")[:7]
    dbm = float(row[1].replace("−", "-").removesuffix(" dBm"))
    volt = (10 ** (dbm / 10) / 1000 * 50) ** 0.5
    assert float(row[3].removesuffix(" V")) == pytest.approx(volt, rel=0.01)
    assert float(row[4].removesuffix(" V")) == pytest.approx(2.828 * volt, rel=0.01)
    assert row[5:] == ["50 Ω", "________"]


def test_the_revision_is_another_one_for_another_design_alone(tern):
    assert revision(tern) == revision(tern.edited(("notes",), "other words").edited(("name",), "Other"))
    assert revision(tern) != revision(tern.edited(("if_hz",), tern.if_hz + 1))
    assert re.fullmatch(r"[0-9A-F]{4}-[0-9A-F]{4}", revision(tern))
    assert build_sheet(Analysis(tern)).revision == revision(tern)


def test_a_photograph_stands_on_the_sheet_and_a_missing_one_says_so(qapp, tern, tmp_path):
    from PySide6.QtCore import QBuffer, QIODevice
    from PySide6.QtGui import QColor, QImage

    image = QImage(320, 200, QImage.Format.Format_RGB32)
    image.fill(QColor("teal"))
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    file = tmp_path / "rig.json"
    name, digest = put(file, "board", ".png", bytes(buffer.data().data()))
    there = Photograph(name=name, digest=digest, stage="driver", caption="The driver's board")
    gone = Photograph(name="gone.png", digest="0" * 64)
    rig = tern.edited(("photographs",), (there, gone))
    document = sheet_document(rig, "A4", 72.0, of=Wanted(("photographs",), file))
    assert "The driver's board, Driver" in document.text
    assert "gone.png is missing" in document.text
    page = QImage(600, 850, QImage.Format.Format_RGB32)
    page.fill(QColor("white"))
    from PySide6.QtGui import QPainter

    painter = QPainter(page)
    for number in range(document.pages):
        document.draw_page(painter, number)
    painter.end()
    colours = {page.pixelColor(x, y).name() for x in range(0, 600, 5) for y in range(0, 850, 5)}
    assert QColor("teal").name() in colours


@pytest.fixture(scope="module")
def large():
    """Four bands, and names as long as they may be."""
    bands = tuple(
        Band(name=name, low_hz=1e6 * low, high_hz=1e6 * high, sideband=side, scheme=scheme)
        for name, low, high, side, scheme in (
            ("80m", 3.6, 3.8, "lower", "vfo_minus_if"),
            ("40m", 7.05, 7.2, "lower", "vfo_minus_if"),
            ("20m", 14.125, 14.35, "upper", "if_minus_vfo"),
            ("a band of mine", 18.11, 18.168, "upper", "sum"),
        )
    )
    rig = new_rig(bands, 9e6, "N" * 80)
    named = (s.edited(("name",), f"{s.name} {'of many words ' * 4}"[:40].strip()) for s in rig.stages)
    return rig.with_stages(tuple(named))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_four_bands_and_long_names_fit_on_the_paper(qapp, large, paper):
    document = sheet_document(large, paper, 72.0)
    width, height = document.body_points.width(), document.body_points.height()
    for each in document.placed:
        assert each.y + each.piece.height <= height + 1e-6
        for text in each.piece.texts:
            if not isinstance(text, str):
                assert text.width <= width + 1
    for one, other in pairwise(document.placed):
        if one.page == other.page and one.x == other.x and one.y < other.y:
            assert one.y + one.piece.height <= other.y + 1e-6
    for band in ("80 m", "40 m", "20 m", "a band of mine"):
        assert f"Receiver on {band}" in document.text


def test_nothing_is_told_by_colour_alone(qapp, muddle):
    text = sheet_document(muddle, "A4", 72.0, of=Wanted(("findings",))).text
    assert "Fault. " in text
    assert "Note. " in text


def made_of_parts(tern):
    """The sample with stages of every kind that has parts."""
    pair = BilateralAmplifier(
        id="if_amplifier_1", name="IF pair", direction="both", current_a=13e-3, designed_at_hz=tern.if_hz
    )
    fresh = {"if_amplifier_1": pair}
    for id, kind in (
        ("power_amplifier", "built_power_amplifier"),
        ("audio", "audio_power"),
        ("microphone_amplifier", "built_audio"),
    ):
        one = KINDS[kind].default(tern.bands, tern.if_hz).edited(("id",), id)
        fresh[id] = one.edited(("direction",), tern.stage(id).direction)
    return tern.with_stages(tuple(fresh.get(stage.id, stage) for stage in tern.stages))


def test_whatever_is_made_of_parts_has_drawing_parts_figures_points_and_its_caution(qapp, tern):
    rig = made_of_parts(tern)
    sheet = build_sheet(Analysis(rig))
    for id in ("power_amplifier", "audio", "microphone_amplifier", "if_amplifier_1"):
        (section,) = [each for each in sheet.filters if each.stage == id]
        assert section.reason == ""
        assert section.drawing is not None
        assert len(section.parts) > 5
        assert section.figures, id
        assert any(each.level_dbm is None for each in at_stage(sheet.points, id)), id
    document = sheet_document(rig, "A4", 72.0, of=Wanted(("stages",)))
    text = document.text
    assert text.count("Mind: ") == 1 + len(rig.stage("low_pass").filters)
    after = text[text.index("Mind: Hot") :]
    assert after.index("dummy load connected before it is fed") < after.index("designed")
    # Each caution stands on the page of what it is for.
    places = {each.piece.heading: each.page for each in document.placed if each.piece.heading}
    for each in document.placed:
        if any(not isinstance(t, str) and t.text.startswith("Mind: Hot") for t in each.piece.texts):
            assert each.page == places[rig.stage("power_amplifier").name]


def test_a_carriers_coil_on_a_core_is_told_turn_by_turn(qapp, tern):
    rig = tern.edited(("carrier", "coil_core"), "T50-6")
    text = sheet_document(rig, "A4", 72.0, of=Wanted(("plan",))).text
    assert "Coils to wind" in text
    assert "T50-6" in text
    assert "check it with" in text
    assert "Coils to wind" not in sheet_document(tern, "A4", 72.0, of=Wanted(("plan",))).text


def test_coils_without_a_core_are_checked_by_their_resonance(qapp, tern):
    (section,) = [each for each in build_sheet(Analysis(tern)).filters if each.title == "Low-pass, 20 m"]
    coils = {part.ref: part.fitted for part in section.parts if part.kind == "inductor"}
    assert {each.ref: each.set_h for each in section.free} == coils
    for each in section.free:
        assert each.check_hz == pytest.approx(1 / (2 * pi * (each.set_h * each.check_f) ** 0.5))
        # Near where it works, with a capacitor that is in every box.
        assert 0.7 < each.check_hz / 14.22e6 < 1.4
    text = sheet_document(tern, "A4", 72.0, of=Wanted(("stages",))).text
    first = section.free[0]
    assert f"{first.ref} {first.set_h * 1e9:.0f} nH: with {first.check_f * 1e12:.0f} pF across it" in text


def test_the_parts_to_get_are_written_at_a_buttons_press(qtbot, tern, tmp_path, monkeypatch):
    page = SheetPage(Workbench(tern), Settings(tmp_path / "s.ini"))
    qtbot.addWidget(page)
    file = tmp_path / "mine.csv"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(file), ""))
    qtbot.mouseClick(page.parts, Qt.MouseButton.LeftButton)
    total = sum(line.quantity for line in needed_of(Analysis(tern)))
    assert page.message.text() == f"{total} parts written to {file}"
    assert len(file.read_text().splitlines()) == 1 + len(needed_of(Analysis(tern)))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "none" / "a.csv"), ""))
    qtbot.mouseClick(page.parts, Qt.MouseButton.LeftButton)
    assert "could not be written" in page.message.text()


def test_no_harmonic_is_told_below_what_the_wiring_lets_through(qapp, tern):
    text = sheet_document(tern, "A4", 72.0, of=Wanted(("checks",))).text
    (first, *_) = build_sheet(Analysis(tern)).purity
    head = text[text.index(f"+{first.output_dbm:.1f} dBm wanted") :]
    for harmonic in first.harmonics:
        row = head[head.index(f"\n{harmonic.number} times the dial\n") :].split("\n")[2:5]
        far = harmonic.result_dbc < -100
        dbm = first.output_dbm + max(harmonic.result_dbc, -100.0)
        assert row[2] == f"{'under ' if far else ''}{dbm:+.1f} dBm".replace("-", "−")
        assert row[1].startswith("under") == far
    assert any(harmonic.result_dbc < -100 for harmonic in first.harmonics)


def test_more_figures_than_anybody_reads_in_a_line_stand_in_a_table(sample):
    """Of a power amplifier of parts; an amplifier's few are words."""
    sheet = build_sheet(Analysis(sample))
    sections = {each.stage: each for each in sheet.filters}
    power, driver = sections["power_amplifier"], sections["driver"]
    assert len(power.figures) > 24 >= len(driver.figures) > 0
    (table,) = [
        block
        for block in circuit(power, sheet).blocks
        if isinstance(block, Grid) and block.columns[0].title == "figure"
    ]
    cells = [text for line in table.lines for text in line.cells if text]
    assert cells == [text for pair in power.figures for text in pair]
    blocks = circuit(driver, sheet).blocks
    assert not [each for each in blocks if isinstance(each, Grid) and each.columns[0].title == "figure"]
    # 180/f² mW/cm², f in MHz: 47 CFR 1.1310, table 1, what is allowed for anybody, at the band's upper end.
    assert ("20 m, exposure: limit", f"{1800 / 14.35**2:.2f} W/m²") in power.figures


def every(blocks):
    """Blocks, and those in columns beside each other."""
    for block in blocks:
        yield block
        if isinstance(block, Beside):
            yield from every((*block.left, *block.right))


def test_windings_without_q_are_checked_on_a_bridge(qapp, sample):
    """A broadband transformer's ferrite shows no resonance; a filter's powdered iron does."""
    rig = sample.edited(("stages", "band_pass", "filters", 0, "core"), "T50-6")
    sections = {each.title: each for each in build_sheet(Analysis(rig)).filters}
    told = {}
    for name in ("Mixer", "Band-pass, 20 m"):
        assert sections[name].windings
        told[name] = " ".join(
            text
            for block in every(circuit(sections[name], build_sheet(Analysis(rig))).blocks)
            if (text := getattr(block, "text", ""))
        )
    assert [each.rings for each in sections["Mixer"].windings] == [False, False]
    assert "T1, T2: count the turns, and read the inductance on a bridge" in told["Mixer"]
    assert "it resonates where told" not in told["Mixer"]
    assert all(each.rings for each in sections["Band-pass, 20 m"].windings)
    assert "it resonates where told" in told["Band-pass, 20 m"]
    assert "bridge at 100 kHz" not in told["Band-pass, 20 m"]
