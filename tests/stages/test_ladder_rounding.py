"""Preferred capacitors of a ladder: by ripple and reflection with the crystals' Q, beating the nearest."""

from math import log10

import numpy as np
import pytest

from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_rounding import _between, _three_db_edges
from core.stages.outcome import FilterFigures
from core.trade.series import VALUES, in_parallel, neighbours, preferred

#: IF [Hz], Lm [H] of ladders with 3.5 pF as rigs have them for 40 m, 17 and 12 m, 80 to 15 m, 160 and 10 m,
#: 80 m, 80 and 10 m, 20 and 40 m, 20 m, and near the sample for 20 and 12 m.
RIGS = {
    "40m": (15.0e6, 5.29e-3),
    "17m 12m": (21.47727e6, 2.24e-3),
    "80m 40m 20m 15m": (6.4e6, 40.9e-3),
    "160m 10m": (15.36e6, 5e-3),
    "80m": (4.194304e6, 113e-3),
    "80m 10m": (16.9344e6, 3.95e-3),
    "20m 40m": (9.0e6, 18e-3),
    "20m": (4.9152e6, 77e-3),
    "sample": (19.6608e6, 4e-3),
}


def with_nearest(ladder: LadderFilter, if_hz: float) -> LadderFilter:
    parts = ladder_filter.design(AskedLadder(ladder, if_hz)).parts
    nearest = {p.key: preferred(p.designed, ladder.capacitors) for p in parts if p.kind == "capacitor"}
    return ladder.edited(("as_built",), nearest)


def ladder_of(lm_h: float, series: str, poles: int = 8) -> LadderFilter:
    crystal = Crystal(motional_inductance_h=lm_h)
    return LadderFilter(id="l", name="L", poles=poles, capacitors=series, crystal=crystal)


def merit_db(figures: FilterFigures) -> float:
    """Ripple and loss by the worst reflection."""
    return figures.ripple_db - 10 * log10(1 - 10 ** (-figures.return_loss_db / 10))


def is_midway(value: float, series: str) -> bool:
    below, above = neighbours(value, series)
    return abs(log10(value**2 / below / above)) < 0.0022


@pytest.mark.parametrize("series", ["E12", "E24"])
def test_the_chosen_capacitors_are_never_worse_than_the_nearest_and_mostly_better(series):
    won_ripple, won_return_loss = [], []
    for name, (if_hz, lm_h) in RIGS.items():
        ladder = ladder_of(lm_h, series)
        parts = [p for p in ladder_filter.design(AskedLadder(ladder, if_hz)).parts if p.kind == "capacitor"]
        assert all(p.preferred in neighbours(p.designed, series) for p in parts)
        chosen = ladder_filter.figures(AskedLadder(ladder, if_hz))
        nearest = ladder_filter.figures(AskedLadder(with_nearest(ladder, if_hz), if_hz))
        assert merit_db(chosen) < merit_db(nearest) + 0.005, name
        # Midway between two values of a series either is the nearest; then only the sum counts.
        if not any(is_midway(p.designed, series) for p in parts):
            assert chosen.ripple_db < nearest.ripple_db + 0.02, name
            assert chosen.return_loss_db > nearest.return_loss_db - 0.2, name
        won_ripple.append(nearest.ripple_db - chosen.ripple_db)
        won_return_loss.append(chosen.return_loss_db - nearest.return_loss_db)
    assert sum(won_ripple) > 0.5
    assert sum(won_return_loss) > 5
    assert sum(won > 0.02 for won in won_ripple) >= 5


def test_33_and_a_half_picofarads_do_not_become_36():
    # 36 pF had 1.68 dB and 9.0 dB of return loss, the nearest of each 1.18 dB and 12.8 dB.
    if_hz, lm_h = RIGS["20m"]
    found = ladder_filter.figures(AskedLadder(ladder_of(lm_h, "E24"), if_hz))
    assert found.ripple_db < 1.1
    assert found.return_loss_db > 13


def test_an_end_near_the_resistance_around_gets_no_transformer():
    # 53 ohm once got one turn to one, 57 ohm 11 to 12.
    for name in ("80m 10m", "sample"):
        if_hz, lm_h = RIGS[name]
        ladder = ladder_of(lm_h, "E24")
        made = ladder_filter.design(AskedLadder(ladder, if_hz))
        assert 50 < made.end_resistance_ohm < 60
        assert not [p for p in made.parts if p.kind == "transformer"]
        assert (
            ladder_filter.figures(AskedLadder(ladder.edited(("capacitors",), "exact"), if_hz)).return_loss_db
            > 13.5
        )


@pytest.mark.parametrize("series", ["E12_pairs", "E24_pairs"])
def test_pairs_are_told_part_by_part_and_never_worse_than_the_nearest(series):
    single = VALUES[series.removesuffix("_pairs")]
    won = []
    for name, (if_hz, lm_h) in RIGS.items():
        ladder = ladder_of(lm_h, series)
        for part in ladder_filter.design(AskedLadder(ladder, if_hz)).parts:
            if part.kind != "capacitor":
                continue
            parts = in_parallel(part.preferred, series)
            assert sum(parts) == pytest.approx(part.preferred, rel=1e-9)
            assert all(
                min(abs(each / 10.0**n / value - 1) for value in single for n in range(-13, -7)) < 1e-9
                for each in parts
            )
            told = " and ".join(f"{1e12 * each:g} pF" for each in parts)
            assert (f"{told} in parallel" in part.note) == (len(parts) == 2), name
            assert abs(part.preferred / part.designed - 1) < 0.09
        chosen = ladder_filter.figures(AskedLadder(ladder, if_hz))
        nearest = ladder_filter.figures(AskedLadder(with_nearest(ladder, if_hz), if_hz))
        assert merit_db(chosen) < merit_db(nearest) + 0.005, name
        won.append(merit_db(nearest) - merit_db(chosen))
    assert sum(won) > 0.3


def test_the_pairs_of_a_series_are_all_that_two_of_its_values_make():
    tenths = [each / 10 for each in VALUES["E12"]]
    every = {round(a + b, 3) for a in VALUES["E12"] for b in (*VALUES["E12"], *tenths) if a / 10.01 < b <= a}
    every |= set(VALUES["E12"])
    every = {round(each / 10, 3) if each >= 10 else each for each in every}
    assert set(VALUES["E12_pairs"]) == every
    steps = [b / a for a, b in zip(VALUES["E12_pairs"], VALUES["E12_pairs"][1:], strict=False)]
    assert max(steps) < 1.043
    assert in_parallel(470e-12, "E12_pairs") == (470e-12,)
    assert in_parallel(1e-9, "E12_pairs") == (1e-9,)
    assert in_parallel(1.04e-10, "E12_pairs") == (8.2e-11, 2.2e-11)
    assert in_parallel(3.52e-10, "E24") == (3.52e-10,)


def test_edges_lie_on_straight_lines_between_points():
    # 2 to 6 dB pass 3 dB after a quarter of a step, 1 to 7 dB after a third; what never falls ends with the
    # grid.
    f = np.linspace(10.0, 70.0, 7)
    steep, flat = [9.0, 6.0, 2.0, 0.0, 1.0, 7.0, 9.0], [1.0, 2.0, 0.0, 0.0, 1.0, 1.0, 2.0]
    low, high = _three_db_edges(f, np.array([steep, flat]))
    assert low == pytest.approx([27.5, 10.0])
    assert high == pytest.approx([50 + 10 / 3, 70.0])
    # Rows of values at places of their own, likewise.
    found = _between(f, np.array([[0.0, 4.0, 8.0, 0.0, 0.0, 0.0, 0.0]]), np.array([[15.0, 32.5]]))
    np.testing.assert_allclose(found, [[2.0, 6.0]])
