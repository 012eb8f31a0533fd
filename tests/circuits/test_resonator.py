"""Resonance of one coil in a network of capacitors, against an independent nodal solution."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.resonator import Capacitor, in_series, mode

FARADS = st.floats(min_value=1e-12, max_value=2e-9)
#: A Colpitts tank with its coupling capacitor, divider, feed-through and tuning branch.
PLACES = [(1, 0), (1, 2), (2, 3), (3, 0), (2, 0), (1, 4), (4, 0)]


def nodal_resonance_hz(capacitors, coil_h, coil):
    """Where the admittance matrix of the nodes is singular: bisection on the sign of its determinant.

    Written from Kirchhoff's laws alone: no capacitance matrix, no reduction, no eigenvalue.
    """
    nodes = max(max(c.a, c.b) for c in capacitors)

    def determinant(f):
        w = 2 * np.pi * f
        y = np.zeros((nodes + 1, nodes + 1))
        for a, b, susceptance in [(c.a, c.b, w * c.farad) for c in capacitors] + [(*coil, -1 / (w * coil_h))]:
            y[a, a] += susceptance
            y[b, b] += susceptance
            y[a, b] -= susceptance
            y[b, a] -= susceptance
        return np.linalg.det(y[1:, 1:] * 1e3)

    low, high = 1e4, 1e10
    sign = np.sign(determinant(low))
    for _ in range(200):
        middle = np.sqrt(low * high)
        if np.sign(determinant(middle)) == sign:
            low = middle
        else:
            high = middle
    return np.sqrt(low * high)


@settings(deadline=None, max_examples=60)
@given(
    farads=st.lists(FARADS, min_size=7, max_size=7),
    coil_h=st.floats(min_value=1e-7, max_value=1e-4),
    coil=st.sampled_from([(1, 0), (1, 2)]),
)
def test_resonance_is_where_the_nodes_admit_nothing(farads, coil_h, coil):
    network = [
        Capacitor(f"C{n}", *place, farad) for n, (place, farad) in enumerate(zip(PLACES, farads, strict=True))
    ]
    found = mode(network, coil_h, coil)
    assert float(found.f_hz) == pytest.approx(nodal_resonance_hz(network, coil_h, coil), rel=1e-8)
    assert sum(float(share) for share in found.shares.values()) == pytest.approx(1, abs=1e-9)


@settings(deadline=None, max_examples=40)
@given(farads=st.lists(FARADS, min_size=7, max_size=7), which=st.integers(0, 6))
def test_a_share_is_what_a_change_of_that_capacitor_does(farads, which):
    def f(values):
        network = [
            Capacitor(str(n), *place, c) for n, (place, c) in enumerate(zip(PLACES, values, strict=True))
        ]
        return mode(network, 1e-6, (1, 0))

    step = 1e-6
    up, down = list(farads), list(farads)
    up[which] *= 1 + step
    down[which] *= 1 - step
    measured = -2 * np.log(float(f(up).f_hz) / float(f(down).f_hz)) / (2 * step)
    assert float(f(farads).shares[str(which)]) == pytest.approx(measured, abs=1e-7)


def test_a_capacitor_of_many_values_gives_as_many_resonances():
    tuning = np.linspace(10e-12, 100e-12, 5)
    network = [Capacitor("C", 1, 0, 100e-12), Capacitor("S", 1, 2, 60e-12), Capacitor("V", 2, 0, tuning)]
    found = mode(network, 6e-6, (1, 0))
    expected = 100e-12 + np.array([in_series(60e-12, each) for each in tuning])
    np.testing.assert_allclose(found.capacitance_f, expected)
    np.testing.assert_allclose(found.f_hz, 1 / (2 * np.pi * np.sqrt(6e-6 * expected)))
    assert found.volts.shape == (5, 3)
    assert not found.f_hz.flags.writeable
