"""The build sheet on paper: text that can be selected, drawings as vectors, nothing lost between pages."""

import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PySide6.QtCore import QByteArray
from PySide6.QtGui import QColor, QImage, QPainter, QTextCursor
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtSvg import QSvgRenderer

from app.sheet.curve import curve_svg
from app.sheet.pages import _heads, sheet_document, write_pdf
from app.sheet.preview import SheetPage
from app.sheet.printing import print_on
from app.sheet.schematic import schematic_svg
from app.sheet.tank_schematic import tank_svg
from app.state.settings import Settings
from app.state.workbench import Workbench
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.values.errors import FileError
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.paper.build_sheet import CAUTIONS, build_sheet
from core.rig.rules import inspect
from core.stages.filters.asked_ladder import AskedLadder
from tests.bags import with_table


def raw(pdf: Path) -> str:
    reader = shutil.which("pdftotext")
    assert reader, "These checks read the PDF back: install poppler-utils."
    return subprocess.run(
        [reader, "-layout", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout


def read(pdf: Path) -> str:
    """The text without the feet of the pages, which cut sentences that go over to the next."""
    body = " ".join(re.sub(r"[^\n]*page \d+ of \d+", "", raw(pdf)).split())
    for ligature, letters in (("ﬁ", "fi"), ("ﬀ", "ff"), ("ﬂ", "fl"), ("ﬃ", "ffi")):
        body = body.replace(ligature, letters)
    # A line may end behind a hyphen.
    return body.replace("- ", "-")


@pytest.mark.parametrize(("paper", "points"), [("A4", "595 x 842"), ("Letter", "612 x 792")])
def test_the_pdf_holds_every_section_as_text_and_no_picture(qapp, tern, tmp_path, paper, points):
    file = tmp_path / "sheet.pdf"
    pages = write_pdf(tern, file, paper)
    text = read(file)
    analysis = Analysis(tern)
    for section in (
        "Frequency plan",
        "Signal path",
        "Low-pass, 20 m",
        "Band-pass, 12 m",
        "Ladder filter",
        "Findings",
    ):
        assert section in text
    for row in analysis.parts:
        assert row.part.ref in text
    for caution in CAUTIONS:
        assert caution.replace("- ", "-") in text
    assert f"page {pages} of {pages}" in raw(file)
    assert f"{analysis.carrier_hz('20m') / 1e6:.6f}" in text
    info = subprocess.run(["pdfinfo", str(file)], check=True, capture_output=True, text=True).stdout
    assert points in info
    images = subprocess.run(
        ["pdfimages", "-list", str(file)], check=True, capture_output=True, text=True
    ).stdout
    assert len(images.splitlines()) == 2, "drawings must be vectors"


def test_every_filter_has_its_figures_and_each_finding_its_remedy(qapp, muddle, tmp_path):
    file = tmp_path / "sheet.pdf"
    write_pdf(muddle, file)
    text = read(file)
    for section in build_sheet(Analysis(muddle)).filters:
        for _, value in section.figures:
            assert value in text
    for finding in inspect(Analysis(muddle)):
        assert finding.remedy.replace("- ", "-") in text


def test_markup_in_names_is_printed_as_written(qapp, tern, tmp_path):
    file = tmp_path / "sheet.pdf"
    rig = tern.edited(("name",), "<b>Bold</b> & <img src=x>").edited(("notes",), "<h1>not a heading</h1>")
    write_pdf(rig.edited(("stages", "ladder", "name"), "<i>lad</i>"), file)
    text = read(file)
    assert "<b>Bold</b> & <img src=x>" in text
    assert "<h1>not a heading</h1>" in text
    assert "<i>lad</i>" in text


@pytest.mark.parametrize("name", ["20&12", "<b>20</b>", "a $x$ b", "'\"&amp;", "20_m^2"])
def test_a_bands_name_is_text_in_the_tanks_schematic(qapp, tern, name):
    made = Analysis(
        tern.edited(("bands", "12m", "name"), name).edited(("bands", 1, "vfo_shift"), "parallel")
    ).tank
    drawn = ElementTree.fromstring(tank_svg(made))
    texts = ["".join(each.itertext()) for each in drawn.iter() if each.tag.endswith("text")]
    assert f"CT{name}" in texts


def test_a_rig_without_stages_or_ladder_still_prints(qapp, tern, tmp_path):
    assert write_pdf(tern.with_stages(()), tmp_path / "bare.pdf") >= 1
    write_pdf(tern.edited(("stages", "ladder", "crystal"), None), tmp_path / "none.pdf")
    assert "no crystals" in read(tmp_path / "none.pdf")


def test_a_pdf_that_cannot_be_written_is_one_sentence(qapp, tern, tmp_path):
    with pytest.raises(FileError, match="could not be written"):
        write_pdf(tern, tmp_path / "nowhere" / "sheet.pdf")


def test_the_printer_gets_the_same_pages(qapp, tern, tmp_path):
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    printer.setFullPage(True)
    assert print_on(tern, printer) == write_pdf(tern, tmp_path / "written.pdf")
    assert "Ladder filter" in read(tmp_path / "printed.pdf")


def test_the_preview_shows_each_page_and_follows_the_design(qtbot, tern, tmp_path):
    bench = Workbench(tern)
    page = SheetPage(bench, Settings(tmp_path / "s.ini"))
    qtbot.addWidget(page)
    page.resize(800, 700)
    page.show()
    page.refresh(bench)
    qtbot.waitUntil(lambda: not page.busy)
    before = page.pages
    assert before == write_pdf(tern, tmp_path / "sheet.pdf")
    bench.change(lambda p: p.stage_removed("band_pass"), label="no band-pass")
    page.refresh(bench)
    qtbot.waitUntil(lambda: page.pages < before)


def test_schematics_have_every_reference_and_paint(qapp, tern):
    for row in Analysis(tern).filters:
        svg = schematic_svg(row.design.network)
        for part in row.design.parts:
            assert f">{part.ref}<" in svg
        renderer = QSvgRenderer(QByteArray(svg.encode()))
        assert renderer.isValid()
        image = QImage(600, 200, QImage.Format.Format_RGB32)
        image.fill(QColor("white"))
        painter = QPainter(image)
        renderer.render(painter)
        painter.end()
        assert len({image.pixel(x, y) for x in range(600) for y in range(0, 200, 5)}) > 1, "nothing was drawn"


def test_networks_that_look_alike_are_one_drawing(qapp, tern):
    first = Analysis(tern).filter_design("ladder", "20m")
    other = Analysis(tern.edited(("if_hz",), tern.if_hz + 10)).filter_design("ladder", "20m")
    assert first.network != other.network
    assert schematic_svg(first.network) is schematic_svg(other.network)


def test_a_response_plot_is_valid_svg(qapp, tern):
    curves = [section.curve for section in build_sheet(Analysis(tern)).filters if section.curve is not None]
    # Low-pass and band-pass of either band, and the ladder.
    assert len(curves) == 5
    for curve in curves:
        assert QSvgRenderer(QByteArray(curve_svg(curve).encode())).isValid()


def test_the_sheet_prints_the_carrier_of_each_sideband(qapp, muddle, tmp_path):
    file = tmp_path / "sheet.pdf"
    write_pdf(muddle, file)
    text = read(file)
    assert "Carrier oscillator" in text
    for row in Analysis(muddle).carriers:
        low, high = row.pulling.reachable_low_hz / 1e6, row.pulling.reachable_high_hz / 1e6
        assert f"{row.place.frequency_hz / 1e6:.6f}" in text
        assert f"{low:.4f} to {high:.4f}" in text
    assert "none, automatic" in text
    coil = max(row.pulling.coil_h for row in Analysis(muddle).carriers)
    assert 10e-6 < coil < 20e-6
    assert f"{1e6 * coil:.1f} µH, automatic" in text


def test_the_sheet_prints_the_placed_crystals_and_only_those(qapp, tern, tmp_path):
    assert not any(section.placement for section in build_sheet(Analysis(tern)).filters)
    head, *lines = crystal_bench.table_text(tern.crystal_batch).splitlines()
    tern = with_table(tern, "\n".join([head, *(f"bag{line}" for line in lines)]))
    batch = crystal_bench.batch_of(tern.crystal_batch)
    placement = crystals_in_ladder.place(batch, AskedLadder(tern.stage("ladder"), tern.if_hz))
    rig = crystals_in_ladder.fit_in(tern, "ladder", batch, placement)
    section = next(s for s in build_sheet(Analysis(rig)).filters if s.placement)
    told = [(each.mesh, each.label, each.ref) for each in section.placement]
    assert told == [(each.mesh, each.label, each.ref) for each in placement.placed]
    for one, other in zip(section.placement, placement.placed, strict=True):
        assert one.error_hz == pytest.approx(other.error_hz, abs=2)
    file = tmp_path / "sheet.pdf"
    write_pdf(rig, file)
    text = read(file)
    assert "Crystals, as placed" in text
    # Parts list, schematic and table call each crystal by the label of its reading.
    for each in placement.placed:
        assert len(re.findall(rf"\b{each.label}\b", text)) == 3
    moved = rig.edited(
        ("stages", "ladder", "as_built"), {**dict(rig.stage("ladder").as_built), "crystal:3": 19.66e6}
    )
    assert not any(section.placement for section in build_sheet(Analysis(moved)).filters)


def test_print_to_file_is_proposed_under_a_name_that_can_be_written(qapp, rig):
    from app.sheet.printing import _printer

    assert _printer(rig.edited(("name",), "Tern 20/12"), "A4").docName() == "tern-20-12"


def test_the_curve_on_paper_falls_where_the_loss_grows(qapp, tern):
    section = build_sheet(Analysis(tern)).filters[0]
    drawn = ElementTree.fromstring(curve_svg(section.curve))
    line = next(each for each in drawn.iter() if each.tag.endswith("polyline"))
    y = [float(pair.split(",")[1]) for pair in line.get("points").split()]
    loss = section.curve.loss_db
    assert len(y) == len(loss)
    # Down the page is a larger y.
    inside = loss < section.curve.depth_db
    order = [
        value
        for _, value in sorted(
            zip(loss[inside], [v for v, i in zip(y, inside, strict=True) if i], strict=True)
        )
    ]
    assert order == sorted(order)
    assert order[-1] > order[0] + 10


def test_paper_tells_the_compensating_capacitors_kind_and_each_value_in_its_column(qapp, tern, tmp_path):
    tank = tern.vfo.tank.edited(("compensation_f",), 27e-12).edited(("compensation_type",), "n150")
    rig = tern.edited(("vfo", "tank"), tank).edited(
        ("stages", "ladder", "as_built"), {"coupling:2": 123.4e-12}
    )
    write_pdf(rig, tmp_path / "sheet.pdf")
    lines = [" ".join(line.split()) for line in raw(tmp_path / "sheet.pdf").splitlines()]
    assert any(line.startswith("CK 27 pF 27 pF") and "N150 (P2H), −150 ± 60" in line for line in lines)
    for row in Analysis(rig).parts:
        part = row.part
        if row.stage == "ladder" and part.kind == "capacitor":
            built = "________" if part.as_built is None else "123.4 pF"
            start = (
                f"{part.ref} {format_value(part.designed, 'F')} {format_value(part.preferred, 'F')} {built}"
            )
            assert any(line.startswith(start) and "C0G (NP0)" in line for line in lines), start


def test_a_band_is_spelled_one_way_on_paper(qapp, tern, muddle, tmp_path):
    for rig in (tern, muddle):
        write_pdf(rig.edited(("notes",), ""), tmp_path / "sheet.pdf")
        text = read(tmp_path / "sheet.pdf")
        wrong = re.findall(r"(?<![A-Z])\b(?:160|80|60|40|30|20|17|15|12|10)m\b", text)
        assert wrong == []
        assert re.findall(r"(?<![\w.])-\d", re.sub(r"\d{4}-\d\d-\d\d", "", text)) == []


@pytest.mark.parametrize("label", ["Q7", "a&b", "<b>x</b>", "$x$ a_b", "a bag's twelfth"])
def test_a_crystals_label_is_text_in_the_ladders_schematic(qapp, tern, label):
    network = Analysis(tern).filter_design("ladder", "20m").network
    svg = schematic_svg(network, labels={"X1": label})
    texts = [each.text for each in ElementTree.fromstring(svg).iter() if each.tag.endswith("text")]
    assert texts[texts.index("X1") + 1] == (label if len(label) <= 9 else "a bag's …")
    assert texts[texts.index("X2") + 1] != label
    # The drawing without it is another one, and as it was.
    assert label not in [each.text for each in ElementTree.fromstring(schematic_svg(network)).iter()]


def test_a_heading_keeps_its_distance_from_the_table_above_it(qapp, tern):
    document = sheet_document(tern, "A4", 72.0).document
    layout, gaps = document.documentLayout(), {}
    before, block = None, document.begin()
    while block.isValid():
        rect = layout.blockBoundingRect(block)
        in_table = QTextCursor(block).currentTable() is not None
        if before is not None and block.blockFormat().headingLevel() == 3:
            above, was_in_table = before
            if was_in_table and rect.top() > above.bottom():
                gaps[block.text()] = rect.top() - above.bottom()
        before, block = (rect, in_table), block.next()
    assert any(
        "8 W, the power amplifier's largest output, into a matched antenna" in heading for heading in gaps
    )
    assert min(gaps.values()) >= 8, gaps


def test_no_heading_stands_on_another_page_than_its_drawing(qapp, tern):
    """A bilateral pair's section is longer than a page, and its drawing half of one."""
    pair = BilateralAmplifier(id="rf_stage", name="RF pair", current_a=13e-3)
    rig = tern.with_stages(tuple(pair if each.id == "rf_stage" else each for each in tern.stages))
    sheet = sheet_document(rig, "A4", 96.0)
    layout, height = sheet.document.documentLayout(), sheet.document.pageSize().height()
    drawn = [head for head in _heads(sheet.document)[:-1] if "\ufffc" in head.next().text()]
    assert "RF pair" in [head.text().strip() for head in drawn]
    for head in drawn:
        place = layout.blockBoundingRect(head.next())
        assert place.top() // height == place.bottom() // height, head.text()
