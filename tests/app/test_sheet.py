"""The build sheet on paper: text that can be selected, drawings as vectors, nothing lost between pages."""

import re
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PySide6.QtCore import QByteArray
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtSvg import QSvgRenderer

from app.sheet.curve import curve_svg
from app.sheet.pages import sheet_document, write_pdf
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
from tests.app.shown import raster
from tests.bags import with_table


def raw(pdf: Path) -> str:
    reader = shutil.which("pdftotext")
    assert reader, "These checks read the PDF back: install poppler-utils."
    return subprocess.run(
        [reader, "-layout", str(pdf), "-"], check=True, capture_output=True, text=True
    ).stdout


def read(pdf: Path) -> str:
    """The text without the feet of the pages, which cut sentences that go over to the next."""
    # Not line by line over the page, but column after column.
    reader = shutil.which("pdftotext")
    assert reader, "These checks read the PDF back: install poppler-utils."
    text = subprocess.run([reader, str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    body = " ".join(re.sub(r"[^\n]*page \d+ of \d+", "", text).split())
    for ligature, letters in (("ﬁ", "fi"), ("ﬀ", "ff"), ("ﬂ", "fl"), ("ﬃ", "ffi")):
        body = body.replace(ligature, letters)
    # A line may end behind a hyphen; one by itself is no such thing.
    return re.sub(r"(?<=\w)- ", "-", body)


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
    # One section less need not save a page, as what follows moves up; some do.
    for stage in ("band_pass", "low_pass", "if_amplifier_1", "if_amplifier_2"):
        bench.change(lambda p, stage=stage: p.stage_removed(stage), label="a stage less")
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
    # Table of parts, schematic and table of crystals call each crystal by the label of its reading.
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
    text = sheet_document(rig, "A4", 72.0).text
    assert "\nCK\n27 pF\n27 pF\n________\nN150 (P2H), −150 ± 60 ppm/K; compensating\n" in text
    lines = [" ".join(line.split()) for line in raw(tmp_path / "sheet.pdf").splitlines()]
    for row in Analysis(rig).parts:
        part = row.part
        if row.stage == "ladder" and part.kind == "capacitor":
            built = "________" if part.as_built is None else "123.4 pF"
            start = (
                f"{part.ref} {format_value(part.designed, 'F')} {format_value(part.preferred, 'F')} {built}"
            )
            assert any(start in line and "C0G (NP0)" in line for line in lines), start


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


def rig_with_a_pair(tern):
    """A bilateral pair's section is longer than a page, and its drawing half of one."""
    pair = BilateralAmplifier(id="rf_stage", name="RF pair", current_a=13e-3)
    return tern.with_stages(tuple(pair if each.id == "rf_stage" else each for each in tern.stages))


def by_page(document):
    """The pieces of each page from top to bottom, a column after the other."""
    pages = [[] for _ in range(document.pages)]
    for each in document.placed:
        pages[each.page].append(each)
    return pages


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_overlaps_and_nothing_is_beyond_the_page(qapp, tern, paper):
    document = sheet_document(rig_with_a_pair(tern), paper, 72.0)
    body = document.body_points
    for page in by_page(document):
        for each in page:
            assert each.y >= 0
            assert each.y + each.piece.height <= body.height() + 1e-6
        for column in {each.x for each in page}:
            mine = sorted((each for each in page if each.x in (0.0, column)), key=lambda each: each.y)
            for one, other in pairwise(mine):
                if one.x == other.x:
                    assert one.y + one.piece.height <= other.y + 1e-6


def test_no_heading_stands_last_on_its_page_or_far_from_what_it_is_for(qapp, tern):
    document = sheet_document(rig_with_a_pair(tern), "A4", 72.0)
    headings = 0
    for page in by_page(document):
        for each in page:
            if each.piece.heading:
                below = [other.y for other in page if other.y > each.y]
                assert below, each.piece.heading
                assert min(below) - each.y - each.piece.height < 12
                headings += 1
    assert headings > 20


def test_a_table_that_goes_on_has_its_head_again_and_no_row_alone(qapp, tern):
    document = sheet_document(tern, "A4", 72.0)
    again = 0
    for page in by_page(document):
        tops = [each for each in page if each.y == 0.0]
        for each in tops:
            if each.piece.repeated is None and any(other.piece.repeated is each.piece for other in page):
                again += 1
    assert again > 0
    for one, other in pairwise(document.placed):
        if one.piece.repeated is not None and other.piece.repeated is one.piece.repeated:
            continue
        if one.piece.repeated is not None:
            same = [each for each in document.placed if each.piece.repeated is one.piece.repeated]
            on_page = [each for each in same if each.page == one.page]
            assert len(on_page) > 1 or len(same) == 1


def filled(document, page) -> float:
    """How much of a page is used from its top, in a raster of what is painted there."""
    # The foot is no part of it.
    top = (document.page_points.height() - document.body_points.height()) / 2 - 6
    body = raster(document, page)[int(top) : int(top + document.body_points.height())]
    used = np.nonzero((body < 200).any(axis=(1, 2)))[0]
    return float(used.max()) / document.body_points.height()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["tern", "muddle"])
def test_no_page_but_the_last_is_less_than_two_thirds_full(qapp, request, name, paper):
    document = sheet_document(request.getfixturevalue(name), paper, 72.0)
    full = [filled(document, page) for page in range(document.pages)]
    assert min(full[:-1]) >= 0.66, full
    assert sum(full[:-1]) / len(full[:-1]) > 0.85


def test_no_heading_stands_at_the_foot_of_a_page_without_what_it_is_of(qapp, tern, muddle, sample):
    """Below each heading stands, on its page, more than a remark: a table, a drawing or columns."""
    for project, paper in ((tern, "A4"), (muddle, "Letter"), (sample, "A4"), (sample, "Letter")):
        document = sheet_document(project, paper, 72.0)
        placed = document.placed
        for n, each in enumerate(placed):
            if not each.piece.heading or each.piece.heading in ("Findings",):
                continue
            rest = [other for other in placed[n + 1 :] if other.page == each.page]
            until = next((k for k, other in enumerate(rest) if other.piece.heading), len(rest))
            below = sum(other.piece.height for other in rest[:until])
            assert below > 26, (project.name, paper, each.piece.heading)


def test_windings_stand_beside_their_table(qapp, sample):
    """The drawing of a transformer is on the page of what is told of it."""
    document = sheet_document(sample, "A4", 72.0)
    heads = [p.page for p in document.placed if "start goes to" in [str(t) for t in p.piece.texts]]
    blocks = [p for p in document.placed if not p.piece.texts and p.piece.height > 40]
    assert len(heads) >= 4
    for page in heads:
        assert any(each.page == page for each in blocks)
