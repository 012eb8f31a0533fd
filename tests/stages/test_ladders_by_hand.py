"""What a ladder is told of beyond its pass-band, by sums over its meshes and dense sweeps."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.stages.filters import Crystal, LadderFilter
from core.stages.filters import asked_ladder, ladder_cures, ladder_figures, ladder_filter, ladder_meshes
from core.stages.filters.asked_ladder import AskedLadder

FS, LM, C0 = 9e6, 16e-3, 4.5e-12
CRYSTAL = Crystal(motional_inductance_h=LM, holder_capacitance_f=C0, quality_factor=75e3)
LADDER = LadderFilter(
    id="l", name="L", poles=6, bandwidth_hz=2500.0, crystal=CRYSTAL, capacitors="exact", end_match="none"
)


@pytest.mark.parametrize(
    ("crystal", "fs"), [(CRYSTAL.edited(("offset_hz",), 250.0), FS + 250), (CRYSTAL, FS), (None, FS)]
)
def test_a_ladders_share_of_loss_is_looked_for_where_its_crystals_are(crystal, fs, monkeypatch):
    looked_at = []

    def counted(asked):
        looked_at.append(asked.fs_hz)
        return iter(("a step",))

    monkeypatch.setattr(ladder_filter, "counted_share", counted)
    monkeypatch.setattr(asked_ladder, "stepped", lambda hz, step: hz)
    monkeypatch.setattr(ladder_filter, "figures", lambda *of: "the figures")
    steps = ladder_filter.figures_in_steps(AskedLadder(LADDER.edited(("crystal",), crystal), FS))
    assert next(steps) == "a step"
    assert looked_at == pytest.approx([fs])


def test_every_mesh_of_the_exact_ladder_wants_the_same_reactance():
    made = ladder_meshes.meshes(LADDER, FS)
    k = np.array([0.0, *made.coupling_ohm, 0.0])
    largest = (k[:-1] + k[1:]).max()
    assert ladder_filter.mesh_reactances(AskedLadder(LADDER, FS)) == pytest.approx([largest] * 6, rel=1e-6)
    # Two in parallel at each end bring twice what their mesh wants; there the one coupling is all.
    paired = LADDER.edited(("shape",), "paired_ends")
    (ohm, *others) = ladder_meshes.meshes(paired, FS).coupling_ohm
    assert others == pytest.approx([ohm] * 4)
    assert ladder_filter.mesh_reactances(AskedLadder(paired, FS)) == pytest.approx([2 * ohm] * 8, rel=1e-6)


def reactance(f_hz, fs, lm, c0):
    w = 2 * np.pi * f_hz
    return 1 / (1 / (w * lm - (2 * np.pi * fs) ** 2 * lm / w) - w * c0)


def built(**figures):
    """As-built figures alike for all six crystals."""
    return {
        f"crystal:{n}{'' if name == 'fs' else f'.{name}'}": value
        for n in range(1, 7)
        for name, value in figures.items()
    }


def test_where_a_ladder_is_looked_at():
    made, mesh = ladder_filter.design(AskedLadder(LADDER, FS)), ladder_meshes.meshes(LADDER, FS)
    # 1.2 widths to either side of the pass-band as asked.
    assert made.span_hz == pytest.approx((mesh.low_hz - 3000, mesh.high_hz + 3000))
    assert ladder_filter.asked_band_hz(LADDER, made) == pytest.approx((mesh.low_hz, mesh.high_hz))
    middle = (mesh.low_hz + mesh.high_hz) / 2

    def moved(as_built):
        other = ladder_filter.design(AskedLadder(LADDER.edited(("as_built",), as_built), FS))
        return sum(other.span_hz) / 2 - middle

    assert moved(built(fs=FS + 500)) == pytest.approx(500, abs=0.2)
    # Crystals of other figures lie where their reactance is what the design's is in the middle.
    wanted = reactance(middle, FS, LM, C0)
    for lm, c0 in ((2 * LM, C0), (LM, 2 * C0), (0.7 * LM, 6e-12)):
        there = middle + moved(built(lm=lm, c0=c0))
        assert reactance(there, FS, lm, c0) == pytest.approx(wanted, rel=1e-3)
    # The median: two of six move nothing. Crystals for another band are no filter and move nothing either.
    two = {key: value for key, value in built(fs=FS + 500).items() if key[-1] in "12"}
    assert moved(two) == pytest.approx(0, abs=0.2)
    assert moved(built(fs=FS * 0.7)) == pytest.approx(0, abs=0.2)
    assert moved(built(fs=FS * 0.78)) == pytest.approx(-0.22 * FS, rel=0.01)


def test_the_noise_bandwidth_by_a_dense_sum():
    solved = ladder_filter.solved(AskedLadder(LADDER.edited(("end_match",), "transformer"), FS))
    f = np.linspace(solved.low_hz - 12e3, solved.high_hz + 12e3, 20_001)
    power = 10 ** (-solve(solved.design.network, f).loss_db / 10)
    by_hand = np.trapezoid(power, f) / power.max()
    assert ladder_figures.noise_bandwidth(solved) == pytest.approx(by_hand, rel=2e-3)


@pytest.mark.parametrize("match", ["transformer", "l_network", "none"])
def test_how_the_ends_are_matched_in_words(match):
    ladder = LADDER.edited(("end_match",), match)
    made = ladder_filter.design(AskedLadder(ladder, FS))
    told = ladder_figures.end_match(ladder, made)
    if match == "none":
        assert told == "none"
    elif match == "transformer":
        notes = [row.note for row in made.parts if row.kind == "transformer"]
        assert told == "; ".join(["transformer", *notes])
        assert len(notes) == 2
    else:
        # The capacitor of 50 to R ohm: q/(w R), the coil q 50/w, R the larger.
        end, w = made.end_resistance_ohm, np.pi * sum(made.span_hz)
        q = np.sqrt(end / 50 - 1)
        parts = [q / (w * end) * 1e12] * 2 + [q * 50 / w * 1e6] * 2
        words = told.split("; ")
        assert words[0] == "l network"
        assert [float(each.split()[1]) for each in words[1:]] == pytest.approx(parts, rel=5e-3)
        assert [each.split()[2] for each in words[1:]] == ["pF"] * 2 + ["µH"] * 2


@pytest.mark.parametrize(
    ("changes", "missed"),
    [
        ({}, ()),
        # A fifth of the width either way, at 3 or at 6 dB.
        ({"bandwidth_3db_hz": 1.19}, ()),
        ({"bandwidth_3db_hz": 1.21}, ("width",)),
        ({"bandwidth_6db_hz": 0.81}, ()),
        ({"bandwidth_6db_hz": 0.79}, ("width",)),
        ({"bandwidth_3db_hz": None, "bandwidth_6db_hz": None}, ()),
        # Half a decibel of ripple more.
        ({"ripple_db": 0.49}, ()),
        ({"ripple_db": 0.51}, ("ripple",)),
        # 6 dB less return loss than without loss, or 10 dB, whichever is less.
        ({"return_loss_db": 10.1}, ()),
        ({"return_loss_db": 9.9}, ("return_loss",)),
        (
            {"bandwidth_3db_hz": 0.5, "ripple_db": 2.0, "return_loss_db": 1.0},
            ("width", "ripple", "return_loss"),
        ),
    ],
)
def test_what_a_ladder_misses_of_itself_without_loss(changes, missed):
    ideal = ladder_filter.ideal(AskedLadder(LADDER, FS))
    # A Chebyshev of 0.1 dB has 16.4 dB of return loss.
    assert ideal.return_loss_db == pytest.approx(16.4, abs=0.2)
    wide = {"bandwidth_3db_hz": ideal.bandwidth_hz(3.0), "bandwidth_6db_hz": ideal.bandwidth_hz(6.0)}
    figures = replace(
        ladder_filter.figures(AskedLadder(LADDER, FS)),
        ripple_db=ideal.ripple_db,
        return_loss_db=ideal.return_loss_db,
        **wide,
    )
    for name, value in changes.items():
        if name in wide and value is not None:
            value = value * wide[name]
        elif name == "ripple_db":
            value = ideal.ripple_db + value
        figures = replace(figures, **{name: value})
    assert ladder_cures.misses(AskedLadder(LADDER, FS), figures) == missed
    # One kept flat in spite of its loss may reflect.
    flat = LADDER.edited(("flatness",), "for_the_crystals")
    assert ladder_cures.misses(AskedLadder(flat, FS), figures) == tuple(
        each for each in missed if each != "return_loss"
    )


def test_advice_takes_the_if_to_three_digits():
    assert AskedLadder(LADDER, 9_003_456.0).for_advice.if_hz == 9.0e6
    assert AskedLadder(LADDER, 19_660_800.0).for_advice.if_hz == 19.7e6
