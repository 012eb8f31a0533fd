"""How a ladder's ends are matched, by turns and reactances worked out beside."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from core.circuits.ladder import Arm, Network, Transformer, solve
from core.model.stages.filters import LadderFilter
from core.rig.analysis import Analysis
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_match import (
    MATCH_COIL_Q,
    is_near,
    match_arms,
    nearer,
    paired,
    seen_from_the_ends,
)

W = 2 * np.pi * 9e6
LADDER = LadderFilter(id="l", name="L", capacitors="exact")


def lossless(arms):
    return tuple(
        replace(arm, parts=tuple(replace(part, q=None) for part in arm.parts))
        if isinstance(arm, Arm)
        else arm
        for arm in arms
    )


@pytest.mark.parametrize(
    ("end", "near"), [(59.9, True), (60.1, False), (41.7, True), (41.6, False), (50.0, True)]
)
def test_an_end_within_a_fifth_is_near(end, near):
    assert is_near(end, 50.0) is near
    assert is_near(50.0, end) is near
    arms = match_arms(AskedLadder(LADDER, 9e6), end, W, [])
    assert (arms == ([], [], {})) is near
    assert match_arms(AskedLadder(LADDER.edited(("end_match",), "none"), 9e6), end, W, []) == ([], [], {})


@pytest.mark.parametrize(
    ("end", "outer", "inner"),
    [
        # The square of the turns' ratio is that of the resistances: 50 to 200 is 1 to 2 turns.
        (200.0, 1, 2),
        (12.5, 2, 1),
        (112.5, 2, 3),
        (50 * 144 / 49, 7, 12),
        (50 / 144, 12, 1),
        (50 * 144, 1, 12),
        # Beyond twelve turns to one the nearest whole number to one.
        (10e3, 1, 14),
        (0.2, 16, 1),
        # Of equally near ones the fewest turns: 1 to 2 for 2.05 is 2.4 % off, as 5 to 10 is.
        (210.0, 1, 2),
        # 5 to 6 is 0.4 % off 1 to 1.195 and 10 to 12 as much.
        (50 * 1.195**2, 5, 6),
    ],
)
def test_turns_of_a_transformer(end, outer, inner):
    rows = []
    ladder = LADDER.edited(("end_match",), "transformer")
    first, last, _ = match_arms(AskedLadder(ladder, 9e6), end, W, rows)
    assert [row.note for row in rows] == [
        f"{side} end, turns {outer} to {inner} towards the filter" for side in ("source", "load")
    ]
    for number, row in enumerate(rows, start=1):
        assert (row.role, row.which) == ("match_transformer", number)
        assert row.designed == pytest.approx(np.sqrt(50 / end))
        assert row.preferred == pytest.approx(outer / inner)
    seen = 50 * (inner / outer) ** 2
    assert seen_from_the_ends(ladder, end) == pytest.approx(seen)
    assert seen_from_the_ends(ladder.edited(("end_match",), "l_network"), end) == end
    assert seen_from_the_ends(ladder, 55.0) == 50.0
    # Looked through, 50 ohm are what the ladder then sees, on either side.
    assert isinstance(first[0], Transformer)
    assert abs(solve(Network(tuple(first), 50, seen), [9e6]).s11[0]) < 1e-12
    assert abs(solve(Network(tuple(last), seen, 50), [9e6]).s11[0]) < 1e-12


@pytest.mark.parametrize("end", [200.0, 12.5, 90.0, 1500.0])
def test_an_l_network_brings_the_end_to_fifty_ohm_at_its_frequency(end):
    rows = []
    first, last, _ = match_arms(AskedLadder(LADDER.edited(("end_match",), "l_network"), 9e6), end, W, rows)
    q = np.sqrt(max(end, 50) / min(end, 50) - 1)
    coil, capacitor = q * min(end, 50) / W, q / (W * max(end, 50))
    assert [row.designed for row in rows] == pytest.approx([coil, capacitor] * 2)
    assert [(row.role, row.which) for row in rows] == [
        (role, number) for number in (1, 2) for role in ("match_coil", "match_capacitor")
    ]
    assert {row.note for row in rows} == {"end match"}
    assert abs(solve(Network(lossless(first), 50, end), [9e6]).s11[0]) < 1e-9
    assert abs(solve(Network(lossless(last), end, 50), [9e6]).s11[0]) < 1e-9
    # With the Q of 150 that the coil has, a match of 1 to r loses about q/150 of the power.
    loss = float(solve(Network(tuple(first), 50, end), [9e6]).loss_db[0])
    assert loss == pytest.approx(10 * np.log10(1 + q / 150), rel=0.1)


def test_what_is_fitted_is_what_stands_in_the_match():
    built = {"match_coil:1": 2e-6, "match_capacitor:2": 33e-12}
    rows = []
    ladder = (
        LADDER.edited(("end_match",), "l_network").edited(("capacitors",), "E12").edited(("as_built",), built)
    )
    first, last, _ = match_arms(AskedLadder(ladder, 9e6), 200.0, W, rows)
    values = {part.ref: part.value for arm in (*first, *last) for part in arm.parts}
    fitted = {row.ref: row.fitted for row in rows}
    assert values == fitted
    by_place = {(row.role, row.which): row for row in rows}
    assert by_place["match_coil", 1].fitted == 2e-6
    assert by_place["match_capacitor", 2].fitted == 33e-12
    # sqrt(3)/(2 pi 9 MHz 200) is 153.1 pF; E12 has 150 pF.
    assert by_place["match_capacitor", 1].fitted == 150e-12
    boxed = ladder.edited(("capacitors",), "junk_box").edited(("as_built",), ())
    rows.clear()
    match_arms(AskedLadder(boxed, 9e6, (100e-12, 160e-12, 400e-12)), 200.0, W, rows)
    assert [row.fitted for row in rows if row.unit == "F"] == [160e-12, 160e-12]


def test_the_nearer_of_two_is_so_in_ratio():
    # 141 lies nearer to 100, 142 to 200; the difference would say 150.
    assert [nearer(value, (100.0, 200.0)) for value in (141.0, 142.0)] == [100.0, 200.0]
    assert nearer(2.0, (1.0, 4.0)) == 1.0
    # 352 = 270 + 82; 330 + 22 would have a second part of less than a tenth.
    assert paired(352e-12, "E12_pairs") == ["270 pF and 82 pF in parallel"]
    assert paired(330e-12, "E12_pairs") == []
    assert paired(352e-12, "E12") == []


# -- on a core ------------------------------------------------------------------------------------------


def on_core(muddle, match, core):
    rig = muddle.edited(("stages", "ladder", "end_match"), match).edited(("stages", "ladder", "core"), core)
    return Analysis(rig).design("ladder", "40m")


def test_the_match_coil_gets_whole_turns_and_the_q_of_its_core(muddle):
    plain, made = on_core(muddle, "l_network", ""), on_core(muddle, "l_network", "T50-2")
    wound = dict(made.wound)
    assert set(wound) == {"LM1", "LM2"}
    coil = next(p for p in made.network.parts if p.ref == "LM1")
    exact = next(p.value for p in plain.network.parts if p.ref == "LM1")
    low, high = wound["LM1"].range_h
    assert low <= coil.value <= high
    # 4.9 nH a turn and turn by the trade's table: 15 turns come nearest to 1.146 µH.
    assert wound["LM1"].turns == round(sqrt(exact / 4.9e-9))
    assert coil.q == wound["LM1"].quality != MATCH_COIL_Q
    assert "15 turns on T50-2" in next(row.note for row in made.parts if row.ref == "LM1")


def test_a_match_transformer_gets_turns_in_its_ratio_that_its_resistances_want(muddle):
    plain, made = on_core(muddle, "transformer", ""), on_core(muddle, "transformer", "FT37-43")
    wound = dict(made.wound)
    outer, inner = wound["T1, outer winding"], wound["T1, inner winding"]
    ratio = next(row.fitted for row in made.parts if row.ref == "T1")
    assert outer.turns / inner.turns == ratio == next(row.fitted for row in plain.parts if row.ref == "T1")
    w, ends = 2 * pi * muddle.if_hz, (muddle.stage("ladder").system_ohm, made.end_resistance_ohm)
    for coil, ohm in zip((outer, inner), ends, strict=True):
        assert w * coil.inductance_h >= 3.9 * ohm
    # The same network, as neither turns nor core are lossy in it.
    assert made.network == plain.network


def test_a_core_that_cannot_hold_the_match_is_refused(muddle):
    assert "turns do not fit into T37-2" in on_core(muddle, "transformer", "T37-2").reason
    assert "too few to set it by" in on_core(muddle, "l_network", "FT37-43").reason
    assert on_core(muddle, "none", "none such").wound == ()
