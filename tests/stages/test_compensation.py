"""Compensation of the VFO's drift: the least worst place of the dial, and what was promised is what comes."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.stages.tank import Tank
from core.model.values.notation import parse
from core.stages.outcome import Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.compensation import compensated, compensation, least_worst
from core.stages.vfo.tank import WantedRange
from core.stages.vfo.tank_design import design
from core.trade.series import neighbours

BAND = (WantedRange("20m", 5.31e6, 5.56e6),)
WIDE = (WantedRange("wide", 5e6, 5.5e6),)
TWO = (WantedRange("a", 5.0e6, 5.3e6), WantedRange("b", 4.0e6, 4.2e6, "parallel"))


def worst_hz_per_k(made) -> float:
    """The largest drift over the dials of all bands, counted place by place on the finished tank."""
    found = []
    for each in made.ranges:
        low, high = vfo.dial(made, each.band).wanted_positions
        found += [abs(vfo.drift(made, each.band, float(p)).hz_per_k) for p in np.linspace(low, high, 5)]
    return max(found)


@given(
    offset=st.lists(st.floats(-100, 100), min_size=2, max_size=6),
    slope=st.lists(st.floats(0.1, 10), min_size=6, max_size=6),
)
def test_no_other_value_has_a_smaller_worst_end(offset, slope):
    a, b = np.array(offset), np.array(slope[: len(offset)])
    best = np.abs(a - b * least_worst(a, b)).max()
    tried = np.linspace(-1000, 1000, 4001)
    assert best <= np.abs(a - np.multiply.outer(tried, b)).max(axis=-1).min() + 1e-9


def series_tuned(**fields):
    return Tank(tuned="series", coil_h=9e-6, **fields)


@pytest.mark.parametrize(
    ("tank", "wanted"),
    [
        (Tank(), BAND),
        (series_tuned(), BAND),
        (Tank(parallel_type="n030"), BAND),
        (Tank(), WIDE),
        (Tank(coil_h=3.3e-6), WIDE),
        (Tank(find="coil_and_padder", parallel_f=300e-12), BAND),
        (Tank(coil_type="iron_6", coil_h=3.3e-6), TWO),
    ],
    ids=["parallel", "series", "N030 parallel", "wide", "wide, 3.3 uH", "given parallel", "two bands"],
)
def test_what_is_promised_is_what_comes_and_no_other_value_is_better(tank, wanted):
    made = design(tank, wanted)
    before = worst_hz_per_k(made)
    found = compensation(made)
    assert not found.fitted
    stilled = design(compensated(made, found), wanted)
    assert all(each.covers for each in stilled.ranges)
    left = worst_hz_per_k(stilled)
    assert left < 0.3 * before
    assert left == pytest.approx(abs(found.left_hz_per_k), rel=1e-6)
    # The neighbouring values of the series leave more at their worst place.
    for other in (
        neighbours(found.preferred_f * 0.99, "E24")[0],
        neighbours(found.preferred_f * 1.01, "E24")[1],
    ):
        tried = design(made.tank.edited(("compensation_f",), other), wanted)
        if tank.find != "coil_and_padder":
            assert worst_hz_per_k(tried) >= left
    # Applied, nothing else is advised.
    again = compensation(stilled)
    assert again.fitted
    assert again.preferred_f == found.preferred_f


def test_a_wide_dial_is_compensated_for_its_ends_not_its_middle():
    # 5 to 5.5 MHz: what stills the middle of the travel leaves more at an end than what is chosen.
    from core.stages.vfo.compensation import stilling_f

    tank = Tank(coil_h=3.3e-6)
    made = design(tank, WIDE)
    middle = design(tank.edited(("compensation_f",), stilling_f(made, "wide", 0.5)), WIDE)
    best = design(compensated(made, compensation(made)), WIDE)
    assert worst_hz_per_k(best) < 0.8 * worst_hz_per_k(middle)


def test_a_differential_capacitor_that_can_do_it_is_set():
    made = design(Tank(differential_f=60e-12, compensation_type="n750"), BAND)
    found = compensation(made)
    assert 0 < found.differential_share < 1
    assert found.needed_f == pytest.approx(found.differential_share * 60e-12)
    stilled = design(compensated(made, found), BAND)
    assert stilled.tank.differential_share == found.differential_share
    assert worst_hz_per_k(stilled) == pytest.approx(abs(found.left_hz_per_k), abs=0.5)
    assert compensation(stilled).fitted


def test_a_differential_capacitor_that_cannot_is_counted_as_it_is_set():
    # 20 pF at half can take a part only; a fixed capacitor does the rest beside it as it stands.
    made = design(Tank(differential_f=20e-12, differential_share=0.5), BAND)
    found = compensation(made)
    assert found.differential_share is None
    stilled = design(compensated(made, found), BAND)
    assert stilled.tank.differential_share == 0.5
    assert worst_hz_per_k(stilled) == pytest.approx(abs(found.left_hz_per_k), rel=1e-6)
    assert worst_hz_per_k(stilled) < 15


def test_a_parallel_capacitor_as_built_is_not_overfilled():
    """It is said what to solder instead; that done, the same button does it and both ends stay covered."""
    wanted = (WantedRange("20m", 5.31e6, 5.56e6),)
    parallel = design(Tank(coil_h=2.7e-6), wanted).values["CP"]
    built = Tank(coil_h=2.7e-6, as_built={"parallel": parallel, "coil": 2.7e-6})
    made = design(built, wanted)
    assert made.ranges[0].covers
    refused = compensation(made)
    assert isinstance(refused, Unsolved)
    assert "180 pF as built" in refused.reason
    instead = parse(refused.reason.split("it must become ")[1].split(":")[0], "F")
    assert instead < parallel - 70e-12
    soldered = design(built.edited(("as_built",), {"parallel": instead, "coil": 2.7e-6}), wanted)
    found = compensation(soldered)
    stilled = design(compensated(soldered, found), wanted)
    assert stilled.ranges[0].covers
    assert stilled.limits == ()
    assert worst_hz_per_k(stilled) < 20
    # Or with its as-built value cleared.
    cleared = design(Tank(coil_h=2.7e-6, as_built={"coil": 2.7e-6}), wanted)
    assert design(compensated(cleared, compensation(cleared)), wanted).ranges[0].covers


def test_a_compensating_capacitor_as_built_is_told_what_to_be():
    made = design(Tank(compensation_f=47e-12, as_built={"compensating": 47e-12}), BAND)
    told = compensation(made).reason
    assert "47 pF as built" in told
    value = parse(told.split("solder ")[1].split(" of ")[0], "F")
    again = design(Tank(compensation_f=value, as_built={"compensating": value}), BAND)
    assert compensation(again).fitted


def test_a_compensation_of_the_wrong_sign_or_too_large_is_a_sentence():
    made = design(Tank(compensation_type="p100"), BAND)
    assert "only add" in compensation(made).reason
    assert "negative sign" in compensation(made).reason
    weak = design(Tank(compensation_type="n030", coil_type="iron_2"), BAND)
    assert "larger coefficient" in compensation(weak).reason


def test_a_kind_that_is_too_weak_is_told_with_the_least_that_does():
    # Of N150, N330 and N470 each was told to be a larger one.
    tank = Tank(compensation_type="n030", coil_type="iron_2")
    named = re.search(r"take (\w+)", compensation(design(tank, BAND)).reason)[1]
    kinds = ("n030", "n075", "n150", "n220", "n330", "n470", "n750", "n1500")
    for kind in kinds:
        found = compensation(design(tank.edited(("compensation_type",), kind), BAND))
        assert isinstance(found, Unsolved) == (kinds.index(kind) < kinds.index(named.lower())), kind


@pytest.mark.parametrize("instead", ["n030", "n075", "p100"])
def test_what_a_parallel_capacitor_of_its_own_coefficient_leaves_to_the_kind_that_replaces_it(instead):
    tank = Tank(compensation_type="n030", coil_type="iron_2", parallel_type=instead)
    kinds = ("n075", "n150", "n220", "n330", "n470", "n750", "n1500")
    found = {
        kind: compensation(design(tank.edited(("compensation_type",), kind), BAND))
        for kind in kinds
        if kind != instead
    }
    does = [kind for kind in found if not isinstance(found[kind], Unsolved)]
    weak = [kind for kind in found if "larger coefficient" in getattr(found[kind], "reason", "")]
    assert weak
    for kind in weak:
        assert re.search(r"take (\w+)", found[kind].reason)[1].lower() == does[0]


def test_values_as_built_are_told_to_three_digits():
    made = design(Tank(compensation_f=47.234e-12, as_built={"compensating": 47.234e-12}), BAND)
    assert "The compensating capacitor is 47.2 pF as built; solder " in compensation(made).reason
