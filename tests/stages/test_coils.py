"""Coils as they are wound: whole turns, what fits, what is refused, and which core is chosen."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.coils import cored
from core.circuits.coils.wire import insulated_m
from core.circuits.ladder import solve
from core.rig.analysis import Analysis
from core.rig.rules import inspect
from core.stages.band_pass import band_pass
from core.stages.coils.winding import choose, in_air, on_core
from core.stages.filters import low_pass
from core.stages.outcome import Unsolved
from core.trade.cores import cores

TOROIDS = sorted(name for name, core in cores().items() if core.shape == "toroid")


@given(st.sampled_from(TOROIDS), st.floats(0.05e-6, 60e-6), st.floats(1e6, 50e6))
def test_what_is_wound_fits_and_is_as_near_as_whole_turns_come(name, wanted_h, f_hz):
    core = cores()[name]
    wound = on_core(core, wanted_h, f_hz)
    if isinstance(wound, Unsolved):
        assert core.core in wound.reason
        return
    assert wound.inductance_h == pytest.approx(core.al_h * wound.turns**2)
    beside = [abs(core.al_h * n**2 - wanted_h) for n in (wound.turns - 1, wound.turns + 1)]
    # The nearest turns are not always the nearest inductance, but by less than a turn's share.
    assert abs(wound.inductance_h - wanted_h) <= min(beside) * 1.5
    assert wound.turns * insulated_m(wound.wire_m) <= pi * (core.inner_m - insulated_m(wound.wire_m))
    assert 0 < wound.filled < 1
    assert wound.quality > 0


def test_the_thickest_wire_is_the_thickest():
    core = cores()["T50-6"]
    wound = on_core(core, 1.6e-6, 7e6)
    assert wound.turns == 20
    assert wound.wire_m == wound.thickest_m == pytest.approx(0.9e-3)
    assert cored.most_turns(core.inner_m, 0.9e-3) >= 20 > cored.most_turns(core.inner_m, 1.0e-3)


def test_wire_is_as_long_as_its_way_round():
    """Twenty turns round 2.5 by 4.8 mm of T50 with 0.5 mm wire: some 36 cm, and 5 cm at either end."""
    wound = on_core(cores()["T50-6"], 1.6e-6, 7e6, wire_m=0.5e-3)
    core = cores()["T50-6"]
    around = 2 * (core.height_m + (core.outer_m - core.inner_m) / 2) + 4 * insulated_m(0.5e-3)
    assert wound.length_m == pytest.approx(20 * around + 0.1)
    assert 0.4 < wound.length_m < 0.5


@pytest.mark.parametrize(
    ("core", "henry", "said"),
    [
        ("T25-17", 200e-6, "would take"),
        ("T25-2", 50e-6, "do not fit into T25-2"),
        ("T106-2", 0.05e-6, "too few to set it by"),
    ],
)
def test_what_no_core_can_give_is_told_with_the_number(core, henry, said):
    wound = on_core(cores()[core], henry, 7e6)
    assert isinstance(wound, Unsolved)
    assert said in wound.reason
    assert any(digit.isdigit() for digit in wound.reason.replace(core, ""))


def test_wire_that_is_too_thick_is_told_with_what_fits():
    wound = on_core(cores()["T37-6"], 1.6e-6, 7e6, wire_m=1.0e-3)
    assert isinstance(wound, Unsolved)
    assert wound.reason.endswith("0.5 mm is the thickest that does.")


def test_a_core_that_saturates_says_so():
    """Fifty watts at 1.8 MHz on a T25: a hundred times what its section bears."""
    small = on_core(cores()["T37-2"], 4e-6, 1.8e6, volt_rms=50.0)
    large = on_core(cores()["T106-2"], 4e-6, 1.8e6, volt_rms=50.0)
    assert small.flux_t > small.most_flux_t
    assert small.saturates
    assert not large.saturates


def test_whole_turns_in_air():
    wound = in_air(3e-6, 7e6, diameter_m=0.02, length_m=0.02)
    beside = [in_air(3e-6, 7e6, diameter_m=0.02, length_m=0.02, turns=wound.turns + n) for n in (-1, 1)]
    assert abs(wound.error) <= min(abs(each.error) for each in beside)
    low, high = wound.range_h
    assert low < wound.inductance_h < high
    assert wound.self_resonance_hz > 50e6


def test_turns_that_do_not_fit_in_air():
    wound = in_air(3e-6, 7e6, diameter_m=0.02, length_m=0.01, turns=20, wire_m=1e-3)
    assert isinstance(wound, Unsolved)
    assert "are 21.5 mm long and the coil is 10 mm" in wound.reason


def test_no_former_gives_everything():
    wound = in_air(1.0, 7e6, diameter_m=0.005, length_m=0.02)
    assert isinstance(wound, Unsolved)
    assert "More than 200 turns" in wound.reason


@pytest.mark.parametrize(
    ("henry", "f_hz"), [(1.6e-6, 7.1e6), (0.7e-6, 14.2e6), (6e-6, 5.25e6), (20e-6, 1.9e6)]
)
def test_the_core_chosen_has_more_q_than_the_smallest_that_will_do(henry, f_hz):
    """The simple choice: the smallest core of the table that takes the turns."""
    first, *others = choose(henry, f_hz)
    small = min((first, *others), key=lambda each: each.core.outer_m)
    assert first.wound.quality >= max(each.wound.quality for each in others) * 0.8
    assert first.worth >= small.worth
    assert first.wound.quality > 1.1 * small.wound.quality


def test_only_what_is_in_stock_and_bears_the_power():
    """Sixteen volts on 40 m: what is in the drawer, and no core that runs hot."""
    drawer = ("T37-6", "T50-2", "FT37-43")
    assert {each.core.core for each in choose(1.6e-6, 7.1e6, stock=drawer)} <= set(drawer[:2])
    hot = [each.core.core for each in choose(1.0e-6, 1.9e6, volt_rms=70.0)]
    cool = [each.core.core for each in choose(1.0e-6, 1.9e6)]
    assert set(hot) < set(cool)


def test_drift_counts_where_it_matters():
    steady = choose(6e-6, 5.25e6, ppm_counts=True)[0]
    plain = choose(6e-6, 5.25e6)[0]
    assert steady.wound.ppm < plain.wound.ppm


def test_a_transformer_winding_of_a_binocular_core():
    wound = on_core(cores()["BN-43-2402"], 20e-6, 3.5e6)
    assert wound.turns == 4
    assert wound.inductance_h == pytest.approx(1277e-9 * 16)
    assert wound.filled == pytest.approx(4 * (insulated_m(wound.wire_m) / cores()["BN-43-2402"].inner_m) ** 2)


def test_turns_as_they_were_wound_are_taken():
    wound = on_core(cores()["T50-6"], 1.6e-6, 7e6, turns=18)
    assert wound.turns == 18
    assert wound.error == pytest.approx(18**2 / 20**2 - 1)
    assert sqrt(wound.inductance_h / cores()["T50-6"].al_h) == pytest.approx(18)


def test_a_low_pass_on_cores_is_matched_as_well_as_one_of_any_coils(tern):
    """The simple choice, the nearest turns left as they fall, is worse by far."""
    analysis = Analysis(tern)
    dials = analysis.dials(("20m",))
    plain = tern.stage("low_pass").filters[0]
    wound = plain.edited(("core",), "T50-6")
    figures, free = low_pass.figures(wound, dials), low_pass.figures(plain, dials)
    assert figures.return_loss_db > 40
    design = low_pass.design(wound, dials)
    nearest = {
        ref: cores()["T50-6"].al_h * round(sqrt(one.inductance_h / cores()["T50-6"].al_h)) ** 2
        for ref, one in design.wound
    }
    f = np.linspace(*dials[0], 7)
    simple = solve(design.network, f, values=nearest)
    assert figures.return_loss_db > simple.return_loss_db.min() + 10
    assert figures.insertion_loss_db < free.insertion_loss_db + 0.2
    for ref, one in design.wound:
        (row,) = [each for each in design.parts if each.ref == ref]
        low, high = one.range_h
        assert low * (1 - 1e-6) <= row.fitted <= high * (1 + 1e-6)
        assert row.note.startswith(f"{one.turns} turns on T50-6, ")


def test_a_band_pass_on_cores_is_fitted_around_its_whole_turns(tern):
    dials = Analysis(tern).dials(("20m",))
    plain = tern.stage("band_pass").filters[0]
    wound = plain.edited(("core",), "T68-6")
    design = band_pass.design(wound, dials)
    coils = [row for row in design.parts if row.role == "coil"]
    turns = dict(design.wound)[coils[0].ref].turns
    assert [row.fitted for row in coils] == pytest.approx([47e-10 * turns**2] * 3)
    one = dict(design.wound)[coils[0].ref]
    assert all(part.q == one.quality for part in design.network.parts if part.kind == "inductor")
    figures, before = band_pass.figures(wound, dials), band_pass.figures(plain, dials)
    assert figures.centre_hz == pytest.approx(before.centre_hz, rel=2e-3)
    assert figures.bandwidth_3db_hz == pytest.approx(before.bandwidth_3db_hz, rel=0.05)


@pytest.mark.parametrize(("name", "henry"), [("T25-17", 3e-6), ("FT37-43", None), ("Nonsense", None)])
def test_a_filter_on_a_core_that_cannot_be_says_why(tern, name, henry):
    dials = Analysis(tern).dials(("20m",))
    plain = tern.stage("band_pass").filters[0].edited(("inductance_h",), henry)
    made = band_pass.design(plain.edited(("core",), name), dials)
    assert isinstance(made, Unsolved)
    assert name in made.reason


def test_a_low_pass_on_ferrite_of_one_turn_is_refused(tern):
    dials = Analysis(tern).dials(("20m",))
    made = low_pass.design(tern.stage("low_pass").filters[0].edited(("core",), "FT37-43"), dials)
    assert isinstance(made, Unsolved)
    assert "too few to set it by" in made.reason


def hot(rig, rule):
    return [f for f in inspect(Analysis(rig)) if f.rule == rule]


def test_a_core_that_is_too_small_for_the_power_is_told_and_mended(tern):
    rig = tern.edited(("stages", "low_pass", "filters", 0, "core"), "T25-6")
    small = rig.edited(("stages", "power_amplifier", "rated_w"), 1.0)
    assert hot(small, "core_flux") == []
    (found,) = hot(rig, "core_flux")
    assert found.figure > found.limit
    (edit,) = found.edits
    assert hot(edit.on(rig), "core_flux") == []


def test_a_core_outside_its_range_is_told_and_mended(tern):
    rig = tern.edited(("stages", "band_pass", "filters", 1, "core"), "T68-3")
    rig = rig.edited(("stages", "band_pass", "filters", 1, "inductance_h"), 3e-6)
    (found,) = hot(rig, "core_range")
    assert "from 50 kHz to 500 kHz" in found.text
    for edit in found.edits:
        assert hot(edit.on(rig), "core_range") == []
