"""No word or number of the sheet is broken in two."""

import re
from itertools import pairwise

import pytest

from app.sheet.flow import fonts
from app.sheet.pages import sheet_document, shortened
from core.model.bands import Band
from core.rig.start.new_rig import new_rig


def broken_words(project, paper) -> list[str]:
    """What of the sheet's text is continued in the next line without a place to break it."""
    found = []
    for placed in sheet_document(project, paper, 72.0).placed:
        for text in placed.piece.texts:
            if not isinstance(text, str):
                for one, other in pairwise(text.lines):
                    if one and one[-1] not in " -\u2028" and other[:1].strip():
                        found.append(f"{one}|{other}")
    return found


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_word_or_number_is_broken_in_two(qapp, tern, muddle, paper):
    bands = tuple(
        Band(name=name, low_hz=1e6 * low, high_hz=1e6 * high, sideband=sideband, scheme="vfo_minus_if")
        for name, low, high, sideband in (("80m", 3.6, 3.8, "lower"), ("20m", 14.125, 14.35, "upper"))
    )
    turned = new_rig(bands, 19.6608e6, "Turned over on both bands")
    assert {p.name: broken_words(p, paper) for p in (tern, muddle, turned)} == {
        p.name: [] for p in (tern, muddle, turned)
    }


def test_the_plan_on_paper_has_its_unit_in_the_head_and_the_ranges_whole(qapp, tern):
    document = sheet_document(tern, "A4", 72.0)
    text = document.text.replace("\u00a0", " ")
    assert {"dial, MHz", "VFO, MHz", "carrier, MHz", "image, MHz"} <= set(text.split("\n"))
    assert re.search(r"^14\.\d{4} to 14\.3500$", text, re.MULTILINE)
    assert re.search(r"^19\.\d{6}$", text, re.MULTILINE)


def rows_of(project):
    return [placed.piece.texts for placed in sheet_document(project, "A4", 72.0).placed]


def bias_step(project):
    """The cells of the alignment's first step, with a reading for every stage."""
    return next(
        cells
        for cells in rows_of(project)
        if len(cells) == 6 and getattr(cells[1], "text", "")[:6] == "Bias. "
    )


def test_what_is_read_stands_beside_what_it_should_be_however_long_its_name_is(qapp, sample):
    """A name that finds no room in its line moves what stands beside the names below it down as well."""
    long = sample.edited(("stages", "driver", "name"), "Driver on a board beside the cool fins")
    for rig in (sample, long):
        reading, expected, good, blank = (
            [line.replace("\u00a0", " ").strip(" \u2028") for line in cell.lines]
            for cell in bias_step(rig)[2:]
        )
        assert len(reading) == len(expected) == len(good) == len(blank)
        told = {reading[n]: each for n, each in enumerate(expected) if each}
        assert [name.split(", ")[:2] for name in list(told)[:2]] == [
            ["Supply", "receive"],
            ["Supply", "transmit"],
        ]
        assert told["VFO, current at 8 V"] == "5.22 mA"
    assert len(told) < len(reading)


def test_a_step_of_the_alignment_has_a_third_of_the_page(qapp, sample):
    assert len(bias_step(sample)[1].lines) <= 7


def test_windings_without_a_known_impedance_have_no_column_for_it(qapp, sample):
    heads = [cells for cells in rows_of(sample) if "end goes to" in cells]
    assert ("wound", "winding", "turns", "start goes to", "end goes to") in heads
    assert ("wound", "winding", "turns", "start goes to", "end goes to", "impedance") in heads


def test_a_range_of_good_readings_stays_in_one_line(qapp):
    four = new_rig(
        tuple(
            Band(name=name, low_hz=low, high_hz=high, sideband=sideband, scheme=scheme)
            for name, low, high, sideband, scheme in (
                ("80m", 3.6e6, 3.8e6, "lower", "if_minus_vfo"),
                ("40m", 7.05e6, 7.2e6, "lower", "if_minus_vfo"),
                ("20m", 14.125e6, 14.35e6, "upper", "sum"),
            )
        ),
        12.352e6,
        "Three bands",
    )
    goods = [
        line.strip("\u2028")
        for cells in rows_of(four)
        if len(cells) == 6 and isinstance(cells[0], str) and cells[0].isdigit()
        for line in getattr(cells[4], "lines", (cells[4],))
    ]
    assert len(goods) > 30
    assert [line for line in goods if re.search(r"(\bto|at most|at least)\s*$", line)] == []


def test_contents_of_long_names_still_tell_which_band_a_section_is_for():
    name = "Low-pass behind the shield of the amplifier"
    shown = [shortened(f"{name}, {bands}", 100.0) for bands in ("80 m", "40 m", "20 m and 15 m")]
    assert [text.partition("…")[2] for text in shown] == [", 80 m", ", 40 m", ", 20 m and 15 m"]
    assert all(name.startswith(text.partition("…")[0]) and text.index("…") > 5 for text in shown)
    assert max(fonts.wide(text, fonts.CELL) for text in shown) <= 100.0
    assert shortened("Low-pass, 80 m", 100.0) == "Low-pass, 80 m"
    assert shortened(name, 100.0).endswith("…")
