"""Packages chosen for parts of a board: offered by kind, laid out anew, joined as before, kept."""

import json

import pytest

from core.model.boards.board import Board, Packaged, Placed
from core.model.boards.package import OwnPackage
from core.model.files import dumps, load, loads
from core.model.samples import sample_path
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of, boards
from core.rig.board.checks import misjoined
from core.rig.board.edits import freed, in_package, offered, put
from core.rig.board.plan import Place
from core.rig.board.stage_drawing import drawing_of
from core.rig.board.svg import svg_of
from core.trade.bodies.packages import packages


@pytest.fixture(scope="module")
def rig():
    return load(sample_path())


def board(project, stage="ladder", band="20m"):
    return board_of(Analysis(project), stage, band)


def size_mm(made):
    return tuple(1e3 * each for each in made.plan.board.size)


def body(made, key):
    return next(each for each in made.plan.bodies if each.item.key == key)


def test_every_row_of_the_table_fits_something_and_is_offered_or_taken(rig):
    usual = [item for each in boards(Analysis(rig)) for item in each.usual]
    fits = {word for each in packages().values() for word in each.fits}
    assert all(each.fits for each in packages().values())
    named = {item.package.package for item in usual} | {
        each.package for item in usual for each in offered(item)
    }
    kinds = {word for name in named if name in packages() for word in packages()[name].fits}
    # What no sample has: diodes, relays, a metal can of the smaller kind and such.
    assert fits - kinds <= {"diode", "relay", "potentiometer", "to18", "dip8"}


def test_a_resistor_is_offered_none_that_bears_less(rig):
    usual = (item for each in boards(Analysis(rig)) for item in each.usual)
    half = next(item for item in usual if item.package.package == "resistor_half")
    words = {each.package for each in offered(half)}
    assert words == {
        "resistor_1w",
        "resistor_2w",
        "resistor_5w",
        "resistor_half_upright",
        "resistor_1w_upright",
    }


def test_no_part_is_upright_unless_somebody_chose_it(rig):
    assert all(item.package.usual for each in boards(Analysis(rig)) for item in each.items)


@pytest.mark.parametrize("stage", ["ladder", "band_pass", "driver", "power_amplifier", "vfo"])
def test_whatever_is_chosen_nothing_lies_on_anything_and_all_is_joined(rig, stage):
    plain = board(rig, stage)
    words = {each.package for item in plain.usual for each in offered(item)}
    assert words
    for word in sorted(words):
        keys = [item.key for item in plain.usual if word in {each.package for each in offered(item)}]
        made = board(in_package(rig, stage, plain.bands, keys, word), stage)
        assert made.clashes == ()
        assert misjoined(made.plan, made.items) == ()
        assert {item.package.package for item in made.items if item.key in keys} == {word}


def test_a_choice_changes_the_drawing_the_room_and_what_is_printed(rig):
    plain = board(rig)
    keys = [item.key for item in plain.usual if item.package.package == "crystal_hc49u"]
    assert len(keys) == 8
    made = board(in_package(rig, "ladder", (), keys, "crystal_hc6u"))
    # Each is 8.15 mm longer along the line of the signal.
    assert size_mm(made)[0] - size_mm(plain)[0] > 8 * 5
    assert body(made, keys[0]).box.size[0] == pytest.approx(19.2e-3)
    assert all(each.item.package.can for each in made.plan.bodies if each.item.key in keys)
    drawing = drawing_of(made)
    assert sum("crystal HC-6/U" in line for line in drawing.legend) == 8
    assert svg_of(drawing) != svg_of(drawing_of(plain))
    back = in_package(in_package(rig, "ladder", (), keys, "crystal_hc6u"), "ladder", (), keys, "")
    assert back == rig


def test_upright_resistors_and_small_trimmers_take_less_room(rig):
    area = {"": 0.0, "resistor_quarter_upright": 0.0}
    for plain in boards(Analysis(rig)):
        keys = [item.key for item in plain.usual if item.package.package == "resistor_quarter"]
        for word in area if keys else ():
            band = plain.bands[0] if plain.bands else ""
            made = board(in_package(rig, plain.stage, plain.bands, keys, word), plain.stage, band)
            width, height = size_mm(made)
            area[word] += width * height
    assert area["resistor_quarter_upright"] < area[""]
    band_pass = board(rig, "band_pass")
    trimmers = [item.key for item in band_pass.usual if item.trims]
    small, air = (
        board(in_package(rig, "band_pass", band_pass.bands, trimmers, word), "band_pass")
        for word in ("trimmer_5", "trimmer_air")
    )
    assert size_mm(small)[1] < size_mm(band_pass)[1] < size_mm(air)[1]


def test_a_toroid_that_lies_flat_is_a_ring(rig):
    plain = board(rig, "low_pass")
    coil = next(item for item in plain.usual if item.coil)
    (lying,) = offered(coil)
    made = body(
        board(in_package(rig, "low_pass", plain.bands, [coil.key], lying.package), "low_pass"), coil.key
    )
    assert made.item.package.outline == "ring"
    assert made.item.package.length_m == made.item.package.width_m
    assert made.item.package.height_m < coil.package.height_m


def test_places_and_packages_are_kept_apart(rig):
    moved = put(rig, "ladder", (), {"coupling:3": Place(0.05, 0.02, 0)})
    both = in_package(moved, "ladder", (), ["coupling:3"], "ceramic_disc")
    (held,) = both.boards
    assert (len(held.places), len(held.packages)) == (1, 1)
    assert body(board(both), "coupling:3").place == Place(0.05, 0.02, 0)
    placed_again = freed(both, "ladder", ())
    assert placed_again.boards[0].packages == held.packages
    assert placed_again.boards[0].places == ()
    assert in_package(placed_again, "ladder", (), ["coupling:3"], "") == rig
    assert loads(dumps(both)) == both


def test_a_package_of_ones_own_is_offered_named_and_told_when_it_is_gone(rig):
    own = OwnPackage(name="Old disc", length_m=14e-3, width_m=4e-3, height_m=14e-3, pitch_m=10e-3)
    project = in_package(rig.edited(("packages",), (own,)), "ladder", (), ["coupling:3"], "Old disc")
    made = board(project)
    assert body(made, "coupling:3").item.package.length_m == 14e-3
    assert "Old disc" in " ".join(drawing_of(made).legend)
    crystal = next(item for item in made.usual if item.package.can)
    assert "Old disc" not in {each.package for each in offered(crystal, project.packages)}
    renamed = project.edited(("packages", "Old disc", "name"), "Brown disc")
    assert [each.package for each in renamed.boards[0].packages] == ["Brown disc"]
    wider = renamed.edited(("packages", 0, "length_m"), 18e-3)
    assert body(board(wider), "coupling:3").item.package.length_m == 18e-3
    gone = board(renamed.edited(("packages",), ()))
    assert body(gone, "coupling:3").item.package == gone.usually("coupling:3").package
    assert any("comes in no Brown disc, and is drawn as" in line for line in drawing_of(gone).told)
    with pytest.raises(DesignError, match="share the package"):
        rig.edited(("packages",), (own, own))


def test_files_without_packages_read_as_before_and_one_part_has_one(rig):
    data = json.loads(dumps(put(rig, "ladder", (), {"coupling:3": Place(0.05, 0.02, 0)})))
    assert data["boards"][0].pop("packages") == []
    assert data.pop("packages") == []
    assert loads(json.dumps(data)).boards[0].packages == ()
    twice = (Packaged(key="a", package="x"), Packaged(key="a", package="y"))
    with pytest.raises(DesignError, match="a part has two packages on one board"):
        Board.checked(stage="ladder", packages=twice)


def test_parts_of_a_band_keep_place_and_package_when_it_is_renamed():
    held = Board(
        stage="vfo",
        places=(Placed(key="shift:20m", x_m=0, y_m=0), Placed(key="shift:20m.1", x_m=0, y_m=0)),
        packages=(Packaged(key="shift:20m/2", package="mica"), Packaged(key="coil:2", package="lying")),
    )
    named = held.with_bands_named({"20m": "home"})
    assert [each.key for each in named.places] == ["shift:home", "shift:home.1"]
    assert [each.key for each in named.packages] == ["shift:home/2", "coil:2"]
    assert named.band == ""


@pytest.mark.parametrize("stage", ["mixer", "detector", "carrier", "helper", "supply"])
def test_boards_of_mixers_oscillators_and_supply_take_packages_too(rig, stage):
    plain = board(rig, stage)
    words = sorted({each.package for item in plain.usual for each in offered(item)})
    for word in words[::4]:
        keys = [item.key for item in plain.usual if word in {each.package for each in offered(item)}]
        made = board(in_package(rig, stage, plain.bands, keys, word), stage)
        assert made.clashes == ()
        assert misjoined(made.plan, made.items) == ()
