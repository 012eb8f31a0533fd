"""Boards on paper: the line of 100 mm in the PDF itself and in a raster of it, and the command."""

import re
import zlib
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter

from app.boards.paper import paint_page, write_pdf
from app.commands.command_line import main
from core.model.samples import sample_path
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of, boards
from core.rig.board.drawing import Words
from core.rig.board.sheets import sheets_of
from core.rig.board.stage_drawing import drawing_of

POINT_MM = 25.4 / 72


@pytest.fixture(scope="module")
def driver(sample):
    return drawing_of(board_of(Analysis(sample), "driver"))


def lines_of(pdf: bytes):
    """Every straight line of a PDF in millimetres on its page, by following the operators q, Q, cm, m and l
    of its contents (ISO 32000-1, 8.3.4 and 8.5.2).
    """
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            content = zlib.decompress(packed).decode("latin-1")
        except zlib.error:
            continue
        if " cm\n" not in content:
            continue
        now, kept, at = np.eye(3), [], None
        for line in content.splitlines():
            words = line.split()
            for word in words:
                if word == "q":
                    kept.append(now)
                elif word == "Q":
                    now = kept.pop()
            if words[-1:] == ["cm"]:
                a, b, c, d, e, f = map(float, words[-7:-1])
                now = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ now
            elif words[-1:] in (["m"], ["l"]) and len(words) == 3:
                point = (np.array([float(words[0]), float(words[1]), 1]) @ now)[:2] * POINT_MM
                if words[2] == "l" and at is not None:
                    yield at, point
                at = point


def check_line_mm(lines):
    """Length of the longest level line in the lowest 25 mm of the page."""
    level = [
        abs(b[0] - a[0])
        for a, b in lines
        if abs(a[1] - b[1]) < 0.01 and 0 < a[1] < 25 and abs(b[0] - a[0]) > 50
    ]
    return max(level)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_check_line_in_the_pdf_is_100_mm_long(qapp, driver, tmp_path, paper, mirrored):
    file = tmp_path / "board.pdf"
    sheets = sheets_of(driver, paper, "Driver", mirrored=mirrored)
    assert write_pdf(sheets, file, paper) == 1
    pdf = file.read_bytes()
    assert check_line_mm(lines_of(pdf)) == pytest.approx(100, abs=0.05)
    box = [float(word) for word in re.search(rb"/MediaBox \[([^\]]*)\]", pdf)[1].split()]
    width, height = {"A4": (210, 297), "Letter": (215.9, 279.4)}[paper]
    assert box[2:] == pytest.approx([width / POINT_MM, height / POINT_MM], abs=1)


def raster(sheets, dots_per_mm=300 / 25.4):
    """A sheet as dots: dark ones are True."""
    page = sheets.pages[0]
    width, height = (round(1e3 * each * dots_per_mm) for each in page.size_m)
    image = QImage(width, height, QImage.Format.Format_Grayscale8)
    image.fill(QColor("white"))
    painter = QPainter(image)
    paint_page(painter, sheets, page, dots_per_mm)
    painter.end()
    dots = np.frombuffer(image.constBits(), np.uint8).reshape(height, image.bytesPerLine())[:, :width]
    return dots < 128


def longest_run(row):
    places = np.flatnonzero(row)
    runs = np.split(places, np.flatnonzero(np.diff(places) > 1) + 1)
    return max((run.size for run in runs), default=0)


def test_the_check_line_is_100_mm_in_a_raster_too(qapp, driver):
    """At 300 dots an inch, with the ends' own width of 0.1 mm."""
    dark = raster(sheets_of(driver, "A4", "Driver"))
    foot = dark[-round(25 * 300 / 25.4) :]
    assert max(longest_run(row) for row in foot) * 25.4 / 300 == pytest.approx(100, abs=0.3)


def test_a_part_is_as_large_on_paper_as_on_the_bench(qapp, driver):
    """The board's own edge: 63 by 55 mm, as it says, from the outer edges of its outline."""
    sheets = sheets_of(driver, "A4", "Driver")
    dark = raster(sheets)
    left = round((8 - 0.5) * 300 / 25.4)
    width = max(longest_run(row) for row in dark[: round(30 * 300 / 25.4), left:]) * 25.4 / 300
    assert width == pytest.approx(1e3 * driver.box.size[0], abs=0.4)


def test_mirrored_is_the_same_board_from_its_other_side(qapp, driver):
    plain = raster(sheets_of(driver, "A4", "x"))
    turned = raster(sheets_of(driver, "A4", "x", mirrored=True))
    scale = 300 / 25.4
    top, bottom = round(20 * scale), round((18 + 1e3 * driver.box.size[1]) * scale)
    left, right = round(8 * scale), round((8 + 1e3 * driver.box.size[0]) * scale)
    one, other = plain[top:bottom, left:right], turned[top:bottom, left:right][:, ::-1]
    assert np.mean(one != other) < 0.02
    assert np.mean(one != other[:, ::-1]) > 0.05


@pytest.mark.parametrize(("stage", "told"), [("driver", "11 parts"), ("front", "mm, seen from outside")])
def test_the_command_writes_a_board_and_says_what_is_to_be_said(tmp_path, capsys, qapp, stage, told):
    for kind in ("svg", "pdf"):
        file = tmp_path / f"{stage}.{kind}"
        assert main(["board", str(sample_path("tern-20-12")), stage, "-o", str(file)]) == 0
        assert file.stat().st_size > 2000
        assert told in capsys.readouterr().out
    assert Path(tmp_path / f"{stage}.svg").read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["volcano", "-o", "x.svg"], "There is no stage volcano in this project"),
        (["driver", "-o", "x.png"], "x.png ends in neither .svg nor .pdf"),
        (["mixer", "-o", "x.svg"], "is a block of figures without parts"),
        (["band_pass", "--band", "80m", "-o", "x.svg"], "There is no band 80m"),
    ],
)
def test_what_cannot_be_drawn_is_one_sentence(capsys, monkeypatch, tmp_path, qapp, arguments, told):
    monkeypatch.chdir(tmp_path)
    assert main(["board", str(sample_path("muddle-40-20")), *arguments]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_what_is_said_of_a_board_stays_on_its_sheet(qapp, sample, muddle, paper):
    """In the letters that it is painted in, by their real width; and all of it is there."""
    font = QFont("sans-serif")
    font.setPixelSize(40)
    metrics = QFontMetricsF(font)
    for board in (*boards(Analysis(sample)), *boards(Analysis(muddle))):
        drawing = drawing_of(board)
        (page,) = sheets_of(drawing, paper, board.title).pages
        words = [each for each in page.furniture if isinstance(each, Words)]
        columns = sorted({each.at[0] for each in words})
        for each in words:
            end = each.at[0] + metrics.horizontalAdvance(each.text) * each.height_m / 40
            beyond = [left for left in columns if left > each.at[0]]
            assert end < min([*beyond, page.size_m[0] - 6e-3]), each.text
        printed = " ".join(" ".join(each.text.split()) for each in words)
        for said in (drawing.told[0], next(each for each in drawing.told if "from memory" in each)):
            assert said in printed
