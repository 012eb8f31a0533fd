"""Boards and panels as drawings: at their true size in SVG and on paper, the whole board, and panels."""

import json
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from math import hypot
from xml.etree import ElementTree

import pytest

from core.model.boards.board import Board, Fitting, Panel, Placed
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of, boards
from core.rig.board.drawing import Area, Disc, Drawing, Stroke, Words
from core.rig.board.panels import (
    added,
    as_proposed,
    changed,
    labelled,
    mounted,
    panel_clashes,
    panel_drawing,
    panel_of,
    proposed,
    removed,
    wanted,
)
from core.rig.board.plan import Box, Place
from core.rig.board.rig_board import WHOLE, shields, whole_board
from core.rig.board.sheets import OVERLAP_M, PAPERS_M, sheets_of
from core.rig.board.stage_drawing import drawing_of
from core.rig.board.svg import svg_of
from core.trade.bodies.fittings import fittings
from core.trade.bodies.packages import packages, transistors
from core.trade.devices import devices
from core.trade.tables import data_folder


def plane(width, height):
    return Drawing(title="plane", box=Box(0.0, 0.0, width, height), shapes=())


@pytest.mark.parametrize("paper", sorted(PAPERS_M))
@pytest.mark.parametrize(
    ("size", "count"), [((0.05, 0.05), 1), ((0.25, 0.15), 1), ((0.3, 0.2), 2), ((0.5, 0.5), 6)]
)
def test_tiles_hold_all_of_a_drawing_and_overlap_by_a_centimetre(paper, size, count):
    sheets = sheets_of(plane(*size), paper, "A plane")
    assert len(sheets.pages) == count
    parts = [page.part for page in sheets.pages]
    assert max(part.right for part in parts) == pytest.approx(size[0])
    assert max(part.bottom for part in parts) == pytest.approx(size[1])
    rows = {part.top: sorted(p for p in parts if p.top == part.top) for part in parts}
    for row in rows.values():
        for a, b in pairwise(row):
            assert a.right - b.left == pytest.approx(OVERLAP_M)
    for a, b in pairwise(sorted(rows)):
        assert rows[a][0].bottom - b == pytest.approx(OVERLAP_M)
    for page in sheets.pages:
        # On the paper, with the edge that printers leave.
        assert page.at[0] + page.part.size[0] <= page.size_m[0] - 6e-3
        assert page.at[1] + page.part.size[1] <= page.size_m[1] - 6e-3


def test_every_overlap_has_crosses_that_both_sheets_show():
    sheets = sheets_of(plane(0.3, 0.2), "A4", "A plane")
    first, second = sheets.pages
    middles = {shape.points[0][1] for shape in first.marks if shape.points[0][1] == shape.points[1][1]}
    assert len(middles) == 2
    shared = Box(second.part.left, 0.0, first.part.right, 0.2)
    assert first.marks == second.marks
    for mark in first.marks:
        assert all(shared.holds(point) for point in mark.points)


def test_every_sheet_has_a_line_of_100_mm():
    for page in sheets_of(plane(0.5, 0.5), "A4", "A plane").pages:
        line = next(
            shape
            for shape in page.furniture
            if isinstance(shape, Stroke) and shape.points[0][1] == shape.points[1][1]
        )
        assert line.points[1][0] - line.points[0][0] == pytest.approx(0.1, abs=1e-9)
        words = [shape.text for shape in page.furniture if isinstance(shape, Words)]
        assert "100 mm: measure this line; print at 100 %, not fitted to the page" in words


def test_an_svg_is_as_large_as_the_board_and_a_unit_is_a_millimetre(sample):
    drawing = drawing_of(board_of(Analysis(sample), "driver"))
    top = ElementTree.fromstring(svg_of(drawing))
    width, height = drawing.box.size
    assert float(top.get("width").removesuffix("mm")) == pytest.approx(1e3 * width + 0.4)
    left, _, across, down = map(float, top.get("viewBox").split())
    assert across == float(top.get("width").removesuffix("mm"))
    assert down == pytest.approx(1e3 * height + 0.4)
    # RB2 is a quarter-watt resistor of 6.3 by 2.4 mm, standing upright below its island.
    areas = [
        [tuple(map(float, p.split(","))) for p in each.get("points").split()]
        for each in top.iter("{http://www.w3.org/2000/svg}polygon")
        if each.get("class") == "body"
    ]
    sizes = [(max(x) - min(x), max(y) - min(y)) for x, y in (zip(*points, strict=True) for points in areas)]
    assert any(size == pytest.approx((2.4, 6.3)) for size in sizes)
    assert left == pytest.approx(1e3 * drawing.box.left - 0.2)
    texts = [each.text for each in top.iter("{http://www.w3.org/2000/svg}text")]
    assert "RB2 510" in texts
    assert "2N5109" in texts
    mirrored = ElementTree.fromstring(svg_of(drawing, mirrored=True))
    turn = mirrored.find("{http://www.w3.org/2000/svg}g").get("transform")
    assert turn == f"translate({2e3 * drawing.box.middle[0]:.3f} 0) scale(-1 1)"


def test_names_from_files_are_text_in_an_svg(sample):
    named = sample.edited(("stages", "driver", "name"), "<b>&\"'")
    top = ElementTree.fromstring(svg_of(drawing_of(board_of(Analysis(named), "driver"))))
    assert top.find("{http://www.w3.org/2000/svg}title").text == "<b>&\"'"


def test_what_clashes_is_marked_with_a_cross_and_what_has_a_long_lead_with_a_triangle(sample):
    places = (
        Placed(key="bias_upper", x_m=0.0235, y_m=0.006, turned=1),
        Placed(key="bias_lower", x_m=0.0235, y_m=0.006, turned=1),
        Placed(key="bypass", x_m=0.06, y_m=0.06),
    )
    put = sample.edited(("boards",), (Board(stage="driver", places=places),))
    drawing = drawing_of(board_of(Analysis(put), "driver"))
    inks = [shape.ink for shape in drawing.shapes]
    states = {thing.key: thing.states for thing in drawing.things}
    assert inks.count("clash") == 3 * sum("clash" in words for words in states.values())
    assert inks.count("long") == sum("lead too long" in words for words in states.values()) > 0
    assert states["bias_upper"] == ("clash", "put by hand")
    assert states["bypass"] == ("lead too long", "put by hand")


def test_a_stage_of_figures_has_no_board(muddle):
    with pytest.raises(DesignError, match="Audio amplifier is a block of figures without parts"):
        board_of(Analysis(muddle), "audio")
    with pytest.raises(DesignError, match="The VFO has no tank"):
        board_of(Analysis(muddle.edited(("vfo", "tank"), None)), "vfo")


# -- the whole board ------------------------------------------------------------------------------


def test_all_boards_lie_in_rows_with_none_on_another(sample, muddle):
    for project in (sample, muddle):
        drawing = whole_board(Analysis(project))
        boxes = [thing.box for thing in drawing.things]
        assert len(boxes) == len(set(boxes)) >= len(project.stages)
        for n, box in enumerate(boxes):
            assert not any(box.meets(other) for other in boxes[n + 1 :])
            assert drawing.box.left <= box.left
            assert box.right <= drawing.box.right
        assert not any("lies on" in told for told in drawing.told)


def test_boards_of_a_row_have_the_signal_on_one_line(sample):
    things = {thing.key: thing for thing in whole_board(Analysis(sample)).things}
    # Those that follow each other in the first row: the low-passes of both bands.
    assert things["low_pass 20m"].place.y_m == things["low_pass 12m"].place.y_m
    assert things["low_pass 20m"].box.right < things["low_pass 12m"].box.left


def test_wires_between_boards_pass_below_those_of_their_row(sample):
    drawing = whole_board(Analysis(sample))
    boards = [thing.box for thing in drawing.things]
    wires = [s for s in drawing.shapes if isinstance(s, Stroke) and s.ink == "wire" and s.width_m == 0.5e-3]
    assert len(wires) > 10
    for wire in wires:
        level = [(a, b) for a, b in pairwise(wire.points) if abs(a[1] - b[1]) < 1e-9]
        for a, b in level[1:-1]:
            assert not any(box.grown(-1e-6).cut_by(a, b) for box in boards)


def test_a_shield_stands_where_the_levels_of_neighbours_are_more_than_40_db_apart(sample):
    """By hand from the level diagram: the audio power stage has some 76 dB, and the volume
    control before it next to nothing.
    """
    found = {(each.first, each.second): each.level_db for each in shields(Analysis(sample))}
    levels = Analysis(sample).receive("20m")
    names = [stage.id for stage in sample.path("receive")]
    at = names.index("audio")
    between = float(levels.s9_dbm[at + 1] - levels.s9_dbm[at - 1])
    assert between > 40
    assert found[names[at - 1], "audio"] == pytest.approx(between, abs=0.5)
    # The RF stage and the mixer behind it are 5 dB apart.
    assert ("rf_stage", "mixer") not in found
    assert sum(shape.ink == "shield" for shape in whole_board(Analysis(sample)).shapes) == len(found)


def test_a_board_put_on_another_is_told(sample):
    things = {thing.key: thing for thing in whole_board(Analysis(sample)).things}
    at = things["driver"].place
    board = Board(stage=WHOLE, places=(Placed(key="pre_driver", x_m=at.x_m, y_m=at.y_m),))
    drawing = whole_board(Analysis(sample.edited(("boards",), (board,))))
    assert "Pre-driver lies on another board; move one of them." in drawing.told


# -- panels -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["front", "rear"])
def test_a_proposed_panel_has_what_the_rig_wants_and_nothing_in_the_way(sample, muddle, side):
    for project in (sample, muddle):
        panel = proposed(project, side)
        assert panel_clashes(panel) == ()
        assert [(f.kind, f.label) for f in panel.fittings] == list(wanted(project, side))


def test_the_front_follows_from_the_rig(sample):
    labels = {label for _, label in wanted(sample, "front")}
    assert {"tuning", "volume", "band", "mic", "phones", "power"} <= labels
    one = sample.band_removed("12m")
    assert "band" not in {label for _, label in wanted(one, "front")}
    deaf = sample.with_stages(tuple(s for s in sample.stages if s.direction == "receive"))
    assert "mic" not in {label for _, label in wanted(deaf, "front")}
    assert ("display_counter", "") in wanted(sample, "front")
    assert ("display_counter", "") not in wanted(sample.edited(("read_out",), None), "front")


def test_clashes_on_a_panel_are_told_before_and_behind_it_and_at_its_edge():
    """A speaker is 58 mm behind its panel and 50 mm before it: a potentiometer of 20 mm is in its way up to
    39 mm from its middle.
    """

    def at(x_m):
        speaker = Fitting(kind="speaker_57", x_m=0.05, y_m=0.045)
        volume = Fitting(kind="potentiometer", label="volume", x_m=x_m, y_m=0.045)
        return [c.sentence for c in panel_clashes(Panel(fittings=(speaker, volume)))]

    volume = "volume (potentiometer with a knob)"
    assert at(0.0895) == []
    assert at(0.0885) == [
        f"The speaker 57 mm across and {volume} are in each other's way; move one of them.",
    ]
    assert at(0.228) == [f"{volume} is nearer than 4 mm to the panel's edge; move it inwards."]
    assert at(0.236) == [f"{volume} reaches beyond the panel; move it inwards."]


def test_a_panel_is_drilled_as_the_table_says(sample):
    panel = Panel(fittings=(Fitting(kind="bnc", label="antenna", x_m=0.05, y_m=0.04),))
    drawing = panel_drawing(sample.edited(("panels",), (panel,)), "front")
    holes = [shape for shape in drawing.shapes if isinstance(shape, Disc)]
    assert [(hole.middle, hole.radius_m) for hole in holes] == [((0.05, 0.04), pytest.approx(0.0097 / 2))]
    assert drawing.legend == ("antenna (BNC socket) at 50.0, 40.0 mm: hole 9.7 mm",)
    edge = next(shape for shape in drawing.shapes if isinstance(shape, Area))
    assert max(x for x, _ in edge.points) == pytest.approx(0.24)


def test_a_panel_that_is_touched_is_the_builders_own(sample):
    number = next(n for n, f in enumerate(panel_of(sample, "front").fittings) if f.label == "volume")
    moved = mounted(sample, "front", {str(number): Place(0.1, 0.05)})
    assert (moved.panels[0].fittings[number].x_m, moved.panels[0].fittings[number].y_m) == (0.1, 0.05)
    assert len(moved.panels) == 1
    more = labelled(added(moved, "front", "jack_6"), "front", len(moved.panels[0].fittings), "key")
    assert more.panels[0].fittings[-1].label == "key"
    less = removed(more, "front", number)
    assert "volume" not in {f.label for f in less.panels[0].fittings}
    assert changed(less, "front", "width_m", 0.3).panels[0].width_m == 0.3
    assert as_proposed(less, "front") == sample


def test_an_added_fitting_is_in_nobodys_way_while_there_is_room(sample):
    wide = changed(sample, "rear", "width_m", 0.3)
    more = added(added(wide, "rear", "bnc"), "rear", "jack_6")
    assert panel_clashes(panel_of(more, "rear")) == ()


def test_a_fitting_that_no_table_has_is_told():
    panel = Panel(fittings=(Fitting(kind="periscope", x_m=0.05, y_m=0.04),))
    assert panel_clashes(panel)[0].sentence.startswith("“periscope” is no fitting of the table")


# -- the tables -------------------------------------------------------------------------------------


def test_every_row_of_the_tables_names_its_source_and_how_sure_it_is():
    rows = [*packages().values(), *transistors().values(), *fittings().values()]
    assert all(row.source and row.status for row in rows)
    assert {row.package for row in transistors().values()} <= set(packages())


@pytest.mark.parametrize("path", sorted(data_folder("assets").glob("*.json")), ids=lambda path: path.stem)
def test_every_row_of_every_table_has_source_and_status(path):
    table = json.loads(path.read_text(encoding="utf-8"))
    lists = [rows for rows in table.values() if isinstance(rows, list)]
    assert lists
    for row in (row for rows in lists for row in rows):
        for word in ("source", "status"):
            assert (row.get(word) or table.get(word, "")).strip(), (word, row)


def test_the_leads_of_every_transistor_of_the_table_stand_in_a_known_order():
    for device, row in devices().items():
        assert sorted(transistors()[device].order) == sorted(row.model.leads), device
    # As its sister of the same class a 2N3866 is a metal can, 9.2 mm across, and no TO-92.
    assert packages()[transistors()["2n3866"].package].length_m == pytest.approx(9.2e-3)


def test_leads_come_out_below_their_bodies():
    for package in packages().values():
        for x, y in package.feet:
            assert abs(x) <= package.length_m / 2 + 1e-9
            assert abs(y) <= package.width_m / 2 + 1e-9


def test_sizes_that_are_standard_are_those_of_the_standards():
    """JEDEC TO-92: leads 1.27 mm apart; HC-49/U: leads 4.88 mm apart in a can of 11.05 by 4.65 mm and
    13.46 mm high (IEC 60122-3 as makers' sheets have it); DIP: rows 7.62 mm apart.
    """
    known = packages()
    assert known["to92"].feet[1][0] - known["to92"].feet[0][0] == pytest.approx(1.27e-3)
    can = known["crystal_hc49u"]
    assert (can.length_m, can.width_m, can.height_m) == (11.05e-3, 4.65e-3, 13.46e-3)
    assert can.feet[1][0] - can.feet[0][0] == pytest.approx(4.88e-3)
    assert known["dip8"].feet[2][0] - known["dip8"].feet[0][0] == pytest.approx(7.62e-3)


def test_what_of_a_board_is_from_memory_is_told_on_its_page(sample):
    """Sizes and orders of leads that no maker's drawing was at hand for, by the tables' own word."""
    board = board_of(Analysis(sample), "driver")
    told = next(each for each in drawing_of(board).told if each.startswith("Sizes from memory"))
    for item in board.items:
        assert (item.package.name in told) == ("from memory" in item.package.status), item.ref
    assert "Order of leads from memory, look yours up: Q1." in drawing_of(board).told
    fed = "\n".join(drawing_of(board_of(Analysis(sample), "supply")).told)
    pins = fed.partition("look yours up: ")[2].partition(".")[0].split(", ")
    assert {"U1", "U2", "QR1", "QD1", "K1"} <= set(pins)
    assert "J" not in pins
    # A size that was typed is nobody's memory.
    sized = replace(board.items[0], package=replace(board.items[0].package, name="mine", status="typed"))
    assert "mine" not in "\n".join(drawing_of(replace(board, items=(sized,))).told)


def test_all_boards_make_a_plane_no_higher_than_wide(sample):
    width, height = whole_board(Analysis(sample)).box.size
    assert height <= width


def test_no_lead_covers_what_is_written_on_its_body(sample):
    """A lead is drawn from the edge of its body on; one that ends below the body is a dot."""
    edged = Counter()
    for board in boards(Analysis(sample)):
        shapes = drawing_of(board).shapes
        drawn = {shape.points for shape in shapes if isinstance(shape, Stroke) and shape.ink == "lead"}
        ends = {points[-1]: points[0] for points in drawn}
        for body in board.plan.bodies:
            for lead in body.leads:
                start = ends.get(lead.end)
                if body.box.grown(1e-6).holds(lead.end):
                    continue
                assert start is not None
                x, y = start
                edged[body.item.package.outline == "round"] += 1
                if body.item.package.outline == "round":
                    radius = body.item.package.length_m / 2
                    assert hypot(x - body.place.x_m, y - body.place.y_m) >= radius - 1e-9
                else:
                    assert not body.box.grown(-1e-6).holds(start)
    assert min(edged[True], edged[False]) > 20


def test_letters_of_electrodes_stand_off_their_bodies(sample, muddle):
    """What lies on a body is its name; a letter on it would be read into that."""
    for board in (*boards(Analysis(sample)), *boards(Analysis(muddle))):
        letters = [s for s in drawing_of(board).shapes if isinstance(s, Words) and s.ink == "soft_words"]
        for body in board.plan.bodies:
            for name, lead in zip(body.item.electrodes, body.leads, strict=False):
                own = [each for each in letters if each.text == name[0].upper()]
                nearest = min(hypot(s.at[0] - lead.end[0], s.at[1] - lead.end[1]) for s in own)
                assert nearest <= 0.9e-3 + lead.length_m, (board.title, body.item.ref, name)
                for at in (each.at for each in own):
                    if body.item.package.outline == "round":
                        apart = hypot(at[0] - body.place.x_m, at[1] - body.place.y_m)
                        assert apart > body.item.package.length_m / 2, (board.title, body.item.ref, name)
                    else:
                        assert not body.box.holds(at), (board.title, body.item.ref, name)


def test_a_transistor_with_a_flat_side_lies_in_its_rectangle(sample):
    """Its leads come out from below it as far to either side, and words lie in its middle."""
    board = board_of(Analysis(sample), "carrier")
    shapes = drawing_of(board).shapes
    (body, *_) = (each for each in board.plan.bodies if each.item.package.outline == "d")
    (round_one,) = (
        [*zip(*shape.points, strict=True)]
        for shape in shapes
        if isinstance(shape, Area) and shape.ink == "body" and len(shape.points) == 25
        if body.box.grown(1e-3).holds(shape.points[0])
    )
    xs, ys = round_one
    drawn = Box(min(xs), min(ys), max(xs), max(ys))
    assert tuple(drawn) == pytest.approx(tuple(body.box), abs=0.05e-3)
