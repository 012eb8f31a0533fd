"""Edges of ladders with narrow peaks at the corners: a dense look and an independent nodal solution."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder

IF_HZ = 9e6


def ladder(poles: int, q: float, **others) -> LadderFilter:
    crystal = Crystal(quality_factor=q, **others.pop("crystal", {}))
    return LadderFilter(id="l", name="L", poles=poles, crystal=crystal, capacitors="exact", **others)


@pytest.mark.parametrize(
    ("poles", "q", "depth", "nodal"),
    # From an independent nodal solution and a circuit simulator.
    [(8, 150e3, 6.0, 2349), (10, 1e6, 3.0, 2385), (12, 1e6, 3.0, 2185), (12, 1e6, 6.0, 2399)],
)
def test_peaks_at_the_corners_count(poles, q, depth, nodal):
    asked = ladder(poles, q, shape="equal_coupling")
    width = ladder_filter.solved(AskedLadder(asked, IF_HZ)).band.bandwidth_hz(depth)
    assert width == pytest.approx(nodal, rel=0.002)
    made = ladder_filter.design(AskedLadder(asked, IF_HZ))
    f = np.linspace(*made.span_hz, 60001)
    loss = solve(made.network, f).loss_db
    assert width == pytest.approx(np.ptp(f[loss <= loss.min() + depth]), abs=0.3)


def test_the_least_loss_of_a_rippling_ladder_is_the_true_one():
    crystal = {"motional_inductance_h": 16e-3, "holder_capacitance_f": 4.5e-12}
    asked = ladder(8, 75e3, bandwidth_hz=5e3, end_match="none", crystal=crystal)
    made = ladder_filter.design(AskedLadder(asked, IF_HZ))
    loss = solve(made.network, np.linspace(*made.span_hz, 100001)).loss_db.min()
    assert ladder_filter.solved(AskedLadder(asked, IF_HZ)).band.least_loss_db == pytest.approx(
        loss, abs=0.002
    )


@pytest.mark.parametrize("shape", ["chebyshev", "butterworth"])
def test_the_60_db_width_of_three_poles_is_found_where_it_is(shape):
    asked = ladder(3, 1e8, shape=shape)
    found = ladder_filter.solved(AskedLadder(asked, IF_HZ)).band
    edges = found.edges_hz[60.0]
    loss = solve(ladder_filter.design(AskedLadder(asked, IF_HZ)).network, np.array(edges)).loss_db
    assert loss - found.least_loss_db == pytest.approx([60, 60], abs=0.01)
    assert found.bandwidth_hz(60.0) > 30e3
