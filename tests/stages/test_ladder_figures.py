"""The ladder's stop-band, flare, shape factor and the price of preferred values."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.stages.filters import Crystal, LadderFilter
from core.rig.analysis import Analysis
from core.rig.paper.report import report
from core.stages.filters import ladder_figures, ladder_filter, ladder_meshes
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved
from tests.published.reference import scattering

LADDER = LadderFilter(id="ladder", name="Ladder")


def test_the_far_stop_band_is_the_least_loss_of_each_side_by_scikit_rf():
    found = ladder_figures.stop_band(ladder_filter.solved(AskedLadder(LADDER, 9e6)))
    made, band = (
        ladder_filter.design(AskedLadder(LADDER, 9e6)),
        ladder_filter.solved(AskedLadder(LADDER, 9e6)).band,
    )
    low, high = band.edges_hz[6.0]
    away = np.linspace(3, 30, 800) * (high - low)
    for f, told in ((np.sort(low - away), found.below_db), (high + away, found.above_db)):
        loss = -20 * np.log10(np.abs(scattering(made.network, f)[:, 1, 0])) - band.least_loss_db
        assert told == pytest.approx(loss.min(), abs=0.01)
    assert found.ultimate_db == min(found.below_db, found.above_db)


def test_the_flare_begins_at_parallel_resonance():
    found = ladder_figures.stop_band(ladder_filter.solved(AskedLadder(LADDER, 9e6)))
    spacing = ladder_meshes.parallel_spacing_hz(9e6, LADDER.crystal)
    assert found.flare.peak_hz - 9e6 == pytest.approx(spacing, rel=0.03)
    made = ladder_filter.design(AskedLadder(LADDER, 9e6))
    peak, low = solve(made.network, [found.flare.peak_hz, found.flare.low_hz]).loss_db
    assert found.flare.back_db == pytest.approx(peak - low, abs=1e-6)
    assert found.flare.low_hz > found.flare.peak_hz


def test_more_holder_capacitance_flares_sooner_and_leaves_less_far_out():
    more = LADDER.edited(("crystal",), Crystal(holder_capacitance_f=6e-12))
    one, two = (
        ladder_figures.stop_band(ladder_filter.solved(AskedLadder(each, 9e6))) for each in (LADDER, more)
    )
    assert two.flare.peak_hz < one.flare.peak_hz
    far = [
        solve(ladder_filter.design(AskedLadder(each, 9e6)).network, [9.2e6]).loss_db[0]
        for each in (LADDER, more)
    ]
    assert far[1] < far[0]


def test_a_narrow_filters_flare_is_found_though_it_lies_far_out():
    narrow = LADDER.edited(("bandwidth_hz",), 300.0)
    found = ladder_figures.stop_band(ladder_filter.solved(AskedLadder(narrow, 9e6)))
    assert found.flare.peak_hz - 9e6 > 20e3


def test_rounding_costs_nothing_without_rounding_and_leaves_as_built_out():
    assert ladder_figures.rounding(AskedLadder(LADDER.edited(("capacitors",), "exact"), 9e6)) is None
    coarse = LADDER.edited(("capacitors",), "E6")
    price = ladder_figures.rounding(AskedLadder(coarse.edited(("as_built",), {"coupling:2": 1e-9}), 9e6))
    assert price.preferred == ladder_filter.figures(AskedLadder(coarse, 9e6))
    assert price.exact == ladder_filter.figures(AskedLadder(coarse.edited(("capacitors",), "exact"), 9e6))
    assert price.preferred != price.exact


def test_no_crystals_is_a_reason():
    bare = LADDER.edited(("crystal",), None)
    assert isinstance(ladder_filter.solved(AskedLadder(bare, 9e6)), Unsolved)
    assert isinstance(ladder_figures.rounding(AskedLadder(bare, 9e6)), Unsolved)


def test_the_report_tells_ultimate_attenuation_of_ladders_only(tern):
    rows = report(Analysis(tern))["filters"]
    told = {row["kind"]: row["ultimate_attenuation_db"] for row in rows}
    assert told["ladder"] > 100
    assert told["band_pass"] is None


def test_the_shape_factor_of_equal_couplings_is_the_published_one():
    # S. B. Cohn, Proc. IRE 47 (1959) 1342 (from memory): 4 equal resonators, 60 dB over 6 dB 3.83.
    crystal = Crystal(holder_capacitance_f=1e-18, quality_factor=1e8)
    ladder = LADDER.edited(("crystal",), crystal).edited(("shape",), "equal_coupling").edited(("poles",), 4)
    ladder = ladder.edited(("capacitors",), "exact").edited(("end_match",), "none")
    made = ladder_filter.design(AskedLadder(ladder, 9e6))
    figures = ladder_filter.figures(AskedLadder(ladder.edited(("system_ohm",), made.end_resistance_ohm), 9e6))
    assert ladder_figures.shape_factor(figures) == pytest.approx(3.83, rel=0.01)


def test_a_solved_ladder_is_all_that_is_known_of_it_and_the_same_object_each_time():
    solved = ladder_filter.solved(AskedLadder(LADDER, 9e6))
    assert solved is ladder_filter.solved(AskedLadder(LADDER.edited(("poles",), LADDER.poles), 9e6))
    assert solved.design.network == ladder_filter.design(AskedLadder(LADDER, 9e6)).network
    assert (solved.low_hz, solved.high_hz) == solved.band.edges_hz[3.0]
    loss = solve(solved.design.network, np.array([solved.low_hz, solved.high_hz])).loss_db
    assert loss - solved.band.least_loss_db == pytest.approx([3.0, 3.0], abs=1e-3)
    # One reason, whatever is asked.
    for none in (LADDER.edited(("crystal",), None), LADDER.edited(("bandwidth_hz",), 1e5)):
        reason = ladder_filter.solved(AskedLadder(none, 9e6))
        assert isinstance(reason, Unsolved)
        assert ladder_filter.figures(AskedLadder(none, 9e6)) == reason
