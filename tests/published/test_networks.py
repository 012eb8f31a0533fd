"""Responses against scikit-rf on the same parts, to 1e-9; stresses against an independent nodal solution."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.ladder import Arm, Network, Part, Transformer, group_delay_s, joined, solve, stresses
from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.stages.band_pass import band_pass
from core.stages.filters import low_pass
from core.stages.outcome import FilterDesign
from tests.published.reference import impedance, scattering

DIALS = ((14.1e6, 14.35e6),)
F = np.linspace(1.01e6, 60e6, 173)

parts = st.one_of(
    st.builds(
        Part,
        st.just("L"),
        st.just("inductor"),
        st.floats(1e-8, 1e-4),
        st.one_of(st.none(), st.floats(20, 500)),
    ),
    st.builds(
        Part,
        st.just("C"),
        st.just("capacitor"),
        st.floats(1e-12, 1e-8),
        st.one_of(st.none(), st.floats(50, 5000)),
    ),
    st.builds(Part, st.just("R"), st.just("resistor"), st.floats(1, 1e4)),
    st.builds(
        Part,
        st.just("X"),
        st.just("crystal"),
        st.floats(3e6, 25e6),
        st.floats(1e4, 2e5),
        st.floats(1e-3, 0.1),
        st.floats(1e-12, 8e-12),
    ),
)
arms = st.one_of(
    st.builds(
        Arm,
        st.sampled_from(["series", "shunt"]),
        st.lists(parts, min_size=1, max_size=2).map(tuple),
        st.sampled_from(["in_series", "in_parallel"]),
    ),
    st.builds(Transformer, st.just("T"), st.floats(0.2, 5)),
)
networks = st.builds(
    Network, st.lists(arms, min_size=1, max_size=7).map(tuple), st.floats(5, 2000), st.floats(5, 2000)
)


@given(networks)
def test_any_ladder_is_scikit_rfs(network):
    ours, theirs = solve(network, F), scattering(network, F)
    np.testing.assert_allclose(ours.s21, theirs[:, 1, 0], atol=1e-9)
    np.testing.assert_allclose(ours.s11, theirs[:, 0, 0], atol=1e-9)


@given(networks)
def test_a_network_passes_alike_both_ways(network):
    np.testing.assert_allclose(solve(network, F).s21, solve(network.reversed(), F).s21, atol=1e-12)


@pytest.mark.parametrize("ends", ["series_capacitor", "tapped_capacitor", "link"])
@pytest.mark.parametrize("coupling", ["top_capacitor", "shunt_capacitor"])
@pytest.mark.parametrize("resonators", [2, 3])
def test_band_passes_are_scikit_rfs(ends, coupling, resonators):
    asked = BandPassFilter(ends=ends, coupling=coupling, resonators=resonators, bandwidth_hz=600e3)
    made = band_pass.design(asked, DIALS)
    assert isinstance(made, FilterDesign), made
    np.testing.assert_allclose(solve(made.network, F).s21, scattering(made.network, F)[:, 1, 0], atol=1e-9)


@pytest.mark.parametrize("shape", ["butterworth", "chebyshev", "chebyshev_trap"])
@pytest.mark.parametrize("order", [3, 5, 7])
def test_low_passes_are_scikit_rfs(shape, order):
    made = low_pass.design(LowPassFilter(shape=shape, order=order), DIALS)
    assert isinstance(made, FilterDesign), made
    np.testing.assert_allclose(solve(made.network, F).s21, scattering(made.network, F)[:, 1, 0], atol=1e-9)


def test_a_lossless_trap_at_resonance_passes_nothing():
    resonant = 1 / (2 * np.pi * np.sqrt(1e-6 * 1e-10))
    trap = Arm("series", (Part("L", "inductor", 1e-6), Part("C", "capacitor", 1e-10)), "in_parallel")
    response = solve(Network((trap,), 50, 50), [resonant * 0.9, resonant])
    assert abs(response.s21[1]) < 1e-9
    assert np.all(np.isfinite(response.s11))


def test_the_group_delay_of_a_two_resistance_coil_is_its_time_constant():
    # L/(R1 + R2) at low frequency: a first-order low-pass.
    coil = Network((Arm("series", (Part("L", "inductor", 1e-6),)),), 50, 50)
    assert group_delay_s(coil, [1e3])[0] == pytest.approx(1e-6 / 100, rel=1e-6)


@given(st.lists(st.tuples(st.sampled_from(["series", "shunt"]), parts), min_size=1, max_size=6))
def test_stresses_are_those_of_a_nodal_solution(branches):
    """Node voltages from the admittance matrix, written for this test: one node behind each series arm."""
    f = np.array([14.2e6])
    network = Network(tuple(Arm(position, (part,)) for position, part in branches), 50.0, 75.0)
    count = 1 + sum(position == "series" for position, _ in branches)
    y = np.zeros((count, count), dtype=complex)
    y[0, 0] += 1 / 50
    at, across = 0, []
    for position, part in branches:
        admittance = 1 / impedance(part, f)[0]
        if position == "series":
            y[at, at] += admittance
            y[at + 1, at + 1] += admittance
            y[at, at + 1] -= admittance
            y[at + 1, at] -= admittance
            across.append((at, at + 1, admittance))
            at += 1
        else:
            y[at, at] += admittance
            across.append((at, None, admittance))
    y[at, at] += 1 / 75
    source = np.zeros(count, dtype=complex)
    source[0] = 1 / 50
    v = np.linalg.solve(y, source)
    for stress, (near, far, admittance) in zip(stresses(network, f), across, strict=True):
        volts = abs(v[near] - (0 if far is None else v[far]))
        assert stress.volts[0] == pytest.approx(volts, rel=1e-6, abs=1e-9)
        assert stress.amperes[0] == pytest.approx(volts * abs(admittance), rel=1e-6, abs=1e-9)


def test_joined_filters_are_scikit_rfs_cascade_and_not_the_sum_of_their_losses():
    import skrf

    two = [low_pass.design(LowPassFilter(order=order, coil_q=120), DIALS).network for order in (3, 7)]
    together = solve(joined(two), F)
    one, other = (skrf.Network(f=F, f_unit="Hz", s=scattering(network, F), z0=50.0) for network in two)
    np.testing.assert_allclose(together.s21, (one**other).s[:, 1, 0], atol=1e-9)
    apart = sum(solve(network, F).loss_db for network in two)
    assert np.abs(together.loss_db - apart)[F > 20e6].max() > 3
