"""Crystal oscillators of parts: values that do what is asked, and what the whole circuit does on them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.active.oscillation import in_row
from core.model.stages.filters import Crystal
from core.model.stages.oscillators import CrystalCircuit
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.design import design, without_row
from core.stages.crystal_oscillator.soldered import row_of

BOTH = (Place(which="upper", wanted_hz=8.9987e6), Place(which="lower", wanted_hz=9.0017e6))


def asked(circuit=None, **other):
    given = {
        "circuit": CrystalCircuit(**circuit or {}),
        "crystal": Crystal(),
        "fs_hz": 9e6,
        "places": BOTH,
        "trimmer_f": (5e-12, 60e-12),
        "load_f": 100e-12,
        "level_dbm": 7.0,
    }
    return Asked(**given | other)


def test_both_sidebands_are_reached_with_margin_and_a_cool_crystal_at_the_level_asked():
    made = design(asked())
    assert [each.place.which for each in made.places] == ["upper", "lower"]
    for each in made.places:
        assert abs(each.off_hz) < 1
        assert each.margin > 0.97 * 4
        assert each.usual_margin > each.margin
        assert each.crystal_w < 500e-6
        assert each.crest < 1.05
    assert made.level_dbm == pytest.approx(7.0, abs=0.6)
    assert made.level_dbm == min(each.level_dbm for each in made.places)
    assert made.supply_a == pytest.approx(25e-3, rel=0.1)


@settings(max_examples=25)
@given(
    fs=st.floats(4e6, 21e6),
    off=st.floats(-1.5e3, 3e3),
    level=st.floats(-10.0, 10.0),
    load=st.floats(60e-12, 200e-12),
    margin=st.floats(2.5, 5.0),
    device=st.sampled_from(["2n3904", "2n2222a"]),
)
def test_whatever_is_asked_starts_is_cool_and_as_loud_as_asked(fs, off, level, load, margin, device):
    crystal = Crystal(motional_inductance_h=16e-3 * (9e6 / fs) ** 2)
    made = design(
        asked(
            {"device": device, "margin": margin},
            fs_hz=fs,
            crystal=crystal,
            places=(Place(which=None, wanted_hz=fs + off),),
            load_f=load,
            level_dbm=level,
        )
    )
    (found,) = made.places
    assert found.margin > 0.93 * margin
    assert found.crystal_w < 1.1 * 500e-6
    assert found.level_dbm == pytest.approx(level, abs=1.2)
    if made.pullings[0].reaches:
        assert abs(found.off_hz) < 2
    beside = made.beside(None)
    assert beside is None or beside[1] < 0.8


def test_a_coil_is_damped_so_that_it_does_not_oscillate_with_the_holder():
    made = design(asked())
    damping = {row.key: row for row in made.parts}["damping_resistor:upper"]
    assert made.beside("upper")[1] < 0.3
    # Without the resistor it would at once.
    bare = {f"damping_resistor:{side}": 1e8 for side in ("upper", "lower")}
    undamped = design(asked({"as_built": bare}))
    assert undamped.beside("upper")[1] > 1.5
    # The coil that puts the trimmer at its middle loses more of what the crystal needs, and resonates lower.
    middle = design(asked({"as_built": {"coil:upper": 26.35e-6}}))
    assert middle.places[0].margin < 0.8 * made.places[0].margin
    assert middle.beside("upper")[0] < 0.85 * made.beside("upper")[0]
    assert damping.fitted == pytest.approx(33e3)


def test_a_crystal_that_bears_less_gets_a_smaller_divider():
    usual, careful = design(asked()), design(asked({"most_w": 60e-6}))
    assert max(each.crystal_w for each in usual.places) > 60e-6
    assert max(each.crystal_w for each in careful.places) < 60e-6
    value = {row.key: row.fitted for row in careful.parts}["feedback_lower"]
    assert value < {row.key: row.fitted for row in usual.parts}["feedback_lower"]
    assert all(abs(each.off_hz) < 1 for each in careful.places)


def test_what_is_fitted_counts():
    made = design(asked())
    setting = {row.key: row.fitted for row in made.parts}["trimmer:upper"]
    further = design(asked({"as_built": {"trimmer:upper": 0.8 * setting}}))
    (upper, lower), (was, same) = further.places, made.places
    assert upper.off_hz > 300
    # It is where the formula for capacitors in series puts it: 1/(4 pi Lm w) a unit of 1/C.
    moved = (1 / (0.8 * setting) - 1 / setting) / (2 * np.pi * 9e6) / (4 * np.pi * 16e-3)
    # The holder makes it an eighth more.
    assert upper.f_hz - was.f_hz == pytest.approx(moved, rel=0.12)
    assert lower == same
    stronger = design(asked({"as_built": {"degeneration": 1.0}}))
    assert stronger.level_dbm > made.level_dbm + 3
    lossy = design(asked({"as_built": {"crystal:1.q": 20e3}}))
    assert lossy.places[0].usual_margin < 0.9 * made.places[0].usual_margin


def test_turning_the_if_keeps_the_preferred_values():
    taken = set()
    for step in range(5):
        fs = 9e6 + 2e3 * step
        places = tuple(replace(each, wanted_hz=each.wanted_hz + 2e3 * step) for each in BOTH)
        made = design(asked(fs_hz=fs, places=places))
        assert all(abs(each.off_hz) < 1 for each in made.places)
        switched = ("crystal", "coil", "trimmer")
        taken.add(tuple((r.key, r.fitted) for r in made.parts if r.role not in switched))
    assert len(taken) == 1


def test_the_parabola_between_three_frequencies_is_the_circuit_itself():
    made = design(asked())
    f = made.places[0].f_hz * np.linspace(0.997, 1.002, 6)
    loss = in_row(row_of(made.fitted, "upper"), f, {}).real
    near, far = made.around.holding(f, loss), made.around.far_off(f).holding(f, loss)
    # A milliohm is a few millihertz of such a crystal.
    assert np.abs(near[0] - far[0]).max() < 2e-3
    assert np.allclose(near[1], far[1], rtol=1e-5)


def test_its_curve_over_the_trimmer_passes_through_what_is_asked():
    made = design(asked())
    setting = {row.key: row.fitted for row in made.parts}["trimmer:lower"]
    f = made.pulled_hz("lower", np.array([5e-12, setting, 60e-12]))
    assert f[1] == pytest.approx(made.places[1].f_hz, abs=0.05)
    assert f[0] > f[1] > f[2]
    assert f[0] == pytest.approx(made.pullings[1].reachable_high_hz, abs=60)


def test_a_jfet_has_a_choke_and_a_resistor_before_the_buffer():
    made = design(asked({"device": "j310"}, load_f=20e-12, places=BOTH[1:]))
    keys = {row.key for row in made.parts}
    assert {"choke:1", "bias_source", "bias_gate", "input_resistor"} <= keys
    assert not keys & {"bias_upper:1", "bias_emitter:1"}
    assert made.level_dbm == pytest.approx(7.0, abs=1.2)
    # Its square law swings by volts, whatever the margin: a crystal does not like it.
    assert made.places[0].crystal_w > 500e-6


def test_a_crystal_that_loses_all_does_not_start():
    made = design(asked({"worst_ohm": 5e3}, places=BOTH[1:]))
    assert made.places[0].margin < 1
    assert made.places[0].usual_margin > 1
    dead = design(asked(crystal=Crystal(quality_factor=100.0), places=BOTH[1:]))
    assert dead.places[0].f_hz is None
    assert dead.level_dbm is None


def test_what_is_out_of_reach_is_as_near_as_the_trimmer_comes():
    far = (Place(which=None, wanted_hz=9.02e6),)
    made = design(asked(places=far, coil_h=1e-6))
    assert not made.pullings[0].reaches
    assert {row.key: row.fitted for row in made.parts}["trimmer"] == 5e-12
    assert made.places[0].off_hz < -5e3


@pytest.mark.parametrize(
    "spoilt",
    [
        {"crystal": Crystal(motional_inductance_h=1e4, holder_capacitance_f=1e-18)},
        {"circuit": {"as_built": {"bias_lower:1": 1e-3}}},
    ],
    ids=["a crystal that is next to nothing", "a base on the ground"],
)
def test_what_cannot_start_has_neither_frequency_nor_level(spoilt):
    made = design(asked(**spoilt))
    assert [(each.f_hz, each.margin, each.level_dbm) for each in made.places] == [(None, 0.0, None)] * 2
    assert made.level_dbm is None


def test_its_direct_currents_are_those_of_the_circuit_without_its_crystal():
    made = design(asked())
    alone = without_row(made, 8.0)
    assert not {"crystal", "coil", "trimmer"} & {b.part.role for b in alone.branches}
    assert len(alone.transistors) == 2
    (rail,) = without_row(made, 6.0).rails
    assert rail.volt == 6.0
