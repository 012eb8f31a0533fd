"""The choice of crystals against every possible choice, and what it tells against a formula."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from core.circuits.circuit import Part
from core.circuits.ladder import Arm, Network, solve
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.crystals.crystal_choice import Judge, mesh_frequencies, place
from core.stages.crystals.crystals import CrystalParameters
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder


def crystal(label, hz, lm=15e-3, c0=3.5e-12, rm=None):
    return CrystalParameters(label=label, fs_hz=hz, lm_h=lm, c0_f=c0, rm_ohm=rm)


@pytest.mark.parametrize("seed", range(12))
def test_no_choice_of_all_has_meshes_nearer_together(seed):
    rng = np.random.default_rng(seed)
    batch = [crystal(f"{n}", 9e6 + rng.normal(0, 80), 15e-3 * (1 + rng.normal(0, 0.02))) for n in range(6)]
    wanted = rng.uniform(0, 60, 4)
    table = mesh_frequencies(batch, wanted)
    every = [np.std(table[list(rows), range(4)]) for rows in permutations(range(6), 4)]
    found = place(batch, wanted)
    assert found.rms_hz == pytest.approx(min(every), rel=1e-6)
    by_label = {each.label: n for n, each in enumerate(batch)}
    chosen = table[[by_label[each.label] for each in found.placed], range(4)]
    assert [each.error_hz for each in found.placed] == pytest.approx(list(chosen - found.centre_hz), abs=1e-6)
    assert found.centre_hz == pytest.approx(chosen.mean())
    # As they come from the bag: 200 draws estimate the mean of all 360 ways within some per cent.
    assert found.random_rms_hz == pytest.approx(np.mean(every), rel=0.08)


def test_the_simple_way_takes_the_run_that_spans_least_and_puts_it_in_by_frequency():
    shifts = (40.0, 0.0, 200.0, 260.0, 230.0, 900.0)
    batch = [crystal(f"{n}", 9e6 + each, c0=0.0) for n, each in enumerate(shifts)]
    # Sorted 0 40 200 230 260 900: of all runs of three, 200 to 260 spans least.
    found = place(batch, np.zeros(3))
    assert found.sorted_rms_hz == pytest.approx(np.std([200, 230, 260]))
    wanted = np.array([100.0, 0.0, 50.0])
    # X/(4 pi Lm) moves a mesh up by 530.5 Hz for 100 ohm on 15 mH.
    up = wanted / (4 * np.pi * 15e-3)
    moved = np.std(up + np.array([200, 230, 260]))
    assert place(batch, wanted).sorted_rms_hz == pytest.approx(moved, rel=1e-3)
    assert place(batch[:3], np.zeros(3)).sorted_rms_hz == pytest.approx(np.std([40, 0, 200]))


#: One crystal between 50 and 50 ohm without holder: x = 2 pi (f − fs) 2 Lm/100, loss 10 lg(1 + x²).
ONE = Network((Arm("series", (Part("X1", "crystal", 9e6, None, 15e-3, 0.0),)),), source_ohm=50, load_ohm=50)
WIDTH = 100 / (2 * np.pi * 15e-3)


def loss_at(off_hz, rm=0.0):
    """Loss [dB] so far beside the crystal's own frequency."""
    return 20 * np.log10(np.abs(1 + (rm + 4j * np.pi * 15e-3 * off_hz) / 100))


def test_what_a_choice_makes_of_one_crystal():
    judge = Judge(ONE, 9e6 - WIDTH / 2, 9e6 + WIDTH / 2, ("X1",))
    batch = [crystal("a", 9e6, c0=0.0), crystal("b", 9e6 + 70, c0=0.0), crystal("c", 9e6, c0=0.0, rm=25.0)]
    own, moved = (judge.figures(batch, np.array([n]), off, "w") for n, off in ((0, 0.0), (1, 70.0)))
    for found in (own, moved):
        assert found.way == "w"
        assert found.loss_db == pytest.approx(0, abs=1e-4)
        # 3 dB and not a half: 0.2 % narrower.
        assert found.width_hz == pytest.approx(WIDTH * np.sqrt(10**0.3 - 1), rel=5e-4)
        # The worst of nine tenths of the width, the whole being free to lie a little off.
        assert found.worst_db == pytest.approx(loss_at(0.45 * WIDTH), abs=0.01)
    # Judged from where it does not lie: 3 % of the width further up, of which the carrier makes up for 4 %.
    third = judge.figures(batch, np.array([1]), 70.0 - 0.08 * WIDTH, "")
    assert third.worst_db == pytest.approx(loss_at(0.45 * WIDTH), abs=0.02)
    far = judge.figures(batch, np.array([1]), 70.0 - 0.18 * WIDTH, "")
    assert far.worst_db == pytest.approx(loss_at(0.55 * WIDTH), abs=0.02)
    # Where a Q is not known of all, none is counted.
    assert judge.losses(batch, np.array([[2]]), np.array([9e6]))[0, 0] == pytest.approx(0, abs=1e-6)
    lossy = judge.losses([batch[2]], np.array([[0]]), np.array([9e6, 9e6 + 500]))[0]
    assert lossy == pytest.approx([loss_at(0, 25.0), loss_at(500, 25.0)], abs=1e-3)


@pytest.mark.parametrize(("below", "above"), [(0.4, 0.9), (0.9, 0.4), (0.4, 0.4)])
def test_an_edge_beyond_what_is_looked_at_gives_no_width(below, above):
    # Looked at is a span to each side of the middle; at least one edge, half a WIDTH away, lies outside.
    middle, span = 9e6 + (above - below) * WIDTH / 2, (above + below) * WIDTH / 2
    judge = Judge(ONE, middle - span / 2, middle + span / 2, ("X1",))
    assert judge.figures([crystal("a", 9e6, c0=0.0)], np.array([0]), 0.0, "").width_hz is None


def test_the_ladders_own_crystals_make_the_ladder():
    own = Crystal(motional_inductance_h=15e-3, holder_capacitance_f=3.5e-12, quality_factor=80e3)
    ladder = LadderFilter(id="l", name="L", poles=5, crystal=own, capacitors="exact", end_match="none")
    solved = ladder_filter.solved(AskedLadder(ladder, 9e6))
    network, wanted = solved.design.network, np.array(ladder_filter.mesh_reactances(AskedLadder(ladder, 9e6)))
    refs = tuple(part.ref for part in network.parts if part.kind == "crystal")
    fs = 9e6 + own.offset_hz
    rm = 2 * np.pi * fs * 15e-3 / 80e3
    judge = Judge(network, solved.low_hz, solved.high_hz, refs)
    good = [crystal(f"{n}", fs, rm=rm) for n in range(5)]
    found = place(good, wanted, judge=judge)
    first = found.figures[0]
    assert [each.way for each in found.figures] == [
        "this choice",
        "by frequency alone",
        "the closest, sorted",
    ]
    assert first.loss_db == pytest.approx(solved.band.least_loss_db, abs=0.02)
    assert first.width_hz == pytest.approx(solved.high_hz - solved.low_hz, rel=2e-3)
    # All 1 kHz lower, the ladder lies 1 kHz lower and is the same.
    lower = place([replace(each, fs_hz=fs - 1000) for each in good], wanted, judge=judge)
    assert lower.figures[0].width_hz == pytest.approx(first.width_hz, rel=2e-3)
    assert lower.figures[0].worst_db == pytest.approx(first.worst_db, abs=0.05)
    # A crystal that loses ten times as much is left out for one 60 Hz off.
    dead, off = crystal("dead", fs, rm=10 * rm), crystal("off", fs + 60, rm=rm)
    chosen = place([*good[:4], dead, off], wanted, judge=judge)
    assert "dead" not in [each.label for each in chosen.placed]
    alone = place([*good[:4], dead, off], wanted)
    assert "dead" in [each.label for each in alone.placed]
    assert chosen.figures[0].worst_db < chosen.figures[1].worst_db - 0.3
    # The choice by frequency alone is told as the exact network with it has it.
    rows = {each.ref: each.label for each in alone.placed}
    f = np.linspace(solved.low_hz, solved.high_hz, 401)
    by_label = {each.label: each for each in (*good, dead, off)}
    values = {}
    for ref, label in rows.items():
        values |= {ref: [by_label[label].fs_hz], f"{ref}.q": [by_label[label].q]}
    assert chosen.figures[1].loss_db == pytest.approx(
        solve(network, f, values=values).loss_db.min(), abs=0.02
    )
