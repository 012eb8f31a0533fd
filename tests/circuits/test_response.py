"""What is read off a response, against circuits whose response is a formula and against dense sweeps."""

import numpy as np
import pytest

from core.circuits.circuit import Part
from core.circuits.ladder import Arm, Network, solve
from core.circuits.response import (
    crossing,
    crossings,
    noise_bandwidth_hz,
    pass_band,
    served_grid,
)

#: A coil and a capacitor in series between 50 and 50 ohm: x = (wL − 1/wC)/100, loss 10 lg(1 + x²).
L, C = 20e-6, 25e-12
F0 = 1 / (2 * np.pi * np.sqrt(L * C))
ONE = Network(
    (Arm("series", (Part("L1", "inductor", L), Part("C1", "capacitor", C))),), source_ohm=50, load_ohm=50
)


def edges_of_one(depth_db):
    """Both roots of wL − 1/wC = ±100 x by the quadratic's formula, Hz."""
    x = 100 * np.sqrt(10 ** (depth_db / 10) - 1)
    root = np.sqrt((x / (2 * L)) ** 2 + 1 / (L * C))
    return (root - x / (2 * L)) / (2 * np.pi), (root + x / (2 * L)) / (2 * np.pi)


def x_of_one(f_hz):
    return (2 * np.pi * f_hz * L - 1 / (2 * np.pi * f_hz * C)) / 100


@pytest.mark.parametrize("inner", [None, (F0 - 6e5, F0 + 4e5), (1.0, 1e12)])
@pytest.mark.parametrize("span", [(4e6, 13e6), (F0 - 1e5, F0 + 3e5), (F0 - 8e5, F0 + 2e5)])
def test_edges_of_one_resonator_also_beyond_the_span(span, inner):
    depths = (1.0, 3.0, 6.0, 12.0)
    found = pass_band(ONE, *span, depths, inner_hz=inner)
    assert found.least_loss_db == pytest.approx(0, abs=1e-4)
    for depth in depths:
        assert found.edges_hz[depth] == pytest.approx(edges_of_one(depth), rel=2e-6)
        low, high = edges_of_one(depth)
        assert found.bandwidth_hz(depth) == pytest.approx(high - low, rel=1e-4)
    # Ripple and return loss over the inner 80 % of the narrowest width asked.
    low, high = edges_of_one(1.0)
    x = np.abs(x_of_one((low + high) / 2 + np.array([-0.4, 0.4]) * (high - low))).max()
    assert found.ripple_db == pytest.approx(10 * np.log10(1 + x**2), rel=1e-3)
    assert found.return_loss_db == pytest.approx(10 * np.log10((1 + x**2) / x**2), rel=1e-3)


def test_an_edge_more_than_an_octave_out_is_not_had():
    # From 7 MHz an octave down is 3.5 MHz, where x is 14 and the loss 23.1 dB.
    found = pass_band(ONE, 7e6, 7.2e6, (3.0, 20.0, 30.0))
    at = 10 * np.log10(1 + x_of_one(np.array([3.5e6, 14.4e6])) ** 2)
    assert 20 < at[0] < 30
    assert 20 < at[1] < 30
    assert found.edges_hz[20.0] == pytest.approx(edges_of_one(20.0), rel=1e-5)
    assert found.edges_hz[30.0] == (None, None)
    assert found.bandwidth_hz(30.0) is None
    # One side alone: an octave above is inside the stop-band, an octave below is not.
    odd = pass_band(ONE, 3.6e6, 7.2e6, (3.0, 27.0))
    low, high = odd.edges_hz[27.0]
    assert high is None
    assert low == pytest.approx(edges_of_one(27.0)[0], rel=1e-5)
    assert odd.bandwidth_hz(27.0) is None


def tank(ref, f_hz, farad, q=None):
    henry = 1 / ((2 * np.pi * f_hz) ** 2 * farad)
    return Part(f"L{ref}", "inductor", henry, q), Part(f"C{ref}", "capacitor", farad)


#: Two tanks coupled far too closely: two tops with a deep dip between, and a trap far out, behind which the
#: loss comes back.
TWO = Network(
    (
        Arm("series", (Part("CE1", "capacitor", 12e-12),)),
        Arm("shunt", tank("1", 7e6, 200e-12, 300), "in_parallel"),
        Arm("series", (Part("CC", "capacitor", 12e-12),)),
        Arm("shunt", tank("2", 7e6, 200e-12, 300), "in_parallel"),
        Arm("series", (Part("CE2", "capacitor", 12e-12),)),
        Arm("series", tank("3", 9e6, 100e-12), "in_parallel"),
    ),
    50,
    50,
)


def dense(network, low, high, points=400_001):
    f = np.linspace(low, high, points)
    return f, solve(network, f).loss_db


def test_a_dip_between_two_tops_does_not_end_the_pass_band_and_a_flare_does_not_move_a_deep_edge():
    f, loss = dense(TWO, 5e6, 12e6)
    found = pass_band(TWO, 5e6, 12e6, (3.0, 6.0, 40.0))
    least = loss.min()
    assert found.least_loss_db == pytest.approx(least, abs=0.02)
    for depth in (3.0, 6.0):
        passed = f[loss <= least + depth]
        # It is a dip: not all between the outermost points passes.
        assert np.diff(passed).max() > 3 * (f[1] - f[0])
        assert found.edges_hz[depth] == pytest.approx((passed[0], passed[-1]), abs=200)
    low, high = found.edges_hz[3.0]
    inner = (f >= low + 0.1 * (high - low)) & (f <= high - 0.1 * (high - low))
    assert found.ripple_db == pytest.approx(loss[inner].max() - loss[inner].min(), abs=0.02)
    back = solve(TWO, f[inner]).return_loss_db.min()
    assert found.return_loss_db == pytest.approx(back, abs=0.01)
    # Behind the trap less is lost again than 40 dB; the deep edge is the first going outwards.
    top, deep = int(loss.argmin()), loss > found.least_loss_db + 40
    above = f[top + int(np.argmax(deep[top:]))]
    below = f[top - int(np.argmax(deep[top::-1]))]
    assert loss[f > above].min() < least + 40
    assert found.edges_hz[40.0] == pytest.approx((below, above), abs=200)


def test_a_top_narrower_than_the_first_look_is_found():
    # A series circuit 40 Hz wide amid a span of 2 MHz, some 4300 Hz between points of the first look.
    henry = 100 / (2 * np.pi * 40)
    narrow = Network(
        (
            Arm(
                "series",
                (
                    Part("L1", "inductor", henry),
                    Part("C1", "capacitor", 1 / ((2 * np.pi * 7e6) ** 2 * henry)),
                ),
            ),
        ),
        50,
        50,
    )
    found = pass_band(narrow, 6e6, 8e6, (3.0, 6.0), inner_hz=(7e6 - 400, 7e6 + 500))
    assert found.bandwidth_hz(3.0) == pytest.approx(40, rel=3e-3)
    assert found.bandwidth_hz(6.0) == pytest.approx(40 * np.sqrt(10**0.6 - 1), rel=3e-3)


def test_the_noise_bandwidth_of_one_resonator():
    # The integral of 1/(1 + x²) between the borders, on a fine grid.
    f = np.linspace(6.2e6, 8.2e6, 200_001)
    by_hand = np.trapezoid(1 / (1 + x_of_one(f) ** 2), f)
    assert noise_bandwidth_hz(ONE, 6.2e6, 8.2e6) == pytest.approx(by_hand, rel=3e-4)
    # A pad of 3 dB before it changes all losses alike and the bandwidth not at all.
    lossy = Network((*ONE.arms, Arm("series", (Part("R1", "resistor", 100.0),))), source_ohm=50, load_ohm=50)
    x = x_of_one(f) / 2
    assert noise_bandwidth_hz(lossy, 6.2e6, 8.2e6) == pytest.approx(np.trapezoid(1 / (1 + x**2), f), rel=3e-4)


def test_crossings_land_on_the_formula():
    low, high = edges_of_one(7.0)
    found = crossings(
        ONE, np.array([low - 3e4, high - 1e5]), np.array([low + 8e4, high + 1e4]), np.array([7.0, 7.0])
    )
    assert found == pytest.approx([low, high], rel=1e-7)
    assert crossing(ONE, low - 3e4, low + 8e4, 7.0) == pytest.approx(low, rel=1e-7)


def test_a_grid_on_what_is_served():
    np.testing.assert_allclose(served_grid(((1.0, 2.0), (7.0, 7.5)), 3), [1, 1.5, 2, 7, 7.25, 7.5])
    assert served_grid(((1.0, 2.0),)).size == 21
