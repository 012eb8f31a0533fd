"""The tolerance run against a plain loop of scikit-rf over the same draws."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits.ladder import Arm, solve
from core.model.stages.filters import Crystal, LadderFilter
from core.rig.figures.filters import RIPPLE
from core.rig.scattered import distribution
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved
from core.stages.tolerance import filters
from core.stages.tolerance.curves import measure
from core.stages.tolerance.drawn import draw
from core.stages.tolerance.filters import LOW_PASS, run
from core.stages.tolerance.judging import Spreads
from tests.published.reference import scattering

LADDER = LadderFilter(id="ladder", name="Ladder", poles=8, crystal=Crystal(motional_inductance_h=14.7e-3))
MADE = ladder_filter.design(AskedLadder(LADDER, 9e6))
SPREADS = Spreads(capacitor=0.05, crystal_hz=60.0, q=0.2)


def one(network, values, trial):
    """The network of one trial, its parts replaced one by one."""

    def fitted(part):
        value = values.get(part.ref)
        q = values.get(f"{part.ref}.q")
        return replace(
            part,
            value=part.value if value is None else float(value[trial, 0]),
            q=part.q if q is None else float(q[trial, 0]),
        )

    arms = []
    for arm in network.arms:
        arms.append(replace(arm, parts=tuple(fitted(p) for p in arm.parts)) if isinstance(arm, Arm) else arm)
    return replace(network, arms=tuple(arms))


def test_fifty_draws_in_a_plain_loop_of_scikit_rf():
    made = MADE
    f = np.linspace(*made.span_hz, 201)
    values = draw(made.network, SPREADS, 50, seed=4)
    ours = solve(made.network, f, values=values).loss_db
    theirs = np.array(
        [-20 * np.log10(np.abs(scattering(one(made.network, values, n), f)[:, 1, 0])) for n in range(50)]
    )
    np.testing.assert_allclose(ours, theirs, atol=1e-6)
    found = run(MADE, filters.LADDER, (), SPREADS, trials=50, points=201, seed=4)
    width, ripple, least = measure(f, theirs)
    np.testing.assert_allclose(found.of("width"), width, rtol=1e-9)
    np.testing.assert_allclose(found.of("ripple"), ripple, atol=1e-6)
    np.testing.assert_allclose(found.of("loss"), least, atol=1e-6)
    low, high = np.percentile(theirs, [5, 95], axis=0)
    np.testing.assert_allclose(found.low_db, low, atol=1e-6)
    np.testing.assert_allclose(found.high_db, high, atol=1e-6)


def test_without_scatter_every_trial_is_the_filter_itself():
    found = run(MADE, filters.LADDER, (), Spreads(capacitor=0.0, crystal_hz=0.0, q=0.0), trials=5)
    figures = ladder_filter.figures(AskedLadder(LADDER, 9e6))
    np.testing.assert_allclose(found.of("width"), figures.bandwidth_6db_hz, rtol=2e-3)
    # Ripple is the same there and on the ladder's page, in words too.
    np.testing.assert_allclose(found.of("ripple"), figures.ripple_db, atol=0.02)
    ripple = next(each for each in found.measured if each.key == "ripple")
    assert RIPPLE.what.partition(";")[0] == ripple.what.rstrip(".")
    np.testing.assert_allclose(found.low_db, found.nominal_db)
    assert [share for _, share in found.shares] == [0.0] * len(found.shares)


def test_what_scatters_alone_is_what_matters():
    found = run(MADE, filters.LADDER, (), Spreads(capacitor=0.05, crystal_hz=0.0, q=0.0), trials=400)
    assert {ref[0] for ref, share in found.shares if share > 0.02} == {"C"}
    assert sum(share for _, share in found.shares) == pytest.approx(1.0, abs=0.25)


def test_yield_counts_what_keeps_every_limit():
    found = run(MADE, filters.LADDER, (), SPREADS, trials=300)
    none = (None, None)
    wide_open = {"width": none, "ripple": none, "loss": none}
    assert found.good(wide_open) == np.mean(np.isfinite(found.of("width")))
    half = float(np.median(found.of("width")))
    assert found.good({**wide_open, "width": (half, None)}) == pytest.approx(0.5, abs=0.01)
    assert found.good({**wide_open, "ripple": (None, 0.0)}) == 0


def test_a_run_can_be_given_up_and_tells_how_far_it_is():
    told = []

    def watch(done: float) -> bool:
        told.append(done)
        return done < 0.5

    assert run(MADE, filters.LADDER, (), SPREADS, trials=200, watch=watch) is None
    assert told == sorted(told)
    assert told[-1] >= 0.5
    # A front filter that serves no band has nothing to be judged by.
    assert isinstance(run(MADE, LOW_PASS, (), SPREADS), Unsolved)


def test_a_distribution_counts_every_trial_that_has_the_figure():
    values = np.array([1.0, 2.0, 2.5, np.nan, 3.0])
    found = distribution(values, bins=2)
    np.testing.assert_array_equal(found.counts, [1, 3])
    np.testing.assert_allclose(found.edges, [1, 2, 3])
    assert found.mean == pytest.approx(8.5 / 4)
    assert distribution(np.array([1.0, 1.0, np.nan])) is None
