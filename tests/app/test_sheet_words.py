"""No word or number of the sheet is broken in two."""

import re
from itertools import pairwise

import pytest

from app.sheet.pages import sheet_document
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
