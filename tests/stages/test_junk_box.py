"""A ladder made of the capacitors on hand."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.files import dumps, loads
from core.model.stages.filters import LadderFilter
from core.rig.analysis import Analysis
from core.rig.rules import inspect
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import FilterDesign, Unsolved
from core.trade.series import FURTHEST, VALUES, nearest

LADDER = LadderFilter(id="ladder", name="Ladder", capacitors="junk_box", end_match="none")
E24 = tuple(v * 10.0**d for d in (-11, -10, -9) for v in VALUES["E24"])
SPARSE = (100e-12, 120e-12, 150e-12, 330e-12, 470e-12)


def test_values_on_hand_next_to_what_is_wanted():
    assert nearest(130e-12, SPARSE) == (120e-12, 150e-12)
    assert nearest(120e-12, SPARSE) == (120e-12, 120e-12)
    # 330 pF is further than a factor of 1.5 from 200 pF, 150 pF is not.
    assert nearest(200e-12, SPARSE) == (150e-12, 150e-12)
    assert nearest(60e-12, SPARSE) is None
    assert nearest(60e-12, ()) is None
    assert FURTHEST == 1.5


def test_only_what_is_on_hand_is_fitted():
    made = ladder_filter.design(AskedLadder(LADDER, 9e6, SPARSE))
    assert isinstance(made, FilterDesign)
    assert {row.fitted for row in made.parts if row.kind == "capacitor"} <= set(SPARSE)


def test_a_box_that_holds_a_series_makes_the_same_ladder():
    series = ladder_filter.design(AskedLadder(LADDER.edited(("capacitors",), "E24"), 9e6))
    box = ladder_filter.design(AskedLadder(LADDER, 9e6, E24))
    for one, other in zip(series.parts, box.parts, strict=True):
        assert other.fitted == pytest.approx(one.fitted, rel=1e-12)


def test_the_values_are_chosen_together_and_not_one_by_one():
    exact = ladder_filter.design(AskedLadder(LADDER.edited(("capacitors",), "exact"), 9e6))
    f = np.linspace(*exact.span_hz, 400)
    chosen = ladder_filter.design(AskedLadder(LADDER, 9e6, SPARSE))
    alone = {
        row.ref: min(SPARSE, key=lambda v: abs(np.log(v / row.designed)))
        for row in exact.parts
        if row.unit == "F"
    }
    fitted = {row.ref: row.fitted for row in chosen.parts if row.unit == "F"}
    assert fitted != alone
    singly = solve(chosen.network, f, values=alone)
    together = solve(chosen.network, f)
    middle = slice(140, 260)
    assert np.ptp(together.loss_db[middle]) < np.ptp(singly.loss_db[middle])


def test_what_is_not_on_hand_is_a_sentence_and_a_finding(tern):
    rig = tern.edited(("stages", "ladder", "capacitors"), "junk_box")
    found = Analysis(rig).filter_design("ladder", "20m")
    assert isinstance(found, Unsolved)
    assert "junk box has nothing within a factor of 1.5" in found.reason
    assert "filter_unsolved" in {finding.rule for finding in inspect(Analysis(rig))}
    rig = rig.edited(("junk_box", "capacitors_f"), E24)
    assert isinstance(Analysis(rig).filter_design("ladder", "20m"), FilterDesign)
    assert loads(dumps(rig)) == rig


def test_what_is_built_already_need_not_be_on_hand():
    box = tuple(v for v in E24 if not 50e-12 < v < 250e-12)
    lacking = ladder_filter.design(AskedLadder(LADDER, 9e6, box))
    assert isinstance(lacking, Unsolved)
    exact = ladder_filter.design(AskedLadder(LADDER.edited(("capacitors",), "exact"), 9e6))
    capacitors = [row for row in exact.parts if row.unit == "F"]
    far = {row.key: row.designed for row in capacitors if nearest(row.designed, box) is None}
    assert far
    assert isinstance(
        ladder_filter.design(AskedLadder(LADDER.edited(("as_built",), far), 9e6, box)), FilterDesign
    )


def test_the_end_matchs_capacitor_comes_from_the_box_too():
    made = ladder_filter.design(AskedLadder(LADDER.edited(("end_match",), "l_network"), 9e6, E24))
    assert next(row for row in made.parts if row.ref == "CM1").fitted in E24
    missing = ladder_filter.design(AskedLadder(LADDER.edited(("end_match",), "l_network"), 9e6, SPARSE))
    assert isinstance(missing, FilterDesign) or "CM1" in missing.reason


def test_another_ladder_does_not_look_into_the_box(tern):
    filled = tern.edited(("junk_box", "capacitors_f"), SPARSE)
    one, two = (Analysis(rig).filter_design("ladder", "20m") for rig in (tern, filled))
    assert one is two
