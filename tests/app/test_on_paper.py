"""What leaves the program: parts as CSV, curves and schematics, responses, a file's rights."""

import csv
import io
import os
import re
import stat
from itertools import pairwise
from math import atan, degrees, log10, pi

import numpy as np
import pytest

from app.sheet.curve import curve_svg
from app.sheet.drawings import drawn
from app.sheet.pages import write_pdf
from app.sheet.schematic import schematic_svg
from app.sheet.tank_schematic import tank_svg
from core.circuits.ladder import Arm, Network, Part
from core.model import files
from core.model.samples import sample_path
from core.model.stages.filters import BandPassFilter
from core.model.stages.tank import Tank
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import response_csv, response_touchstone
from core.rig.paper.parts_list import parts_csv
from core.rig.paper.sheet_model import Curve
from core.stages.band_pass import band_pass
from core.stages.vfo.tank import WantedRange
from core.stages.vfo.tank_design import design
from tests.app.test_sheet import read

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def in_e24(value):
    return any(abs(value / 10 ** (round(log10(value / each))) - each) < 1e-6 * each for each in E24)


def test_the_parts_list_tells_preferred_values_as_preferred_and_fitted_ones_as_built(tern):
    rig = tern.edited(("stages", "ladder", "as_built"), {"coupling:2": 123e-12})
    rows = list(csv.DictReader(io.StringIO(parts_csv(Analysis(rig)))))
    ladder = tern.stage("ladder").name
    capacitors = [row for row in rows if ladder in row.values() and row["what"] == "capacitor"]
    assert len(capacitors) >= 5
    assert {row["unit"] for row in capacitors} == {"pF"}
    assert all(in_e24(float(row["preferred"])) for row in capacitors)
    assert sum(in_e24(float(row["designed"])) for row in capacitors) <= 2
    assert all(float(r["designed"]) == pytest.approx(float(r["preferred"]), rel=0.2) for r in capacitors)
    assert [row["as built"] for row in capacitors if row["as built"]] == ["123"]


def test_the_printed_curve_has_no_loss_at_the_top_and_lies_where_its_frequencies_are():
    f = np.linspace(9e6, 11e6, 5)
    svg = curve_svg(Curve(f, np.array([90.0, 30.0, 0.0, 30.0, np.inf]), 9.5e6, 10.5e6, 60.0))
    points = [
        tuple(float(each) for each in point.split(","))
        for point in re.search(r'points="([^"]+)"', svg)[1].split()
    ]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    # Nothing lost is at the upper rule, 60 dB and more at the lower one, 30 dB half way down.
    assert ys[0] == ys[4] == max(ys)
    assert ys[2] == min(ys)
    assert ys[1] == ys[3] == pytest.approx((min(ys) + max(ys)) / 2)
    assert np.diff(xs) == pytest.approx([(xs[4] - xs[0]) / 4] * 4, abs=0.11)
    marked = re.findall(r'<text[^>]* y="([\d.]+)"[^>]*>([^<]+)</text>', svg)
    rules = {text.strip(): float(y) for y, text in marked}
    assert rules["0 dB"] < rules["−30"] < rules["−60"]
    assert {"9.0", "10.0"} <= set(rules)
    assert "11.0 MHz" in rules


def test_the_printed_curve_is_shaded_where_nine_filters_in_ten_lie(tern):
    section = next(each for each in build_sheet(Analysis(tern)).filters if each.curve is not None)
    svg, curve = curve_svg(section.curve), section.curve
    drawn_as = (re.search(rf'<{kind} points="([^"]+)"', svg)[1] for kind in ("polyline", "polygon"))
    line, shade = ([tuple(map(float, point.split(","))) for point in points.split()] for points in drawn_as)
    half = len(shade) // 2
    assert half == len(line) == curve.f_hz.size
    # Along the top of the shade less is lost than along its bottom, which is drawn backwards.
    best, worst = shade[:half], shade[half:][::-1]
    assert [x for x, _ in best] == [x for x, _ in worst] == [x for x, _ in line]
    assert all(upper <= lower for (_, upper), (_, lower) in zip(best, worst, strict=True))
    rows = zip(best, line, worst, strict=True)
    assert np.mean([up - 0.1 <= y <= low + 0.1 for (_, up), (_, y), (_, low) in rows]) > 0.8
    assert "shaded: nine filters in ten" in svg
    plain = curve_svg(Curve(curve.f_hz, curve.loss_db, curve.low_hz, curve.high_hz, curve.depth_db))
    assert "polygon" not in plain
    assert "nine" not in plain


def paths(svg):
    """The corners of each line of a drawing."""
    return [
        [(float(x), float(y)) for x, y in re.findall(r"[ML] (-?[\d.e-]+),(-?[\d.e-]+)", d)]
        for d in re.findall(r'<path d="([^"]+)"', svg)
    ]


def has_line(svg, start, end):
    """Whether a straight line of a drawing goes from one place to another."""
    return any(
        line[0] == pytest.approx(start, abs=0.1) and line[-1] == pytest.approx(end, abs=0.1)
        for line in paths(svg)
        if line
    )


def on_wires(svg):
    """Texts of a drawing that a line comes nearer than a quarter of a letter's height."""
    ends = [pair for line in paths(svg) for pair in pairwise(line)]
    points = np.concatenate([np.linspace(a, b, 2 + int(np.hypot(b[0] - a[0], b[1] - a[1]))) for a, b in ends])
    found = []
    written = (
        r'<text x="(-?[\d.e-]+)" y="(-?[\d.e-]+)"[^>]*font-size="([\d.]+)"[^>]*anchor="(\w+)"[^>]*>([^<]+)<'
    )
    for x, y, size, anchor, text in re.findall(written, svg):
        letter, width = float(size), 0.55 * float(size) * len(text)
        left = float(x) - {"start": 0, "middle": width / 2, "end": width}[anchor]
        low, high = (left, float(y) - 0.98 * letter), (left + width, float(y) + 0.23 * letter)
        if np.any(np.all((points > low) & (points < high), axis=1)):
            found.append(text)
    return found


@pytest.mark.parametrize("name", ["tern-20-12", "muddle-40-20"])
def test_no_label_of_a_schematic_lies_on_a_wire(name):
    analysis = Analysis(files.load(sample_path(name)))
    svgs = [drawn(row.design.drawing, "#000", "#111") for row in analysis.filters]
    svgs.append(tank_svg(analysis.tank))
    assert len(svgs) > 4
    assert [on_wires(svg) for svg in svgs] == [[]] * len(svgs)


def test_a_traps_capacitor_is_drawn_across_its_coil():
    coil, capacitor = Part("L2", "inductor", 1e-6), Part("C3", "capacitor", 100e-12)
    trap = schematic_svg(Network((Arm("series", (coil, capacitor), "in_parallel"),), 50.0, 50.0))
    row = schematic_svg(Network((Arm("series", (coil, capacitor)),), 50.0, 50.0))
    x = 18.0  # half a unit of the line before the first part
    end = x + 2.2 * 36
    for at in (x, end):
        assert has_line(trap, (at, 0), (at, -72)) or has_line(trap, (at, -72), (at, 0))
        assert not has_line(row, (at, 0), (at, -72))
    above = next(
        line for line in paths(trap) if line[0] == pytest.approx((x, -72), abs=0.1) and len(line) > 2
    )
    assert above[-1] == pytest.approx((end, -72), abs=0.1)


def test_coupled_coils_are_drawn_side_by_side_with_what_they_share():
    asked = BandPassFilter(coupling="mutual_inductance")
    svg = schematic_svg(band_pass.design(asked, ((14.0e6, 14.35e6),)).network)
    assert on_wires(svg) == []
    texts = re.findall(r"<text[^>]*>([^<]+)</text>", svg)
    assert {"K1 0.0249", "L1 1.5 µH", "L2 1.5 µH"} <= set(texts)


def test_what_a_band_switches_in_has_a_switch_to_ground():
    made = design(Tank(), (WantedRange("a", 3.3e6, 3.5e6), WantedRange("b", 2.9e6, 3.0e6, "parallel")))
    switched = [ref for ref in made.values if ref[:2] in ("CB", "CT") and len(ref) > 2]
    assert switched
    svg = tank_svg(made)
    # A part hangs 72 down from the line; the switch takes 1.2 units of 36 more before the ground begins.
    grounds = [line[0] for line in paths(svg) if len(line) == 6 and line[-1][1] == line[1][1]]
    lower = [at for at in grounds if at[1] == pytest.approx(72 + 1.2 * 36, abs=0.1)]
    assert len(lower) == len(switched)
    for x, _ in lower:
        lever = next(line for line in paths(svg) if line and line[-1] == pytest.approx((x, 115.2), abs=0.1))
        assert max(at for at, _ in lever) > x + 10, "open, not a wire"
        contacts = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)"', svg)
        between = [y for cx, y in contacts if abs(float(cx) - x) < 0.1 and 72 <= float(y) <= 115.2]
        assert len(between) == 2


def test_a_response_is_written_with_its_phase_in_degrees():
    # A capacitor across 50 ohm and 50 ohm: at 1/(2 pi R C) with R = 25 ohm it takes 3.01 dB and 45 degrees;
    # there -d(phase)/d(omega) is half the time constant.
    c = 1e-9
    corner = 1 / (2 * pi * 25 * c)
    network = Network((Arm("shunt", (Part("C1", "capacitor", c, q=1e12),)),), 50.0, 50.0)
    text = response_csv(network, np.array([corner / 2, corner, 2 * corner]))
    head, *lines = text.splitlines()
    assert head == "frequency (Hz),loss (dB),return loss (dB),phase (degree),group delay (s)"
    rows = [[float(cell) for cell in line.split(",")] for line in lines]
    for row, times in zip(rows, (0.5, 1.0, 2.0), strict=True):
        assert row[0] == pytest.approx(times * corner)
        assert row[1] == pytest.approx(10 * log10(1 + times**2), abs=1e-6)
        assert row[3] == pytest.approx(-degrees(atan(times)), abs=1e-6)
        assert row[4] == pytest.approx(25 * c / (1 + times**2), rel=1e-4)
        # What comes back: |S11|² = 1 - |S21|² for a part without loss.
        assert row[2] == pytest.approx(-10 * log10(1 - 1 / (1 + times**2)), abs=1e-6)
    touchstone = response_touchstone(network, np.array([corner]), None, "one capacitor").splitlines()
    s11_re, s11_im, s21_re, s21_im = (float(each) for each in touchstone[-1].split()[1:5])
    # S21 = 1 / (1 + j), S11 = S21 - 1.
    assert [s21_re, s21_im] == pytest.approx([0.5, -0.5])
    assert [s11_re, s11_im] == pytest.approx([-0.5, -0.5])
    assert touchstone[-2] == "# Hz S RI R 50"


def test_every_heading_is_on_paper(qapp, tern, tmp_path):
    write_pdf(tern, tmp_path / "sheet.pdf")
    text = read(tmp_path / "sheet.pdf")
    # What the contents name besides stands for the second time where it is.
    text = text[text.index("sideband at the IF") :]
    places = [
        text.index(each)
        for each in (
            "Signal path",
            "Receive: levels for an S9 signal",
            "Transmit: levels on speech peaks",
            "Receiver on 20 m",
            "Switching",
            "Order of work",
            "Low-pass, 20 m",
            "Alignment",
            "Checks before the antenna",
            "Parts of the whole rig",
            "Findings",
        )
    ]
    assert places == sorted(places)
    for heading in ("Ladder filter", "start-up", "Read-out", "stored", "Findings"):
        assert heading in text
    assert "volts at 3:1" in text


def test_saving_leaves_a_files_rights_as_they_were(tern, tmp_path):
    file = tmp_path / "rig.json"
    before = os.umask(0o027)
    try:
        files.save(tern, file)
    finally:
        os.umask(before)
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    for rights in (0o600, 0o664):
        file.chmod(rights)
        files.save(tern.edited(("if_hz",), 9e6 + rights), file)
        assert stat.S_IMODE(file.stat().st_mode) == rights
