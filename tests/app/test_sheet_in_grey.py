"""The sheet printed without colours: what a colour tells can be told from its lightness, or in words."""

import re
from itertools import combinations

import numpy as np
import pytest
from PySide6.QtGui import QColor

from app.sheet.content.blocks import Picture
from app.sheet.content.sections import sections
from app.sheet.drawings import picture_svg
from app.sheet.flow.fonts import COPPER, INK, SOFT
from app.sheet.pages import sheet_document
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from tests.app.shown import raster

#: A ground is told from another by so many of 255 steps of grey, as an ordinary printer does.
APART = 16
#: Contrast of text to its ground (WCAG 2.1, level AA).
CONTRAST = 4.5


def grey(colour) -> float:
    """Lightness as a printer without colours takes it, 0 to 255 (ITU-R BT.601)."""
    red, green, blue = colour
    return 0.299 * red + 0.587 * green + 0.114 * blue


def contrast(one, other) -> float:
    """Contrast of two greys [-], by their relative luminance as WCAG defines it."""

    def luminance(step):
        share = step / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    light, dark = sorted((luminance(grey(one)), luminance(grey(other))), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def rgb(colour: str) -> tuple[int, ...]:
    """Red, green and blue of a colour that is written out."""
    return QColor(colour).getRgb()[:3]


def grounds(dots: np.ndarray) -> set[tuple[int, int, int]]:
    """The colours of areas: squares of four by four dots of one colour, but white."""
    packed = (dots[:, :, 0] << 16) + (dots[:, :, 1] << 8) + dots[:, :, 2]
    same = np.ones(packed[:-3, :-3].shape, dtype=bool)
    for down in range(4):
        for across in range(4):
            high, wide = same.shape
            same &= packed[down : down + high, across : across + wide] == packed[:high, :wide]
    found = {int(each) for each in packed[:-3, :-3][same]}
    return {(each >> 16, each >> 8 & 255, each & 255) for each in found} - {(255, 255, 255)}


@pytest.fixture(scope="module")
def rasters(qapp, sample):
    """The grounds of every page of the sample's sheet."""
    document = sheet_document(sample, "A4", 72.0)
    return [grounds(raster(document, page)) for page in range(document.pages)]


def test_no_two_grounds_of_a_page_look_alike_in_grey(rasters):
    # Heavy strokes of text and lines are grounds by this measure, too; they are no areas.
    strokes = {rgb(each) for each in (INK, SOFT, COPPER, "#2b2620")}
    for page, found in enumerate(rasters):
        for one, other in combinations(sorted({*found, (255, 255, 255)}), 2):
            if not {one, other} <= strokes:
                assert abs(grey(one) - grey(other)) >= APART, (page, one, other)
    areas = set.union(*rasters) - strokes
    assert len(areas) >= 3, "the sheet has grounds of several colours"


def test_every_text_stands_out_of_its_ground_in_grey(rasters):
    """Whatever colours text has, against white; on grounds of areas stand numbers in ink."""
    for colour in (INK, SOFT, COPPER):
        assert contrast(rgb(colour), (255, 255, 255)) >= CONTRAST
    for area in set.union(*rasters):
        if grey(area) > 128:
            assert contrast(rgb(INK), area) >= CONTRAST


def pictures(blocks):
    for block in blocks:
        if isinstance(block, Picture):
            yield block.of
        for side in ("left", "right"):
            yield from pictures(getattr(block, side, ()))
        lead = getattr(block, "lead", None)
        if lead is not None:
            yield lead.of


def test_curves_of_one_picture_differ_by_more_than_their_colour(qapp, sample):
    """Lines of two colours in one drawing differ in their dashes, or are as light apart as grounds; text that
    is soft is text in any case.
    """
    count = 0
    for section in sections(build_sheet(Analysis(sample)), "today"):
        for of in pictures(section.blocks):
            svg = picture_svg(of).decode()
            lines = {
                (found["colour"], "dasharray" in each)
                for each in re.findall(r"<(?:polyline|path|line|rect|circle|polygon)\b[^>]*>", svg)
                if (found := re.search(r'stroke="(?P<colour>#[0-9a-f]{6})"', each)) is not None
            }
            count += len(lines)
            for (one, dashed), (other, also) in combinations(lines, 2):
                apart = abs(grey(rgb(one)) - grey(rgb(other)))
                assert dashed != also or apart >= APART, (section.title, one, other)
    assert count > 10
