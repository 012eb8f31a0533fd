"""Pages are filled: sections cut and drawings smaller where that saves paper, narrow tables two abreast."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.sheet.content.blocks import Picture
from app.sheet.curve import curve_svg
from app.sheet.drawings import picture_svg
from app.sheet.flow.packing import Filling
from app.sheet.flow.pieces import Maker, Pair, Piece
from app.sheet.flow.pieces import pieces as pieces_of
from app.sheet.pages import Wanted, sheet_document
from core.model.bands import Band
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.start.new_rig import new_rig

PAGE = 300.0


def piece(height, name="", **how):
    return Piece(height=height, paint=lambda *_: None, texts=(name,), **how)


def drawing(height, small):
    return piece(height, "drawing", smaller=piece(small, "small"))


def filled(*sections):
    filling = Filling(PAGE)
    for section in sections:
        filling.add(section)
    return filling


def told(filling):
    """Name, page and place of each piece."""
    return [(each.piece.texts[0], each.page, each.y) for each in filling.placed]


def test_a_drawing_is_smaller_where_it_finds_room_so_and_else_as_large_as_it_is():
    pages = filled([piece(190)], [piece(10, "head", glued=True), drawing(120, 95)])
    assert told(pages)[1:] == [("head", 0, 190.0), ("small", 0, 200.0)]
    assert told(filled([piece(150)], [drawing(120, 95)]))[1:] == [("drawing", 0, 150.0)]
    # Nor where it finds none either way.
    assert told(filled([piece(250)], [drawing(120, 95)]))[1:] == [("drawing", 1, 0.0)]


def test_a_section_is_not_cut_for_little_paper_and_is_for_much():
    rows = [piece(20, str(n)) for n in range(10)]
    little = filled([piece(278)], rows)
    assert {page for name, page, _ in told(little) if name} == {1}
    much = filled([piece(170)], rows)
    assert [page for name, page, _ in told(much) if name] == [0] * 6 + [1] * 4


def test_a_line_by_itself_is_not_left_over_for_the_next_page():
    rows = [piece(10, str(n)) for n in range(7)]
    five = told(filled([piece(250)], rows[:6]))
    assert {page for name, page, _ in five if name} == {1}
    # Of more rows enough go over to be found.
    more = told(filled([piece(250)], [*rows, *rows]))
    assert [page for name, page, _ in more if name] == [0] * 5 + [1] * 9


def test_a_gap_here_is_taken_where_it_saves_more_further_on():
    """The first drawing smaller leaves the second one room; section by section nothing is gained by it."""
    pages = filled([drawing(160, 150)], [drawing(150, 150)], [piece(300, "last")])
    assert told(pages) == [("small", 0, 0.0), ("drawing", 0, 150.0), ("last", 1, 0.0)]


heights = st.floats(5.0, 140.0)
pieces = st.builds(
    lambda high, small: drawing(high, 0.8 * high) if small else piece(high), heights, st.booleans()
)
columns = st.lists(heights.map(piece), min_size=1, max_size=5).map(tuple)
pairs = st.builds(lambda left, right: Pair(left, right, 100.0), columns, columns)


@given(st.lists(st.lists(st.one_of(pieces, pairs), min_size=1, max_size=6), min_size=1, max_size=6))
def test_every_piece_is_placed_once_in_its_order_and_inside_its_page(sections):
    placed = filled(*sections).placed
    asked = [
        one
        for section in sections
        for each in section
        for one in ((each,) if isinstance(each, Piece) else (*each.left, *each.right))
    ]
    for one, each in zip(asked, placed, strict=True):
        assert each.piece in (one, one.smaller)
        assert 0 <= each.y <= each.y + each.piece.height <= PAGE + 1e-6
    alone = [(each.page, each.y) for each in placed if each.x == 0]
    assert alone == sorted(alone)


def white(document):
    """What is left at the foot of each page but the last [-]."""
    foot = [0.0] * document.pages
    for each in document.placed:
        foot[each.page] = max(foot[each.page], each.y + each.piece.height)
    return [1 - each / document.body_points.height() for each in foot[:-1]]


@pytest.fixture(scope="module")
def four():
    bands = (("80m", 3.6, 3.8), ("40m", 7.06, 7.2), ("20m", 14.125, 14.3), ("15m", 21.15, 21.4))
    return new_rig(
        tuple(Band(name=name, low_hz=1e6 * low, high_hz=1e6 * high) for name, low, high in bands), 9e6
    )


@pytest.mark.parametrize(("paper", "most"), [("A4", 31), ("Letter", 33)])
def test_four_bands_fill_their_pages(qapp, four, paper, most):
    document = sheet_document(four, paper, 72.0)
    left = white(document)
    assert document.pages <= most
    assert sum(left) / len(left) < 0.05
    assert max(left) < 0.25


@pytest.mark.parametrize("share", [0.4, 0.44])
def test_what_is_written_at_a_response_can_be_read_also_where_it_is_small(qapp, sample, share):
    """Letters of 5 points and more, in the narrowest column that a response has."""
    curve = next(each.curve for each in build_sheet(Analysis(sample)).filters if each.curve is not None)
    svg = curve_svg(curve)
    natural, letters = (float(re.search(rf'{name}="([\d.]+)', svg)[1]) for name in ("height", "font-size"))
    width = sheet_document(sample, "A4", 72.0, of=Wanted(())).body_points.width()
    maker = Maker(svg=picture_svg, photograph=lambda of: "", contents=lambda wide: piece(0))
    (drawn,) = pieces_of(Picture(curve), share * width - 10, maker)
    for each in (drawn, drawn.smaller):
        assert each.height / natural * letters > 5


def test_parts_of_the_supply_stand_two_abreast_and_read_from_left_to_right(qapp, sample):
    document = sheet_document(sample, "A4", 72.0)
    asked = [part.ref for part in build_sheet(Analysis(sample)).fed.parts]
    rows = [each.piece.texts for each in document.placed]
    heads = [n for n, texts in enumerate(rows) if texts.count("part") == 2]
    first = heads[0] + 1
    read = [str(texts[at]) for texts in rows[first:] if len(texts) == 10 for at in (0, 5)]
    assert [each for each in read if each and each != "part"][: len(asked)] == asked


def test_what_windings_go_to_stands_beside_how_they_are_wound(qapp, sample):
    document = sheet_document(sample, "A4", 72.0)
    named = {"Coils to wind": [], "Windings of one core": []}
    for each in document.placed:
        for text in each.piece.texts:
            for start, places in named.items():
                if getattr(text, "text", "").startswith(start):
                    places.append(each)
    pages = {each.page for each in named["Coils to wind"] if each.x == 0}
    beside = [each for each in named["Windings of one core"] if each.x > 100]
    assert len(pages) >= 2
    assert {each.page for each in beside} >= pages - {0}
