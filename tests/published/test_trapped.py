"""Low-passes with traps and of even order, against the closed forms of their loss and scikit-rf.

Equal ripple with prescribed zeros: cos(Σ arccos x_n), x_n = (Ω − 1/Ω_n)/(1 − Ω/Ω_n) (R. J. Cameron; from
memory). Even order between equal resistances: 10 lg(1 + ε² T_N²(√(Ω²(1 − Ω_0²) + Ω_0²))), Ω_0 the lowest
zero of T_N (the moved zero of reflection; from memory). Plain ones: `tests/published/test_prototypes.py`.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.circuit import Part
from core.circuits.ladder import Arm, Network, solve
from core.circuits.shapes.prototypes import prototype
from core.circuits.shapes.trapped import three_db_edge, trapped
from core.model.stages.filters import LowPassFilter
from core.stages.filters import low_pass
from tests.published.reference import scattering


def network(made):
    """The elements between 1 ohm, for radian frequencies of about one."""
    arms = []
    for n, shunt in enumerate(made.shunts):
        arms.append(Arm("shunt", (Part(f"C{n}", "capacitor", shunt),)))
        if n < len(made.coils):
            coil = Part(f"L{n}", "inductor", made.coils[n])
            across = Part(f"CT{n}", "capacitor", made.across[n])
            parts = (coil, across) if made.across[n] else (coil,)
            arms.append(Arm("series", parts, "in_parallel" if len(parts) == 2 else "in_series"))
    return Network(tuple(arms), 1.0, 1.0)


def rippled(order, ripple_db, traps, omega):
    """Loss [dB] by the closed form."""
    ends = [sign / each for each in traps for sign in (1, -1)]
    ends += [0.0] * (order - len(ends))
    angles = sum(np.arccos((omega - each) / (1 - omega * each) + 0j) for each in ends)
    epsilon_squared = 10 ** (ripple_db / 10) - 1
    return 10 * np.log10(1 + epsilon_squared * np.abs(np.cos(angles)) ** 2)


@st.composite
def placed(draw):
    order = draw(st.sampled_from([3, 5, 7, 9]))
    count = draw(st.integers(0, order // 2))
    places = draw(st.permutations(range(order // 2)))[:count]
    omegas = draw(st.lists(st.floats(1.25, 5), min_size=count, max_size=count))
    return order, draw(st.floats(0.01, 1.0)), dict(zip(places, omegas, strict=True))


@given(placed())
def test_the_ripple_is_equal_with_traps_wherever_they_lie(asked):
    order, ripple_db, traps = asked
    made = trapped(order, ripple_db, traps)
    if made is None:
        # Only several traps close to the edge ask for a negative part somewhere.
        assert len(traps) > 1
        return
    omega = np.concatenate([np.linspace(0.02, 1.0, 97), np.linspace(1.01, 1.2, 9), [5.5, 7.0]])
    found = solve(network(made), omega / (2 * np.pi)).loss_db
    ideal = rippled(order, ripple_db, traps.values(), omega)
    np.testing.assert_allclose(found, ideal, atol=2e-4, rtol=1e-5)
    for place, at in traps.items():
        assert made.coils[place] * made.across[place] * at**2 == pytest.approx(1, rel=1e-9)
        assert solve(network(made), [at / (2 * np.pi)]).loss_db[0] > 100


@pytest.mark.parametrize("order", [3, 5, 7, 9, 11])
@pytest.mark.parametrize("ripple_db", [0.01, 0.1, 1.0])
def test_without_traps_an_odd_order_is_the_printed_prototype(order, ripple_db):
    made, g = trapped(order, ripple_db, {}), prototype("chebyshev", order, ripple_db).g
    assert made.shunts == pytest.approx(g[0::2], rel=1e-7)
    assert made.coils == pytest.approx(g[1::2], rel=1e-7)


@pytest.mark.parametrize("order", [4, 6, 8, 10])
@pytest.mark.parametrize("ripple_db", [0.01, 0.1, 0.5])
def test_an_even_order_between_equal_resistances_is_the_closed_form(order, ripple_db):
    omega = np.linspace(0.01, 4, 801)
    lowest = np.cos((order - 1) * np.pi / (2 * order))
    bent = np.sqrt(omega**2 * (1 - lowest**2) + lowest**2)
    made = trapped(order, ripple_db, {})
    found = solve(network(made), omega / (2 * np.pi)).loss_db
    np.testing.assert_allclose(found, rippled(order, ripple_db, (), bent), atol=1e-6)
    # Matched at zero frequency, where the plain even prototype loses its ripple, and turned it is its dual.
    assert solve(network(made), [1e-4]).return_loss_db[0] > 60
    assert made.shunts == pytest.approx(made.coils[::-1], rel=1e-6)
    edge = solve(network(made), [three_db_edge(order, ripple_db, ()) / (2 * np.pi)]).loss_db[0]
    assert edge == pytest.approx(10 * np.log10(2), abs=1e-6)


@pytest.mark.parametrize("order", [6, 8, 10])
@pytest.mark.parametrize("traps", [{0: 1.9}, {1: 1.6, 0: 2.4}])
def test_an_even_order_with_traps_ripples_evenly_and_ends_in_a_plain_coil(order, traps):
    made = trapped(order, 0.2, traps)
    omega = np.linspace(0.001, 1, 4001)
    loss = solve(network(made), omega / (2 * np.pi)).loss_db
    tops = np.flatnonzero((loss[1:-1] > loss[:-2]) & (loss[1:-1] >= loss[2:])) + 1
    # N/2 − 1 tops of the full ripple, which is reached at the edge once more.
    assert loss[[*tops, -1]] == pytest.approx(np.full(order // 2, 0.2), abs=1e-4)
    assert trapped(order, 0.2, {order // 2 - 1: 1.9}) is None
    edge = three_db_edge(order, 0.2, traps.values()) / (2 * np.pi)
    assert solve(network(made), [edge]).loss_db[0] == pytest.approx(10 * np.log10(2), abs=1e-4)


def test_a_low_pass_of_six_parts_by_scikit_rf():
    asked = LowPassFilter(order=6, cutoff_hz=15e6, capacitors="exact", coil_q=1e6, capacitor_q=1e6)
    made = low_pass.design(asked, ())
    f = np.linspace(1e6, 45e6, 45)
    s = scattering(made.network, f)
    lowest = np.cos(5 * np.pi / 12)
    bent = np.sqrt((f / 15e6) ** 2 * (1 - lowest**2) + lowest**2)
    ideal = rippled(6, 0.1, (), bent)
    np.testing.assert_allclose(-20 * np.log10(np.abs(s[:, 1, 0])), ideal, atol=1e-3)
    # A Butterworth of even order is its own between equal resistances: 10 lg(1 + Ω^2N).
    flat = low_pass.design(asked.edited(("shape",), "butterworth"), ())
    s = scattering(flat.network, f)
    np.testing.assert_allclose(
        -20 * np.log10(np.abs(s[:, 1, 0])), 10 * np.log10(1 + (f / 15e6) ** 12), atol=1e-3
    )
