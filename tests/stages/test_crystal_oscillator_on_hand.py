"""Crystal oscillators of what is on hand: they start, stay cool and give their level."""

from dataclasses import replace
from math import log

import pytest

from core.model.stages.filters import Crystal
from core.model.stages.oscillators import CrystalCircuit
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.design import design
from core.stages.on_hand import Piece, Shelf

BOTH = (Place(which="upper", wanted_hz=8.9987e6), Place(which="lower", wanted_hz=9.0017e6))
#: Drawers of capacitors [F], two of each.
DRAWERS = (
    (91e-12, 130e-12, 160e-12, 220e-12, 910e-12, 1.3e-9, 150e-9),
    (82e-12, 110e-12, 200e-12, 240e-12, 300e-12, 560e-12, 1.1e-9, 120e-9, 220e-9),
    (100e-12, 190e-12, 270e-12, 1.6e-9, 68e-9, 47e-9),
    (120e-12, 180e-12, 330e-12, 470e-12, 1.5e-9, 33e-9, 270e-9),
)


def asked(device="2n3904", **other):
    given = {
        "circuit": CrystalCircuit(device=device),
        "crystal": Crystal(),
        "fs_hz": 9e6,
        "places": BOTH,
        "trimmer_f": (5e-12, 60e-12),
        "load_f": 100e-12,
        "level_dbm": 7.0,
    }
    return Asked(**given | other)


def shelf(farads, many=2.0, type="c0g"):
    return Shelf(tuple(Piece(type, farad, many) for farad in farads))


def rows(made):
    return {row.key: row for row in made.parts if row.kind == "capacitor" and row.role != "trimmer"}


def does(made, bought):
    """Whether it starts with its worst crystal, keeps it cool and gives its level, or hardly less so than one
    of bought parts.
    """
    of = made.asked
    return (
        min(p.margin for p in made.places)
        >= 0.96 * min(of.circuit.margin, *(p.margin for p in bought.places))
        and max(p.crystal_w for p in made.places)
        <= max(of.circuit.most_w, *(p.crystal_w for p in bought.places))
        and made.level_dbm is not None
        and abs(made.level_dbm - of.level_dbm) <= abs(bought.level_dbm - of.level_dbm) + 0.55
        and all(abs(p.off_hz) < 2 for p in made.places)
    )


@pytest.mark.parametrize("device", ["2n3904", "2n2222a"])
def test_it_does_what_is_asked_where_the_nearest_values_do_not(device):
    bought = design(asked(device))
    taken, spoilt = 0, 0
    for drawer in DRAWERS:
        made = design(asked(device, shelf=shelf(drawer)))
        assert does(made, bought)
        was = rows(bought)
        mine = {key for key, row in rows(made).items() if row.fitted != was[key].fitted}
        assert all(min(abs(rows(made)[key].fitted / each - 1) for each in drawer) < 1e-5 for key in mine)
        # What was designed is what it was, whatever is taken for it.
        assert all(rows(made)[key].designed == was[key].designed for key in mine)
        taken += len(mine)
        near = {key: min(drawer, key=lambda f, r=row: abs(log(f / r.designed))) for key, row in was.items()}
        circuit = CrystalCircuit(device=device, as_built=near)
        spoilt += not does(design(asked(device, circuit=circuit)), bought)
    assert taken >= 12
    assert spoilt >= 2


def test_its_divider_is_on_hand_only_of_what_stays_as_it_is():
    drawer = DRAWERS[1]
    for type, taken in (("c0g", True), ("silver_mica", True), ("other", False)):
        made = design(asked(shelf=shelf(drawer, type=type)))
        divider = [rows(made)[key].fitted for key in ("feedback_upper", "feedback_lower")]
        assert all(min(abs(f / each - 1) for each in drawer) < 1e-5 for f in divider) is taken
        # What only blocks is of any kind.
        assert rows(made)["decoupling:1"].fitted == pytest.approx(120e-9, rel=1e-5)


def test_what_would_spoil_it_stays_in_its_drawer():
    bought = design(asked())
    for times in (0.4, 3.3):
        drawer = [times * row.preferred for row in rows(bought).values()]
        made = design(asked(shelf=shelf(drawer)))
        assert does(made, bought)
        for key in ("feedback_upper", "feedback_lower"):
            assert rows(made)[key].fitted == rows(bought)[key].fitted


def test_an_empty_box_and_a_turn_of_the_if_change_nothing():
    plain, mine = design(asked()), design(asked(shelf=shelf(DRAWERS[0])))
    assert {key: row.fitted for key, row in rows(design(asked(shelf=Shelf()))).items()} == {
        key: row.fitted for key, row in rows(plain).items()
    }
    places = tuple(replace(each, wanted_hz=each.wanted_hz + 3e3) for each in BOTH)
    turned = design(asked(fs_hz=9e6 + 3e3, places=places, shelf=shelf(DRAWERS[0])))
    assert {key: row.fitted for key, row in rows(turned).items()} == {
        key: row.fitted for key, row in rows(mine).items()
    }
